"""The cheapest packs of one food for grams cooked on given cook days, exactly.

Method: efficient combinations of packs for each shop day (`covers.py`), those of several shop days
by enumeration with a bound, grams handed to cook days by earliest use-by date. Where these would be
too many, or any amount is sold, HiGHS chooses.
Source: common knowledge of covering problems; no paper is followed.
"""

from __future__ import annotations

from bisect import bisect_left
from collections.abc import Sequence
from dataclasses import dataclass
from functools import lru_cache
from math import inf, prod

from planopt.model.covers import Combination, combinations
from planopt.solve.highs.matrix import Matrix, matrix_of_rows
from planopt.solve.highs.solver import solve_matrix
from planopt.solve.settings import SolveSettings

_EPS_G = 1e-6
_EPS_MONEY = 1e-7
_MOST_COMBINATIONS = 3000
_HIGHS_SECONDS = 2.0


@dataclass(frozen=True)
class PackKind:
    """A pack on offer: its position among the food's offers, edible grams, price."""

    offer: int
    grams: float
    price: float
    continuous: bool


@dataclass(frozen=True)
class FoodSource:
    """One supply of the food: stock with `stock_g`, or a shop day with `kinds` to buy.

    `cooks` are the cook days that may use it, by position; `wasted` tells whether what is left
    of it counts as waste.
    """

    supply: int
    cooks: tuple[int, ...]
    wasted: bool
    stock_g: float
    kinds: tuple[PackKind, ...]


@dataclass(frozen=True)
class Basket:
    """Packs of one food: (supply, offer) -> count as pairs, their money, and all they cost.

    `cost` counts the waste of the food; both are in minor units.
    """

    packs: tuple[tuple[tuple[int, int], float], ...]
    money: float
    cost: float


def basket_of(
    sources: Sequence[FoodSource],
    needs: Sequence[float],
    waste_rate: float,
    packs: dict[tuple[int, int], float],
) -> Basket | None:
    """Return what given packs cost for grams needed by cook day; None if they are too few.

    `sources` are in the order in which they expire, `waste_rate` is money for a gram wasted.
    """
    grams, money = [], 0.0
    for source in sources:
        have = source.stock_g
        for kind in source.kinds:
            count = packs.get((source.supply, kind.offer), 0.0)
            have += count * kind.grams
            money += count * kind.price
        grams.append(have)
    waste = _waste_g(sources, grams, needs)
    if waste is None:
        return None
    return Basket(tuple(sorted(packs.items())), money, money + waste_rate * waste)


def _waste_g(
    sources: Sequence[FoodSource], grams: Sequence[float], needs: Sequence[float]
) -> float | None:
    """Return grams wasted when what expires first is used first; None if food is short."""
    left = list(grams)
    for k, need in enumerate(needs):
        short = need
        for s, source in enumerate(sources):
            if short > 0 and k in source.cooks:
                take = min(short, left[s])
                left[s] -= take
                short -= take
        if short > _EPS_G * max(1.0, need):
            return None
    return sum(have for have, source in zip(left, sources, strict=True) if source.wasted)


def without_needless(
    sources: Sequence[FoodSource], needs: Sequence[float], waste_rate: float, basket: Basket
) -> Basket:
    """Return the basket without packs that nothing needs, the dearest of them left first."""
    price = {(s.supply, k.offer): k.price for s in sources for k in s.kinds if not k.continuous}
    packs = dict(basket.packs)
    for key in sorted(packs.keys() & price.keys(), key=lambda key: (-price[key], key)):
        while packs.get(key, 0.0) > 0:
            fewer = {**packs, key: packs[key] - 1.0}
            if fewer[key] <= 0:
                del fewer[key]
            if basket_of(sources, needs, waste_rate, fewer) is None:
                break
            packs = fewer
    found = basket_of(sources, needs, waste_rate, packs)
    return basket if found is None else found


@lru_cache(maxsize=16384)
def cheapest_basket(
    sources: tuple[FoodSource, ...], needs: tuple[float, ...], waste_rate: float
) -> Basket | None:
    """Return the cheapest packs, waste counted; None where no packs give enough.

    `sources` are in the order in which they expire. Ties go to fewer packs.
    """
    found = basket_of(sources, needs, waste_rate, {})
    if found is not None:
        return found
    if not any(kind.continuous for source in sources for kind in source.kinds):
        tables = [_labels(source, needs, waste_rate) for source in sources]
        if prod(float(len(table)) for table in tables[:-1]) <= _MOST_COMBINATIONS:
            found = _enumerate(sources, needs, waste_rate, tables)
            return found and without_needless(sources, needs, waste_rate, found)
    packs = _by_highs(sources, needs, waste_rate)
    found = None if packs is None else basket_of(sources, needs, waste_rate, packs)
    return found and without_needless(sources, needs, waste_rate, found)


@dataclass(frozen=True)
class _Label:
    """Packs of one shop day; `charged` is their price and the waste of all of them."""

    grams: float
    charged: float
    packs: Combination


def _rate(source: FoodSource, waste_rate: float) -> float:
    return waste_rate if source.wasted else 0.0


def _charged(source: FoodSource, waste_rate: float) -> list[tuple[float, float]]:
    """Return (grams, price and waste) of the packs sold on a shop day."""
    rate = _rate(source, waste_rate)
    return [(kind.grams, kind.price + rate * kind.grams) for kind in source.kinds]


