"""Search over what is cooked: batches move one or two at a time, and days come later.

What a week costs depends on its batches alone, and a small LP tells whether they feed it, so
thousands of kitchens are priced a second. The result is sets of cookings from which a cheap week
may be put together. Each set is then split into days, or barred if it cannot be.

Method: tabu search. Of all single steps, swaps and shifts it takes the cheapest that feeds the
week and undoes no recent change, even if that is dearer than where the search stands.
Source: Glover, Tabu search, part I, ORSA Journal on Computing 1 (1989). From memory.
"""

from __future__ import annotations

from math import inf

import numpy as np
from numpy.typing import NDArray

from planopt.model.daymenus import portion_sizes
from planopt.model.totals import repeats_of
from planopt.problem.build import Problem
from planopt.solve.budget import BudgetPart
from planopt.solve.heuristics.eating import Eating
from planopt.solve.heuristics.ledger import Ledger
from planopt.solve.settings import SolveSettings

Floats = NDArray[np.float64]
Ints = NDArray[np.int64]
Support = frozenset[int]

_MOST_PRICED = 900
_MOST_ASKED = 12
_FAR_ABOVE = 1.25
_NOISE = 0.01
_REST = (3, 9)
_LONG_REST = 8
_STALE = 150
_ELITE = 10
_UNLIKE = 3
_TINY = 1e-9


