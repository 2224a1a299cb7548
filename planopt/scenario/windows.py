"""Nutrient windows as numbers: what holds on a day, and what an open side means."""

from __future__ import annotations

from math import inf

from planopt.scenario.records import Client, Scenario, Window


def window_bounds(window: Window, scale: float = 1.0) -> tuple[float, float]:
    """Return least and most of a window, an open side as 0 or infinity."""
    low = 0.0 if window.min is None else window.min * scale
    return low, inf if window.max is None else window.max * scale


def day_windows(scenario: Scenario, client: Client, day: int) -> dict[str, tuple[float, float]]:
    """Return least and most of each nutrient on a day, scaled when some meals are eaten away.

    Windows given for that very day are taken as written.
    """
    eaten = len(scenario.meals_of(client, day))
    wanted = client.meals if client.meals is not None else scenario.meals
    usual = sum(meal in wanted for meal in scenario.meals)
    share = eaten / usual if usual else 0.0
    exact = client.windows_on_days.get(day, {})
    return {
        nutrient_id: window_bounds(window, 1.0 if nutrient_id in exact else share)
        for nutrient_id, window in scenario.windows_of(client, day).items()
    }
