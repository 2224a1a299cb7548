"""A small kitchen, written by hand, for the plan of `handmade_plan`.

The arithmetic stands beside the numbers. Day 1 is Monday 2 March 2026, so day -1 is 28 February,
day 0 is 1 March, and the last day (3) is 4 March. Leftovers usable on 11 March are carried.
"""

from __future__ import annotations

from typing import Any

from planopt.catalog.records import Catalog
from planopt.scenario.records import Scenario


def _food(
    food_id: str, kcal: float, protein_g: float, storage: str, **more: object
) -> dict[str, object]:
    return {
        "food_id": food_id,
        "name": food_id.capitalize() + " for the tests",
        "nutrients": {"energy_kcal": kcal, "protein_g": protein_g, "iron_mg": None},
        "state": "raw",
        "edible_share": 1,
        "aisle": "any",
        "storage": storage,
        "allergens": [],
        "safety_group": "none",
        **more,
    }


FOODS: list[dict[str, object]] = [
    _food("lentils", 350, 25, "shelf", groups=["legumes"]),
    _food("rice", 360, 7, "shelf"),
    _food("carrot", 40, 1, "fridge", edible_share=0.8, keeps_days=10, opened_keeps_days=5),
    _food("oil", 900, 0, "shelf", state="ready", density_g_per_ml=0.9),
    _food("cod", 80, 18, "fridge", allergens=["fish"], keeps_days=1, safety_group="fish"),
    _food(
        "haddock", 75, 16, "fridge", allergens=["fish"], keeps_days=1, opened_keeps_days=1,
        safety_group="fish", groups=["seafood"],
    ),
    _food(
        "yogurt", 60, 4, "fridge", state="ready", allergens=["milk"], keeps_days=12,
        opened_keeps_days=4, safety_group="milk",
    ),
    _food("oats", 380, 13, "shelf"),
    _food("parsley", 30, 3, "fridge", keeps_days=3, groups=["herbs", "fresh"]),
    _food("water", 0, 0, "tap", density_g_per_ml=1),
]  # fmt: skip

MEASURES: list[dict[str, object]] = [
    {"food_id": "lentils", "unit": "cup", "grams": 200, "source": "hand"},
    {"food_id": "rice", "unit": "cup", "grams": 185, "source": "hand"},
    {"food_id": "rice", "unit": "cup", "state": "cooked", "grams": 160, "source": "hand"},
    {"food_id": "carrot", "unit": "each", "grams": 60, "source": "hand"},
    {"food_id": "oil", "unit": "cup", "grams": 216, "source": "hand"},
    {"food_id": "haddock", "unit": "each", "grams": 180, "source": "hand"},
    {"food_id": "yogurt", "unit": "cup", "state": "ready", "grams": 250, "source": "hand"},
]


def _pack(
    pack_id: str, food_id: str, seller: str, size: str, unit: str, price: str, **more: str
) -> dict[str, object]:
    return {
        "pack_id": pack_id,
        "food_id": food_id,
        "seller_id": seller,
        "sold": "pack",
        "size": size,
        "unit": unit,
        "price": price,
        "currency": "USD",
        "price_date": "2026-02-20",
        **more,
    }


PACKS: list[dict[str, object]] = [
    _pack("lentils_500", "lentils", "market", "500", "g", "2.00"),  # 0.4 cent/g
    _pack("lentils_abroad", "lentils", "market", "500", "g", "0.10", currency="EUR"),
    _pack("carrot_loose", "carrot", "market", "100", "g", "0.17", sold="loose"),  # 80 g: 0.2125
    _pack("oil_bottle", "oil", "market", "500", "ml", "9.00"),  # 450 g: 2 cents/g
    _pack("cod_400", "cod", "market", "400", "g", "6.00"),  # 1.5 cents/g
    _pack("haddock_pair", "haddock", "market", "2", "each", "7.20"),  # 360 g: 2 cents/g
    _pack("yogurt_500", "yogurt", "farm", "500", "g", "1.50"),  # 0.3 cent/g
    _pack("yogurt_closed", "yogurt", "distant", "500", "g", "0.50"),  # seller not allowed
    _pack("oats_1000", "oats", "market", "1", "kg", "3.00"),  # 0.3 cent/g
    _pack("parsley_bunch", "parsley", "market", "25", "g", "1.00"),  # 4 cents/g
    _pack("rice_500", "rice", "market", "500", "g", "1.00"),  # 0.2 cent/g
]

