"""What a meal may be: which dishes a client may eat, and which of them are ready and keep."""

from __future__ import annotations

from collections.abc import Callable, Sequence

from planopt.problem.byhand import allowed_by_hand
from planopt.problem.dishes import Dish
from planopt.problem.past import not_too_soon
from planopt.problem.people import eater_of
from planopt.problem.portions import Windows, fitting
from planopt.problem.reach import cook_days_reached
from planopt.problem.ready import all_cook_times, served_ready
from planopt.problem.sources import Sources
from planopt.problem.versions import forbidden
from planopt.scenario.mealwindows import meal_windows
from planopt.scenario.records import Client, Scenario

# Dish and cook day of each option of a meal, by position.
Offer = tuple[tuple[int, int], ...]


def may_eat(client: Client, dish: Dish) -> bool:
    """Tell whether a dish avoids all that a client must not eat, of an outline some version."""
    return (
        dish.recipe_id not in client.excluded_recipes
        and not dish.barred_by(client.allergens)
        and not set(dish.contents) & set(client.excluded_foods)
        and all(any(not forbidden(client, one) for one in line) for line in dish.loose)
    )


class Offering:
    """Which dishes of which cook days a meal may be; what many meals share is worked out once."""

    def __init__(
        self, scenario: Scenario, dishes: Sequence[Dish], sources: Sources, fitting_only: bool
    ) -> None:
        self._scenario = scenario
        self._dishes = dishes
        self._fitting_only = fitting_only
        cooks = all_cook_times(scenario)
        self._reached: list[Callable[[int, str], list[int]]] = [
            cook_days_reached(scenario, dish, cooks, sources.usable) for dish in dishes
        ]
        self._edible: dict[object, tuple[int, ...]] = {}
        self._fit: dict[object, frozenset[int]] = {}
        self._found: dict[object, Offer] = {}

    def offer(self, client: Client, day: int, meal: str) -> tuple[Offer, Windows]:
        """Return (dish, cook day) by position that a meal may be, and the meal's windows."""
        windows = meal_windows(self._scenario, client, day, meal)
        edible = self._edible_to(client)
        fit = self._fitting(client, edible, windows if self._fitting_only else ())
        key = (edible, fit, day, meal)
        if key not in self._found:
            self._found[key] = tuple(
                (i, k)
                for i in edible
                if i in fit and meal in self._dishes[i].meals
                for k in self._reached[i](day, meal)
            )
        found = allowed_by_hand(self._scenario, client, day, meal, self._dishes, self._found[key])
        return not_too_soon(self._scenario, client, day, self._dishes, found), windows

    def _edible_to(self, client: Client) -> tuple[int, ...]:
        never = (
            frozenset(client.excluded_recipes),
            frozenset(client.allergens),
            frozenset(client.excluded_foods),
            tuple(
                served_ready(self._scenario, client, dish)
                for dish in self._dishes
                if dish.ready is not None
            ),
        )
        if never not in self._edible:
            self._edible[never] = tuple(
                i
                for i, dish in enumerate(self._dishes)
                if may_eat(client, dish) and served_ready(self._scenario, client, dish)
            )
        return self._edible[never]

    def _fitting(self, client: Client, edible: tuple[int, ...], windows: Windows) -> frozenset[int]:
        portions = eater_of(client).portions
        size = (portions, windows, edible)
        if size not in self._fit:
            rows = [(i, self._dishes[i]) for i in edible]
            alone = self._scenario.most_dishes_per_meal == 1
            self._fit[size] = fitting(portions, rows, windows, alone=alone)
        return self._fit[size]