class BatchWalk:
    """Where the walk stands, as batch steps by cooking, and the least cost met of each set."""

    def __init__(self, problem: Problem, settings: SolveSettings) -> None:
        """Prepare a walk; `begin` gives it a place to start from.

        Raises:
            BadOption: from the settings.
        """
        self.problem = problem
        self.ledger = Ledger(problem)
        self.eating = Eating(problem, settings)
        self.chance = np.random.default_rng(settings.seed)
        self.steps = np.zeros(len(problem.cookings), np.int64)
        self.found: dict[Support, tuple[float, Ints]] = {}
        self._tried: set[Support] = set()
        self._most = self.ledger.most_steps().astype(np.int64)
        self._rest = np.zeros(len(problem.cookings), np.int64)
        self._moves = self._improved_at = 0
        self._best = inf
        self._needs()

    def _needs(self) -> None:
        """Lay out the least of each nutrient that a week needs, and the most use of each dish."""
        problem = self.problem
        dishes = [problem.dishes[cooking.dish] for cooking in problem.cookings]
        place = {cooking: n for n, cooking in enumerate(problem.cookings)}
        self._useful = np.zeros(len(dishes))
        for c in range(len(problem.clients)):
            days: list[set[int]] = [set() for _ in dishes]
            for i in problem.slots_of_client[c]:
                for option in problem.slots[i].options:
                    days[place[option]].add(problem.slots[i].day)
            largest = portion_sizes(problem, c)[-1]
            most = repeats_of(problem, c)
            self._useful += np.array([min(most, len(reached)) * largest for reached in days])
        least: dict[str, float] = {}
        top: dict[str, float] = {}
        for group in problem.groups:
            for nutrient_id, (low, high) in group.windows.items():
                least[nutrient_id] = least.get(nutrient_id, 0.0) + low * len(group.days)
                top[nutrient_id] = top.get(nutrient_id, 0.0) + high * len(group.days)
        self._least = [
            (np.array([dish.nutrients[nutrient_id] for dish in dishes]), low)
            for nutrient_id, low in least.items()
            if low > 0
        ]
        energy = np.array([dish.nutrients.get("energy_kcal", 0.0) for dish in dishes])
        self._energy = energy
        self._most_energy = top.get("energy_kcal", inf)
        known = energy > 0
        self._waste_per_kcal = float((self.ledger.waste[known] / energy[known]).mean()) if (
            known.any()
        ) else 0.0  # fmt: skip

    def begin(self, batches: dict[int, float]) -> None:
        """Start from batches by cooking."""
        self.steps = np.zeros(len(self.steps), np.int64)
        for n, count in batches.items():
            self.steps[n] = min(self._most[n], round(count / self.ledger.step[n]))
        waste = self.eating.waste(self.steps)
        if waste is not None:
            self._note(self._cost(self.steps) + waste, self.steps)

    def _cost(self, steps: Ints) -> float:
        wanted = steps.astype(float)
        return float(self.ledger.kitchen_cost(wanted[None, :], wanted)[0])

    def _note(self, cost: float, steps: Ints) -> None:
        support = frozenset(int(n) for n in np.flatnonzero(steps))
        if cost < self.found.get(support, (inf,))[0] - _TINY:
            self.found[support] = (cost, steps.copy())
        if cost < self._best - _TINY and support not in self._tried:
            self._best, self._improved_at = cost, self._moves

    def walk(self, budget: BudgetPart) -> None:
        """Move as often as the budget has turns."""
        for _ in budget.turns():
            self._moves += 1
            if not self._move() or self._moves - self._improved_at > _STALE:
                self._restart()

    def promising(self, below: float) -> Support | None:
        """Return the cheapest set met that costs less than `below` and is unlike those tried."""
        found = [
            (cost, sorted(support), support)
            for support, (cost, _) in self.found.items()
            if cost < below and all(len(support ^ tried) >= _UNLIKE for tried in self._tried)
        ]
        return min(found)[2] if found else None

    def tried(self, support: Support) -> None:
        """Take note that a week was put together from a set."""
        self._tried.add(support)
        costs = (cost for other, (cost, _) in self.found.items() if other not in self._tried)
        self._best = min(costs, default=inf)

    def _restart(self) -> None:
        """Go on from one of the best places met, with many dishes barred for a while."""
        self._improved_at = self._moves
        places = sorted(
            ((cost, sorted(support), steps) for support, (cost, steps) in self.found.items()),
            key=lambda place: place[:2],
        )
        if places:
            self.steps = places[int(self.chance.integers(min(_ELITE, len(places))))][2].copy()
        resting = self.chance.random(len(self._rest)) < 0.3
        self._rest = np.where(resting, self._moves + _LONG_REST, 0)

    def _changes(self) -> Ints:
        """Return moves as rows (cooking, its steps, other cooking, its steps), a sample of many."""
        steps, most = self.steps, self._most
        on, off = np.flatnonzero(steps), np.flatnonzero(steps == 0)
        every = np.arange(len(steps))
        parts = []
        for change in (-1, 1):
            new = steps + change
            able = every[(new >= 0) & (new <= most)]
            parts.append(np.stack([able, new[able], able, new[able]], axis=1))
        several = on[steps[on] > 1]
        none = np.zeros(len(several), np.int64)
        parts.append(np.stack([several, none, several, none], axis=1))
        for a in on:
            served = steps[a] * self.ledger.per_step[a] / self.ledger.per_step[off]
            gone = np.zeros(len(off), np.int64)
            lows = np.maximum(1, np.floor(served)).astype(np.int64)
            highs = np.ceil(served - 1e-9).astype(np.int64)
            for wanted in (lows, np.maximum(1, highs)):
                parts.append(np.stack([gone + a, gone, off, np.minimum(most[off], wanted)], axis=1))
            others = on[(on != a) & (steps[on] < most[on])]
            less = np.full(len(others), steps[a] - 1)
            parts.append(
                np.stack([np.full(len(others), a), less, others, steps[others] + 1], axis=1)
            )
        moves = np.concatenate(parts)
        if len(moves) > _MOST_PRICED:
            chosen = self.chance.choice(len(moves), _MOST_PRICED, replace=False)
            moves = moves[np.sort(chosen)]
        return moves

    def _move(self) -> bool:
        """Take the cheapest move that feeds the week; False when none of the cheapest does."""
        moves = self._changes()
        rows = np.arange(len(moves))
        places = np.repeat(self.steps[None, :], len(moves), axis=0).astype(float)
        places[rows, moves[:, 0]] = moves[:, 1]
        places[rows, moves[:, 2]] = moves[:, 3]
        money = self.ledger.kitchen_cost(places, self.steps.astype(float))
        servings = places * self.ledger.per_step
        useful = np.minimum(servings, self._useful)
        able = np.ones(len(moves), bool)
        for amounts, least in self._least:
            able &= useful @ amounts >= least - 1e-6
        surplus = self._waste_per_kcal * np.maximum(
            0.0, servings @ self._energy - self._most_energy
        )
        guess = (money + surplus) * (1.0 + _NOISE * self.chance.random(len(moves)))
        resting = (self._rest[moves[:, [0, 2]]] > self._moves).any(axis=1)
        able &= ~resting | (guess < self._best)
        able &= money <= _FAR_ABOVE * max(self._best, money.min())
        for row in np.argsort(np.where(able, guess, inf), kind="stable")[:_MOST_ASKED]:
            if not able[row]:
                return False
            steps = places[row].astype(np.int64)
            waste = self.eating.waste(steps)
            if waste is None:
                continue
            cost = float(money[row]) + waste
            self.steps = steps
            self._rest[moves[row, [0, 2]]] = self._moves + int(self.chance.integers(*_REST))
            self._note(cost, steps)
            return True
        return False
