"""Candidates: the dishes that a kitchen may cook."""

from __future__ import annotations

from planopt.catalog.records import Catalog
from planopt.problem.dishes import Dish, count_versions, outline_of
from planopt.problem.shared import shared_of
from planopt.problem.versions import most_versions
from planopt.scenario.records import Scenario


def outlines_of(catalog: Catalog, scenario: Scenario) -> list[Dish]:
    """Return every version of each allowed recipe, or its outline where these are too many."""
    shared = shared_of(catalog)
    allowed = set(scenario.recipes.include or catalog.recipes) - set(scenario.recipes.exclude)
    recipes = [catalog.recipes[recipe_id] for recipe_id in sorted(allowed)]
    every = most_versions(recipes)
    found: list[Dish] = []
    for recipe in recipes:
        if count_versions(recipe) <= every:
            found += shared.dishes(recipe.recipe_id, scenario)
        else:
            lines = shared.lines(recipe.recipe_id)
            found.append(outline_of(recipe, catalog, scenario, lines))
    return found
