"""Pack covers: the least money that buys at least so many grams of one food.

Tables are computed once per food and shared by every strengthening row.
"""

from __future__ import annotations

import heapq
import itertools
from bisect import bisect_left
from collections.abc import Sequence
from dataclasses import dataclass
from functools import lru_cache

from planopt.deadlines import go_on
from planopt.problem.tolerances import GRAMS


@dataclass(frozen=True)
class CoverTable:
    """Efficient pack combinations of one food: `grams` and `cost` both strictly increase.

    `cost[i]` is the least cost of any combination that gives at least `grams[i]`, and the table
    reaches at least the grams asked for. Entry 0 is nothing bought.
    """

    grams: tuple[float, ...]
    cost: tuple[float, ...]

    def least_cost(self, need_g: float) -> float:
        """Return the least cost to have `need_g` grams; needs beyond the table get its last cost.

        The last cost is still a valid lower bound for a larger need.
        """
        if need_g <= GRAMS:
            return 0.0
        place = bisect_left(self.grams, need_g - GRAMS)
        return self.cost[min(place, len(self.cost) - 1)]

    def facets(self, up_to_g: float) -> list[tuple[float, float]]:
        """Return (slope, intercept) of the lower hull of cost over 0 < grams <= up_to_g.

        For every need T in that range, least_cost(T) >= slope x T + intercept. Cost is a step
        function of the need, so its lower hull passes through the right ends of the steps, the
        first of them taken back to a need of zero.
        """
        points = [(0.0, self.cost[1])] if len(self.cost) > 1 else []
        for g, c in zip(self.grams[1:], self.cost[1:], strict=True):
            points.append((g, c))
            if g >= up_to_g:
                break
        hull: list[tuple[float, float]] = []
        for point in points:
            while len(hull) >= 2 and _not_below(hull[-2], hull[-1], point):
                hull.pop()
            hull.append(point)
        found = []
        for (g0, c0), (g1, c1) in itertools.pairwise(hull):
            slope = (c1 - c0) / (g1 - g0)
            found.append((slope, c0 - slope * g0))
        return found


def _not_below(a: tuple[float, float], b: tuple[float, float], c: tuple[float, float]) -> bool:
    return (b[1] - a[1]) * (c[0] - a[0]) >= (c[1] - a[1]) * (b[0] - a[0])


def cover_table(packs: Sequence[tuple[float, float]], up_to_g: float) -> CoverTable:
    """Return the efficient combinations of packs (grams, cost) that reach `up_to_g`.

    Tables are remembered: the kitchens of a run buy the same packs.
    """
    return _cover_table(tuple(packs), up_to_g)


@lru_cache(maxsize=8192)
def _cover_table(packs: tuple[tuple[float, float], ...], up_to_g: float) -> CoverTable:
    """Return the table.

    Method: labels in order of cost, as in a shortest path; a label is kept when it gives more
    grams than every cheaper one.
    """
    useful = [
        (g, c)
        for i, (g, c) in enumerate(packs)
        if not any(
            (h >= g and d <= c and (h, d) != (g, c)) or ((h, d) == (g, c) and j < i)
            for j, (h, d) in enumerate(packs)
        )
    ]
    grams, cost = [0.0], [0.0]
    queue: list[tuple[float, float]] = [(c, -g) for g, c in useful]
    heapq.heapify(queue)
    while queue and grams[-1] < up_to_g - GRAMS:
        go_on()
        c, negative = heapq.heappop(queue)
        g = -negative
        if g <= grams[-1] + GRAMS:
            continue
        if cost[-1] == c:
            grams[-1] = g
        else:
            grams.append(g)
            cost.append(c)
        for more_g, more_cost in useful:
            heapq.heappush(queue, (c + more_cost, -(g + more_g)))
    return CoverTable(tuple(grams), tuple(cost))
