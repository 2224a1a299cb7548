"""What clients had before the plan: dishes not again too soon, and the price of what was seen."""

from __future__ import annotations

from collections.abc import Sequence

from planopt.problem.dishes import Dish
from planopt.scenario.records import Client, Scenario

Found = tuple[tuple[int, int], ...]


def not_too_soon(
    scenario: Scenario, client: Client, day: int, dishes: Sequence[Dish], found: Found
) -> Found:
    """Return those of a plate's (dish, cook position) that its client did not have lately."""
    barred = had_lately(scenario, client, day)
    if not barred:
        return found
    return tuple((i, k) for i, k in found if dishes[i].recipe_id not in barred)


def had_lately(scenario: Scenario, client: Client, day: int) -> frozenset[str]:
    """Return the recipes that a client had so lately that they are not on a plate of a day."""
    days = scenario.not_again_of(client)
    if days is None:
        return frozenset()
    on = scenario.date_of(day)
    return frozenset(
        recipe for recipe, last in client.eaten_before.items() if (on - last).days <= days
    )


def seen_recipes(scenario: Scenario) -> frozenset[str]:
    """Return the recipes that somebody had before the plan."""
    return frozenset(recipe for client in scenario.clients for recipe in client.eaten_before)


def seen_price(scenario: Scenario, dish: Dish) -> float:
    """Return what a portion of a dish costs for having been seen, in units of the currency."""
    if scenario.seen_price == 0 or dish.recipe_id not in seen_recipes(scenario):
        return 0.0
    return float(scenario.seen_price)
