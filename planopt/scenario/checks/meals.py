"""Checks of windows of meals: what they name exists, each sets something, and they add up."""

from __future__ import annotations

from collections.abc import Iterable, Iterator
from math import inf

from planopt.faults import Fault, nearest
from planopt.scenario.checks.subject import Check, Checking, Path
from planopt.scenario.mealwindows import PLATE, meal_bounds, percent_of
from planopt.scenario.records import Client, MealWindow, MealWindows, PlateWindow
from planopt.scenario.windows import day_windows

_DUST = 1e-6


def windows_of_meals(c: Checking) -> Iterator[Fault]:
    """Meals, nutrients and days exist, and each window sets a side, none the wrong way round."""
    for path, window in _windows(c):
        meal, name = str(path[-2]), str(path[-1])
        if meal not in c.scenario.meals:
            mend = nearest(meal, c.scenario.meals)
            yield c.fault(path[:-1], meal, "the scenario has no such meal", mend, "unknown_meal")
        if name != PLATE:
            yield from c.unknown_amount(path, name)
        yield from _sides(c, path, window)
    for path, plate in _plates(c):
        yield from _sides(c, path, plate)
    for path, client in c.clients():
        for day in client.windows_per_meal_on_days:
            if day > c.scenario.days:
                yield c.fault(
                    (*path, "windows_per_meal_on_days", day),
                    day,
                    f"the plan ends with day {c.scenario.days}",
                    f"write a day up to {c.scenario.days}, or plan more days",
                    "day_beyond_plan",
                )


def _windows(c: Checking) -> Iterator[tuple[Path, MealWindow]]:
    tables: list[tuple[Path, MealWindows]] = [(("windows_per_meal",), c.scenario.windows_per_meal)]
    for path, client in c.clients():
        tables.append(((*path, "windows_per_meal"), client.windows_per_meal))
        tables += [
            ((*path, "windows_per_meal_on_days", day), meals)
            for day, meals in client.windows_per_meal_on_days.items()
        ]
    for path, meals in tables:
        for meal, windows in meals.items():
            for name, window in windows.items():
                yield (*path, meal, name), window


def _plates(c: Checking) -> Iterator[tuple[Path, PlateWindow]]:
    if c.scenario.plate_g is not None:
        yield ("plate_g",), c.scenario.plate_g
    for path, client in c.clients():
        if client.plate_g is not None:
            yield (*path, "plate_g"), client.plate_g


def _sides(c: Checking, path: Path, window: MealWindow | PlateWindow) -> Iterator[Fault]:
    low, high = window.min, window.max
    if low is None and high is None:
        yield c.fault(
            path,
            str(path[-1]),
            "the window has neither min nor max, so it sets nothing",
            "write min, max or both, or remove it",
            "window_empty",
        )
        return
    if low is None or high is None:
        return
    shares = percent_of(low), percent_of(high)
    # A share and an amount are compared on each day, by what they come to.
    if shares[0] is not None and shares[1] is not None:
        reversed_ = shares[0] > shares[1]
    else:
        reversed_ = shares == (None, None) and float(low) > float(high)
    if reversed_:
        yield c.fault(
            (*path, "min"),
            low if isinstance(low, str) else f"{low:g}",
            f"min is above max, {high if isinstance(high, str) else f'{high:g}'}",
            "swap or correct the two",
            "range_reversed",
        )


def shares_of_something(c: Checking) -> Iterator[Fault]:
    """A share is of a side of the day's window that some client who has it has on some day."""
    tables: list[tuple[Path, MealWindows, list[Client]]] = [
        (("windows_per_meal",), c.scenario.windows_per_meal, list(c.scenario.clients))
    ]
    tables += [
        ((*path, "windows_per_meal"), client.windows_per_meal, [client])
        for path, client in c.clients()
    ]
    for path, meals, clients in tables:
        for meal, windows in meals.items():
            for name, window in windows.items():
                for side, share in (("min", window.min), ("max", window.max)):
                    if percent_of(share) and not _has_side(c, clients, name, side):
                        word = "least" if side == "min" else "most"
                        yield c.fault(
                            (*path, meal, name, side),
                            share,
                            f"no day has a {word} amount of it, of which this would be a share",
                            f"write an amount, or {side} in windows_per_day",
                            "share_of_nothing",
                        )


def _has_side(c: Checking, clients: Iterable[Client], name: str, side: str) -> bool:
    for client in clients:
        for day in range(1, c.scenario.days + 1):
            low, high = day_windows(c.scenario, client, day).get(name, (0.0, inf))
            if low > 0 if side == "min" else high < inf:
                return True
    return False


def meals_add_up(c: Checking) -> Iterator[Fault]:
    """Yield a warning where what meals may hold cannot add up to what the day asks."""
    for path, client in c.clients():
        told: set[tuple[str, str]] = set()
        for day in range(1, c.scenario.days + 1):
            meals = c.scenario.meals_of(client, day)
            for name, (low, high) in day_windows(c.scenario, client, day).items():
                found = [meal_bounds(c.scenario, client, day, meal).get(name) for meal in meals]
                most = sum(inf if bound is None else bound.high for bound in found)
                least = sum(0.0 if bound is None else bound.low for bound in found)
                for side, wrong in (("min", most < low - _DUST), ("max", least > high + _DUST)):
                    if meals and wrong and (name, side) not in told:
                        told.add((name, side))
                        yield _apart(c, path, day, name, side, (most, low, least, high))


def _apart(
    c: Checking, path: Path, day: int, name: str, side: str, amounts: tuple[float, ...]
) -> Fault:
    most, low, least, high = amounts
    if side == "min":
        sums = f"at most {most:.10g} of it, and the day at least {low:.10g}"
    else:
        sums = f"at least {least:.10g} of it, and the day at most {high:.10g}"
    why = f"its meals of day {day} have {sums}"
    mend = "widen the windows of its meals, or of the day"
    return c.fault(path, name, why, mend, "meals_contradict_day")


MEAL_CHECKS: tuple[Check, ...] = (windows_of_meals, shares_of_something)
MEAL_WARNINGS: tuple[Check, ...] = (meals_add_up,)
