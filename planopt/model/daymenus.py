"""Day menus: one dish and portion for each meal of a day, with every window of the day met.

Windows are checked once, here, outside the solver. A menu table holds the halves of all menus of
a group of interchangeable days; the cheapest menus at given prices are found by meeting in the
middle, exactly.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from math import ceil, floor, inf, prod

import numpy as np
from numpy.typing import NDArray

from planopt.deadlines import go_on
from planopt.problem.build import Problem
from planopt.problem.portions import sizes_in
from planopt.problem.rules import tightest_first
from planopt.problem.tolerances import MONEY, SHARE, WHOLE

Floats = NDArray[np.float64]
Ints = NDArray[np.int64]

_CELLS_AT_ONCE = 2_000_000
_MOST_HALF = 400_000
_MOST_SPLIT_EXACTLY = 10
_CORNER = 500


@dataclass(frozen=True)
class DayMenu:
    """A compliant day: for each meal of the group, the option position and the servings."""

    group: int
    choice: tuple[tuple[int, float], ...]


@dataclass(frozen=True)
class Meal:
    """The items of one meal: an item is a dish in a portion size.

    `options` lists, for each dish, the positions of its options (one per cook day);
    `option_table` is the same, shape (dishes, cook days), short rows filled with their first.
    Shapes: `dish`, `servings`, `recipe` by item; `nutrients` by (item, windowed nutrient); `kept`
    (dishes x sizes): which sizes of each dish are items, as the meal's windows allow; `may` by
    item, false for portions other than those settled by hand.
    """

    dishes: tuple[int, ...]
    options: tuple[tuple[int, ...], ...]
    option_table: Ints
    dish: Ints
    servings: Floats
    recipe: Ints
    nutrients: Floats
    kept: NDArray[np.bool_]
    may: NDArray[np.bool_]


def portion_sizes(problem: Problem, client: int) -> list[float]:
    """Return the portion sizes of a client in servings; empty when any amount is allowed."""
    portions = problem.clients[client].portions
    if portions.step == "any":
        return []
    low = max(1, ceil(portions.smallest / portions.step - WHOLE))
    high = floor(portions.largest / portions.step + WHOLE)
    return [portions.step * units for units in range(low, high + 1)]


def one_dish_in_steps(problem: Problem) -> bool:
    """Tell whether meals are one dish each, in portions that go by steps."""
    if problem.most_dishes_per_meal != 1:
        return False
    return all(portion_sizes(problem, c) for c in range(len(problem.clients)))


def supports_menus(problem: Problem) -> bool:
    """Tell whether day menus can stand for this problem: in any order, and not too many."""
    return not problem.order and supports_totals(problem)


def supports_totals(problem: Problem) -> bool:
    """Tell whether totals over days relax this problem: one dish a meal, and not too many."""
    if not one_dish_in_steps(problem):
        return False
    # What is bought, cooked or over is for the day-by-day model alone.
    few = all(_half_sizes(problem, g) <= _MOST_HALF for g in range(len(problem.groups)))
    return few and not problem.done


def _half_sizes(problem: Problem, g: int) -> int:
    slots = [problem.slots[i] for i in problem.groups[g].slots[0]]
    sizes = len(portion_sizes(problem, problem.groups[g].client))
    counts = [len({option.dish for option in slot.options}) * sizes for slot in slots]
    first, second = split_meals(counts)
    return max(prod(counts[m] for m in half) for half in (first, second))


def split_meals(counts: list[int]) -> tuple[tuple[int, ...], tuple[int, ...]]:
    """Split meals into two halves whose numbers of combinations are as even as can be.

    Of many meals, the one with most dishes goes to the half with fewer combinations so far.
    """
    meals = range(len(counts))
    if len(counts) > _MOST_SPLIT_EXACTLY:
        halves: tuple[list[int], list[int]] = ([], [])
        for m in sorted(meals, key=lambda m: -counts[m]):
            min(halves, key=lambda half: prod(counts[n] for n in half)).append(m)
        return tuple(sorted(halves[0])), tuple(sorted(halves[1]))
    splits = (
        (tuple(m for m in meals if mask >> m & 1), tuple(m for m in meals if not mask >> m & 1))
        for mask in range(2 ** len(counts))
    )
    return min(splits, key=lambda split: max(prod(counts[m] for m in half) for half in split))


@dataclass(frozen=True)
class _Half:
    """Combinations of one half of the meals: `items` (rows, meals), `nutrients` (rows, w)."""

    meals: tuple[int, ...]
    items: Ints
    nutrients: Floats
    recipes: Ints


class _Ordered:
    """A half with its rows in order of price, the cheapest first."""

    def __init__(self, half: _Half, price: Floats) -> None:
        self.half = half
        self.order = np.argsort(price, kind="stable")
        self.price = price[self.order]


class MenuTable:
    """All menus of one group, searchable by price. Built once for a group."""

    def __init__(self, problem: Problem, group: int) -> None:
        go_on()
        self.problem = problem
        self.group = group
        row = problem.groups[group]
        self.rules = tightest_first(row.rules)
        self.low = np.array([rule.low for rule in self.rules])
        self.high = np.array([rule.high for rule in self.rules])
        slack = SHARE * np.maximum(1.0, np.where(np.isfinite(self.high), self.high, self.low))
        self._low = self.low - slack
        self._high = self.high + slack
        recipe_number = {recipe_id: n for n, recipe_id in enumerate(problem.recipe_ids)}
        self.sizes = np.array(portion_sizes(problem, row.client), float)
        self.meals = tuple(self._meal(i, recipe_number) for i in row.slots[0])
        first, second = split_meals([len(meal.dish) for meal in self.meals])
        self._first = self._half(first)
        self._second = self._half(second)
        self._prune()

    def _meal(self, slot: int, recipe_number: dict[str, int]) -> Meal:
        by_dish: dict[int, list[int]] = {}
        for j, option in enumerate(self.problem.slots[slot].options):
            by_dish.setdefault(option.dish, []).append(j)
        dishes = tuple(by_dish)
        count = len(self.sizes)
        width = max((len(found) for found in by_dish.values()), default=1)
        per_serving = np.array(
            [[rule.coefficients.get(d, 0.0) for rule in self.rules] for d in dishes], float
        ).reshape(len(dishes), len(self.rules))
        servings = np.tile(self.sizes, len(dishes))
        kept = np.array([self._fitting_sizes(slot, d) for d in dishes], bool).ravel()
        puts = self.problem.slots[slot].puts
        settled = [rule.servings for rule in puts if rule.servings is not None]
        may = np.ones(len(servings), bool)
        for amount in settled:
            may &= np.abs(servings - amount) <= SHARE
        numbers = [recipe_number[self.problem.dishes[d].recipe_id] for d in dishes]
        return Meal(
            dishes=dishes,
            options=tuple(tuple(by_dish[d]) for d in dishes),
            option_table=np.array(
                [by_dish[d] + by_dish[d][:1] * (width - len(by_dish[d])) for d in dishes], np.int64
            ).reshape(len(dishes), width),
            dish=np.repeat(np.arange(len(dishes)), count)[kept],
            servings=servings[kept],
            recipe=np.repeat(np.array(numbers, np.int64), count)[kept],
            nutrients=(np.repeat(per_serving, count, axis=0) * servings[:, None])[kept],
            kept=kept,
            may=may[kept],
        )

    def _fitting_sizes(self, slot: int, dish: int) -> list[bool]:
        """Tell which of the client's sizes of a dish the meal may have."""
        row = self.problem.slots[slot]
        portions = self.problem.clients[row.client].portions
        sizes = sizes_in(portions, self.problem.dishes[dish], row.windows)
        return [size in sizes for size in self.sizes]

    def _half(self, meals: tuple[int, ...]) -> _Half:
        width = len(self.rules)
        items = np.zeros((1, 0), np.int64)
        nutrients = np.zeros((1, width))
        recipes = np.zeros((1, 0), np.int64)
        for m in meals:
            meal = self.meals[m]
            rows, count = len(items), len(meal.dish)
            left = np.repeat(np.arange(rows), count)
            right = np.tile(np.arange(count), rows)
            keep = meal.may[right]
            for column in range(recipes.shape[1]):
                keep &= recipes[left, column] != meal.recipe[right]
            total = nutrients[left] + meal.nutrients[right]
            keep &= (total <= self._high).all(axis=1)
            left, right, total = left[keep], right[keep], total[keep]
            items = np.column_stack([items[left], right])
            recipes = np.column_stack([recipes[left], meal.recipe[right]])
            nutrients = total
        return _Half(meals, items, nutrients, recipes)

    def _prune(self) -> None:
        """Drop halves that no other half can complete within the windows."""
        for _ in range(2):
            self._first = self._reachable(self._first, self._second)
            self._second = self._reachable(self._second, self._first)

    def _reachable(self, half: _Half, other: _Half) -> _Half:
        if len(other.items) == 0 or len(half.items) == 0:
            return _rows_of(half, np.zeros(0, np.int64))
        most, least = other.nutrients.max(axis=0), other.nutrients.min(axis=0)
        keep = (half.nutrients + most >= self._low).all(axis=1)
        keep &= (half.nutrients + least <= self._high).all(axis=1)
        return _rows_of(half, np.flatnonzero(keep))

    def tighten(self) -> None:
        """Drop halves that no other half completes, judged by two windows at a time.

        It pays before all menus, or whether there is any, are asked of windows that few days meet.
        """
        for _ in range(2):
            self._first = self._fitting(self._first, self._second)
            self._second = self._fitting(self._second, self._first)

    def _fitting(self, half: _Half, other: _Half) -> _Half:
        if len(other.items) == 0 or len(half.items) == 0:
            return _rows_of(half, np.zeros(0, np.int64))
        keep = np.ones(len(half.items), bool)
        for u in np.flatnonzero(np.isfinite(self._high)):
            # Of the other halves that stay below one window, does any reach the others' least?
            order = np.argsort(other.nutrients[:, u], kind="stable")
            room = self._high[u] - half.nutrients[:, u]
            count = np.searchsorted(other.nutrients[order, u], room, side="right")
            keep &= count > 0
            for v in np.flatnonzero(self._low > 0):
                most = np.maximum.accumulate(other.nutrients[order, v])
                keep &= half.nutrients[:, v] + most[np.maximum(count - 1, 0)] >= self._low[v]
        return _rows_of(half, np.flatnonzero(keep))

    def possible(self) -> bool:
        """Tell whether the group has any menu."""
        self.tighten()
        return bool(self.cheapest(self.no_prices(), 1, inf))

    @property
    def empty(self) -> bool:
        """Tell whether no compliant day can be put together from the halves."""
        return len(self._first.items) == 0 or len(self._second.items) == 0

    def no_prices(self) -> list[Floats]:
        """Return prices of zero, to ask whether any menu exists."""
        return [np.zeros((2, sum(len(options) for options in meal.options))) for meal in self.meals]

    def cheapest(
        self, prices: list[Floats], most: int, cutoff: float
    ) -> list[tuple[float, DayMenu]]:
        """Return up to `most` menus with the least total price below `cutoff`, cheapest first.

        `prices` holds, for each meal, the price of each option position in money per serving in
        row 0 and in money per meal in row 1: shape (2, options). Exact: the first menu returned
        is the cheapest of all; an empty list proves that none is below the cutoff.
        """
        sizes = self.sizes
        return self.cheapest_by_size(
            [price[0][:, None] * sizes[None, :] + price[1][:, None] for price in prices],
            most,
            cutoff,
        )

    def cheapest_by_size(
        self,
        prices: list[Floats],
        most: int,
        cutoff: float,
        among: Sequence[NDArray[np.bool_]] | None = None,
    ) -> list[tuple[float, DayMenu]]:
        """Return the cheapest menus, as `cheapest`, at prices of shape (options, sizes) a meal.

        `among` narrows the choice: for each meal, whether each of its dishes may be taken.
        """
        go_on()
        if self.empty:
            return []
        first, second = self._first, self._second
        if among is not None:
            first, second = self._narrow(first, among), self._narrow(second, among)
            if len(first.items) == 0 or len(second.items) == 0:
                return []
        item_price, source = [], []
        for meal, price in zip(self.meals, prices, strict=True):
            rows = price[meal.option_table]
            pick = rows.argmin(axis=1)
            cheapest = np.take_along_axis(rows, pick[:, None, :], axis=1).ravel()
            item_price.append(cheapest[meal.kept])
            source.append(np.take_along_axis(meal.option_table, pick, axis=1).ravel()[meal.kept])
        search = self._search if among is None else self._search_few
        found = search(
            (first, _half_price(first, item_price)),
            (second, _half_price(second, item_price)),
            most,
            cutoff,
        )
        menus = []
        for total, a, b in found:
            choice: dict[int, tuple[int, float]] = {}
            for half, row in ((first, a), (second, b)):
                for m, item in zip(half.meals, half.items[row], strict=True):
                    choice[m] = (int(source[m][item]), float(self.meals[m].servings[item]))
            ordered = tuple(choice[m] for m in range(len(self.meals)))
            menus.append((total, DayMenu(self.group, ordered)))
        return menus

    def _narrow(self, half: _Half, among: Sequence[NDArray[np.bool_]]) -> _Half:
        keep = np.ones(len(half.items), bool)
        for column, m in enumerate(half.meals):
            keep &= among[m][self.meals[m].dish].take(half.items[:, column])
        return _rows_of(half, np.flatnonzero(keep))

    def _search_few(
        self, one: tuple[_Half, Floats], other: tuple[_Half, Floats], most: int, cutoff: float
    ) -> list[tuple[float, int, int]]:
        """Do as `_search`, faster for small halves: all pairs that the first window allows."""
        (first, first_price), (second, second_price) = one, other
        if first.nutrients.shape[1] == 0:
            return self._search(one, other, most, cutoff)
        order = np.argsort(second.nutrients[:, 0], kind="stable")
        lead = second.nutrients[order, 0]
        low = np.searchsorted(lead, self._low[0] - first.nutrients[:, 0], side="left")
        high = np.searchsorted(lead, self._high[0] - first.nutrients[:, 0], side="right")
        count = np.maximum(0, high - low)
        a = np.repeat(np.arange(len(low)), count)
        place = np.arange(len(a)) - np.repeat(np.cumsum(count) - count, count)
        b = order[np.repeat(low, count) + place]
        rows = np.flatnonzero(self._compliant(first, second, a, b))
        total = first_price.take(a[rows]) + second_price.take(b[rows])
        if len(rows) > most:
            few = np.argpartition(total, most)[:most]
            rows, total = rows[few], total[few]
        ranked = np.argsort(total, kind="stable")
        return [
            (float(total[r]), int(a[rows[r]]), int(b[rows[r]])) for r in ranked if total[r] < cutoff
        ]

    def _compliant(self, first: _Half, second: _Half, a: Ints, b: Ints) -> NDArray[np.bool_]:
        """Tell which pairs of rows meet all windows and repeat no recipe."""
        keep = np.ones(len(a), bool)
        for w, (low, high) in enumerate(zip(self._low, self._high, strict=True)):
            total = first.nutrients[:, w].take(a) + second.nutrients[:, w].take(b)
            keep &= (total >= low) & (total <= high)
        for x in range(first.recipes.shape[1]):
            for y in range(second.recipes.shape[1]):
                keep &= first.recipes[:, x].take(a) != second.recipes[:, y].take(b)
        return keep

    def _search(
        self, one: tuple[_Half, Floats], other: tuple[_Half, Floats], most: int, cutoff: float
    ) -> list[tuple[float, int, int]]:
        first, second = _Ordered(*one), _Ordered(*other)
        pa, pb = first.price, second.price
        limit = cutoff
        best_price = np.zeros(0)
        best_a = np.zeros(0, np.int64)
        best_b = np.zeros(0, np.int64)
        # A first look at the cheapest corner finds a limit that prunes the rest.
        corner = self._pairs(first, second, (0, _CORNER), _CORNER, limit)
        if len(corner[0]) >= most:
            limit = float(np.partition(corner[0], most - 1)[most - 1]) + MONEY
        start = 0
        while start < len(pa) and pa[start] + pb[0] < limit:
            reach = int(np.searchsorted(pb, limit - pa[start], side="left"))
            chunk = max(1, min(_CELLS_AT_ONCE // max(reach, 1), 64 if start == 0 else 4096))
            stop = min(len(pa), start + chunk)
            price, i, j = self._pairs(first, second, (start, stop), reach, limit)
            if len(i):
                best_price = np.concatenate([best_price, price])
                best_a = np.concatenate([best_a, i])
                best_b = np.concatenate([best_b, j])
                if len(best_price) > most:
                    keep_rows = np.argsort(best_price, kind="stable")[:most]
                    best_price = best_price[keep_rows]
                    best_a, best_b = best_a[keep_rows], best_b[keep_rows]
                    limit = float(best_price[-1])
            start = stop
        ranked = np.argsort(best_price, kind="stable")
        return [
            (float(best_price[r]), int(first.order[best_a[r]]), int(second.order[best_b[r]]))
            for r in ranked
        ]

    def _pairs(
        self,
        one: _Ordered,
        other: _Ordered,
        span: tuple[int, int],
        reach: int,
        limit: float,
    ) -> tuple[Floats, Ints, Ints]:
        """Return price and sorted positions of compliant pairs below a limit.

        First halves of `span`, second halves up to `reach`, both in order of price.
        """
        start, stop = span
        a, b = one.order[start:stop], other.order[:reach]
        total = one.price[start:stop, None] + other.price[None, :reach]
        mask = total < limit
        first, second = one.half, other.half
        if first.nutrients.shape[1]:
            energy = first.nutrients[a, 0][:, None] + second.nutrients[b, 0][None, :]
            mask &= (energy >= self._low[0]) & (energy <= self._high[0])
        i, j = np.nonzero(mask)
        if len(i) == 0:
            return np.zeros(0), i, j
        keep = self._compliant(first, second, a[i], b[j])
        i, j = i[keep], j[keep]
        return total[i, j], start + i, j


def _rows_of(half: _Half, rows: Ints) -> _Half:
    return _Half(
        half.meals,
        half.items.take(rows, axis=0),
        half.nutrients.take(rows, axis=0),
        half.recipes.take(rows, axis=0),
    )


def _half_price(half: _Half, item_price: list[Floats]) -> Floats:
    total = np.zeros(len(half.items))
    for column, m in enumerate(half.meals):
        total += item_price[m][half.items[:, column]]
    return total
