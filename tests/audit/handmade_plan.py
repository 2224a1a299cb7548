"""A plan for the kitchen of `handmade`: every stated number is a literal, reckoned by hand."""

from __future__ import annotations

from typing import Any

from audit.handmade import CATALOG, FISH, POTS, SOUP
from planopt.plan.records import Plan


def _batch(
    day: int, recipe: dict[str, Any], version: str, batches: float, servings: float, eaten: float,
    fridge: str, freezer: str | None, lines: list[tuple[int, str, float, str, str]],
) -> dict[str, object]:  # fmt: skip
    return {
        "cook_day": day,
        "cook_date": {0: "2026-03-01", 2: "2026-03-03"}[day],
        "recipe_id": recipe["recipe_id"],
        "recipe_name": recipe["name"],
        "version": version,
        "batches": batches,
        "servings": servings,
        "servings_eaten": eaten,
        "servings_left": servings - eaten,
        "use_by_fridge": fridge,
        "use_by_freezer": freezer,
        "lines": [
            {"line": line, "food_id": food, "grams": grams, "part": part, "chosen": chosen}
            for line, food, grams, part, chosen in lines
        ],
    }


WRITTEN = "as written"
# Day 0, hands-on 20 + 20 + (10 + 2 x 4) = 58 minutes; hob 30 x 1.5 = 45. Day 2: 15, 20, oven 25.
BATCHES = [
    _batch(
        0, SOUP, "base", 0.5, 2, 2, "2026-03-03", "2026-04-30",  # 60 days after 1 March
        [
            (0, "lentils", 200, "main", WRITTEN), (1, "carrot", 60, "main", WRITTEN),
            (2, "oil", 27, "main", WRITTEN), (3, "water", 500, "main", WRITTEN),
            (4, "parsley", 10, "cold", "optional"),
        ],
    ),
    _batch(
        0, SOUP, "4-", 1, 4, 3, "2026-03-03", "2026-04-30",
        [
            (0, "lentils", 400, "main", WRITTEN), (1, "carrot", 120, "main", WRITTEN),
            (2, "oil", 54, "main", WRITTEN), (3, "water", 1000, "main", WRITTEN),
        ],
    ),
    _batch(
        0, POTS, "base", 3, 6, 5, "2026-03-04", None,
        [(0, "oats", 600, "main", WRITTEN), (1, "yogurt", 1500, "main", WRITTEN)],
    ),
    _batch(
        2, FISH, "0=haddock", 1, 2, 2, "2026-03-05", None,
        [(0, "haddock", 360, "main", "alternative"), (1, "rice", 128, "main", WRITTEN)],
    ),
]  # fmt: skip


# Grams a serving: lentils 400 g in 4, parsley 20 g in 4, haddock 360 g in 2.
GROUPS_G = {
    ("soup", "base"): {"legumes": 100, "herbs": 5, "fresh": 5},
    ("soup", "4-"): {"legumes": 100},
    ("fish", "0=haddock"): {"seafood": 180},
}


def _portion(
    client: str, day: int, meal: str, recipe: dict[str, Any], version: str, cook_day: int,
    servings: float, kcal: float, protein_g: float, thaw_on: str | None = None,
) -> dict[str, object]:  # fmt: skip
    return {
        "client_id": client,
        "day": day,
        "date": f"2026-03-0{day + 1}",
        "meal": meal,
        "recipe_id": recipe["recipe_id"],
        "recipe_name": recipe["name"],
        "version": version,
        "cook_day": cook_day,
        "servings": servings,
        "stored": "fridge" if thaw_on is None else "freezer",
        "thaw_on": thaw_on,
        "nutrients": {"energy_kcal": kcal, "protein_g": protein_g, "iron_mg": 0},
        "food_groups_g": {
            group: grams * servings
            for group, grams in GROUPS_G.get((recipe["recipe_id"], version), {}).items()
        },
    }


# Ada: 1280 kcal and 59.95 g, 1260.8 and 89.56, 1280 and 59.95. Ben: 1255.25, then 725.25 on the
# day with one of his two meals, where half of 1100-1500 holds.
PORTIONS = [
    _portion("ada", 1, "breakfast", POTS, "base", 0, 1.5, 795, 34.5),
    _portion("ada", 1, "dinner", SOUP, "base", 0, 1, 485, 25.45),
    _portion("ada", 2, "breakfast", POTS, "base", 0, 1, 530, 23),
    _portion("ada", 2, "dinner", FISH, "0=haddock", 2, 2, 730.8, 66.56),
    _portion("ada", 3, "breakfast", POTS, "base", 0, 1.5, 795, 34.5),
    _portion("ada", 3, "dinner", SOUP, "base", 0, 1, 485, 25.45, thaw_on="2026-03-03"),
    _portion("ben", 1, "breakfast", POTS, "base", 0, 1, 530, 23),
    _portion("ben", 1, "dinner", SOUP, "4-", 0, 1.5, 725.25, 37.95),  # 483.5 and 25.3 a serving
    _portion("ben", 2, "dinner", SOUP, "4-", 0, 1.5, 725.25, 37.95),
]


