"""Warnings about windows that contradict: macronutrients that cannot add up to the energy."""

from __future__ import annotations

from collections.abc import Iterator, Mapping
from math import inf

from planopt.faults import Fault
from planopt.scenario.checks.subject import Check, Checking, Path
from planopt.scenario.records import Window

# Atwater general factors: FAO Food and Nutrition Paper 77 (2003); 21 CFR 101.9(c)(1)(i). Tables use
# factors of each food, so that sums of a diet may differ by some percent.
KCAL_PER_G = {"protein_g": 4.0, "fat_g": 9.0, "carbohydrate_g": 4.0}
TOLERANCE = 0.10
_ENERGY = "energy_kcal"


def windows_contradict(c: Checking) -> Iterator[Fault]:
    """Yield a warning for each set of windows that no food can meet, within a tenth."""
    for path, client in c.clients():
        daily = client.windows_per_day
        yield from _sums(c, (*path, "windows_per_day"), daily)
        for name, pattern in client.day_patterns.items():
            yield from _sums(c, (*path, "day_patterns", name), {**daily, **pattern})
        for day, own in client.windows_on_days.items():
            usual = {**daily, **client.pattern_windows(day)}
            yield from _sums(c, (*path, "windows_on_days", day), {**usual, **own})
        yield from _sums(c, (*path, "windows_per_week"), client.windows_per_week)


def _sums(c: Checking, path: Path, windows: Mapping[str, Window]) -> Iterator[Fault]:
    energy = windows.get(_ENERGY)
    if energy is None:
        return
    macros = {name: windows.get(name) or Window() for name in KCAL_PER_G}
    least = sum(KCAL_PER_G[name] * (one.min or 0.0) for name, one in macros.items())
    most = sum(
        KCAL_PER_G[name] * (inf if one.max is None else one.max) for name, one in macros.items()
    )
    if energy.max is not None and least * (1 - TOLERANCE) > energy.max:
        yield c.fault(
            (*path, _ENERGY),
            f"max {energy.max:g}",
            f"protein, fat and carbohydrate alone have {least:.0f} kcal at least, by 4, 9 and 4"
            " kcal a gram",
            "lower the min of one of them, or raise the energy's max",
            "windows_contradict",
        )
    if energy.min is not None and most * (1 + TOLERANCE) < energy.min:
        yield c.fault(
            (*path, _ENERGY),
            f"min {energy.min:g}",
            f"protein, fat and carbohydrate have {most:.0f} kcal at most, by 4, 9 and 4 kcal a"
            " gram",
            "raise the max of one of them, or lower the energy's min",
            "windows_contradict",
        )


MACRO_WARNINGS: tuple[Check, ...] = (windows_contradict,)
