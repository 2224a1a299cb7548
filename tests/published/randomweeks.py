"""Tiny random kitchens: two days, two meals, three or four recipes; all invented by a seed."""

from __future__ import annotations

import random
from dataclasses import dataclass
from pathlib import Path
from typing import Any

import yaml

from published.dietproblems import table

MEALS = ("lunch", "dinner")
DAYS = 2
FOODS = ("barley", "beans", "curd", "greens", "roots")
KINDS = {  # kind: fridge days and freezer months, shortest and longest
    "pot": (3, 4, 2, 3),
    "salad": (1, 1, 0, 0),
    "same_day": (0, 1, 0, 0),
    "frozen_only": (0, 0, 1, 1),
}
SHAPES = ("plain", "two clients", "two cook days", "versions", "two dishes")


@dataclass(frozen=True)
class Week:
    """A kitchen as data, before it is written to files."""

    foods: dict[str, dict[str, Any]]
    packs: tuple[dict[str, Any], ...]
    recipes: dict[str, dict[str, Any]]
    scenario: dict[str, Any]


def random_week(seed: int) -> Week:
    """Return the week of a seed; the shape of the kitchen goes round with the seed."""
    rng = random.Random(seed)
    shape = SHAPES[seed % len(SHAPES)]
    foods = {food: _food(rng) for food in FOODS}
    foods["curd"]["allergens"] = "milk"
    packs = tuple(pack for food in FOODS for pack in _packs(rng, food))
    recipes = _recipes(rng, shape)
    week = Week(foods, packs, recipes, _scenario(rng, shape, foods, recipes))
    if seed % 3 == 1:
        _size_meals(random.Random(1000 + seed), week)
    return week


def _size_meals(rng: random.Random, week: Week) -> None:
    """Give a week windows of meals, and prices of the cook's work."""
    scenario = week.scenario
    for client in scenario["clients"]:
        low, high = rng.choice((("15%", "70%"), ("30%", None), (None, "60%"), ("25%", "75%")))
        sides = {side: value for side, value in (("min", low), ("max", high)) if value}
        client["windows_per_meal"] = {rng.choice(MEALS): {"energy_kcal": sides}}
    if rng.random() < 0.5:
        scenario["plate_g"] = {"max": rng.choice((450, 600, 800))}
    if rng.random() < 0.5:
        scenario["windows_per_meal"] = {MEALS[0]: {"protein_g": {"min": rng.randint(5, 15)}}}
    if rng.random() < 0.5:
        week.recipes["dish_0"]["smallest_portion"] = rng.choice((1, 1.5))
    if rng.random() < 0.8:
        scenario["work_prices"] = {
            "cook_hour": rng.choice(("9.00", "18.00")),
            "washing_up_minutes": rng.choice((0, 6)),
            "box": rng.choice(("0", "0.25")),
        }
        # What is packed apart needs a box of its own.
        week.recipes["dish_1"]["lines"][-1]["part"] = "side"
        week.recipes["dish_1"]["keeps"]["serve"] = rng.choice(("either", "cold", "cold"))
        if rng.random() < 0.5:
            week.recipes["dish_1"]["parts_apart"] = ["side"]


def _food(rng: random.Random) -> dict[str, Any]:
    return {
        "energy_kcal": rng.randint(80, 380),
        "protein_g": rng.randint(2, 24),
        "edible_share": rng.choice(("1", "1", "0.9", "0.8")),
        "keeps_days": rng.choice((None, None, 0, 1, 4, 9, 30)),
        "opened_keeps_days": rng.choice((None, 0, 2, 9)),
        "allergens": "none",
    }


def _packs(rng: random.Random, food: str) -> list[dict[str, Any]]:
    per_100_g = rng.randint(15, 90)
    small = rng.choice((250, 300, 400))
    packs = []
    for nth, size in enumerate((small, small * rng.choice((2, 3)))):
        cents = round(size / 100 * per_100_g * rng.uniform(0.7, 1.15))
        packs.append(
            {
                "pack_id": f"{food}_{nth}",
                "food_id": food,
                "seller_id": rng.choice(("barn", "booth")),
                "size": size,
                "cents": max(cents, 5),
            }
        )
    return packs


