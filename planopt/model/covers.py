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

# Labels written for one food, for a table and for purchases. A food in forty sizes has tens of
# thousands of efficient combinations, which differ by a cent; beyond so many, bounds go on.
_MOST_FOR_TABLE, _MOST_FOR_BUYING = 6_000, 60_000
_TIE_MONEY = 1e-9


@dataclass(frozen=True)
class CoverTable:
    """Efficient pack combinations of one food: `grams` and `cost` both strictly increase.

    `cost[i]` is the least cost of any combination that gives at least `grams[i]`. Entry 0 is
    nothing bought. The table reaches the grams asked for, unless that takes too many combinations.
    `best` is the pack (grams, cost) whose gram costs least.
    """

    grams: tuple[float, ...]
    cost: tuple[float, ...]
    best: tuple[float, float]

    def least_cost(self, need_g: float) -> float:
        """Return the least cost to have `need_g` grams; beyond the table, a lower bound of it.

        There the last cost holds, and so does the least cost of a gram.
        """
        if need_g <= GRAMS:
            return 0.0
        place = bisect_left(self.grams, need_g - GRAMS)
        if place < len(self.cost):
            return self.cost[place]
        return max(self.cost[-1], self._per_g() * need_g)

    def reaching(self, up_to_g: float) -> list[tuple[float, float]]:
        """Return (grams, cost) of combinations that reach `up_to_g`, for buying; see `_tiled`."""
        pairs = list(zip(self.grams, self.cost, strict=True))
        return [(grams, cost) for grams, cost, _, _ in _tiled(pairs, self.best, up_to_g)]

    def buying(self, need_g: float) -> float:
        """Return what the cheapest combination known that gives `need_g` grams costs."""
        if need_g <= GRAMS:
            return 0.0
        return next(cost for grams, cost in self.reaching(need_g) if grams >= need_g - GRAMS)

    def _per_g(self) -> float:
        grams, cost = self.best
        return cost / grams if grams > 0 else 0.0

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
        else:
            points += self._beyond(up_to_g)
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

    def _beyond(self, up_to_g: float) -> list[tuple[float, float]]:
        """Return where a lower bound of the cost turns after the table: its last cost, then grams.

        The last cost holds until the least cost of a gram reaches it.
        """
        per_g = self._per_g()
        if len(self.cost) < 2 or per_g <= 0:
            return []
        turn_g = self.cost[-1] / per_g
        found = [(min(turn_g, up_to_g), self.cost[-1])] if turn_g > self.grams[-1] else []
        return [*found, (up_to_g, per_g * up_to_g)] if turn_g < up_to_g else found


def _tiled(
    pairs: Sequence[tuple[float, float]], best: tuple[float, float], up_to_g: float
) -> list[tuple[float, float, int, int]]:
    """Return (grams, cost, pair, packs added) of pairs that reach `up_to_g`.

    Beyond the pairs come the last of them with more and more of the best pack: for large needs the
    cheapest combinations are of that form, as of any knapsack.
    """
    found = [(grams, cost, n, 0) for n, (grams, cost) in enumerate(pairs)]
    more_g, more_cost = best
    if more_g <= 0 or found[-1][0] >= up_to_g - GRAMS:
        return found
    least = found[-1][0] - more_g + GRAMS
    last = [label for label in found if label[0] > least]
    while found[-1][0] < up_to_g - GRAMS:
        go_on()
        last = [(g + more_g, c + more_cost, n, added + 1) for g, c, n, added in last]
        found += last
    return found


def _not_below(a: tuple[float, float], b: tuple[float, float], c: tuple[float, float]) -> bool:
    return (b[1] - a[1]) * (c[0] - a[0]) >= (c[1] - a[1]) * (b[0] - a[0])


@dataclass(frozen=True)
class Combination:
    """Packs that give `grams` for `cost`."""

    grams: float
    cost: float
    _labels: _Labels
    _label: int
    _added: int

    def counts(self, packs: Sequence[tuple[float, float]]) -> list[int]:
        """Return how many of each of the packs given are in the combination."""
        found = self._labels.counts(self._label, len(packs))
        if self._added:
            found[packs.index(best_pack(packs))] += self._added
        return found


def combinations(packs: Sequence[tuple[float, float]], up_to_g: float) -> list[Combination]:
    """Return the efficient combinations of packs (grams, cost) that reach `up_to_g`.

    Where they are too many, the last are those of `_tiled`.
    """
    labels = _labels(tuple(packs))
    kept = labels.reaching(up_to_g, _MOST_FOR_BUYING)
    pairs = [(labels.grams[n], labels.cost[n]) for n in kept]
    return [
        Combination(grams, cost, labels, kept[n], added)
        for grams, cost, n, added in _tiled(pairs, best_pack(packs), up_to_g)
    ]


