"""Small kitchens in memory for tests of problem, model, solve and plan.

The builders below make records with as few words as possible; `random_kitchen` draws a whole
kitchen that is small enough to be solved to the end in a moment.
"""

from __future__ import annotations

from collections.abc import Iterable, Mapping
from dataclasses import dataclass
from random import Random
from typing import Any

from planopt.catalog.records import Catalog, ReferenceIntake
from planopt.plan.extract import SolveFacts, Source
from planopt.problem.build import Problem, build_problem
from planopt.scenario.records import Scenario
from planopt.solve.settings import SolveSettings

START = "2026-03-02"
EXACT = SolveSettings(gap=0.0, time_limit_s=30.0)
SOURCE = Source("scenario.yaml", "0" * 64, "catalogs", "0" * 64)


def facts(bound: float = 0.0, **changes: Any) -> SolveFacts:
    """Return what a plan tells about its solve, for a bound."""
    told: dict[str, Any] = {
        "status": "time_limit", "bound": bound, "gap_asked": 0.0, "solve_seconds": 0.0,
        "build_seconds": 0.0, "solver": "none", "solver_status": "none",
        "bound_composition": "none", "settings": {},
    }  # fmt: skip
    return SolveFacts(**{**told, **changes})


def food(food_id: str, kcal: float = 100.0, protein: float = 5.0, **more: Any) -> dict[str, Any]:
    """Return a food that keeps for ever, unless told otherwise."""
    return {
        "food_id": food_id,
        "name": food_id.capitalize(),
        "nutrients": {"energy_kcal": kcal, "protein_g": protein},
        "state": "raw",
        "edible_share": 1,
        "aisle": "any",
        "storage": "shelf",
        "allergens": [],
        "safety_group": "none",
        **more,
    }


def pack(
    food_id: str, grams: float, price: str, seller: str = "corner", **more: Any
) -> dict[str, Any]:
    """Return a pack of so many grams."""
    return {
        "pack_id": f"{food_id}_{str(grams).replace('.', '_')}_{seller}",
        "food_id": food_id,
        "seller_id": seller,
        "sold": "pack",
        "size": str(grams),
        "unit": "g",
        "price": price,
        "currency": "USD",
        "price_date": "2026-02-20",
        **more,
    }


def recipe(recipe_id: str, grams: Mapping[str, float], **more: Any) -> dict[str, Any]:
    """Return a recipe for lunch and dinner that gives two servings and keeps two days."""
    return {
        "recipe_id": recipe_id,
        "name": recipe_id.capitalize(),
        "meals": ["lunch", "dinner"],
        "yield_servings": 2,
        "batch": {"step": "whole", "most_per_cook_day": 3},
        "minutes": {"hands_on": 10, "hands_on_per_extra_batch": 4},
        "keeps": {"kind": "dishes", "fridge_days": 2, "serve": "reheated"},
        "lines": [
            {"food": food_id, "amount": amount, "unit": "g"} for food_id, amount in grams.items()
        ],
        **more,
    }


def limit(
    kind: str = "dishes", fridge: int = 9, months: float = 0.0, **more: Any
) -> dict[str, Any]:
    """Return a storage limit, shortest and longest alike."""
    return {
        "kind": kind, "covers": kind, "source": "test",
        "fridge_days_shortest": fridge, "fridge_days_longest": fridge,
        "freezer_months_shortest": months, "freezer_months_longest": months,
        **more,
    }  # fmt: skip


def catalog(
    foods: Iterable[dict[str, Any]],
    packs: Iterable[dict[str, Any]],
    recipes: Iterable[dict[str, Any]],
    limits: Iterable[dict[str, Any]] | None = None,
    measures: Iterable[dict[str, Any]] = (),
) -> Catalog:
    """Return a catalog with energy and protein and two sellers, tables in id order."""
    return Catalog.model_validate(
        {
            "nutrients": {
                "energy_kcal": _named("nutrient_id", "energy_kcal", unit="kcal", decimals=0),
                "protein_g": _named("nutrient_id", "protein_g", unit="g", decimals=1),
            },
            "allergens": {"milk": _named("allergen_id", "milk")},
            "foods": _by("food_id", foods),
            "measures": list(measures),
            "yields": [],
            "sellers": {s: _named("seller_id", s) for s in ("corner", "market")},
            "packs": _by("pack_id", packs),
            "recipes": _by("recipe_id", recipes),
            "storage_limits": _by("kind", limits if limits is not None else [limit()]),
            "safe_temperatures": {},
            "safety_groups": {},
        }
    )


def _named(key: str, value: str, **more: Any) -> dict[str, Any]:
    return {key: value, "name": value, **more}


def _by(key: str, rows: Iterable[dict[str, Any]]) -> dict[str, dict[str, Any]]:
    return {row[key]: row for row in sorted(rows, key=lambda row: row[key])}


