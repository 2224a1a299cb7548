"""Hashes of what sheets and labels take from a catalog, so that a later look can tell a change."""

from __future__ import annotations

import hashlib
from collections.abc import Iterable

from planopt.catalog.records import Catalog, Record

_LETTERS = 16


def facts_of(
    catalog: Catalog, recipe_ids: Iterable[str], food_ids: Iterable[str]
) -> dict[str, str]:
    """Return a hash of each recipe, each food and each of the foods' allergens, by table and id.

    What the catalog lacks has none. Prices and packs are no part of it.
    """
    foods = [catalog.foods[one] for one in sorted(set(food_ids)) if one in catalog.foods]
    recipes = [catalog.recipes[one] for one in sorted(set(recipe_ids)) if one in catalog.recipes]
    named = sorted({allergen for food in foods for allergen in food.allergens})
    found = {f"recipes/{recipe.recipe_id}": _hash(recipe) for recipe in recipes}
    found |= {f"foods/{food.food_id}": _hash(food) for food in foods}
    for allergen_id in named:
        if allergen_id in catalog.allergens:
            name = catalog.allergens[allergen_id].name
            found[f"allergens/{allergen_id}"] = _digest(name)
    return found


def _hash(record: Record) -> str:
    return _digest(record.model_dump_json(by_alias=True))


def _digest(text: str) -> str:
    return hashlib.sha256(text.encode()).hexdigest()[:_LETTERS]