def _recipes(rng: random.Random, shape: str) -> dict[str, dict[str, Any]]:
    count = 4 if shape in ("plain", "two clients") else 3
    recipes: dict[str, dict[str, Any]] = {}
    for nth in range(count):
        lines: list[dict[str, Any]] = [
            {"food": food, "amount": 10 * rng.randint(12, 48), "unit": "g"}
            for food in rng.sample(FOODS, rng.choice((2, 3)))
        ]
        # The first two recipes suit anybody and any meal, so that no meal is empty by the files.
        if nth < 2:
            lines = [line for line in lines if line["food"] != "curd"]
        if shape == "versions" and nth == 1:
            others = [f for f in FOODS if f not in {line["food"] for line in lines}]
            lines[0]["alternatives"] = [{"food": rng.choice(others), "ratio": 1.2}]
        if shape == "versions" and nth == 2:
            lines[-1]["optional"] = True
        step = rng.choice(("whole", "half"))
        most = {"whole": 3, "half": 2}[step] - (shape == "two cook days")
        # They also keep long enough for most weeks to have a plan.
        kind = rng.choice(tuple(KINDS)) if nth > 1 else "pot"
        if nth == 1 and shape == "two cook days":
            kind = rng.choice(("salad", "same_day"))
        recipes[f"dish_{nth}"] = {
            "name": f"Dish {nth}",
            "meals": list(MEALS) if nth < 2 else rng.choice((["lunch"], ["dinner"], list(MEALS))),
            "yield_servings": rng.choice((2, 2, 3, 4)),
            "batch": {"step": step, "most_per_cook_day": most},
            "minutes": {
                "hands_on": rng.randint(10, 30),
                "hands_on_per_extra_batch": rng.randint(2, 10),
            },
            "equipment": {"hob_minutes": rng.randint(0, 30)},
            "keeps": {
                "kind": kind,
                "fridge_days": rng.randint(0, 3) if nth > 1 else rng.randint(1, 3),
                "freezer_months": min(KINDS[kind][3], rng.choice((0, 0.5, 2))),
                "serve": "either",
            },
            "lines": lines,
        }
    return recipes


def _scenario(
    rng: random.Random,
    shape: str,
    foods: dict[str, dict[str, Any]],
    recipes: dict[str, dict[str, Any]],
) -> dict[str, Any]:
    if shape == "two cook days":
        cook_days = [{"day": rng.choice((0, 1))}, {"day": 2}]
        if rng.random() < 0.3:
            cook_days[1]["ready_for"] = rng.choice(("dinner", "next_day"))
    else:
        cook_days = [{"day": rng.choice((0, 1, 1, 1))}]
    if rng.random() < 0.4:
        cook_days[0]["hands_on_minutes"] = rng.randint(30, 80)
    if rng.random() < 0.3:
        cook_days[-1]["hob_minutes"] = rng.randint(30, 80)
    if rng.random() < 0.3:
        cook_days[0]["most_recipes"] = 2
    scenario: dict[str, Any] = {
        "name": "Random week",
        "catalog": "catalogs",
        "start_date": "2026-11-30",
        "days": DAYS,
        "meals": list(MEALS),
        "meal_defaults": "off",
        "cook_days": cook_days,
        "visit_cost": rng.choice(("0", "0", "0.75", "1.50")),
        "waste_weight": rng.choice((0.0, 0.5, 1.0, 1.0)),
        "carry_days": rng.choice((2, 7)),
        "keeping_rule": rng.choice(("shortest", "longest")),
        "use_freezer": rng.random() < 0.7,
    }
    if shape == "two cook days" and rng.random() < 0.3:
        scenario["shop_days"] = [cook_days[0]["day"]]
    if shape == "two dishes":
        scenario["most_dishes_per_meal"] = 2
    if shape == "versions":
        scenario["stock"] = [
            {
                "food": rng.choice(FOODS),
                "amount": 10 * rng.randint(8, 40),
                "unit": "g",
                "use_by": rng.choice(("2026-11-30", "2026-12-03", "2027-01-10")),
            }
        ]
    if rng.random() < 0.25:
        scenario["budget"] = f"{rng.uniform(7, 18):.2f}"
    scenario["clients"] = [_client(rng, "one", foods, recipes)]
    if shape == "two clients":
        other = _client(rng, "two", foods, recipes)
        if rng.random() < 0.5:
            other["away"] = {"meals": {rng.choice((1, 2)): [rng.choice(MEALS)]}}
        if rng.random() < 0.5:
            other["allergens"] = ["milk"]
        scenario["clients"].append(other)
    return scenario


