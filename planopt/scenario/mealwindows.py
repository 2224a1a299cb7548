"""Windows of single meals as numbers: what is written, and the usual sizes where nothing is.

The usual sizes are common practice, no source. They are shares of a day of the four meals below,
and of the grams of a plate.
"""

from __future__ import annotations

from dataclasses import dataclass
from math import inf

from planopt.scenario.records import Client, MealWindow, PlateWindow, Scenario
from planopt.scenario.windows import ENERGY, day_windows

PLATE = "plate_g"
# Common practice, no source: least and most per cent of the day's energy.
USUAL_PERCENT = {
    "breakfast": (15.0, 35.0),
    "lunch": (25.0, 45.0),
    "dinner": (25.0, 45.0),
    "snack": (5.0, 20.0),
}
# Common practice, no source.
USUAL_PLATE_G = 800.0


@dataclass(frozen=True)
class MealBound:
    """Least and most of a nutrient, or of grams (`plate_g`), in one meal; `usual` = by default."""

    low: float
    high: float
    usual: bool


def _middle(meal: str) -> float:
    # A meal of another name counts as a snack.
    low, high = USUAL_PERCENT.get(meal, USUAL_PERCENT["snack"])
    return (low + high) / 2


def usual_scale(meals: tuple[str, ...]) -> float:
    """Return what the usual shares are multiplied by on a day with just these meals.

    The middles of the shares of the meals that are eaten add up to what those of all four do, so
    that a day can always be made up of its meals.
    """
    return sum(_middle(meal) for meal in USUAL_PERCENT) / sum(_middle(meal) for meal in meals)


def usual_share(scenario: Scenario, client: Client, day: int, meal: str) -> tuple[float, float]:
    """Return least and most per cent of the day's energy that are usual for a meal that has any."""
    low, high = USUAL_PERCENT[meal]
    scale = usual_scale(scenario.meals_of(client, day))
    return low * scale, high * scale


def meal_bounds(scenario: Scenario, client: Client, day: int, meal: str) -> dict[str, MealBound]:
    """Return the bounds of a client's meal on a day, by nutrient, grams of the plate among them.

    What is written for a single day goes before what the client has for every day, that before the
    scenario's, and that before the usual; each replaces a window of a nutrient as a whole.
    """
    found: dict[str, MealBound] = {}
    of_day = day_windows(scenario, client, day)
    if scenario.meal_defaults == "on" and meal in USUAL_PERCENT:
        low, high = usual_share(scenario, client, day, meal)
        if ENERGY in of_day:
            least, most = of_day[ENERGY]
            found[ENERGY] = MealBound(least * low / 100, most * high / 100, True)
        found[PLATE] = MealBound(0.0, USUAL_PLATE_G, True)
    for plate, windows in (
        (scenario.plate_g, scenario.windows_per_meal.get(meal, {})),
        (client.plate_g, client.windows_per_meal.get(meal, {})),
        (None, client.windows_per_meal_on_days.get(day, {}).get(meal, {})),
    ):
        if plate is not None:
            found[PLATE] = MealBound(*plate_bounds(plate), False)
        for name, window in windows.items():
            found[name] = MealBound(*_amounts(window, of_day.get(name, (0.0, inf))), False)
    return {name: bound for name, bound in found.items() if bound.low > 0 or bound.high < inf}


def meal_windows(
    scenario: Scenario, client: Client, day: int, meal: str
) -> tuple[tuple[str, float, float], ...]:
    """Return the bounds of a meal as sorted (nutrient, least, most)."""
    found = meal_bounds(scenario, client, day, meal)
    return tuple(sorted((name, bound.low, bound.high) for name, bound in found.items()))


def plate_bounds(plate: PlateWindow) -> tuple[float, float]:
    """Return least and most grams, an open side as 0 or infinity."""
    return plate.min or 0.0, inf if plate.max is None else plate.max


def percent_of(side: float | str | None) -> float | None:
    """Return the per cent that a side of a window is written in; None for an amount."""
    return float(side.removesuffix("%")) if isinstance(side, str) else None


def _amounts(window: MealWindow, of_day: tuple[float, float]) -> tuple[float, float]:
    def amount(side: float | str | None, whole: float, none: float) -> float:
        if side is None:
            return none
        percent = percent_of(side)
        if percent is None:
            return float(side)
        return whole * percent / 100 if whole < inf else inf

    return amount(window.min, of_day[0], 0.0), amount(window.max, of_day[1], inf)
