"""Warnings about a catalog: values that may be right and deserve a second look.

A warning has the form of a fault and stops nothing.
"""

from __future__ import annotations

from collections.abc import Iterator

from planopt.catalog.foodwords import suggested_allergens
from planopt.catalog.nearwords import near_words
from planopt.catalog.numberchecks import NUMBER_WARNINGS
from planopt.catalog.positions import Positions
from planopt.catalog.prices import price_jumps
from planopt.catalog.recipechecks import foods_twice, fridge_days, servings
from planopt.catalog.records import NONE, Catalog, EnergyPart, Food
from planopt.catalog.safetychecks import milder_groups
from planopt.catalog.textchecks import text_warnings
from planopt.faults import Fault
from planopt.reading.files import Place

ENERGY_TOLERANCE_KCAL = 15.0
ENERGY_TOLERANCE_SHARE = 0.20
MOST_NAMED = 12
# Atwater general factors, FAO Food and Nutrition Paper 77 (2003); organic acids as in Annex XIV of
# Regulation (EU) No 1169/2011 (alcohol and acids from memory).
_GENERAL_KCAL: dict[EnergyPart, float] = {"protein": 4.0, "fat": 9.0, "carbohydrate": 4.0}
_OTHER_KCAL: dict[EnergyPart, float] = {"alcohol": 7.0, "organic_acids": 3.0}
MACROS = ("energy_kcal", "protein_g", "fat_g", "carbohydrate_g")


def catalog_warnings(catalog: Catalog, at: Positions) -> list[Fault]:
    """Return the warnings about a catalog, in order of place."""
    energies = list(_energies(catalog, at))
    lines = {warning.line for warning in energies}
    told = {food_id for food_id in catalog.foods if at.row("foods", food_id).line in lines}
    found = [
        *energies,
        *_masses(catalog, at),
        *_never_sold(catalog, at),
        *_unknown_allergens(catalog, at),
        *_suggested_allergens(catalog, at),
        *milder_groups(catalog, at),
        *text_warnings(catalog, at),
        *near_words(catalog, at),
        *foods_twice(catalog, at),
        *price_jumps(catalog, at),
        *fridge_days(catalog, at),
        *servings(catalog, at, told),
        *(fault for warn in NUMBER_WARNINGS for fault in warn(catalog, at)),
    ]
    return sorted(set(found))


def _energies(catalog: Catalog, at: Positions) -> Iterator[Fault]:
    for food in catalog.foods.values():
        expected = _energy_range(food)
        energy = food.nutrients.get("energy_kcal")
        if expected is None or energy is None:
            continue
        low, high = expected
        tolerance = max(ENERGY_TOLERANCE_KCAL, ENERGY_TOLERANCE_SHARE * energy)
        if not low - tolerance <= energy <= high + tolerance:
            span = f"{high:.0f}" if f"{low:.0f}" == f"{high:.0f}" else f"{low:.0f} to {high:.0f}"
            yield at.row("foods", food.food_id).fault(
                "energy_kcal",
                f"{energy:g}",
                f"protein, fat and carbohydrate give {span} kcal",
                "compare the row with its source; where that has factors of its own, alcohol or"
                " acids, write them to energy_from",
                "energy_implausible",
            )


def _energy_range(food: Food) -> tuple[float, float] | None:
    """Return the energy that the parts of a food give, least and most, in kcal per 100 g.

    By the general factors fibre counts as nothing and as carbohydrate; a factor of the food's own
    has its fibre in it.
    """
    values = [food.nutrients.get(nutrient) for nutrient in MACROS]
    if any(value is None for value in values):
        return None
    _, protein, fat, carbohydrate = (value or 0.0 for value in values)
    told = food.energy_from
    factor = {part: told.get(part, general) for part, general in _GENERAL_KCAL.items()}
    grams = {"alcohol": food.nutrients.get("alcohol_g") or 0.0, **told}
    high = (
        factor["protein"] * protein
        + factor["fat"] * fat
        + factor["carbohydrate"] * carbohydrate
        + sum(kcal * grams.get(part, 0.0) for part, kcal in _OTHER_KCAL.items())
    )
    fibre = 0.0 if "carbohydrate" in told else food.nutrients.get("fibre_g") or 0.0
    return high - factor["carbohydrate"] * fibre, high


def _masses(catalog: Catalog, at: Positions) -> Iterator[Fault]:
    for food in catalog.foods.values():
        for nutrient in catalog.nutrients.values():
            value = food.nutrients.get(nutrient.nutrient_id)
            if nutrient.unit == "g" and value is not None and value > 100:
                yield at.row("foods", food.food_id).fault(
                    nutrient.nutrient_id,
                    f"{value:g}",
                    "100 g of food can hardly hold more than 100 g of it",
                    "compare the row with its source",
                    "nutrient_implausible",
                )


def _never_sold(catalog: Catalog, at: Positions) -> Iterator[Fault]:
    if at.known("packs") is None:
        return
    sold = {pack.food_id for pack in catalog.packs.values()}
    for recipe in catalog.recipes.values():
        for index, line in enumerate(recipe.lines):
            food = catalog.foods.get(line.food)
            if food is None or food.storage == "tap" or line.food in sold:
                continue
            yield at.recipe(recipe.recipe_id, "lines", index, "food").fault(
                f"lines[{index}].food",
                line.food,
                "no seller has a pack of this food",
                "add a pack to packs.csv unless it is always on hand as stock",
                "never_sold",
            )


def _unknown_allergens(catalog: Catalog, at: Positions) -> Iterator[Fault]:
    """Yield one warning for all of them: a table from elsewhere may have hundreds."""
    foods = [food.food_id for food in catalog.foods.values() if not food.allergens_known]
    if not foods:
        return
    shown = ", ".join(foods[:MOST_NAMED])
    more = f" and {len(foods) - MOST_NAMED} more" if len(foods) > MOST_NAMED else ""
    yield Place(at.files.get("foods", "foods"), 0).fault(
        "allergens",
        f"{len(foods)} not known",
        "nobody with an allergen exclusion is served a food whose cell is empty: " + shown + more,
        "read the packages, then write the allergens with bars between them, or none",
        "allergens_not_known",
    )


def _suggested_allergens(catalog: Catalog, at: Positions) -> Iterator[Fault]:
    known = at.known("allergens")
    if known and not any(allergen.hint_words for allergen in catalog.allergens.values()):
        yield Place(at.files.get("allergens", "allergens"), 0).fault(
            "hint_words",
            "",
            "no allergen has hint words, so the names of foods are not read for allergens",
            "fill the column hint_words",
            "no_hint_words",
        )
    for food in catalog.foods.values():
        # A food of which nothing is known is told above, and reaches nobody with an exclusion.
        if not food.allergens_known:
            continue
        for allergen_id, why in suggested_allergens(food, catalog):
            yield at.row("foods", food.food_id).fault(
                "allergens",
                "|".join(food.allergens) or NONE,
                f"{why}, which suggests {allergen_id}",
                f"add {allergen_id}, or add the food's name to the not_words of {allergen_id} in"
                " allergens.csv",
                "allergen_suggested",
            )
