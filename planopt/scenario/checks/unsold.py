"""Warnings about a scenario: meals that no recipe can serve with the food it may buy or has."""

from __future__ import annotations

from collections.abc import Iterator

from planopt.catalog.records import Catalog, Recipe
from planopt.faults import Fault
from planopt.scenario.checks.diet import may_eat, never_eaten
from planopt.scenario.checks.names import NAME_WARNINGS
from planopt.scenario.checks.prices import PRICE_WARNINGS
from planopt.scenario.checks.subject import Check, Checking
from planopt.scenario.records import Client, Scenario

_MOST_LACKING = 5


def meals_without_food(c: Checking) -> Iterator[Fault]:
    """Yield a warning for each meal of a client whose recipes all need food that is not to be had.

    Whether the food keeps until it is cooked is not looked at; that is for the search to find.
    """
    choice = c.scenario.recipes
    if not c.complete:
        return
    to_be_had = _to_be_had(c.catalog, c.scenario)
    sellers = c.scenario.sellers
    sold = "is sold" if sellers is None else f"{' and '.join(sellers)} sell"
    if sellers is not None and len(sellers) == 1:
        sold += "s"
    usable = {
        meal: [
            recipe
            for recipe_id, recipe in sorted(c.catalog.recipes.items())
            if (not choice.include or recipe_id in choice.include)
            and recipe_id not in choice.exclude
            and meal in recipe.meals
        ]
        for meal in c.scenario.meals
    }
    # Of a thousand clients, most must not eat what others must not eat either.
    known: dict[object, tuple[list[str], Recipe] | None] = {}
    for path, client in c.clients():
        days = range(1, c.scenario.days + 1)
        eaten = {meal for day in days for meal in c.scenario.meals_of(client, day)}
        for meal in (meal for meal in c.scenario.meals if meal in eaten):
            key = (meal, *never_eaten(client))
            if key not in known:
                known[key] = _nearest(c.catalog, client, usable[meal], to_be_had)
            found = known[key]
            if found is None:
                continue
            lacking, nearest = found
            more = len(lacking) - _MOST_LACKING
            words = ", ".join(lacking[:_MOST_LACKING]) + (f" and {more} more" if more > 0 else "")
            yield c.fault(
                path,
                f"{client.client_id}, {meal}",
                f"no recipe for {meal} that suits can be made of what {sold} and what is in stock; "
                f"the nearest, {nearest.recipe_id}, lacks {words}",
                "let more sellers in, put the food on hand as stock, or add a recipe",
                "meal_without_food",
            )


def _nearest(
    catalog: Catalog, client: Client, recipes: list[Recipe], to_be_had: frozenset[str]
) -> tuple[list[str], Recipe] | None:
    """Return what is missing for the recipe that lacks least; None where one lacks nothing.

    None too without a recipe that suits: there is a fault of its own.
    """
    gaps = []
    for recipe in recipes:
        if may_eat(catalog, client, recipe):
            lacking = _lacking(catalog, client, recipe, to_be_had)
            if not lacking:
                return None
            gaps.append((lacking, recipe))
    return min(gaps, key=lambda gap: len(gap[0]), default=None)


def _to_be_had(catalog: Catalog, scenario: Scenario) -> frozenset[str]:
    """Return the foods that are sold to this scenario, on hand, or from the tap."""
    sellers = set(catalog.sellers if scenario.sellers is None else scenario.sellers)
    sold = {
        pack.food_id
        for pack in catalog.packs.values()
        if pack.seller_id in sellers and pack.currency == scenario.currency
    }
    tap = {food_id for food_id, food in catalog.foods.items() if food.storage == "tap"}
    return frozenset(sold | tap | {stock.food for stock in scenario.stock})


def _lacking(
    catalog: Catalog, client: Client, recipe: Recipe, to_be_had: frozenset[str]
) -> list[str]:
    """Return the foods of lines that are not to be had, and have no substitute that is."""
    found = []
    for line in recipe.lines:
        if line.optional:
            continue
        foods = [line.food, *(other.food for other in line.alternatives)]
        if not any(
            food_id in to_be_had
            and food_id not in client.excluded_foods
            and not set(catalog.foods[food_id].allergens) & set(client.allergens)
            for food_id in foods
        ):
            found.append(line.food)
    return sorted(set(found))


WARNINGS: tuple[Check, ...] = (meals_without_food, *NAME_WARNINGS, *PRICE_WARNINGS)
