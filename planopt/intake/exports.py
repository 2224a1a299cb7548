"""Recipes of a catalog as schema.org Recipe in JSON-LD, with nutrition of one serving.

Each is told in its first version: the foods written first, with all that is optional. Keeping,
batches and equipment have no property there and stay behind.
"""

from __future__ import annotations

import json
from collections.abc import Iterable
from decimal import Decimal
from pathlib import Path
from typing import Any

from planopt.catalog.dishtext import CookedVersion, dish_name, sentence_case, steps_of
from planopt.catalog.load import load_catalog
from planopt.catalog.quantities import Quantities
from planopt.catalog.records import Catalog, Food, Line, Recipe
from planopt.faults import BadInput, Fault, nearest
from planopt.folders import write_file
from planopt.intake.imports import catalog_in
from planopt.units import GRAMS_PER_UNIT, PIECE_UNITS, round_half_up

SUFFIX = ".jsonld"
READY = "weighed ready to cook"
# Our nutrient -> the property of NutritionInformation, and its unit.
_NUTRITION = {
    "energy_kcal": ("calories", "kcal"),
    "protein_g": ("proteinContent", "g"),
    "fat_g": ("fatContent", "g"),
    "saturated_fat_g": ("saturatedFatContent", "g"),
    "trans_fat_g": ("transFatContent", "g"),
    "carbohydrate_g": ("carbohydrateContent", "g"),
    "fibre_g": ("fiberContent", "g"),
    "sugars_g": ("sugarContent", "g"),
    "cholesterol_mg": ("cholesterolContent", "mg"),
    "sodium_mg": ("sodiumContent", "mg"),
}


def export_recipes(kitchen: Path, target: Path, names: Iterable[str] = ()) -> list[Path]:
    """Write recipes of a kitchen as JSON-LD files, by default all of them, and return their paths.

    Raises:
        BadInput: the catalog is at fault, a recipe is not in it, or the system refuses to write.
    """
    folder = catalog_in(kitchen)
    catalog = load_catalog(folder)
    wanted = list(dict.fromkeys(names)) or list(catalog.recipes)
    unknown = [name for name in wanted if name not in catalog.recipes]
    if unknown:
        why = "the catalog has no such recipe"
        raise BadInput(
            Fault(str(folder), 0, "recipe", n, why, nearest(n, catalog.recipes), "unknown_recipe")
            for n in unknown
        )
    quantities = Quantities(catalog)
    written = []
    for name in wanted:
        node = recipe_node(catalog.recipes[name], catalog, quantities)
        path = target / f"{name}{SUFFIX}"
        try:
            target.mkdir(parents=True, exist_ok=True)
        except OSError as error:
            why = f"the system refuses to make this folder: {error.strerror or error}"
            mend = "choose another folder"
            fault = Fault(str(target), 0, "", target.name, why, mend, "folder_unwritable")
            raise BadInput([fault]) from error
        write_file(path, json.dumps(node, indent=2, ensure_ascii=False) + "\n")
        written.append(path)
    return written


def recipe_node(recipe: Recipe, catalog: Catalog, quantities: Quantities) -> dict[str, Any]:
    """Return one recipe as a node of JSON-LD."""
    minutes = recipe.minutes
    cooked = CookedVersion(
        servings=recipe.yield_servings,
        batches=1,
        boxes=max(1, round(recipe.yield_servings)),
        amounts={
            index: " ".join(_amount_words(line, line.amount))
            for index, line in enumerate(recipe.lines)
        },
    )
    steps = [
        step.do
        if step.until_internal_c is None
        else f"{step.do} {until_text(step.until_internal_c)}"
        for step in steps_of(recipe, "base", catalog, cooked)
    ]
    node: dict[str, Any] = {
        "@context": "https://schema.org",
        "@type": "Recipe",
        "name": dish_name(recipe, "base", catalog),
        "recipeYield": _servings(recipe.yield_servings),
        "prepTime": _duration(minutes.hands_on),
        "cookTime": _duration(minutes.unattended),
        "totalTime": _duration(minutes.hands_on + minutes.unattended),
        "recipeCategory": list(recipe.meals),
        "recipeIngredient": [
            ingredient_text(line, catalog.foods[line.food]) for line in recipe.lines
        ],
        "recipeInstructions": [{"@type": "HowToStep", "text": text} for text in steps],
        "nutrition": _nutrition(recipe, catalog, quantities),
    }
    choices = _choices(recipe, catalog)
    return node if not choices else {**node, "description": choices}


