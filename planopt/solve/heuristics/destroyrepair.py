"""Local search over whole days: take some days' menus out, put the cheapest back.

A day is re-planned at the marginal cost of each portion, given everything else that is cooked, so
it eats up what a batch or a pack has left over. Plans found here still go through the kitchen's
own model for exact packs, and through the audit.

Method: large neighbourhood search with destroy and repair; a slightly dearer week is accepted by
a random threshold that falls to zero (threshold accepting).
Source: Shaw, Using constraint programming and local search methods to solve vehicle routing
problems, CP98 (1998); Dueck and Scheuer, Threshold accepting, Journal of Computational Physics 90
(1990). Both from memory.
"""

from __future__ import annotations

import random
from collections import Counter
from collections.abc import Callable
from math import inf

import numpy as np
from numpy.typing import NDArray

from planopt.model.daymenus import DayMenu, MenuTable
from planopt.problem.build import Problem
from planopt.solve.heuristics.ledger import Ledger
from planopt.solve.heuristics.rules import WeekRules

Floats = NDArray[np.float64]
Day = tuple[int, int]

_Kept = tuple[dict[Day, DayMenu], Floats, list[Floats], Counter[int]]

_AVOID = 200.0
_TRIED = 12
_HEAT = 0.04
_TINY = 1e-7
_MENDING = 50.0
_PROMISING, _BY_CHANCE = 4, 1
_HOPES = (0.0, 0.0, 0.5, 1.0)


