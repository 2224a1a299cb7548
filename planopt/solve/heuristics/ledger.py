"""A quick account of what a set of servings costs: batches, packs, waste, and limits broken.

For the servings eaten it takes the fewest batch steps that cover them, and for the batches the
cheapest packs. So a change of menu is priced by table look-ups, many changes at once. Limits of
cook days enter as penalties. The account is a guide: plans are priced anew by `cost_of`, and
audited.

Method: covering knapsacks solved once, as tables over grams (`model/covers.py`), then look-ups.
Source: dynamic programming for knapsacks, as in Kellerer, Pferschy and Pisinger, Knapsack Problems
(2004). From memory.
"""

from __future__ import annotations

import numpy as np
from numpy.typing import NDArray

from planopt.model.covers import cover_table
from planopt.model.kitchen import money_scale, serving_value
from planopt.model.strengthen import Pool, pools_of
from planopt.problem.build import Problem

Floats = NDArray[np.float64]
Ints = NDArray[np.int64]

_BIG_G = 1e8
_MINUTE_PENALTY = 0.5
_RECIPE_PENALTY = 10.0
_BATCH_PENALTY = 10.0
_MISSING_PENALTY = 1000.0


class Ledger:
    """Prices for vectors of servings eaten, by cooking. Batch steps must be whole.

    Shapes: N cookings, P pools of food; `grams` is (N, P) per batch step.
    """

    def __init__(self, problem: Problem) -> None:
        self.problem = problem
        count = len(problem.cookings)
        dishes = [problem.dishes[cooking.dish] for cooking in problem.cookings]
        self.step = np.array([dish.batch_step or 1.0 for dish in dishes])
        self.per_step = np.array([dish.yield_servings for dish in dishes]) * self.step
        weight = problem.waste_weight
        self.waste = weight * np.array(
            [serving_value(problem, cooking.dish) for cooking in problem.cookings]
        )
        pools = pools_of(problem)
        self.grams = np.zeros((count, len(pools)))
        for p, pool in enumerate(pools):
            for n, cooking in enumerate(problem.cookings):
                if cooking.cook in pool.cooks:
                    self.grams[n, p] = dishes[n].grams.get(pool.food_id, 0.0) * self.step[n]
        # A dish takes from few pools: its row of grams as a run of (pool, grams).
        self._row, self._pool = np.nonzero(self.grams)
        self._run_g = self.grams[self._row, self._pool]
        self._runs = np.searchsorted(self._row, np.arange(count + 1))
        # Steps that `marginal` takes as cooked already, whoever eats them.
        self.cooked = np.zeros(count)
        self._tables(pools)
        self._limits()

    def _tables(self, pools: list[Pool]) -> None:
        """Lay the cover tables of all pools end to end, with keys that sort by pool."""
        problem = self.problem
        scale = money_scale(problem)
        keys: list[Floats] = []
        costs: list[Floats] = []
        self.stock = np.array([pool.stock_g for pool in pools])
        self.refund = np.zeros(len(pools))
        self.last_g = np.zeros(len(pools))
        self.last_cost = np.zeros(len(pools))
        for p, pool in enumerate(pools):
            charge = 0.0
            if pool.all_wasted:
                value = problem.value_minor_per_g[pool.food_id] / scale
                charge = problem.waste_weight * value
            packs = [
                (offer.edible_g, offer.price_minor / scale + charge * offer.edible_g)
                for offer in (problem.offers[pool.food_id] if pool.has_shop else ())
            ]
            reach = max(max((g for g, _ in packs), default=0.0), self.grams[:, p].max() * 12)
            grams, cost = np.array(cover_table(packs, reach).reaching(reach)).T
            keys.append(p * _BIG_G + grams)
            costs.append(cost)
            self.refund[p] = charge
            self.last_g[p], self.last_cost[p] = grams[-1], cost[-1]
        self._keys = np.concatenate(keys) if keys else np.zeros(0)
        self._costs = np.concatenate(costs) if costs else np.zeros(0)
        self._offset = np.arange(len(pools)) * _BIG_G

    def _limits(self) -> None:
        problem = self.problem
        cooks = len(problem.cook_days)
        self._of_day = [
            np.array([n for n, c in enumerate(problem.cookings) if c.cook == k], np.int64)
            for k in range(cooks)
        ]
        dishes = [problem.dishes[cooking.dish] for cooking in problem.cookings]
        # Minutes of each rule for the cookings of its day: once, each batch, each after the first.
        self._minutes = [
            np.array([rule.minutes[problem.cookings[n].dish] for n in self._of_day[rule.cook]])
            .reshape(-1, 3)
            .T
            for rule in problem.minute_rules
        ]
        self._most = np.array([dish.most_per_cook_day for dish in dishes])
        prices = [problem.work[cooking.dish] for cooking in problem.cookings]
        self._start = np.array([price.start for price in prices])
        self._further = np.array([price.extra for price in prices])
        self._works = bool(self._start.any() or self._further.any())

    def work(self, steps: Floats) -> Floats:
        """Return the price of the cook's time for batch steps; shape (..., N) to the same."""
        paid: Floats = np.where(steps > 0, self._start, 0.0)
        paid += self._further * np.maximum(0.0, steps * self.step - 1.0)
        return paid

    def steps(self, eaten: Floats) -> Floats:
        """Return the fewest batch steps that cover servings eaten; any leading shape."""
        steps: Floats = np.ceil(eaten / self.per_step - 1e-9)
        return steps

    def food_cost(self, grams: Floats) -> Floats:
        """Return packs and waste for grams of each pool; shape (..., P) to the same."""
        return self._paid(grams, slice(None))

    def _paid(self, grams: Floats, pools: Ints | slice) -> Floats:
        """Return packs and waste for grams of some pools, the last axis."""
        need = np.maximum(0.0, grams - self.stock[pools])
        last_g = self.last_g[pools]
        inside = np.minimum(need, last_g)
        place = np.searchsorted(self._keys, self._offset[pools] + inside - 1e-6, side="left")
        paid: Floats = self._costs[np.minimum(place, len(self._costs) - 1)]
        over = need > last_g + 1e-6
        if over.any():
            with np.errstate(divide="ignore", invalid="ignore"):
                grown = self.last_cost[pools] * need / last_g
            paid = np.where(over, np.where(last_g > 0, grown, _MISSING_PENALTY), paid)
        paid = paid - self.refund[pools] * need
        return paid

    def _step_cost(self, grams: Floats, now: Floats, rows: Ints, jump: int) -> Floats:
        """Return packs and waste of `jump` more steps of each row beside grams that cost `now`."""
        sizes = self._runs[rows + 1] - self._runs[rows]
        ends = np.cumsum(sizes)
        place = np.arange(ends[-1]) + np.repeat(self._runs[rows] - (ends - sizes), sizes)
        pools = self._pool[place]
        more = self._paid(grams[pools] + jump * self._run_g[place], pools) - now[pools]
        found = np.bincount(np.repeat(np.arange(len(rows)), sizes), more, len(rows))
        return found.astype(float)

    def _grams_of(self, steps: Floats) -> Floats:
        """Return grams of each pool for steps of shape (N,)."""
        on = np.flatnonzero(steps)
        total: Floats = (steps[on, None] * self.grams[on]).sum(axis=0)
        return total

    def total(self, eaten: Floats) -> Floats:
        """Return money and penalties for servings eaten; shape (K, N) to (K,)."""
        steps = self.steps(eaten)
        # Candidates differ in few cookings: multiply only those columns.
        differ = np.flatnonzero((steps != steps[0]).any(axis=0))
        change = (steps[:, differ] - steps[0, differ]) @ self.grams[differ]
        grams = self._grams_of(steps[0]) + change
        money = self.food_cost(grams).sum(axis=1)
        money += ((steps * self.per_step - eaten) * self.waste).sum(axis=1)
        if self._works:
            money += self.work(steps).sum(axis=1)
        priced: Floats = money + self._penalties(steps)
        return priced

    def kitchen_cost(self, steps: Floats, like: Floats) -> Floats:
        """Return money for food and penalties for batch steps; shape (K, N) to (K,).

        Rows that differ from `like`, shape (N,), in few places are priced faster.
        """
        rows, columns = np.nonzero(steps != like)
        grams = np.repeat((like @ self.grams)[None, :], len(steps), axis=0)
        np.add.at(grams, rows, (steps - like)[rows, columns, None] * self.grams[columns])
        paid: Floats = self.food_cost(grams).sum(axis=1) + self._penalties(steps)
        return paid + self.work(steps).sum(axis=1) if self._works else paid

    def most_steps(self) -> Floats:
        """Return the most batch steps of each cooking, shape (N,)."""
        most: Floats = np.floor(self._most / self.step + 1e-9)
        return most

    def broken(self, eaten: Floats) -> bool:
        """Tell whether servings eaten, shape (N,), break a limit of a cook day."""
        return bool(self._penalties(self.steps(eaten)[None, :])[0] > 1e-9)

    def beyond(self, eaten: Floats) -> NDArray[np.bool_]:
        """Tell which cookings need more batches than a cook day may have; shape (N,)."""
        found: NDArray[np.bool_] = self.steps(eaten) * self.step > self._most + 1e-9
        return found

    def _penalties(self, steps: Floats) -> Floats:
        batches = steps * self.step
        started = steps > 0
        found: Floats = _BATCH_PENALTY * np.maximum(0.0, batches - self._most).sum(axis=1)
        for rule, (once, each, more) in zip(self.problem.minute_rules, self._minutes, strict=True):
            rows = self._of_day[rule.cook]
            minutes = started[:, rows] @ once + batches[:, rows] @ each
            minutes += np.maximum(0.0, batches[:, rows] - 1.0) @ more
            found += _MINUTE_PENALTY * np.maximum(0.0, minutes - rule.high)
        for cook, rows in zip(self.problem.cook_days, self._of_day, strict=True):
            if cook.most_recipes is not None:
                # Versions count as recipes of their own here, which errs on the safe side.
                count = started[:, rows].sum(axis=1)
                found += _RECIPE_PENALTY * np.maximum(0, count - cook.most_recipes)
        return found

    def marginal(self, eaten: Floats, sizes: Floats, hope: float = 0.0) -> Floats:
        """Return the cost of serving one more portion of each cooking by itself.

        Args:
            eaten: servings eaten now, shape (N,).
            sizes: portion sizes in servings, shape (S,).
            hope: share of what a new step costs beyond this portion that is left to servings
                still to come, from 0 to 1.

        Returns:
            Money, and penalties for batches beyond the most of a cook day, shape (N, S). Minutes
            are left out: they depend on all that is cooked that day.
        """
        steps = np.maximum(self.steps(eaten), self.cooked)
        grams = self._grams_of(steps)
        now = self.food_cost(grams)
        more = self.steps((eaten[:, None] + sizes[None, :]).T).T
        more = np.maximum(more, self.cooked[:, None])
        added = more - steps[:, None]
        result: Floats = self.waste[:, None] * (added * self.per_step[:, None] - sizes[None, :])
        for jump in range(1, int(added.max()) + 1 if added.size else 1):
            rows = np.flatnonzero((added == jump).any(axis=1))
            if len(rows) == 0:
                continue
            full = np.zeros(len(steps))
            full[rows] = self._step_cost(grams, now, rows, jump)
            result += np.where(added == jump, full[:, None], 0.0)
        if self._works:
            result += self.work(more.T).T - self.work(steps)[:, None]
        if hope > 0:
            made = np.where(added > 0, added * self.per_step[:, None], sizes[None, :])
            share = np.minimum(1.0, sizes[None, :] / made)
            bare = result - self.waste[:, None] * (added * self.per_step[:, None] - sizes[None, :])
            result = np.where(added > 0, (1.0 - hope) * result + hope * share * bare, result)
        most = np.maximum(self._most, steps * self.step)
        result += _BATCH_PENALTY * np.maximum(0.0, more * self.step[:, None] - most[:, None])
        return result
