"""A random week with some of its limits only, written as plain data for the enumeration."""

from __future__ import annotations

from collections.abc import Iterable
from copy import deepcopy
from dataclasses import replace
from fractions import Fraction
from typing import Any

from planopt.problem.limits import WHOLE_PLAN, Limit
from published.randomweeks import Week

_COOK = ("hands_on_minutes", "hob_minutes", "most_recipes")


def week_with(week: Week, limits: Iterable[Limit]) -> Week:
    """Return the week with these limits and no others; windows are written for each day."""
    scenario = deepcopy(week.scenario)
    for name in ("budget", "windows_per_meal", "plate_g"):
        scenario.pop(name, None)
    for cook in scenario["cook_days"]:
        for name in _COOK:
            cook.pop(name, None)
    clients = {client["id"]: client for client in scenario["clients"]}
    for client in clients.values():
        _clear(client)
    for limit in limits:
        key, value = limit.key, limit.value
        if key.kind == "budget":
            scenario["budget"] = f"{value:.2f}"
        elif key.kind in _COOK:
            (cook,) = [cook for cook in scenario["cook_days"] if cook["day"] == key.day]
            cook[key.kind] = int(value)
        else:
            _add(clients[key.client], limit)
    return replace(week, scenario=scenario)


def _clear(client: dict[str, Any]) -> None:
    client["windows_per_day"] = {}
    client["most_repeats"] = None
    client["medically_supervised"] = True
    for name in (
        "windows_on_days", "windows_per_week", "allergens", "dislikes", "wants",
        "recipe_servings", "least_different_recipes", "windows_per_meal", "plate_g",
    ):  # fmt: skip
        client.pop(name, None)


def _add(client: dict[str, Any], limit: Limit) -> None:
    # Exact as written: a float of 128.2 lies a hair below it.
    key, value = limit.key, Fraction(repr(limit.value))
    match key.kind:
        case "window":
            if key.day == WHOLE_PLAN:
                table = client.setdefault("windows_per_week", {})
            else:
                table = client.setdefault("windows_on_days", {}).setdefault(key.day, {})
            table.setdefault(key.what, {})[key.side] = value
        case "meal_window":
            days = client.setdefault("windows_per_meal_on_days", {})
            meal = days.setdefault(key.day, {}).setdefault(key.meal, {})
            meal.setdefault(key.what, {})[key.side] = value
        case "servings":
            window = client.setdefault("recipe_servings", {}).setdefault(
                key.what, {"min": 0, "max": 10**6}
            )
            window[key.side] = value
        case "repeats":
            client["most_repeats"] = int(value)
        case "variety":
            client["least_different_recipes"] = int(value)
        case "dislike":
            client.setdefault("dislikes", {})[key.what] = int(value)
        case "want":
            client.setdefault("wants", {})[key.what] = int(value)
        case "allergen":
            client["allergens"] = [*client.get("allergens", []), key.what]
        case "energy_floor":
            client["medically_supervised"] = False
        case _:
            raise AssertionError(f"no random week has a limit of kind {key.kind}")