SOUP: dict[str, Any] = {  # base 1940 kcal and 101.8 g protein in 4 servings: 485 and 25.45 each
    "recipe_id": "soup",
    "groups": ["legumes", "warm"],
    "name": "Lentil soup",
    "meals": ["dinner"],
    "yield_servings": 4,
    "batch": {"step": "half", "most_per_cook_day": 2},
    "minutes": {"hands_on": 20, "hands_on_per_extra_batch": 8},
    "equipment": {"hob_minutes": 30},
    "keeps": {"kind": "stews", "fridge_days": 3, "freezer_months": 3, "serve": "reheated"},
    "lines": [
        {"food": "lentils", "amount": 2, "unit": "cup"},  # 400 g: 1400 kcal, 100 g
        {"food": "carrot", "amount": 2, "unit": "each"},  # 120 g: 48 kcal, 1.2 g
        {"food": "oil", "amount": 4, "unit": "tbsp"},  # 4 x 216/16 = 54 g: 486 kcal
        {"food": "water", "amount": 1, "unit": "l"},
        {"food": "parsley", "amount": 20, "unit": "g", "optional": True, "part": "cold"},  # 6; 0.6
    ],
}
FISH: dict[str, Any] = {  # 0=haddock: 730.8 kcal and 66.56 g in 2 servings: 365.4 and 33.28 each
    "recipe_id": "fish",
    "groups": ["fish"],
    "name": "Fish and rice",
    "meals": ["dinner"],
    "yield_servings": 2,
    "minutes": {"hands_on": 15, "hands_on_per_extra_batch": 5},
    "equipment": {"hob_minutes": 20, "oven": {"temperature_c": 200, "minutes": 25}},
    "keeps": {"kind": "fish_dish", "fridge_days": 2, "serve": "reheated"},
    "lines": [
        {
            "food": "cod", "amount": 300, "unit": "g",
            "alternatives": [{"food": "haddock", "ratio": 1.2}],  # 360 g: 270 kcal, 57.6 g
        },
        # 320 g cooked / 2.5 = 128 g: 460.8 kcal, 8.96 g
        {"food": "rice", "amount": 2, "unit": "cup", "state": "cooked"},
    ],
    "steps": [{"do": "Bake until the fish flakes.", "until_internal_c": 63}],
}  # fmt: skip
POTS: dict[str, Any] = {  # 1060 kcal and 46 g protein in 2 servings: 530 and 23 each
    "recipe_id": "pots",
    "name": "Oat pots",
    "meals": ["breakfast"],
    "yield_servings": 2,
    "minutes": {"hands_on": 10, "hands_on_per_extra_batch": 4},
    "keeps": {"kind": "dairy", "fridge_days": 3, "serve": "cold"},
    "lines": [
        {"food": "oats", "amount": 200, "unit": "g"},  # 760 kcal, 26 g
        {"food": "yogurt", "amount": 500, "unit": "g"},  # 300 kcal, 20 g
    ],
}


def _limit(kind: str, fridge: int, freezer: float) -> dict[str, object]:
    return {
        "kind": kind,
        "covers": kind,
        "fridge_days_shortest": fridge,
        "fridge_days_longest": fridge + 1,
        "freezer_months_shortest": freezer,
        "freezer_months_longest": freezer,
        "source": "hand",
    }


def _by_id(key: str, rows: list[dict[str, Any]]) -> dict[str, dict[str, Any]]:
    return {row[key]: row for row in rows}


