"""Which cook days can serve a meal: the food is there, the dish is ready, and it still keeps."""

from __future__ import annotations

from collections.abc import Callable, Sequence

from planopt.problem.dishes import Dish
from planopt.problem.people import CookTime
from planopt.problem.ready import reached_when_ready
from planopt.scenario.records import CookDay, Scenario


def reaches(cook: CookDay, day: int, meal: str, dish: Dish, meals: tuple[str, ...]) -> bool:
    """Tell whether a dish of a cook day is ready, and keeps, for a meal of a day."""
    age = day - cook.day
    if age < 0:
        return False
    if age == 0:
        if cook.ready_for == "next_day":
            return False
        if cook.ready_for is not None and meals.index(meal) < meals.index(cook.ready_for):
            return False
    return age <= max(dish.fridge_days, dish.freezer_days)


def cook_days_reached(
    scenario: Scenario,
    dish: Dish,
    cooks: Sequence[CookTime],
    usable: Sequence[frozenset[str]],
) -> Callable[[int, str], list[int]]:
    """Return what tells the cook days, by position, from which a meal of a day may have a dish."""
    if dish.ready is not None:
        own = len(scenario.cook_days) + dish.ready
        return lambda day, _: [own] if reached_when_ready(dish, day, cooks[own].day) else []
    made = [(k, cook) for k, cook in enumerate(scenario.cook_days) if _makeable(dish, usable[k])]
    meals = scenario.meals
    return lambda day, meal: [k for k, cook in made if reaches(cook, day, meal, dish, meals)]


def _makeable(dish: Dish, usable: frozenset[str]) -> bool:
    """Tell whether a cook day may use all foods of a dish, of an outline those of some version."""
    return all(food_id in usable for food_id in dish.grams) and all(
        any(one.food_id is None or one.food_id in usable for one in line) for line in dish.loose
    )