def client(client_id: str = "ana", **more: Any) -> dict[str, Any]:
    """Return a client whose meals have no windows and whole portions of one serving.

    Supervised, as most of these kitchens serve less than the energy floor of a day.
    """
    return {
        "id": client_id,
        "name": client_id.capitalize(),
        "portions": {"step": 1, "smallest": 1, "largest": 1},
        "most_repeats": None,
        "medically_supervised": True,
        **more,
    }


def scenario(**keys: Any) -> Scenario:
    """Return a scenario of one day, one lunch, one client and one cook day."""
    return Scenario.model_validate(
        {
            "name": "Small", "start_date": START, "days": 1, "meals": ["lunch"],
            "meal_defaults": "off",
            "cook_days": [{"day": 1}], "clients": [client()], **keys,
        }
    )  # fmt: skip


@dataclass(frozen=True)
class Drawn:
    """A kitchen drawn at random."""

    catalog: Catalog
    scenario: Scenario

    @property
    def problem(self) -> Problem:
        """Return the problem of the kitchen."""
        return build_problem(self.catalog, self.scenario)


def random_kitchen(
    seed: int, *, one_dish: bool = True, priced: bool = False, meals_sized: bool = False
) -> Drawn:
    """Draw a kitchen; with `one_dish` it is one that day menus can stand for.

    With `priced` the first client's reference intakes that are missed cost money; with
    `meals_sized` meals have windows, recipes smallest portions, and the cook's work a price.
    """
    rng = Random(seed)
    food_ids = ["beans", "carrot", "fish", "milk", "oats", "rice"][: rng.randint(4, 6)]
    foods = [_random_food(rng, food_id) for food_id in food_ids]
    packs = [p for food_id in food_ids for p in _random_packs(rng, food_id)]
    recipes = [_random_recipe(rng, f"dish_{n}", food_ids) for n in range(rng.randint(3, 4))]
    limits = [limit(fridge=rng.randint(1, 4), months=rng.choice([0, 0.1, 1]))]
    days = rng.randint(2, 4)
    meals = ["lunch", "dinner"]
    cooks: list[dict[str, Any]] = [{"day": rng.choice([0, 1]), **_random_limits(rng)}]
    if days > 2 or rng.random() < 0.5:
        cooks.append(
            {"day": 2, "ready_for": rng.choice([None, "dinner", "next_day"]), **_random_limits(rng)}
        )
    keys: dict[str, Any] = {
        "days": days,
        "meals": meals,
        "cook_days": cooks,
        "visit_cost": rng.choice(["0", "0", "0.75"]),
        "waste_weight": rng.choice([0, 0.5, 1]),
        "carry_days": rng.choice([0, 3, 7]),
        "clients": [
            _random_client(rng, f"client_{n}", food_ids, recipes, days, one_dish)
            for n in range(rng.randint(1, 2))
        ],
        "stock": [
            _random_stock(rng, rng.choice(food_ids)) for _ in range(rng.choice([0, 0, 1, 2]))
        ],
    }
    if rng.random() < 0.2:
        keys["budget"] = str(rng.randint(12, 30))
    if not one_dish:
        keys["most_dishes_per_meal"] = rng.choice([1, 2, "any"])
    if meals_sized:
        _size_meals(Random(seed + 2000), recipes, keys)
    drawn = catalog(foods, packs, recipes, limits)
    if priced:
        chance = Random(seed + 1000)
        drawn = drawn.model_copy(update={"reference_intakes": _random_references(chance)})
        price = {"nutrient_guard": "limit", "nutrient_price": chance.choice(["0.05", "0.40"])}
        keys["clients"][0] |= price
    return Drawn(drawn, scenario(**keys))


def _size_meals(rng: Random, recipes: list[dict[str, Any]], keys: dict[str, Any]) -> None:
    share = {"min": rng.choice(["15%", "25%"]), "max": rng.choice(["60%", "75%"])}
    keys["windows_per_meal"] = {rng.choice(["lunch", "dinner"]): {"energy_kcal": share}}
    for eater in keys["clients"]:
        if rng.random() < 0.5:
            eater["plate_g"] = {"min": rng.choice([0, 40]), "max": rng.choice([250, 400])}
        if rng.random() < 0.3:
            protein = {"protein_g": {"min": rng.choice([2, 5])}}
            eater["windows_per_meal_on_days"] = {1: {"lunch": protein}}
    if rng.random() < 0.5:
        recipes[0]["smallest_portion"] = rng.choice([0.5, 1])
    if rng.random() < 0.3 and len(recipes[1]["lines"]) > 1:
        recipes[1]["lines"][-1]["part"] = "side"
    keys["work_prices"] = {
        "cook_hour": rng.choice(["0", "6", "12"]),
        "washing_up_minutes": rng.choice([0, 5]),
        "box": rng.choice(["0", "0.10"]),
    }


def _random_references(rng: Random) -> tuple[ReferenceIntake, ...]:
    rows = [("protein_g", "AI", rng.randint(15, 60)), ("protein_g", "UL", rng.randint(40, 90))]
    return tuple(
        ReferenceIntake(
            nutrient_id=nutrient, sex="female", age_from=19, age_to=120, kind=kind, amount=amount,
            source="Invented",
        )
        for nutrient, kind, amount in rows
    )  # fmt: skip


