"""Where a box is kept and how it is eaten, in words: for labels, pages and calendars."""

from __future__ import annotations

from typing import Literal

from planopt.catalog.records import NONE, Catalog, Food, Recipe
from planopt.catalog.safety import binding_kinds
from planopt.cookday.records import Container
from planopt.report.words.plain import fahrenheit

Place = Literal["fridge", "freezer", "cupboard"]
REHEAT_C = 74.0
_MOST_WATER_G = 20.0
_LEAST_DAYS = 14


def is_dry(catalog: Catalog, recipe_id: str) -> bool:
    """Tell a dish that keeps in a cupboard: by its kind, and by every food it may be made of."""
    recipe = catalog.recipes.get(recipe_id)
    foods = _foods(catalog, recipe, None)
    if recipe is None or not foods:
        return False
    ids = [food.food_id for food in foods]
    kinds = [catalog.storage_limits.get(k) for k in binding_kinds(catalog, recipe, ids)]
    return all(kind is not None and kind.kept_in == "cupboard" for kind in kinds)


def _foods(catalog: Catalog, recipe: Recipe | None, part: str | None) -> list[Food]:
    """Return all foods that a recipe, or one part of it, may hold; none if any is not known."""
    lines = recipe.lines if recipe is not None else ()
    mine = [line for line in lines if part in (None, line.part)]
    ids = {one for line in mine for one in (line.food, *(o.food for o in line.alternatives))}
    return [catalog.foods[one] for one in sorted(ids)] if ids <= catalog.foods.keys() else []


def _is_dry_food(food: Food) -> bool:
    """Tell a food that needs no fridge however long its box waits: from the shelf, with no water.

    What is neither protein nor fat nor carbohydrate is water, and a little ash. A fifth of it is
    that of dried fruit; fresh garlic, vinegar and all that comes in a can have far more. Common
    practice, no source.
    """
    parts = [food.nutrients.get(n) for n in ("protein_g", "fat_g", "carbohydrate_g")]
    known = [one for one in parts if one is not None]
    days = food.keeps_days if food.opened_keeps_days is None else food.opened_keeps_days
    return (
        food.storage == "shelf"
        and food.safety_group == NONE
        and len(known) == len(parts)
        and 100 - sum(known) <= _MOST_WATER_G
        and (days is None or days >= _LEAST_DAYS)
    )


def _is_dry_part(catalog: Catalog, box: Container) -> bool:
    foods = _foods(catalog, catalog.recipes.get(box.recipe_id), box.part)
    return box.part != "main" and bool(foods) and all(map(_is_dry_food, foods))


def place_of(catalog: Catalog, box: Container) -> Place:
    """Return where a box is kept; a part kept apart may be dry while its dish is not."""
    dry = is_dry(catalog, box.recipe_id) or _is_dry_part(catalog, box)
    return "cupboard" if box.stored == "fridge" and dry else box.stored


def place_words(place: Place) -> str:
    """Say where a box is kept, as a sentence without its stop."""
    return {
        "fridge": "Keep in the fridge",
        "freezer": "Keep in the freezer, thaw in the fridge",
        "cupboard": "Keep closed in a dry cupboard",
    }[place]


def serve_words(box: Container, place: Place) -> str:
    """Say how a box is eaten, in the middle of a sentence."""
    hot = f"heat through to {fahrenheit(REHEAT_C)}"
    if box.serve == "reheated":
        return hot
    if box.serve == "either":
        return f"eat cold, or {hot}"
    return "eat as it is" if place == "cupboard" else "eat cold"


def keep_words(catalog: Catalog, box: Container) -> str:
    """Return where a box is kept and how it is eaten."""
    place = place_of(catalog, box)
    return f"{place_words(place)}; {serve_words(box, place)}"
