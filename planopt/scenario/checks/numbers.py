"""Checks of numbers of a scenario that only its catalog, or other numbers, can judge.

What one field may hold at all is said by its range (`planopt.ranges`).
"""

from __future__ import annotations

from collections.abc import Iterator

from planopt.faults import Fault
from planopt.scenario.checks.subject import Check, Checking, Path
from planopt.scenario.records import Client, Window
from planopt.units import exact

# What nobody eats on a day, by unit: 20,000 kcal, and a kilogram of anything weighed.
_MOST_OF_A_DAY = {"kcal": 2e4, "g": 1e4, "mg": 1e6, "ug": 1e8}
_MOST_SIZES = 100


def windows_in_reason(c: Checking) -> Iterator[Fault]:
    """No window speaks of more than anybody eats, a unit mistaken, and each sets a side."""
    for path, client in c.clients():
        for window_path, window, days in _windows(c, path, client):
            nutrient = c.catalog.amounts.get(str(window_path[-1]))
            if nutrient is None:
                continue
            # On a single day an empty window lifts the one of every day.
            lifts = window_path[-3] in ("windows_on_days", "day_patterns")
            lifts = lifts and nutrient.nutrient_id in client.windows_per_day
            if window.min is None and window.max is None and not lifts:
                yield c.fault(
                    window_path,
                    str(window_path[-1]),
                    "the window has neither min nor max, so it sets nothing",
                    "write min, max or both, or remove it",
                    "window_empty",
                )
            most = _MOST_OF_A_DAY.get(nutrient.unit)
            for side, value in (("min", window.min), ("max", window.max)):
                if most is not None and value is not None and value > most * days:
                    of = "a day" if days == 1 else f"{days} days"
                    yield c.fault(
                        (*window_path, side),
                        f"{value:g}",
                        f"nobody eats more than {most * days:.0f} {nutrient.unit} of it in {of}",
                        f"write it in {nutrient.unit}, or leave this side out",
                        "out_of_range",
                    )
        for recipe, servings in client.recipe_servings.items():
            known = recipe in c.catalog.recipes
            if known and "min" not in servings.model_fields_set and servings.max is None:
                yield c.fault(
                    (*path, "recipe_servings", recipe),
                    recipe,
                    "it has neither min nor max, so it sets nothing",
                    "write min, max or both, or remove it",
                    "window_empty",
                )


def _windows(c: Checking, path: Path, client: Client) -> Iterator[tuple[Path, Window, int]]:
    """Yield each window with its path and the days that it is over."""
    for nutrient, window in client.windows_per_day.items():
        yield (*path, "windows_per_day", nutrient), window, 1
    for name, windows in client.day_patterns.items():
        for nutrient, window in windows.items():
            yield (*path, "day_patterns", name, nutrient), window, 1
    for day, windows in client.windows_on_days.items():
        for nutrient, window in windows.items():
            yield (*path, "windows_on_days", day, nutrient), window, 1
    for nutrient, window in client.windows_per_week.items():
        yield (*path, "windows_per_week", nutrient), window, c.scenario.days


def portion_sizes(c: Checking) -> Iterator[Fault]:
    """Portion sizes are in order, are multiples of the step, and are not too many."""
    for path, client in c.clients():
        sizes = client.portions
        if sizes.smallest > sizes.largest:
            yield c.fault(
                (*path, "portions", "smallest"),
                f"{sizes.smallest:g}",
                f"smallest is above largest, {sizes.largest:g}",
                "swap or correct the two",
                "range_reversed",
            )
        if sizes.step == "any":
            continue
        for field, size in (("smallest", sizes.smallest), ("largest", sizes.largest)):
            if exact(size) % exact(sizes.step):
                yield c.fault(
                    (*path, "portions", field),
                    f"{size:g}",
                    f"this is not a multiple of the step, {sizes.step:g}",
                    "correct the size or the step",
                    "portion_step",
                )
        count = exact(sizes.largest - sizes.smallest) / exact(sizes.step)
        if count > _MOST_SIZES:
            yield c.fault(
                (*path, "portions", "step"),
                f"{sizes.step:g}",
                f"from {sizes.smallest:g} to {sizes.largest:g} there are {int(count) + 1} sizes,"
                f" and no more than {_MOST_SIZES + 1} are tried",
                "write a larger step, a smaller range, or step: any",
                "out_of_range",
            )


NUMBER_CHECKS: tuple[Check, ...] = (windows_in_reason, portion_sizes)
