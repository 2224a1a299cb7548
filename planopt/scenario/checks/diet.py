"""What a client may eat, as far as the checks of a scenario need it."""

from __future__ import annotations

from planopt.catalog.records import Catalog, Line, Recipe
from planopt.scenario.records import Client


def never_eaten(client: Client) -> tuple[frozenset[str], frozenset[str], frozenset[str]]:
    """Return all that decides what a client may eat: recipes, foods and allergens excluded."""
    return (
        frozenset(client.excluded_recipes),
        frozenset(client.excluded_foods),
        frozenset(client.allergens),
    )


def may_eat(catalog: Catalog, client: Client, recipe: Recipe) -> bool:
    """Tell whether some version of a recipe avoids all that the client must not eat."""
    return recipe.recipe_id not in client.excluded_recipes and all(
        line.optional or _some_food_suits(catalog, client, line) for line in recipe.lines
    )


def _some_food_suits(catalog: Catalog, client: Client, line: Line) -> bool:
    for food_id in (line.food, *(other.food for other in line.alternatives)):
        food = catalog.foods.get(food_id)
        if (
            food is not None
            and food_id not in client.excluded_foods
            and not food.barred_by(client.allergens)
        ):
            return True
    return False
