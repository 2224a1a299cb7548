"""Limits: the user's own constraints of a scenario, one by one, so that each can be named or left.

Windows are spelled out by day and side. What the catalog fixes (packs, batches, keeping times),
the meals, the portion sizes and the choice of recipes and sellers are no limits: they always hold.
"""

from __future__ import annotations

from collections.abc import Iterable, Iterator
from dataclasses import dataclass, replace
from decimal import Decimal
from math import inf
from typing import Any, Literal

from planopt.catalog.records import Record
from planopt.scenario.mealwindows import meal_windows
from planopt.scenario.records import (
    Client,
    CookDay,
    MealWindow,
    Scenario,
    ServingWindow,
    Window,
)
from planopt.scenario.samedish import tie_words
from planopt.scenario.windows import ENERGY, FLOOR_KCAL, energy_floor, written_windows

Kind = Literal[
    "budget",
    "window",
    "meal_window",
    "repeats",
    "variety",
    "most_kinds",
    "spacing",
    "same_dish",
    "dislike",
    "want",
    "most_of_group",
    "least_of_group",
    "most_with",
    "least_with",
    "servings",
    "hands_on_minutes",
    "oven_minutes",
    "hob_minutes",
    "most_recipes",
    "allergen",
    "excluded_food",
    "excluded_recipe",
    "energy_floor",
    "reference",
    "rating",
    "ready",
    "not_again",
]
Side = Literal["", "min", "max"]

COOK_LIMITS: tuple[Kind, ...] = ("hands_on_minutes", "oven_minutes", "hob_minutes", "most_recipes")
# Hard: named where they are part of a conflict, never offered as something to give up.
NEVER_RELAXED: tuple[Kind, ...] = (
    "allergen", "excluded_food", "excluded_recipe", "energy_floor", "not_again",
)  # fmt: skip
# Limits that count meals, written as a mapping from what is counted to a number: their fields.
MEAL_COUNTS: dict[Kind, str] = {
    "dislike": "dislikes",
    "want": "wants",
    "most_of_group": "most_meals_of",
    "least_of_group": "least_meals_of",
    "most_with": "most_meals_with",
    "least_with": "least_meals_with",
}
_FROM_BELOW: frozenset[Kind] = frozenset(
    {
        "variety",
        "want",
        "least_of_group",
        "least_with",
        "energy_floor",
        "spacing",
        "not_again",
    }
)
WHOLE_PLAN = -99
CAUTION_KCAL = 1200.0


@dataclass(frozen=True, order=True)
class LimitKey:
    """Which limit: kind, client id, food, nutrient or recipe id, day, side of a window, meal.

    `day` is `WHOLE_PLAN` where the limit is not one of a single day.
    """

    kind: Kind
    client: str = ""
    what: str = ""
    day: int = WHOLE_PLAN
    side: Side = ""
    meal: str = ""

    def of_side(self, side: Side) -> LimitKey:
        """Return the key of one side of the same window."""
        return replace(self, side=side)


@dataclass(frozen=True, order=True)
class Limit:
    """A limit with its value, in the unit of its kind; exclusions have the value 0."""

    key: LimitKey
    value: float = 0.0

    @property
    def relaxable(self) -> bool:
        """Tell whether it may ever be offered as something to give.

        A food that is allowed in no meal counts as an exclusion. Meals share a dish or do not.
        """
        excluded = self.key.kind == "dislike" and self.value == 0
        return self.key.kind not in (*NEVER_RELAXED, "same_dish") and not excluded

    @property
    def from_below(self) -> bool:
        """Tell whether the limit is a least amount; else it is a most."""
        return self.key.side == "min" or self.key.kind in _FROM_BELOW


def limits_of(scenario: Scenario) -> tuple[Limit, ...]:
    """Return every limit of a scenario, in the order of the scenario."""
    found = list(_kitchen_limits(scenario))
    for client in scenario.clients:
        found += _client_limits(scenario, client)
    return tuple(found)


def _kitchen_limits(scenario: Scenario) -> Iterator[Limit]:
    if scenario.budget is not None:
        yield Limit(LimitKey("budget"), float(scenario.budget))
    for cook in scenario.cook_days:
        for kind in COOK_LIMITS:
            value = getattr(cook, kind)
            if value is not None:
                yield Limit(LimitKey(kind, day=cook.day), float(value))
    yield from _week_limits(scenario)


