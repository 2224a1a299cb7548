"""Seeded kitchens for measurements: a shape and a seed give a catalog and a scenario in memory.

Recipes, prices and clients are drawn by chance; food composition, edible shares, keeping times and
the level of prices are those of the demo catalog. Same shape, same kitchen, on any machine.
"""

from __future__ import annotations

from dataclasses import dataclass, replace
from random import Random
from typing import Any

from benchmarks.pantry import PARTS, cents_per_edible_g, demo_catalog, pantry, part_of
from planopt.catalog.records import Catalog, Food, Pack, Recipe
from planopt.scenario.records import Scenario

MEALS = ("breakfast", "lunch", "dinner", "snack")
_SHARE = {"breakfast": 0.25, "lunch": 0.3, "dinner": 0.3, "snack": 0.15}
_START = "2026-11-30"
_LEAST_KCAL, _MOST_KCAL = 250, 700
# What a kitchen has on hand as the demo week has: long-lasting foods used by the spoon.
_ON_HAND = {"fat": 500, "sweet": 350}

# Kind of recipe -> parts that it always has, and parts of which it draws one or more.
_MAKE_UP: dict[str, tuple[tuple[str, ...], tuple[str, ...]]] = {
    "pot": (
        ("grain", "meat", "vegetable", "vegetable", "fat"),
        ("vegetable", "pulse", "savoury", "cheese"),
    ),
    "stew": (
        ("pulse", "vegetable", "vegetable", "vegetable", "fat"),
        ("grain", "meat", "savoury", "cheese"),
    ),
    "box": (("bread", "meat", "vegetable"), ("vegetable", "cheese", "savoury", "fat")),
    "bowl": (("grain", "dairy", "fruit"), ("nut", "fruit", "sweet")),
    "plate": (("bread", "dairy", "cheese"), ("vegetable", "fat", "vegetable")),
    "bites": (("grain", "nut", "nut"), ("fruit", "sweet", "dairy")),
    "cup": (("dairy", "fruit", "nut"), ("fruit", "nut", "sweet")),
}
# One round of ten recipes has the meals of the demo recipes in their shares.
_ROUND: tuple[tuple[tuple[str, ...], tuple[str, ...]], ...] = (
    (("lunch", "dinner"), ("pot", "stew")),
    (("breakfast",), ("bowl", "plate")),
    (("snack",), ("bites", "cup")),
    (("lunch", "dinner"), ("stew", "pot")),
    (("breakfast", "snack"), ("bites", "cup")),
    (("dinner",), ("pot", "box")),
    (("lunch", "dinner"), ("pot", "box")),
    (("breakfast", "lunch"), ("plate", "bowl")),
    (("lunch",), ("box", "stew")),
    (("lunch", "dinner"), ("pot", "stew")),
)
# Kind of recipe -> kind of keeping, fridge days and freezer months (0 = not frozen).
_KEEPS: dict[str, tuple[str, int, float]] = {
    "pot": ("cooked_meat_or_poultry", 3, 2),
    "stew": ("soups_and_stews", 3, 2),
    "box": ("deli_salad", 3, 0),
    "bowl": ("leftovers_in_general", 3, 2),
    "plate": ("egg_casserole", 3, 2),
    "bites": ("energy_bites", 5, 2),
    "cup": ("dairy_pot", 3, 0),
}


@dataclass(frozen=True)
class Shape:
    """What a kitchen is like.

    `energy_band` is how far a day's energy may be from its middle, as a share. `protein` is the
    least protein of a day as a share of what the average recipe gives at that energy; None = no
    window. `pack_scale` multiplies the size of packs, which is 1 to 10 batches of typical use:
    lumpy packs are large ones, or few sizes. `on_hand` puts oils and
    sweet things in the larder.
    """

    seed: int = 1
    clients: int = 1
    recipes: int = 60
    foods: int = 76
    days: int = 7
    meals: int = 4
    cook_days: int = 2
    portion_step: float = 0.5
    energy_band: float = 0.05
    protein: float | None = 0.95
    most_repeats: int | None = 4
    pack_sizes: int = 2
    pack_scale: float = 1.0
    waste_weight: float = 1.0
    on_hand: bool = True


@dataclass(frozen=True)
class Instance:
    """A kitchen of a shape."""

    shape: Shape
    catalog: Catalog
    scenario: Scenario


def single(seed: int = 1) -> Shape:
    """Return one client with 60 recipes and 76 foods."""
    return Shape(seed=seed)


def shared(clients: int, seed: int = 1) -> Shape:
    """Return clients who share one kitchen with 60 recipes."""
    return Shape(seed=seed, clients=clients)


