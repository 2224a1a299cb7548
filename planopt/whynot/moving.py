"""Move rules of a scenario to other values, written as the user would write them."""

from __future__ import annotations

from collections.abc import Callable, Sequence
from math import inf
from typing import Any

from planopt.problem.limits import COOK_LIMITS, MEAL_COUNTS
from planopt.scenario.mealwindows import meal_bounds
from planopt.scenario.records import Client, MealWindow, Scenario, Window
from planopt.units import exact_decimal, round_down, round_up
from planopt.whynot.rules import Rule


def moved_scenario(
    scenario: Scenario, moves: Sequence[tuple[Rule, tuple[int, ...], float]]
) -> Scenario:
    """Return the scenario with rules moved to new values, on some of their days where named."""
    for rule, days, after in moves:
        scenario = _moved(scenario, rule, days, after)
    return scenario


def outward(rule: Rule, value: float, digits: int) -> float:
    """Return a value rounded to the side on which the rule asks for less."""
    rounded = round_down if rule.limits[0].from_below else round_up
    return float(rounded(round(value, digits + 5), digits))


def _moved(scenario: Scenario, rule: Rule, days: tuple[int, ...], after: float) -> Scenario:
    key = rule.key
    if key.kind == "budget":
        return scenario.model_copy(update={"budget": exact_decimal(after)})
    if key.kind in COOK_LIMITS:
        value = int(after) if key.kind == "most_recipes" else after
        cook_days = tuple(
            cook.model_copy(update={key.kind: value}) if cook.day == key.day else cook
            for cook in scenario.cook_days
        )
        return scenario.model_copy(update={"cook_days": cook_days})
    if key.kind == "meal_window":
        return _meals_moved(scenario, rule, days, after)
    if key.kind == "most_kinds" and not key.client:
        return scenario.model_copy(update={"most_recipes": int(after)})
    change = _client_change(rule, days, after)
    clients = tuple(
        client.model_copy(update=change(client)) if client.client_id == key.client else client
        for client in scenario.clients
    )
    return scenario.model_copy(update={"clients": clients})


def _meals_moved(scenario: Scenario, rule: Rule, days: tuple[int, ...], after: float) -> Scenario:
    """Return the scenario with a meal's window written out as amounts, a side of it moved."""
    key = rule.key

    def moved(client: Client) -> Client:
        on_days = {day: dict(meals) for day, meals in client.windows_per_meal_on_days.items()}
        for limit in rule.limits:
            day = limit.key.day
            if days and day not in days:
                continue
            bound = meal_bounds(scenario, client, day, key.meal)[key.what]
            high = None if bound.high == inf else bound.high
            share = limit.value / rule.value if rule.value else 1.0
            window = MealWindow.model_construct(min=bound.low or None, max=high)
            window = window.model_copy(update={key.side: after * share})
            meal = on_days.setdefault(day, {}).get(key.meal, {})
            on_days[day][key.meal] = {**meal, key.what: window}
        return client.model_copy(update={"windows_per_meal_on_days": on_days})

    clients = tuple(moved(c) if c.client_id == key.client else c for c in scenario.clients)
    return scenario.model_copy(update={"clients": clients})


def _client_change(
    rule: Rule, days: tuple[int, ...], after: float
) -> Callable[[Client], dict[str, Any]]:
    key = rule.key
    if key.kind in MEAL_COUNTS:
        name = MEAL_COUNTS[key.kind]
        return lambda client: {name: {**getattr(client, name), key.what: int(after)}}
    match key.kind:
        case "repeats":
            return lambda _: {"most_repeats": int(after)}
        case "most_kinds":
            return lambda _: {"most_different_recipes": int(after)}
        case "spacing" if not key.what:
            return lambda _: {"days_between": int(after)}
        case "spacing":
            return lambda client: {
                "days_between_of": {**client.days_between_of, key.what: int(after)}
            }
        case "variety":
            return lambda _: {"least_different_recipes": int(after)}
        case "servings":
            return lambda client: {
                "recipe_servings": {
                    **client.recipe_servings,
                    key.what: client.recipe_servings[key.what].model_copy(update={key.side: after}),
                }
            }
        case "window":
            return lambda client: _window_change(client, rule, days, after)
    raise ValueError(f"{key.kind} is never moved")


def _window_change(
    client: Client, rule: Rule, days: tuple[int, ...], after: float
) -> dict[str, Any]:
    key = rule.key

    def moved(window: Window, value: float) -> Window:
        return window.model_copy(update={key.side: value})

    if rule.daily and not days:
        daily = client.windows_per_day
        return {"windows_per_day": {**daily, key.what: moved(daily[key.what], after)}}
    if not rule.days:
        weekly = client.windows_per_week
        return {"windows_per_week": {**weekly, key.what: moved(weekly[key.what], after)}}
    on_days = {day: dict(windows) for day, windows in client.windows_on_days.items()}
    for limit in rule.limits:
        day = limit.key.day
        if days and day not in days:
            continue
        # Windows of single days are taken as written, so a day with meals away gets its share.
        share = limit.value / rule.value if rule.value else 1.0
        usual = client.windows_per_day.get(key.what, Window())
        usual = client.pattern_windows(day).get(key.what, usual)
        scaled = Window.model_construct(
            min=None if usual.min is None else usual.min * share,
            max=None if usual.max is None else usual.max * share,
        )
        before = on_days.get(day, {}).get(key.what, scaled)
        on_days.setdefault(day, {})[key.what] = moved(before, after * share)
    return {"windows_on_days": on_days}
