"""Warnings about foods listed twice, and about recipes whose servings look like slips."""

from __future__ import annotations

import re
from collections.abc import Collection, Iterator
from dataclasses import dataclass

from rapidfuzz import fuzz

from planopt.catalog.positions import Positions
from planopt.catalog.quantities import Quantities, UnitUnknown
from planopt.catalog.records import Catalog, Food, Recipe
from planopt.catalog.safetychecks import fridge_days_of_foods
from planopt.faults import Fault

# Common practice, no source: a serving outside of these is hardly meant.
SERVING_G = (10.0, 1200.0)
SERVING_KCAL = (10.0, 1500.0)
# In percent, of names with their words in order; common practice, no source.
NEAR_NAME = 80.0
# General factors against the table's own; over a dish they differ less than for single foods.
ENERGY_TOLERANCE_KCAL = 25.0
ENERGY_TOLERANCE_SHARE = 0.10


def foods_twice(catalog: Catalog, at: Positions) -> Iterator[Fault]:
    """Two foods of one name, or of one number of the composition table and nearly one name.

    One entry of the table may well stand for two goods, such as tomatoes and cherry tomatoes.
    """
    seen: list[tuple[str, Food]] = []
    for food in catalog.foods.values():
        name = " ".join(sorted(re.findall(r"\w+", food.name.casefold())))
        for other_name, other in seen:
            numbered = food.sr28_ndb_no is not None and food.sr28_ndb_no == other.sr28_ndb_no
            if name == other_name or (numbered and fuzz.ratio(name, other_name) >= NEAR_NAME):
                yield at.row("foods", food.food_id).fault(
                    "name",
                    food.name,
                    f"{other.food_id} is called {other.name}, so this may be the same food twice",
                    f"use {other.food_id} and remove this row, or tell the two apart",
                    "food_twice",
                )
                break
        seen.append((name, food))


def fridge_days(catalog: Catalog, at: Positions) -> Iterator[Fault]:
    """Yield warnings of recipes that claim to keep longer than their kind does."""
    told = {fault.file for fault in fridge_days_of_foods(catalog, at)}
    for recipe in catalog.recipes.values():
        limit = catalog.storage_limits.get(recipe.keeps.kind)
        place = at.recipe(recipe.recipe_id, "keeps", "fridge_days")
        if limit is None or place.file in told:
            continue
        if recipe.keeps.fridge_days > limit.fridge_days_longest:
            yield place.fault(
                "keeps.fridge_days",
                f"{recipe.keeps.fridge_days:g}",
                f"{limit.kind} keeps at most {limit.fridge_days_longest:g} days in the fridge"
                f" ({limit.source}), and no plan takes it for longer",
                f"write {limit.fridge_days_longest:g} or less",
                "fridge_days_above_kind",
            )


@dataclass(frozen=True)
class _Serving:
    """Edible grams of one serving as written, every optional food in it, and its energies."""

    grams: float
    kcal: float | None
    low_kcal: float
    high_kcal: float


def servings(catalog: Catalog, at: Positions, told: Collection[str]) -> Iterator[Fault]:
    """Servings that are very small or large, or whose energy does not fit their macronutrients.

    `told` are foods that have a warning of this kind themselves; their recipes get none.
    """
    quantities = Quantities(catalog)
    for recipe in catalog.recipes.values():
        serving = _serving(catalog, quantities, recipe)
        if serving is None:
            continue
        place = at.recipe(recipe.recipe_id, "yield_servings")
        odd = [f"{serving.grams:.0f} g"] if _outside(serving.grams, SERVING_G) else []
        if serving.kcal is not None and _outside(serving.kcal, SERVING_KCAL):
            odd.append(f"{serving.kcal:.0f} kcal")
        if odd:
            yield place.fault(
                "yield_servings",
                f"{recipe.yield_servings:g}",
                f"a serving has {' and '.join(odd)}, and hardly any is outside of"
                f" {SERVING_G[0]:g} to {SERVING_G[1]:g} g and {SERVING_KCAL[0]:g} to"
                f" {SERVING_KCAL[1]:g} kcal",
                "check yield_servings and the amounts of the lines",
                "serving_out_of_range",
            )
        if any(line.food in told for line in recipe.lines):
            continue
        if serving.kcal is not None and _denied(serving, serving.kcal):
            yield at.recipe(recipe.recipe_id, "lines").fault(
                "lines",
                f"{serving.kcal:.0f} kcal",
                f"protein, fat and carbohydrate of a serving give {serving.low_kcal:.0f} to"
                f" {serving.high_kcal:.0f} kcal",
                "compare the rows of its foods with their sources",
                "recipe_energy_implausible",
            )


def _outside(value: float, limits: tuple[float, float]) -> bool:
    return not limits[0] <= value <= limits[1]


def _denied(serving: _Serving, kcal: float) -> bool:
    tolerance = max(ENERGY_TOLERANCE_KCAL, ENERGY_TOLERANCE_SHARE * kcal)
    return not serving.low_kcal - tolerance <= kcal <= serving.high_kcal + tolerance


def _serving(catalog: Catalog, quantities: Quantities, recipe: Recipe) -> _Serving | None:
    """Return one serving; None where a line has no grams that are known."""
    grams = kcal = low = high = 0.0
    known = "energy_kcal" in catalog.nutrients
    for line in recipe.lines:
        food = catalog.foods.get(line.food)
        if food is None:
            return None
        try:
            mass = quantities.line_grams(line.food, line.amount, line.unit, line.state)
        except UnitUnknown:
            return None
        macros = _macros(food)
        known = known and macros is not None
        energy, least, most = macros or (0.0, 0.0, 0.0)
        grams += mass
        kcal += mass / 100 * energy
        low += mass / 100 * least
        high += mass / 100 * most
    n = recipe.yield_servings
    return _Serving(grams / n, kcal / n if known else None, low / n, high / n)


def _macros(food: Food) -> tuple[float, float, float] | None:
    """Return energy, and that of the macronutrients with fibre as nothing and as carbohydrate."""
    names = ("energy_kcal", "protein_g", "fat_g", "carbohydrate_g")
    values = [food.nutrients.get(name) for name in names]
    energy, protein, fat, carbohydrate = values
    if energy is None or protein is None or fat is None or carbohydrate is None:
        return None
    high = 4 * protein + 9 * fat + 4 * carbohydrate + 7 * (food.nutrients.get("alcohol_g") or 0.0)
    return energy, high - 4 * (food.nutrients.get("fibre_g") or 0.0), high