def book(recipes: int, seed: int = 1) -> Shape:
    """Return one client with so many recipes, and foods enough for them."""
    return Shape(seed=seed, recipes=recipes, foods=min(120, 46 + recipes // 2))


def knobs(seed: int = 1) -> dict[str, Shape]:
    """Return one client's kitchen with one thing changed at a time."""
    base = single(seed)
    return {
        "as in `single`": base,
        "energy within 2 %": replace(base, energy_band=0.02),
        "energy within 10 %": replace(base, energy_band=0.10),
        "protein 15 % above average": replace(base, protein=1.15),
        "portions by 0.25": replace(base, portion_step=0.25),
        "portions by 1": replace(base, portion_step=1.0),
        "one pack size": replace(base, pack_sizes=1),
        "three pack sizes": replace(base, pack_sizes=3),
        "packs half as large": replace(base, pack_scale=0.5),
        "packs three times as large": replace(base, pack_scale=3.0),
        "one cook day": replace(base, cook_days=1),
        "waste not charged": replace(base, waste_weight=0.0),
        "nothing on hand": replace(base, on_hand=False),
    }


def make_instance(shape: Shape) -> Instance:
    """Return the kitchen of a shape."""
    if not 1 <= shape.meals <= len(MEALS) or shape.cook_days not in (1, 2):
        raise ValueError("a kitchen has 1 to 4 meals a day and 1 or 2 cook days")
    demo = demo_catalog()
    shelf = pantry(shape.foods)
    foods = {food_id: demo.foods[food_id] for ids in shelf.values() for food_id in ids}
    recipes = [_recipe(Random(f"{shape.seed} {n}"), n, shelf, foods) for n in range(shape.recipes)]
    packs = [pack for food in foods.values() for pack in _packs(shape, food)]
    catalog = Catalog(
        nutrients=demo.nutrients,
        allergens=demo.allergens,
        foods=dict(sorted(foods.items())),
        measures=tuple(measure for measure in demo.measures if measure.food_id in foods),
        yields=tuple(factor for factor in demo.yields if factor.food_id in foods),
        sellers=demo.sellers,
        packs={pack.pack_id: pack for pack in sorted(packs, key=lambda pack: pack.pack_id)},
        recipes={recipe.recipe_id: recipe for recipe in recipes},
        storage_limits=demo.storage_limits,
        safe_temperatures=demo.safe_temperatures,
        safety_groups=demo.safety_groups,
    )
    return Instance(shape, catalog, _scenario(shape, catalog))


def kcal_per_serving(recipe: Recipe, foods: dict[str, Food]) -> float:
    """Return the energy of a serving of a generated recipe, whose lines are in grams."""
    return per_serving(recipe, foods, "energy_kcal")


def per_serving(recipe: Recipe, foods: dict[str, Food], nutrient_id: str) -> float:
    """Return a nutrient of a serving of a generated recipe, whose lines are in grams."""
    total = 0.0
    for line in recipe.lines:
        total += float(line.amount) / 100.0 * (foods[line.food].nutrients[nutrient_id] or 0.0)
    return total / recipe.yield_servings


def _recipe(
    rng: Random, n: int, shelf: dict[str, tuple[str, ...]], foods: dict[str, Food]
) -> Recipe:
    """Return recipe n: 4 to 9 foods, scaled as a whole to a size that suits its meals."""
    meals, kinds = _ROUND[n % len(_ROUND)]
    kind = kinds[0] if n < 2 * len(_ROUND) else rng.choice(kinds)
    always, sometimes = _MAKE_UP[kind]
    parts = [*always, *rng.sample(sometimes, k=rng.randint(1, len(sometimes)))]
    grams: dict[str, float] = {}
    for name in parts:
        part = PARTS[name]
        left = [food_id for food_id in shelf[name] if food_id not in grams]
        if left:
            grams[rng.choice(left)] = rng.uniform(part.low_g, part.high_g)
    servings = rng.choice((4, 4, 4, 5, 6))
    kcal = sum(g / 100.0 * (foods[f].nutrients["energy_kcal"] or 0.0) for f, g in grams.items())
    wanted = rng.uniform(400, 680) if "dinner" in meals or meals == ("lunch",) else (
        rng.uniform(270, 460)
    )  # fmt: skip
    scale = min(1.7, max(0.6, wanted / kcal))
    scale = min(max(scale, 1.03 * _LEAST_KCAL / kcal), 0.97 * _MOST_KCAL / kcal)
    keeping, fridge_days, months = _KEEPS[kind]
    hands_on = rng.randrange(8, 40)
    equipment: dict[str, Any] = {}
    if kind in ("pot", "plate", "bites") and rng.random() < 0.4:
        equipment["oven"] = {"temperature_c": 180, "minutes": rng.randrange(20, 60, 5)}
    elif kind in ("pot", "stew", "bowl"):
        equipment["hob_minutes"] = rng.randrange(10, 50, 5)
    return Recipe.model_validate(
        {
            "recipe_id": f"{kind}_{n:03d}",
            "name": f"{kind.capitalize()} {n}",
            "meals": meals,
            "yield_servings": servings,
            "batch": {
                "step": "whole" if rng.random() < 0.1 else "half",
                "most_per_cook_day": rng.choice((2, 2, 3)),
            },
            "minutes": {
                "hands_on": hands_on,
                "hands_on_per_extra_batch": round(hands_on * rng.uniform(0.4, 0.7)),
            },
            "equipment": equipment,
            # Hot enough for any food that may be drawn.
            "steps": [{"do": "Cook through.", "until_internal_c": 74}],
            "keeps": {
                "kind": keeping,
                "fridge_days": fridge_days,
                "freezer_months": months,
                "serve": "either",
            },
            "lines": [
                {"food": food_id, "amount": _nice(g * scale * servings), "unit": "g"}
                for food_id, g in grams.items()
            ],
        }
    )


def _nice(grams: float) -> int:
    """Round as a cook would: to 5 g, from 100 g to 10 g, from 1 kg to 50 g."""
    step = 5 if grams < 100 else 10 if grams < 1000 else 50
    return max(step, round(grams / step) * step)


def _packs(shape: Shape, food: Food) -> list[Pack]:
    """Return whole packs of growing size and falling price per gram."""
    rng = Random(f"{shape.seed} {food.food_id}")
    part = PARTS[part_of()[food.food_id]]
    batch_g = (part.low_g + part.high_g) / 2 * 4 / food.edible_share
    cents_per_g = cents_per_edible_g()[food.food_id] * food.edible_share * rng.uniform(1.05, 1.3)
    size = _nice(batch_g * part.uses * shape.pack_scale * rng.uniform(0.6, 1.6))
    packs = []
    for nth in range(shape.pack_sizes):
        cents = max(20, round(size * cents_per_g * rng.uniform(0.97, 1.03)))
        packs.append(
            Pack.model_validate(
                {
                    "pack_id": f"{food.food_id}_{nth + 1}",
                    "food_id": food.food_id,
                    "seller_id": rng.choice(sorted(demo_catalog().sellers)),
                    "sold": "pack",
                    "size": size,
                    "unit": "g",
                    "price": f"{cents / 100:.2f}",
                    "currency": "USD",
                    "price_date": "2026-11-20",
                }
            )
        )
        size = _nice(size * rng.choice((2.0, 2.5, 3.0)))
        cents_per_g *= rng.uniform(0.75, 0.88)
    return packs


def _scenario(shape: Shape, catalog: Catalog) -> Scenario:
    meals = MEALS[: shape.meals]
    servings = list(catalog.recipes.values())
    protein_per_kcal = sum(per_serving(r, catalog.foods, "protein_g") for r in servings) / sum(
        kcal_per_serving(r, catalog.foods) for r in servings
    )
    cooking = {
        "hands_on_minutes": (480 if shape.cook_days == 1 else 300) + 100 * (shape.clients - 1),
        "oven_minutes": (600 if shape.cook_days == 1 else 360) + 150 * (shape.clients - 1),
    }
    cook_days: list[dict[str, Any]] = [{"day": 0, **cooking}]
    if shape.cook_days == 2:
        cook_days.append({"day": 3, "ready_for": "next_day", **cooking})
    return Scenario.model_validate(
        {
            "name": f"Benchmark {shape.clients} x {shape.recipes}, seed {shape.seed}",
            "start_date": _START,
            "days": shape.days,
            "meals": meals,
            "meal_defaults": "off",
            "cook_days": cook_days,
            "waste_weight": shape.waste_weight,
            "stock": _stock(catalog) if shape.on_hand else [],
            "clients": [
                _client(shape, c, sum(_SHARE[meal] for meal in meals), protein_per_kcal, catalog)
                for c in range(shape.clients)
            ],
        }
    )


def _stock(catalog: Catalog) -> list[dict[str, Any]]:
    parts = part_of()
    return [
        {"food": food_id, "amount": _ON_HAND[parts[food_id]], "unit": "g"}
        for food_id, food in catalog.foods.items()
        if parts[food_id] in _ON_HAND and food.storage == "shelf"
    ]


def _client(
    shape: Shape, c: int, share: float, protein_per_kcal: float, catalog: Catalog
) -> dict[str, Any]:
    """Return client c, who does not depend on how many clients there are."""
    rng = Random(f"{shape.seed} client {c}")
    kcal = rng.randrange(1600, 2601, 50) * share
    windows: dict[str, Any] = {
        "energy_kcal": {
            "min": round(kcal * (1 - shape.energy_band)),
            "max": round(kcal * (1 + shape.energy_band)),
        }
    }
    if shape.protein is not None:
        windows["protein_g"] = {"min": round(kcal * protein_per_kcal * shape.protein)}
    return {
        "id": f"client_{c + 1:02d}",
        "name": f"Client {c + 1}",
        "windows_per_day": windows,
        # Every second client will not eat three foods, so that menus differ.
        "excluded_foods": rng.sample(sorted(catalog.foods), k=3) if c % 2 else [],
        "portions": {"step": shape.portion_step, "smallest": shape.portion_step, "largest": 2.0},
        "most_repeats": shape.most_repeats,
    }