def until_text(celsius: float) -> str:
    """Return how a step says the temperature to reach inside.

    >>> until_text(74)
    '(until 74 °C inside)'
    """
    return f"(until {celsius:g} °C inside)"


def ingredient_text(line: Line, food: Food) -> str:
    """Return a line as an ingredient sentence that an import reads as the same line.

    Grams of a recipe are of what is edible, and a sentence's are as bought unless it says so.
    """
    name = sentence_case(food.name)
    words = [*_amount_words(line, line.amount)]
    if line.state is not None and line.state != food.state:
        words.append(line.state)
    if line.unit == "each" and line.amount > 1:
        name = _plural(name)
    text = " ".join([*words, name])
    if line.unit in GRAMS_PER_UNIT and food.edible_share < 1 and line.state in (None, food.state):
        text += f", {READY}"
    return text + (" (optional)" if line.optional else "")


def _amount_words(line: Line, amount: Decimal) -> list[str]:
    plain = f"{amount.normalize():f}"
    if line.unit == "each":
        return [plain]
    plural = amount > 1 and line.unit in (*PIECE_UNITS, "cup")
    return [plain, line.unit + ("s" if plural else "")]


def _plural(name: str) -> str:
    core, comma, rest = name.partition(",")
    if core.endswith("s"):
        return name
    if core.endswith(("ato", "ch", "sh", "x")):
        core += "es"
    elif core.endswith("y") and core[-2:-1] not in "aeiou":
        core = core[:-1] + "ies"
    else:
        core += "s"
    return core + comma + rest


def _servings(count: float) -> str:
    return f"{count:g} serving{'' if count == 1 else 's'}"


def _duration(minutes: float) -> str:
    """Return minutes as an ISO 8601 duration.

    >>> _duration(95), _duration(0), _duration(7.5)
    ('PT1H35M', 'PT0M', 'PT7.5M')
    """
    hours, rest = divmod(minutes, 60)
    text = (f"{hours:.0f}H" if hours else "") + (f"{rest:g}M" if rest or not hours else "")
    return f"PT{text}"


def _nutrition(recipe: Recipe, catalog: Catalog, quantities: Quantities) -> dict[str, str]:
    """Return nutrition of a serving; a nutrient that a food does not tell is left out."""
    grams = [
        (
            catalog.foods[line.food],
            quantities.line_grams(line.food, line.amount, line.unit, line.state),
        )
        for line in recipe.lines
    ]
    told = {"@type": "NutritionInformation", "servingSize": "1 serving"}
    for nutrient_id, (name, unit) in _NUTRITION.items():
        nutrient = catalog.nutrients.get(nutrient_id)
        values = [(food.nutrients.get(nutrient_id), g) for food, g in grams]
        if nutrient is None or any(value is None for value, _ in values):
            continue
        total = sum((value or 0.0) * g / 100 for value, g in values) / recipe.yield_servings
        told[name] = f"{round_half_up(total, nutrient.decimals):f} {unit}"
    return told


def _choices(recipe: Recipe, catalog: Catalog) -> str:
    """Return in words what may stand in for what, which ingredient sentences cannot say."""
    said = []
    for line in recipe.lines:
        others = [sentence_case(catalog.foods[other.food].name) for other in line.alternatives]
        if others:
            food = sentence_case(catalog.foods[line.food].name)
            said.append(f"In place of {food}: {' or '.join(others)}.")
    return " ".join(said)