def _purchase(shop_day: int, pack_id: str, count: float, price: str, grams: float) -> Any:
    pack = CATALOG["packs"][pack_id]
    return {
        "shop_day": shop_day,
        "shop_date": {-1: "2026-02-28", 2: "2026-03-03"}[shop_day],
        "seller_id": pack["seller_id"],
        "pack_id": pack_id,
        "food_id": pack["food_id"],
        "food_name": CATALOG["foods"][pack["food_id"]]["name"],
        "sold": pack["sold"],
        "count": count,
        "size": pack["size"],
        "unit": pack["unit"],
        "price_each": pack["price"],
        "price": price,
        "edible_g": grams,
    }


# 4.00 + 0.51 + 3.00 + 3.00 + 1.00 + 7.20 + 1.00 = 19.71; visits: market and farm, market again
PURCHASES = [
    _purchase(-1, "lentils_500", 2, "4.00", 1000),
    _purchase(-1, "carrot_loose", 3, "0.51", 240),
    _purchase(-1, "yogurt_500", 2, "3.00", 1000),
    _purchase(-1, "oats_1000", 1, "3.00", 1000),
    _purchase(-1, "parsley_bunch", 1, "1.00", 25),
    _purchase(2, "haddock_pair", 1, "7.20", 360),
    _purchase(2, "rice_500", 1, "1.00", 500),
]


def _use(
    food: str, supply: str, available: float, used: dict[int, float], left: float,
    until: str | None, fate: str, value: str,
) -> dict[str, object]:  # fmt: skip
    return {
        "food_id": food,
        "food_name": CATALOG["foods"][food]["name"],
        "supply": supply,
        "available_g": available,
        "used_g": used,
        "left_g": left,
        "usable_until": until,
        "fate": fate,
        "left_value": value,
    }


FOOD_USES = [
    _use("lentils", "shop day -1", 1000, {0: 600}, 400, None, "carried", "1.60"),
    # 60 x 0.2125 = 12.75 cents
    _use("carrot", "shop day -1", 240, {0: 180}, 60, "2026-03-05", "wasted", "0.13"),
    _use("oil", "stock 0", 90, {0: 81}, 9, None, "carried", "0.18"),
    _use("yogurt", "shop day -1", 1000, {0: 1000}, 0, "2026-03-04", "nothing left", "0.00"),
    _use("yogurt", "stock 1", 500, {0: 500}, 0, "2026-03-01", "nothing left", "0.00"),
    _use("cod", "stock 2", 200, {}, 200, "2026-03-02", "wasted", "3.00"),
    _use("oats", "shop day -1", 1000, {0: 600}, 400, None, "carried", "1.20"),
    _use("parsley", "shop day -1", 25, {0: 10}, 15, "2026-03-03", "wasted", "0.60"),
    _use("haddock", "shop day 2", 360, {2: 360}, 0, "2026-03-04", "nothing left", "0.00"),
    # 372 x 0.2 = 74.4 cents
    _use("rice", "shop day 2", 500, {2: 128}, 372, None, "carried", "0.74"),
]

# Waste: 12.75 + 300 + 60 cents of leftovers; a serving of soup (400 x 0.4 + 120 x 0.2125 + 54 x 2)
# / 4 = 73.375; a serving of pots (200 x 0.3 + 500 x 0.3) / 2 = 105; together 551.125.
# Objective: 1971 + 2 x 150 + 0.5 x 551.125 = 2546.5625. Gap: 7 / 2547.
PLAN: dict[str, Any] = {
    "planopt_version": "0.1.0",
    "scenario_name": "Handmade week",
    "scenario_file": "handmade.yaml",
    "scenario_sha256": "0" * 64,
    "catalog_folder": "catalogs",
    "catalog_sha256": "1" * 64,
    "currency": "USD",
    "start_date": "2026-03-02",
    "days": 3,
    "solution": {
        "status": "optimal",
        "grocery_cost": "19.71",
        "visit_cost": "3.00",
        "waste_cost": "5.51",
        "waste_weight": 0.5,
        "objective": "25.47",
        "best_bound": "25.40",
        "proven_gap": 0.0027483313702395,
        "gap_asked": 0.005,
        "solve_seconds": 1.5,
        "build_seconds": 0.5,
        "solver": "by hand",
        "solver_status": "done",
        "bound_composition": "by hand",
        "settings": {"seed": 1},
    },
    "purchases": PURCHASES,
    "batches": BATCHES,
    "portions": PORTIONS,
    "food_uses": FOOD_USES,
    "cautions": [
        "Storage times come from published limits.",
        "Reheat to 74 C throughout.",
        "Cool within two hours.",
        "Local rules apply to a food business.",
        "Pregnancy and the other groups named in the manual need licensed care.",
        "This is not medical advice.",
        "Check every label for allergens.",
        "Ben: the least energy of a day is below 1,200 kcal.",
    ],
}


def plan() -> Plan:
    """Return the valid plan."""
    return Plan.model_validate(PLAN)