def _client_limits(scenario: Scenario, client: Client) -> Iterator[Limit]:
    who = client.client_id
    for day in range(1, scenario.days + 1):
        if scenario.meals_of(client, day):
            for nutrient, (low, high) in written_windows(scenario, client, day).items():
                yield from _sides(LimitKey("window", who, nutrient, day), low, high)
        for meal in scenario.meals_of(client, day):
            for name, low, high in meal_windows(scenario, client, day, meal):
                yield from _sides(LimitKey("meal_window", who, name, day, meal=meal), low, high)
    for nutrient, window in client.windows_per_week.items():
        high = inf if window.max is None else window.max
        yield from _sides(LimitKey("window", who, nutrient), window.min or 0.0, high)
    if client.most_repeats is not None:
        yield Limit(LimitKey("repeats", who), client.most_repeats)
    if client.least_different_recipes > 0:
        yield Limit(LimitKey("variety", who), client.least_different_recipes)
    yield from _client_week_limits(scenario, client)
    for kind, name in MEAL_COUNTS.items():
        for what, meals in getattr(client, name).items():
            yield Limit(LimitKey(kind, who, what), meals)
    for recipe, servings in client.recipe_servings.items():
        high = inf if servings.max is None else servings.max
        yield from _sides(LimitKey("servings", who, recipe), servings.min, high)
    for allergen in client.allergens:
        yield Limit(LimitKey("allergen", who, allergen))
    for food in client.excluded_foods:
        yield Limit(LimitKey("excluded_food", who, food))
    for recipe in client.excluded_recipes:
        yield Limit(LimitKey("excluded_recipe", who, recipe))
    again = scenario.not_again_of(client)
    if again is not None and client.eaten_before:
        yield Limit(LimitKey("not_again", who), again)
    if not client.medically_supervised:
        # Of a full day; a day with meals away has its share.
        yield Limit(LimitKey("energy_floor", who, ENERGY), FLOOR_KCAL)


def days_apart(scenario: Scenario, client: Client) -> dict[str, int]:
    """Return the least days between two days with one dish: by recipe, "" for all others."""
    usual = scenario.days_between if client.days_between is None else client.days_between
    return {"": usual, **scenario.days_between_of, **client.days_between_of}


def _client_week_limits(scenario: Scenario, client: Client) -> Iterator[Limit]:
    who = client.client_id
    for recipe, days in days_apart(scenario, client).items():
        if days > 0:
            yield Limit(LimitKey("spacing", who, recipe), days)
    if client.most_different_recipes is not None:
        yield Limit(LimitKey("most_kinds", who), client.most_different_recipes)


def _client_week(
    scenario: Scenario, client: Client, by_key: dict[LimitKey, float]
) -> dict[str, Any]:
    """Return the fields of a client for the limits of the week that are kept."""
    who = client.client_id
    apart = {
        recipe: int(by_key.get(LimitKey("spacing", who, recipe), 0))
        for recipe in days_apart(scenario, client)
    }
    most = by_key.get(LimitKey("most_kinds", who))
    return {
        "days_between": apart.pop(""),
        "days_between_of": apart,
        "most_different_recipes": None if most is None else int(most),
    }


def _week_limits(scenario: Scenario) -> Iterator[Limit]:
    if scenario.most_recipes is not None:
        yield Limit(LimitKey("most_kinds"), scenario.most_recipes)
    for words in dict.fromkeys(map(tie_words, scenario.same_dish)):
        yield Limit(LimitKey("same_dish", what=words))


def _week(scenario: Scenario, by_key: dict[LimitKey, float]) -> dict[str, Any]:
    """Return the fields of the scenario for the limits of the week that are kept."""
    most = by_key.get(LimitKey("most_kinds"))
    tied = (
        row
        for row in scenario.same_dish
        if LimitKey("same_dish", what=tie_words(row)) in by_key
    )  # fmt: skip
    return {
        "most_recipes": None if most is None else int(most),
        "same_dish": tuple(tied),
        "days_between": 0,
        "days_between_of": {},
    }


def _sides(key: LimitKey, low: float, high: float) -> Iterator[Limit]:
    if low > 0:
        yield Limit(key.of_side("min"), low)
    if high < inf:
        yield Limit(key.of_side("max"), high)


def with_limits(scenario: Scenario, kept: Iterable[Limit]) -> Scenario:
    """Return the scenario with these limits and no others; everything else stays as it is."""
    by_key = {limit.key: limit.value for limit in kept}
    budget = by_key.get(LimitKey("budget"))
    return scenario.model_copy(
        update={
            "budget": None if budget is None else Decimal(repr(budget)),
            "cook_days": tuple(_cook_day(cook, by_key) for cook in scenario.cook_days),
            "clients": tuple(_client(scenario, client, by_key) for client in scenario.clients),
            # Windows of meals are written out by client, day and meal.
            "meal_defaults": "off",
            "not_again_days": None,
            "windows_per_meal": {},
            "plate_g": None,
            **_week(scenario, by_key),
        }
    )


