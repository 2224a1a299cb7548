"""Portions: how much of a dish a meal may be, by the client's sizes, the dish, and the meal."""

from __future__ import annotations

from collections.abc import Iterable
from math import ceil, floor, inf

from planopt.problem.dishes import Dish
from planopt.problem.people import PortionRange

# Sorted (nutrient or `plate_g`, least, most) of a meal.
Windows = tuple[tuple[str, float, float], ...]

_EPS = 1e-9
# Sums of a meal are held to this, as those of a day are.
_SLACK = 1e-7


def amounts_of(dish: Dish, name: str) -> tuple[float, float]:
    """Return a nutrient, or the grams, of a serving; of an outline the least and most it may be."""
    base = dish.amount(name)
    if not dish.loose:
        return base, base
    servings = dish.yield_servings
    lines = [[one.amount(name, servings) for one in line] for line in dish.loose]
    return base + sum(min(line) for line in lines), base + sum(max(line) for line in lines)


def span_of(
    portions: PortionRange, dish: Dish, windows: Windows, *, alone: bool = True
) -> tuple[float, float]:
    """Return least and most servings of a dish in a meal; the least is above the most if none fit.

    `alone`: the dish is all of the meal. Else others may make up what it lacks.
    """
    low = max(portions.smallest, min(dish.smallest_portion, portions.largest))
    high = portions.largest
    for name, least, most in windows:
        fewest, richest = amounts_of(dish, name)
        if most < inf and fewest > 0:
            high = min(high, (most + _SLACK * max(1.0, most)) / fewest)
        if alone and least > 0:
            wanted = least - _SLACK * max(1.0, least)
            low = max(low, wanted / richest if richest > 0 else inf)
    return low, high


def sizes_between(portions: PortionRange, low: float, high: float) -> list[float]:
    """Return a client's portion sizes from `low` to `high`; none where any amount may be served."""
    if portions.step == "any":
        return []
    first = max(1, ceil(max(low, portions.smallest) / portions.step - _EPS)) if low < inf else 1
    last = floor(min(high, portions.largest) / portions.step + _EPS) if low < inf else 0
    return [portions.step * units for units in range(first, last + 1)]


def sizes_in(portions: PortionRange, dish: Dish, windows: Windows) -> list[float]:
    """Return the sizes of a dish that is all of a meal; none where any amount may be served."""
    return sizes_between(portions, *span_of(portions, dish, windows))


def fits(portions: PortionRange, dish: Dish, windows: Windows, *, alone: bool) -> bool:
    """Tell whether a dish can be (part of) a meal in some size of a client."""
    low, high = span_of(portions, dish, windows, alone=alone)
    if portions.step == "any":
        return low <= high + _EPS
    return bool(sizes_between(portions, low, high))


def fitting(
    portions: PortionRange, dishes: Iterable[tuple[int, Dish]], windows: Windows, *, alone: bool
) -> frozenset[int]:
    """Return the positions of those of the dishes that fit."""
    return frozenset(i for i, dish in dishes if fits(portions, dish, windows, alone=alone))