def best_pack(packs: Sequence[tuple[float, float]]) -> tuple[float, float]:
    """Return the pack (grams, cost) whose gram costs least, the larger of two; nothing of none."""
    return min(packs, key=lambda pack: (pack[1] / pack[0], -pack[0]), default=(0.0, 0.0))


def cover_table(packs: Sequence[tuple[float, float]], up_to_g: float) -> CoverTable:
    """Return the efficient combinations of packs (grams, cost) that reach `up_to_g`.

    Tables are remembered: the kitchens of a run buy the same packs.
    """
    return _cover_table(tuple(packs), up_to_g)


@lru_cache(maxsize=8192)
def _cover_table(packs: tuple[tuple[float, float], ...], up_to_g: float) -> CoverTable:
    """Return the table, cut from the labels of the packs."""
    labels = _labels(packs)
    kept = labels.reaching(up_to_g, _MOST_FOR_TABLE)
    return CoverTable(
        tuple(labels.grams[n] for n in kept),
        tuple(labels.cost[n] for n in kept),
        best_pack(packs),
    )


@lru_cache(maxsize=4096)
def _labels(packs: tuple[tuple[float, float], ...]) -> _Labels:
    return _Labels(packs)


class _Labels:
    """Efficient combinations of packs, as many as have been asked for so far.

    Method: labels in order of cost, as in a shortest path; a label is kept when it gives more
    grams than every cheaper one. Whatever remains of an efficient combination when a pack is taken
    away is efficient, so packs are added to a label in one order only: it has no pack after its
    `last`. Of equal labels the one with the earliest last pack counts.
    """

    def __init__(self, packs: Sequence[tuple[float, float]]) -> None:
        useful = [
            (g, c)
            for i, (g, c) in enumerate(packs)
            if not any(
                (h >= g and d <= c and (h, d) != (g, c)) or ((h, d) == (g, c) and j < i)
                for j, (h, d) in enumerate(packs)
            )
        ]
        # Most of a large need is bought in the pack whose gram costs least: few labels have others.
        self._packs = sorted(useful, key=lambda pack: (pack[1] / pack[0], pack))
        self._given = [packs.index(pack) for pack in self._packs]
        self.grams, self.cost = [0.0], [0.0]
        # Of each label, the label it was made of and the pack added to that.
        self._made = [(0, 0)]
        self._last = len(self._packs)
        self._queue: list[tuple[float, float, int, int]] = []
        self._written = 0
        self._add(0.0, 0.0, 0, self._last)

    def reaching(self, up_to_g: float, most: int) -> list[int]:
        """Return the labels that reach `up_to_g`, or what `most` labels written reach."""
        self._extend(up_to_g, most)
        reached = bisect_left(self.grams, up_to_g - GRAMS) + 1
        labels = range(min(reached, len(self.grams)))
        # Of labels that cost the same the last gives most.
        return [n for n in labels if n + 1 == len(labels) or self.cost[n] < self.cost[n + 1]]

    def _extend(self, up_to_g: float, most: int) -> None:
        while self._queue and self.grams[-1] < up_to_g - GRAMS and self._written <= most:
            go_on()
            cost, negative, last, base = heapq.heappop(self._queue)
            grams = -negative
            if grams > self.grams[-1] + GRAMS:
                self.grams.append(grams)
                self.cost.append(cost)
                self._made.append((base, last))
                self._last = last
                self._add(grams, cost, last, len(self._packs))
            elif (
                last < self._last
                and cost <= self.cost[-1] + _TIE_MONEY
                and grams >= self.grams[-1] - GRAMS
            ):
                self._add(grams, cost, last, self._last)
                self._last = last

    def _add(self, grams: float, cost: float, first: int, after: int) -> None:
        """Write the labels that packs from `first` to before `after` make of a label."""
        for n in range(first, after):
            more_g, more_cost = self._packs[n]
            label = (cost + more_cost, -(grams + more_g), n, len(self.grams) - 1)
            heapq.heappush(self._queue, label)
        self._written += after - first

    def counts(self, label: int, packs: int) -> list[int]:
        """Return how many of each of the packs given are in a label."""
        found = [0] * packs
        while label:
            label, pack = self._made[label]
            found[self._given[pack]] += 1
        return found
