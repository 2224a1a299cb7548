"""Sizes for the compiled search: which portions of a cooking are tried in which kind of slot."""

from __future__ import annotations

import numpy as np
from numpy.typing import NDArray

from planopt.model.daymenus import portion_sizes
from planopt.problem.build import Option, Problem
from planopt.problem.portions import span_of

# Sizes tried where any amount may be served.
_GRID = 8
_EPS = 1e-9


def sizes_of(problem: Problem, client: int) -> list[float]:
    """Return the portions tried for a client: all of them, or a grid where any amount may be."""
    sizes = portion_sizes(problem, client)
    if sizes:
        return sizes
    portions = problem.clients[client].portions
    low = max(portions.smallest, portions.largest / _GRID)
    return [float(size) for size in np.linspace(low, portions.largest, _GRID)]


def sizes_laid(
    problem: Problem, slots: list[int], place: dict[Option, int]
) -> tuple[NDArray[np.int64], NDArray[np.float64]]:
    """Return from where to where the sizes of each cooking stand, for a slot of each kind."""
    span = np.zeros((len(slots), len(place), 2), np.int64)
    laid: list[float] = []
    start: dict[tuple[float, ...], int] = {}
    for kind, i in enumerate(slots):
        slot = problem.slots[i]
        whole = sizes_of(problem, slot.client)
        portions = problem.clients[slot.client].portions
        known: dict[int, tuple[int, int]] = {}
        for option in slot.options:
            if option.dish not in known:
                dish = problem.dishes[option.dish]
                low, high = span_of(portions, dish, slot.windows)
                tried = tuple(size for size in whole if low - _EPS <= size <= high + _EPS)
                if not tried and low <= high + _EPS:
                    # Any amount may be served, and the grid has none in so small a room.
                    tried = ((low + high) / 2,)
                if tried not in start:
                    start[tried] = len(laid)
                    laid.extend(tried)
                known[option.dish] = (start[tried], start[tried] + len(tried))
            span[kind, place[option]] = known[option.dish]
    return span, np.array(laid, float)
