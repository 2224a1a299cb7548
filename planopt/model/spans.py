"""Spans: from which to which size a client may have each dish in each meal, over all days."""

from __future__ import annotations

from math import inf

from planopt.problem.build import Problem
from planopt.problem.portions import Windows, sizes_in


def slot_spans(problem: Problem, client: int) -> dict[tuple[str, int], tuple[float, float]]:
    """Return the smallest and largest size of each dish in each meal of a client, over all days."""
    portions = problem.clients[client].portions
    known: dict[tuple[Windows, int], tuple[float, float]] = {}
    found: dict[tuple[str, int], tuple[float, float]] = {}
    for i in problem.slots_of_client[client]:
        slot = problem.slots[i]
        for d in {option.dish for option in slot.options}:
            key = (slot.windows, d)
            if key not in known:
                sizes = sizes_in(portions, problem.dishes[d], slot.windows)
                known[key] = (sizes[0], sizes[-1]) if sizes else (inf, 0.0)
            low, high = found.get((slot.meal, d), (inf, 0.0))
            found[slot.meal, d] = min(low, known[key][0]), max(high, known[key][1])
    # Where no size fits, the dish is not eaten in that meal.
    return {key: (0.0, 0.0) if low > high else (low, high) for key, (low, high) in found.items()}