def _client(
    rng: random.Random,
    client_id: str,
    foods: dict[str, dict[str, Any]],
    recipes: dict[str, dict[str, Any]],
) -> dict[str, Any]:
    sizes = rng.choice(((1.0, 1.0, 2.0), (0.5, 0.5, 1.0), (0.5, 1.0, 1.5)))
    # Windows lie around a day made at random, so that many weeks have a plan and some have none.
    day = rng.sample(sorted(recipes)[:2], 2)
    served = [rng.choice(sizes[1:]) for _ in day]
    energy, protein = (
        sum(
            size
            / recipes[name]["yield_servings"]
            * sum(
                line["amount"] / 100 * foods[line["food"]][nutrient]
                for line in recipes[name]["lines"]
            )
            for name, size in zip(day, served, strict=True)
        )
        for nutrient in ("energy_kcal", "protein_g")
    )
    client: dict[str, Any] = {
        "id": client_id,
        "name": client_id.title(),
        "windows_per_day": {
            "energy_kcal": {
                "min": max(800, round(energy * 0.75)),
                "max": max(1200, round(energy * 1.4)),
            },
            "protein_g": {"min": round(protein * rng.uniform(0.5, 0.9))},
        },
        "portions": dict(zip(("step", "smallest", "largest"), sizes, strict=True)),
        "most_repeats": rng.choice((2, 3, None)),
    }
    if energy * 0.75 < 800:
        # The floor alone holds these days at 800 kcal, or their share.
        del client["windows_per_day"]["energy_kcal"]["min"]
    if rng.random() < 0.3:
        client["least_different_recipes"] = rng.choice((2, 3))
    if rng.random() < 0.3:
        client[rng.choice(("dislikes", "wants"))] = {rng.choice(FOODS): rng.choice((1, 2))}
    if rng.random() < 0.25:
        client["windows_per_week"] = {"protein_g": {"max": round(protein * rng.uniform(1.6, 2.6))}}
    if rng.random() < 0.25:
        client["windows_on_days"] = {2: {"protein_g": {"min": round(protein * 0.6)}}}
    if rng.random() < 0.2:
        client["recipe_servings"] = {"dish_1": {"min": 1, "max": 4}}
    return client


def write_week(folder: Path, week: Week) -> Path:
    """Write the week's catalog and scenario, and return the scenario file."""
    files = {
        "nutrients.csv": (
            "nutrient_id,name,unit,decimals\nenergy_kcal,Energy,kcal,0\nprotein_g,Protein,g,1\n"
        ),
        "allergens.csv": "allergen_id,name,us_number,eu_number,note\nmilk,Milk,1,7,\n",
        "foods.csv": table(
            [
                "food_id",
                "name",
                "sr28_ndb_no",
                "sr28_description",
                "energy_kcal",
                "protein_g",
                "state",
                "edible_share",
                "density_g_per_ml",
                "allergens",
                "aisle",
                "storage",
                "keeps_days",
                "opened_keeps_days",
                "safe_temperature",
                "safety_group",
                "groups",
            ],
            [
                [
                    food_id,
                    food_id,
                    "",
                    "invented",
                    food["energy_kcal"],
                    food["protein_g"],
                    "ready",
                    food["edible_share"],
                    "",
                    food["allergens"],
                    "any",
                    "fridge",
                    food["keeps_days"],
                    food["opened_keeps_days"],
                    "",
                    "none",
                    "|".join(food.get("groups", ())),
                ]
                for food_id, food in week.foods.items()
            ],
        ),
        "measures.csv": "food_id,unit,state,grams,source\n",
        "yields.csv": "food_id,state,grams_per_g,source\n",
        "sellers.csv": "seller_id,name,note\nbarn,Barn,Invented\nbooth,Booth,Invented\n",
        "packs.csv": table(
            [
                "pack_id",
                "food_id",
                "seller_id",
                "sold",
                "size",
                "unit",
                "price",
                "currency",
                "price_date",
            ],
            [
                [
                    pack["pack_id"],
                    pack["food_id"],
                    pack["seller_id"],
                    "pack",
                    pack["size"],
                    "g",
                    f"{pack['cents'] // 100}.{pack['cents'] % 100:02d}",
                    "USD",
                    "2026-11-20",
                ]
                for pack in week.packs
            ],
        ),
        "storage_limits.csv": table(
            [
                "kind",
                "covers",
                "fridge_days_shortest",
                "fridge_days_longest",
                "freezer_months_shortest",
                "freezer_months_longest",
                "source",
            ],
            [[kind, kind, *limits, "invented"] for kind, limits in KINDS.items()],
        ),
        "safe_temperatures.csv": "class,covers,internal_c,internal_f,rest_minutes,source\n",
        "safety_groups.csv": "group,covers,temperature_class,kinds,source\n",
    }
    for recipe_id, recipe in week.recipes.items():
        files[f"recipes/{recipe_id}.yaml"] = yaml.safe_dump(recipe)
    for name, text in files.items():
        path = folder / "catalogs" / name
        path.parent.mkdir(parents=True, exist_ok=True)
        path.write_text(text, encoding="utf-8", newline="")
    scenario = folder / "scenario.yaml"
    scenario.write_text(yaml.safe_dump(week.scenario), encoding="utf-8", newline="")
    return scenario