def _random_food(rng: Random, food_id: str) -> dict[str, Any]:
    return food(
        food_id,
        kcal=rng.choice([40, 90, 150, 360]),
        protein=rng.choice([1, 4, 9, 20]),
        keeps_days=rng.choice([None, 0, 2, 5, 12]),
        opened_keeps_days=rng.choice([None, None, 1, 4]),
        edible_share=rng.choice([1, 0.8]),
    )


def _random_packs(rng: Random, food_id: str) -> list[dict[str, Any]]:
    sizes = rng.sample([100, 150, 250, 400, 750], rng.randint(1, 3))
    return [
        pack(
            food_id,
            size,
            f"{size * rng.uniform(0.004, 0.012):.2f}",
            rng.choice(["corner", "market"]),
            sold="loose" if size == 100 else "pack",
        )
        for size in sizes
    ]


def _random_recipe(rng: Random, recipe_id: str, food_ids: list[str]) -> dict[str, Any]:
    step = rng.choice(["whole", "half"])
    chosen = rng.sample(food_ids, rng.randint(1, 3))
    lines: list[dict[str, Any]] = [
        {"food": food_id, "amount": rng.choice([80, 120, 200, 330]), "unit": "g"}
        for food_id in chosen
    ]
    others = [food_id for food_id in food_ids if food_id not in chosen]
    if others and rng.random() < 0.3:
        lines[0]["alternatives"] = [{"food": rng.choice(others), "ratio": 1.2}]
    if len(lines) > 1 and rng.random() < 0.3:
        rng.choice(lines)["optional"] = True
    keeps = {"kind": "dishes", "fridge_days": rng.randint(0, 3), "serve": "either"}
    return recipe(
        recipe_id,
        {},
        lines=lines,
        meals=rng.choice([["lunch"], ["dinner"], ["lunch", "dinner"], ["lunch", "dinner"]]),
        yield_servings=rng.choice([1, 2, 3]),
        batch={"step": step, "most_per_cook_day": rng.choice([2, 3])},
        equipment={
            "hob_minutes": rng.choice([0, 15]),
            "oven": {"temperature_c": 180, "minutes": 20} if rng.random() < 0.4 else None,
        },
        keeps={**keeps, "freezer_months": rng.choice([0, 0, 0.1])},
    )


def _random_limits(rng: Random) -> dict[str, Any]:
    return {
        "hands_on_minutes": rng.choice([None, None, 40, 70]),
        "oven_minutes": rng.choice([None, None, 40]),
        "hob_minutes": rng.choice([None, None, 60]),
        "most_recipes": rng.choice([None, None, 2, 3]),
    }


def _random_client(
    rng: Random,
    client_id: str,
    food_ids: list[str],
    recipes: list[dict[str, Any]],
    days: int,
    one_dish: bool,
) -> dict[str, Any]:
    low = rng.choice([100, 300, 500])
    windows: dict[str, Any] = {"energy_kcal": {"min": low, "max": low * rng.choice([3, 5, 9])}}
    if rng.random() < 0.5:
        windows["protein_g"] = {"min": rng.choice([4, 12])}
    step: Any = rng.choice([0.5, 0.5, 1])
    more: dict[str, Any] = {
        "windows_per_day": windows,
        "portions": {"step": step, "smallest": step, "largest": 2},
        "most_repeats": rng.choice([None, 2, 3, 4]),
        "least_different_recipes": rng.choice([0, 0, 1, 2]),
        "medically_supervised": True,
    }
    if not one_dish and rng.random() < 0.3:
        more["portions"] = {"step": "any", "smallest": 0, "largest": 2}
    if rng.random() < 0.4:
        total = low * days
        both = {"min": total, "max": total * 3}
        sides = rng.choice([{"max": total * 2}, {"min": total * 2}, both])
        more["windows_per_week"] = {"energy_kcal": sides}
    if rng.random() < 0.3:
        more["windows_on_days"] = {
            2: rng.choice(
                [{"energy_kcal": {"min": low, "max": low * 8}}, {"protein_g": {"max": 25}}]
            )
        }
    if rng.random() < 0.2:
        more["dislikes"] = {rng.choice(food_ids): rng.choice([1, 2])}
    if rng.random() < 0.2:
        more["wants"] = {rng.choice(food_ids): 1}
    if rng.random() < 0.2:
        more["recipe_servings"] = {rng.choice(recipes)["recipe_id"]: {"min": 0.5, "max": 3}}
    if rng.random() < 0.25:
        more["away"] = {"days": [1], "meals": {2: ["lunch"]}}
    return client(client_id, **more)


def _random_stock(rng: Random, food_id: str) -> dict[str, Any]:
    return {
        "food": food_id,
        "amount": rng.choice([70, 240]),
        "unit": "g",
        "use_by": rng.choice([None, "2026-03-02", "2026-03-06", "2026-03-20"]),
    }