CATALOG: dict[str, Any] = {
    "nutrients": {
        "energy_kcal": {"nutrient_id": "energy_kcal", "name": "Energy", "unit": "kcal",
                        "decimals": 0},
        "protein_g": {"nutrient_id": "protein_g", "name": "Protein", "unit": "g", "decimals": 1},
        "iron_mg": {"nutrient_id": "iron_mg", "name": "Iron", "unit": "mg", "decimals": 1},
    },
    "allergens": {
        "fish": {"allergen_id": "fish", "name": "Fish"},
        "milk": {"allergen_id": "milk", "name": "Milk"},
    },
    "foods": _by_id("food_id", FOODS),
    "measures": MEASURES,
    "yields": [{"food_id": "rice", "state": "cooked", "grams_per_g": 2.5, "source": "hand"}],
    "sellers": {
        seller: {"seller_id": seller, "name": seller} for seller in ("distant", "farm", "market")
    },
    "packs": _by_id("pack_id", PACKS),
    "recipes": _by_id("recipe_id", [FISH, POTS, SOUP]),
    "storage_limits": _by_id(
        "kind", [_limit("stews", 2, 2), _limit("fish_dish", 2, 0), _limit("dairy", 3, 0)]
    ),
    "reference_intakes": [
        # Ada has 60 to 90 g a day, Ben 38 to 61.
        {
            "nutrient_id": "protein_g", "sex": sex, "age_from": 19, "age_to": 120, "kind": "RDA",
            "amount": 30, "source": "hand",
        }
        for sex in ("female", "male")
    ],
    "safe_temperatures": {
        "fish": {"class": "fish", "covers": "fish", "internal_c": 62.8, "internal_f": 145,
                 "rest_minutes": 0, "source": "hand"},
        "hot": {"class": "hot", "covers": "hot", "internal_c": 74, "internal_f": 165,
                "rest_minutes": 0, "source": "hand"},
    },
    "safety_groups": {
        "fish": {"group": "fish", "covers": "fish", "temperature_class": "fish",
                 "kinds": ["fish_dish"], "source": "hand"},
        "milk": {"group": "milk", "covers": "milk", "kinds": ["stews", "dairy"],
                 "source": "hand"},
    },
}  # fmt: skip

SCENARIO: dict[str, Any] = {
    "name": "Handmade week",
    "start_date": "2026-03-02",
    "days": 3,
    "meals": ["breakfast", "dinner"],
    "meal_defaults": "off",
    "cook_days": [
        {"day": 0, "hands_on_minutes": 60, "oven_minutes": 0, "hob_minutes": 50,
         "most_recipes": 2},
        {"day": 2, "ready_for": "dinner", "hands_on_minutes": 20, "oven_minutes": 30,
         "hob_minutes": 20, "most_recipes": 1},
    ],
    "shop_days": [-1, 2],
    "sellers": ["market", "farm"],
    "visit_cost": "1.50",
    "budget": "20.00",
    "waste_weight": 0.5,
    "stock": [
        {"food": "oil", "amount": 100, "unit": "ml"},  # 90 g
        {"food": "yogurt", "amount": 2, "unit": "cup", "use_by": "2026-03-01"},  # 500 g
        {"food": "cod", "amount": 200, "unit": "g", "use_by": "2026-03-02"},
    ],
    "clients": [
        {
            "id": "ada",
            "name": "Ada",
            "sex": "female",
            "age_years": 40,
            "nutrient_guard": "limit",
            "windows_per_day": {
                "energy_kcal": {"min": 1250, "max": 1300},
                "protein_g": {"min": 50, "max": 80},
            },
            "windows_on_days": {2: {"protein_g": {"max": 95}}},  # 89.56 g that day
            "windows_per_week": {"energy_kcal": {"min": 3800, "max": 3850}},  # 3820.8
            "most_repeats": 3,
            "least_different_recipes": 3,
            "dislikes": {"lentils": 2},
            "wants": {"oats": 3},
            "recipe_servings": {"soup": {"min": 1, "max": 3}},
            "portions": {"step": 0.5, "smallest": 1, "largest": 2},
        },
        {
            "id": "ben",
            "name": "Ben",
            "windows_per_day": {"energy_kcal": {"min": 1100, "max": 1500}},
            "allergens": ["fish"],
            "excluded_foods": ["parsley"],
            "away": {"days": [3], "meals": {2: ["breakfast"]}},
        },
    ],
}  # fmt: skip


def catalog() -> Catalog:
    """Return the catalogs of the kitchen."""
    return Catalog.model_validate(CATALOG)


def scenario() -> Scenario:
    """Return the scenario that the plan meets."""
    return Scenario.model_validate(SCENARIO)
