"""Nutrient windows as numbers: what holds on a day, what an open side means, the energy floor."""

from __future__ import annotations

from math import inf

from planopt.scenario.records import Client, Scenario, Window

ENERGY = "energy_kcal"
# A very-low-calorie diet, 800 kcal a day or less, is for medical supervision only: NHLBI/NAASO
# Practical Guide 2000 (NIH 00-4084) and the 2013 AHA/ACC/TOS guideline.
FLOOR_KCAL = 800.0


def window_bounds(window: Window, scale: float = 1.0) -> tuple[float, float]:
    """Return least and most of a window, an open side as 0 or infinity."""
    low = 0.0 if window.min is None else window.min * scale
    return low, inf if window.max is None else window.max * scale


def share_of_day(scenario: Scenario, client: Client, day: int) -> float:
    """Return which share of the scenario's meals a client eats from this kitchen on a day."""
    return len(scenario.meals_of(client, day)) / len(scenario.meals) if scenario.meals else 0.0


def share_of_usual_day(scenario: Scenario, client: Client) -> float:
    """Return which share of the scenario's meals a client eats here on a day with none away."""
    wanted = client.meals if client.meals is not None else scenario.meals
    usual = sum(meal in wanted for meal in scenario.meals)
    return usual / len(scenario.meals) if scenario.meals else 0.0


def energy_floor(scenario: Scenario, client: Client, day: int) -> float:
    """Return the least energy of a client's day in kcal, whatever the windows say.

    A day on which k of the scenario's n meals are eaten here has k/n of the floor. Only a client
    under medical supervision has none.
    """
    if client.medically_supervised:
        return 0.0
    return FLOOR_KCAL * share_of_day(scenario, client, day)


def written_windows(scenario: Scenario, client: Client, day: int) -> dict[str, tuple[float, float]]:
    """Return least and most of each nutrient on a day as the client's own windows say.

    They are scaled when some meals are eaten away; windows given for that very day are taken as
    written.
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


def day_windows(scenario: Scenario, client: Client, day: int) -> dict[str, tuple[float, float]]:
    """Return least and most of each nutrient that hold on a day, the energy floor among them."""
    windows = written_windows(scenario, client, day)
    floor = energy_floor(scenario, client, day)
    if floor > 0:
        low, high = windows.get(ENERGY, (0.0, inf))
        windows[ENERGY] = (max(low, floor), high)
    return windows