class LocalSearch:
    """The current week as a menu for each (group, day position), and its account."""

    def __init__(self, problem: Problem, tables: list[MenuTable], seed: int) -> None:
        self.problem = problem
        self.tables = tables
        self.ledger = Ledger(problem)
        self.chance = random.Random(seed)
        self.noise = np.random.default_rng(seed)
        self.days: list[Day] = [
            (g, d) for g, group in enumerate(problem.groups) for d in range(len(group.days))
        ]
        self.menus: dict[Day, DayMenu] = {}
        self.eaten = np.zeros(len(problem.cookings))
        self.rules = [WeekRules(problem, c) for c in range(len(problem.clients))]
        self._sums = [np.zeros(rules.per_meal.shape[1]) for rules in self.rules]
        self._days_of = Counter(self._client(g) for g, _ in self.days)
        self._open = Counter(self._days_of)
        place = {cooking: n for n, cooking in enumerate(problem.cookings)}
        self._options = [
            [
                np.array([place[o] for o in problem.slots[slot].options], np.int64)
                for slot in group.slots[0]
            ]
            for group in problem.groups
        ]
        self._using: dict[str, frozenset[int]] = {}
        for n, cooking in enumerate(problem.cookings):
            for food_id in problem.dishes[cooking.dish].grams:
                self._using[food_id] = self._using.get(food_id, frozenset()) | {n}

    def _client(self, group: int) -> int:
        return self.problem.groups[group].client

    def _items(self, menu: DayMenu) -> list[tuple[int, float]]:
        """Return (cooking, servings) of a menu."""
        places = self._options[menu.group]
        return [(int(places[m][j]), servings) for m, (j, servings) in enumerate(menu.choice)]

    def _vector(self, menu: DayMenu) -> Floats:
        found = np.zeros(len(self.eaten))
        for n, servings in self._items(menu):
            found[n] += servings
        return found

    def _put(self, day: Day, menu: DayMenu) -> None:
        c = self._client(day[0])
        self.menus[day] = menu
        self.eaten = self.eaten + self._vector(menu)
        self._sums[c] = self._sums[c] + self.rules[c].vector(self._items(menu))
        self._open[c] -= 1

    def _take(self, day: Day) -> DayMenu:
        c = self._client(day[0])
        menu = self.menus.pop(day)
        self.eaten = np.maximum(0.0, self.eaten - self._vector(menu))
        self._sums[c] = self._sums[c] - self.rules[c].vector(self._items(menu))
        self._open[c] += 1
        return menu

    def _share(self, client: int, more: int = 0) -> float:
        """Return the share of a client's days that is planned, `more` days counted as well."""
        days = self._days_of[client]
        return (days - self._open[client] + more) / max(1, days)

    def rule_penalty(self, client: int) -> float:
        """Return penalties for the whole-plan rules of one client."""
        state = self._sums[client][None, :]
        return float(self.rules[client].penalty(state, self._share(client))[0])

    def cost(self) -> float:
        """Return money and penalties of the current week."""
        rules = sum(self.rule_penalty(c) for c in self._days_of)
        return float(self.ledger.total(self.eaten[None, :])[0]) + rules

    def sound(self) -> bool:
        """Tell whether the account finds no rule broken in the current week."""
        return self.within_rules() and not self.ledger.broken(self.eaten)

    def within_rules(self) -> bool:
        """Tell whether the current week keeps its clients' rules; the kitchen is not looked at."""
        return all(self.rule_penalty(c) <= _TINY for c in self._days_of)

    def insert(self, day: Day, avoid: frozenset[int], hope: float = 0.0) -> bool:
        """Plan one open day at marginal cost; False when no menu exists.

        With `hope` above 0, a dish that is not cooked yet is priced as if later servings paid
        part of its batch and packs.
        """
        g, _ = day
        table = self.tables[g]
        client = self._client(g)
        rules = self.rules[client]
        marginal = self.ledger.marginal(self.eaten, table.sizes, hope)
        started = self.ledger.steps(self.eaten) > 0
        marginal = marginal + rules.prices(self._sums[client], self._open[client])[:, None]
        pull = rules.pull(self._sums[client], self._open[client], self._days_of[client])
        marginal = marginal + pull[:, None] * table.sizes[None, :]
        if avoid:
            marginal[list(avoid)] += _AVOID
        noise = self.noise.uniform(0.93, 1.07, len(marginal))
        marginal = marginal * noise[:, None] + np.where(started, 0.0, 0.05)[:, None]
        prices = [marginal[options] for options in self._options[g]]
        found = table.cheapest_by_size(prices, _TRIED, inf, self._promising(table, prices))
        if not found:
            found = table.cheapest_by_size(prices, _TRIED, inf)
        if not found:
            return False
        if hope > 0:
            self._put(day, found[0][1])
            return True
        menus = [menu for _, menu in found]
        eaten = np.array([self.eaten + self._vector(menu) for menu in menus])
        states = np.array([self._sums[client] + rules.vector(self._items(m)) for m in menus])
        cost = self.ledger.total(eaten) + rules.penalty(states, self._share(client, 1))
        if avoid:
            cost += _AVOID * np.array(
                [sum(n in avoid for n, _ in self._items(menu)) for menu in menus]
            )
        self._put(day, menus[int(cost.argmin())])
        return True

    def _promising(self, table: MenuTable, prices: list[Floats]) -> list[NDArray[np.bool_]]:
        """Return, for each meal, its dishes with the least price a serving, and some by chance."""
        among = []
        for meal, price in zip(table.meals, prices, strict=True):
            least = (price / table.sizes[None, :]).min(axis=1)
            starts = np.array([options[0] for options in meal.options], np.int64)
            best = np.minimum.reduceat(least, starts)
            keep = np.zeros(len(best), bool)
            keep[np.argsort(best, kind="stable")[:_PROMISING]] = True
            for _ in range(_BY_CHANCE):
                keep[self.chance.randrange(len(best))] = True
            among.append(keep)
        return among

    def clear(self) -> None:
        """Open every day."""
        for day in list(self.menus):
            self._take(day)
        self.eaten = np.zeros(len(self.eaten))
        self._sums = [np.zeros(len(state)) for state in self._sums]

    def start(
        self,
        avoid: frozenset[int] = frozenset(),
        hope: float = 0.0,
        over: Callable[[], bool] | None = None,
    ) -> bool:
        """Plan every open day, in a random order; False without a menu for one, or when `over`."""
        open_days = [day for day in self.days if day not in self.menus]
        self.chance.shuffle(open_days)
        return all(
            (over is None or not over()) and self.insert(day, avoid, hope) for day in open_days
        )

    def start_from(self, steps: NDArray[np.int64]) -> bool:
        """Plan all days anew from batches that are cooked already; False when some day has no menu.

        Other cookings are avoided; `steps` is by cooking, shape (N,).
        """
        self.clear()
        self.ledger.cooked = steps.astype(float)
        try:
            return self.start(frozenset(int(n) for n in np.flatnonzero(steps == 0)))
        finally:
            self.ledger.cooked = np.zeros(len(steps))

    def load(self, menus: dict[Day, DayMenu]) -> None:
        """Take over a whole week."""
        self.clear()
        for day, menu in menus.items():
            self._put(day, menu)

    def improve(
        self, over: Callable[[], bool], moves: int, spent: Callable[[], float] | None = None
    ) -> float:
        """Take days out and put them back, keeping the best week; return its cost.

        A slightly dearer week is accepted now and then, less and less, to leave a poor place.
        `spent` tells the part of the time that is over, from 0 to 1; by default moves count.
        """
        current = best = self.cost()
        best_menus, sound = dict(self.menus), self.sound()
        for move in range(moves):
            if over():
                break
            kept = self._keep()
            avoid = self._ruin()
            if not self.start(avoid, self.chance.choice(_HOPES)):
                self._restore(kept)
                continue
            cost = self.cost()
            done = move / moves if spent is None else min(1.0, spent())
            heat = _HEAT * best * (1.0 - done)
            if cost < current + heat * self.chance.random() ** 2:
                current = cost
                # A week that the kitchen cannot carry out is kept only for want of another.
                if cost < best - 1e-9 or not sound:
                    able = self.sound()
                    if (able and not sound) or (able == sound and cost < best - 1e-9):
                        best, best_menus, sound = cost, dict(self.menus), able
            else:
                self._restore(kept)
        self.load(best_menus)
        return best

    def _keep(self) -> _Kept:
        return dict(self.menus), self.eaten, list(self._sums), Counter(self._open)

    def _restore(self, kept: _Kept) -> None:
        self.menus, self.eaten, self._sums, self._open = kept

    def _ruin(self) -> frozenset[int]:
        """Open some days; return cookings to avoid when planning them again."""
        kind = self.chance.random()
        if kind < 0.75:
            avoid = self._something_cooked(kind)
            opened = [
                day
                for day, menu in self.menus.items()
                if any(n in avoid for n, _ in self._items(menu))
            ]
            if len(opened) <= max(6, len(self.days) // 2):
                for day in opened:
                    self._take(day)
                return avoid
        if kind < 0.9:
            count = min(len(self.days), self.chance.choice((1, 2, 2, 3, 4)))
            for day in self.chance.sample(self.days, count):
                self._take(day)
            return frozenset()
        client = self.chance.randrange(len(self.problem.clients))
        mine = [day for day in self.days if self._client(day[0]) == client]
        for day in self.chance.sample(mine, min(len(mine), self.chance.choice((2, 3, 4)))):
            self._take(day)
        return frozenset()

    def _something_cooked(self, kind: float) -> frozenset[int]:
        """Return one cooking now in use, or all of its recipe, or all that share a food of it."""
        used = np.flatnonzero(self.eaten > 1e-9)
        weights = np.where(self.ledger.beyond(self.eaten), _MENDING, 1.0)[used] / self.eaten[used]
        n = int(self.chance.choices(list(used), list(weights))[0])
        cookings = self.problem.cookings
        dish = self.problem.dishes[cookings[n].dish]
        # Of portions that are ready no food is cooked.
        if kind < 0.15 or (kind >= 0.35 and not dish.grams):
            return frozenset([n])
        if kind < 0.35:
            return frozenset(
                x
                for x, cooking in enumerate(cookings)
                if self.problem.dishes[cooking.dish].recipe_id == dish.recipe_id
            )
        return self._using[self.chance.choice(sorted(dish.grams))]

    def servings(self) -> dict[tuple[int, int], float]:
        """Return the week as servings by (slot, option position)."""
        found = {}
        for (g, d), menu in self.menus.items():
            for slot, (j, amount) in zip(self.problem.groups[g].slots[d], menu.choice, strict=True):
                found[slot, j] = amount
        return found

    def load_servings(self, servings: dict[tuple[int, int], float]) -> None:
        """Take over a whole week given as servings by (slot, option position)."""
        chosen = {slot: (j, amount) for (slot, j), amount in servings.items()}
        self.load(
            {
                (g, d): DayMenu(g, tuple(chosen[slot] for slot in group.slots[d]))
                for g, group in enumerate(self.problem.groups)
                for d in range(len(group.days))
            }
        )