def _cook_day(cook: CookDay, by_key: dict[LimitKey, float]) -> CookDay:
    values: dict[str, Any] = {
        kind: by_key.get(LimitKey(kind, day=cook.day)) for kind in COOK_LIMITS
    }
    if values["most_recipes"] is not None:
        values["most_recipes"] = int(values["most_recipes"])
    return cook.model_copy(update=values)


def _client(scenario: Scenario, client: Client, by_key: dict[LimitKey, float]) -> Client:
    mine = {key: value for key, value in by_key.items() if key.client == client.client_id}

    def names(kind: Kind) -> tuple[str, ...]:
        return tuple(key.what for key in mine if key.kind == kind)

    def counts(kind: Kind) -> dict[str, int]:
        return {key.what: int(value) for key, value in mine.items() if key.kind == kind}

    repeats = mine.get(LimitKey("repeats", client.client_id))
    again = mine.get(LimitKey("not_again", client.client_id))
    return client.model_copy(
        update={
            **_window_fields(mine),
            "not_again_days": None if again is None else int(again),
            "most_repeats": None if repeats is None else int(repeats),
            "least_different_recipes": int(mine.get(LimitKey("variety", client.client_id), 0)),
            **_client_week(scenario, client, by_key),
            **{name: counts(kind) for kind, name in MEAL_COUNTS.items()},
            "allergens": names("allergen"),
            "excluded_foods": names("excluded_food"),
            "excluded_recipes": names("excluded_recipe"),
            # Limits that a guard had made are windows of the plan by now.
            "nutrient_guard": "off" if client.nutrient_guard == "off" else "caution",
            "medically_supervised": LimitKey("energy_floor", client.client_id, ENERGY) not in mine,
        }
    )


def _window_fields(mine: dict[LimitKey, float]) -> dict[str, Any]:
    """Return the fields of a client that hold windows, each with the sides among these limits."""
    on_days: dict[int, dict[str, dict[str, float]]] = {}
    meals: dict[int, dict[str, dict[str, dict[str, float]]]] = {}
    servings: dict[str, dict[str, float]] = {}
    for key, value in mine.items():
        if key.kind == "window":
            sides = on_days.setdefault(key.day, {}).setdefault(key.what, {})
        elif key.kind == "meal_window":
            of_meal = meals.setdefault(key.day, {}).setdefault(key.meal, {})
            sides = of_meal.setdefault(key.what, {})
        elif key.kind == "servings":
            sides = servings.setdefault(key.what, {})
        else:
            continue
        sides[key.side] = value
    per_week = on_days.pop(WHOLE_PLAN, {})
    return {
        "windows_per_day": {},
        "day_patterns": {},
        "windows_on_days": {day: _with(Window(), found) for day, found in on_days.items()},
        "windows_per_week": _with(Window(), per_week),
        "windows_per_meal": {},
        "windows_per_meal_on_days": {
            day: {meal: _with(MealWindow(), found) for meal, found in of_day.items()}
            for day, of_day in meals.items()
        },
        "plate_g": None,
        "recipe_servings": _with(ServingWindow(), servings),
    }


def _with(blank: Record, found: dict[str, dict[str, float]]) -> dict[str, Record]:
    """Return what is counted with a window of its sides."""
    return {what: blank.model_copy(update=dict(sides)) for what, sides in found.items()}


def least_value(scenario: Scenario, limit: Limit) -> float:
    """Return how low a least amount may be moved, in the limit's unit.

    A day's energy is never moved below 1,200 kcal (less the share of meals eaten away), nor below
    its own value where that is lower already. Both lines are cautious choices of this program.
    """
    key = limit.key
    if key.kind != "window" or key.what != ENERGY:
        return 0.0
    client = next(c for c in scenario.clients if c.client_id == key.client)
    days = (
        [key.day]
        if key.day != WHOLE_PLAN
        else [day for day in range(1, scenario.days + 1) if scenario.meals_of(client, day)]
    )
    wanted = client.meals if client.meals is not None else scenario.meals
    usual = sum(meal in wanted for meal in scenario.meals)
    floor = sum(CAUTION_KCAL * len(scenario.meals_of(client, day)) / usual for day in days)
    # Never below what holds for every eater, whatever the limit itself says.
    return max(min(limit.value, floor), sum(energy_floor(scenario, client, day) for day in days))