def _labels(source: FoodSource, needs: Sequence[float], waste_rate: float) -> list[_Label]:
    """Return the efficient combinations of one shop day, the cheapest first."""
    most_g = sum(needs[k] for k in source.cooks)
    found = combinations(_charged(source, waste_rate), most_g)
    return [_Label(one.grams, one.cost, one) for one in found]


def _enumerate(
    sources: Sequence[FoodSource],
    needs: Sequence[float],
    waste_rate: float,
    tables: Sequence[Sequence[_Label]],
) -> Basket | None:
    """Return the cheapest choice of one label for each source."""
    best = _Choosing(sources, needs, waste_rate, tables).best()
    if best is None:
        return None
    packs = {
        (source.supply, kind.offer): float(count)
        for source, label in zip(sources, best, strict=True)
        for kind, count in zip(
            source.kinds, label.packs.counts(_charged(source, waste_rate)), strict=True
        )
        if count
    }
    return basket_of(sources, needs, waste_rate, packs)


class _Choosing:
    """A depth-first search for the cheapest labels, one for each source."""

    def __init__(
        self,
        sources: Sequence[FoodSource],
        needs: Sequence[float],
        waste_rate: float,
        tables: Sequence[Sequence[_Label]],
    ) -> None:
        self.sources, self.needs, self.tables = sources, needs, tables
        self.rate = waste_rate
        # Labels are charged for all they bring as waste; use gives back at most the needs. What is
        # on hand and would be wasted is in the cost of every choice, and in no label.
        on_hand = sum(source.stock_g for source in sources if source.wasted)
        self._floor = waste_rate * (on_hand - sum(needs))
        self._grams = [source.stock_g for source in sources]
        self._cost = inf
        self._found: tuple[_Label, ...] | None = None

    def best(self) -> tuple[_Label, ...] | None:
        """Return the cheapest labels; None where none are enough."""
        self._choose((), 0.0)
        return self._found

    def _choose(self, chosen: tuple[_Label, ...], charged: float) -> None:
        place = len(chosen)
        table, last = self.tables[place], place + 1 == len(self.sources)
        # More of the last source never leaves food short: those that do are passed by bisection.
        enough = bisect_left(table, True, key=self._fits) if last else 0
        for label in table[enough:]:
            if charged + label.charged + self._floor >= self._cost - _EPS_MONEY:
                return
            if last:
                self._take((*chosen, label))
            else:
                self._grams[place] = self.sources[place].stock_g + label.grams
                self._choose((*chosen, label), charged + label.charged)

    def _waste_with(self, label: _Label) -> float | None:
        """Return grams wasted with a label of the last source; None where food is short."""
        self._grams[-1] = self.sources[-1].stock_g + label.grams
        return _waste_g(self.sources, self._grams, self.needs)

    def _fits(self, label: _Label) -> bool:
        return self._waste_with(label) is not None

    def _take(self, labels: tuple[_Label, ...]) -> None:
        """Take labels, if they cost less in all than those found before."""
        # What a label is charged for its own waste is in the waste counted.
        money = sum(
            label.charged - _rate(source, self.rate) * label.grams
            for source, label in zip(self.sources, labels, strict=True)
        )
        cost = self.rate * (self._waste_with(labels[-1]) or 0.0) + money
        if cost < self._cost - _EPS_MONEY:
            self._cost, self._found = cost, labels


def _by_highs(
    sources: Sequence[FoodSource], needs: Sequence[float], waste_rate: float
) -> dict[tuple[int, int], float] | None:
    """Choose packs by a small mixed-integer program; None if there is no choice."""
    settings = SolveSettings(time_limit_s=_HIGHS_SECONDS, gap=0.0, threads=1)
    outcome = solve_matrix(_pack_matrix(sources, needs, waste_rate), settings)
    if outcome.values is None:
        return None
    keys = [(source.supply, kind) for source in sources for kind in source.kinds]
    found = {}
    for (supply, kind), count in zip(keys, outcome.values, strict=False):
        amount = float(count) if kind.continuous else float(round(count))
        if amount > 1e-9:
            found[supply, kind.offer] = amount
    return found


def _pack_matrix(
    sources: Sequence[FoodSource], needs: Sequence[float], waste_rate: float
) -> Matrix:
    """Return the program: packs p, then grams u that cook days use of each source.

    sum_k u(s,k) <= stock + sum grams p; sum_s u(s,k) = need of k.
    """
    kinds = [(s, kind) for s, source in enumerate(sources) for kind in source.kinds]
    uses = [(s, k) for s, source in enumerate(sources) for k in source.cooks]
    rates = [waste_rate if source.wasted else 0.0 for source in sources]
    rows: list[dict[int, float]] = [{} for _ in (*sources, *needs)]
    for column, (s, k) in enumerate(uses, len(kinds)):
        rows[s][column] = rows[len(sources) + k][column] = 1.0
    for column, (s, kind) in enumerate(kinds):
        rows[s][column] = -kind.grams
    cost = [kind.price + rates[s] * kind.grams for s, kind in kinds]
    cost += [-rates[s] for s, _ in uses]
    return matrix_of_rows(
        rows,
        names=tuple(f"c{n}" for n in range(len(cost))),
        cost=cost,
        integer=[not kind.continuous for _, kind in kinds] + [False] * len(uses),
        row_lower=[-inf] * len(sources) + [*needs],
        row_upper=[source.stock_g for source in sources] + [*needs],
    )
