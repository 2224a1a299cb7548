"""Weeks near an earlier plan: annealed from it, with a price on every plate that changes.

Each anneal begins with the earlier plan, a little hotter than the one before, so that the first
look stays close by and later ones may go further for a cheaper week.
"""

from __future__ import annotations

from collections.abc import Callable, Iterator
from concurrent.futures import ThreadPoolExecutor
from dataclasses import replace
from math import isfinite

import numpy as np

from planopt.problem.build import Problem, Slot
from planopt.problem.byhand import NOTHING_DONE
from planopt.problem.change import Before, ChangePrices
from planopt.solve.annealing.arrays import Floats, Ints, week_arrays
from planopt.solve.annealing.keeping import keeping_of
from planopt.solve.annealing.memetic import Servings, suits
from planopt.solve.annealing.tying import tied_up
from planopt.solve.annealing.week import Annealing, Schedule, servings_of

# Multiples of a typical price of a step; the last one is nearly that of a search from nothing.
_HEATS = (0.6, 1.2, 0.6, 2.5, 1.2, 3.5)
_COLD = 0.1
_CHUNK = 50_000


def suits_nearby(problem: Problem) -> bool:
    """Tell whether weeks of a problem can be annealed from a plan: of one dish a meal."""
    plain = replace(problem, done=NOTHING_DONE, slots=_unsettled(problem))
    return problem.most_dishes_per_meal == 1 and suits(plain)


def _unsettled(problem: Problem) -> tuple[Slot, ...]:
    return tuple(replace(slot, puts=()) for slot in problem.slots)


class Nearby:
    """Weeks near the servings of an earlier plan, `start`, annealed one after another."""

    def __init__(
        self,
        problem: Problem,
        before: Before,
        start: Servings,
        prices: ChangePrices,
        seed: int,
    ) -> None:
        self.problem = problem
        self.arrays = replace(week_arrays(problem), keeping=keeping_of(problem, before, prices))
        self.seed = seed
        menu = self.arrays.menu
        place = {cooking: n for n, cooking in enumerate(problem.cookings)}
        self._start: list[tuple[int, int, float]] = []
        for (i, j), amount in sorted(start.items()):
            n = place[problem.slots[i].options[j]]
            first, last = menu.size_span[menu.slot_kind[i], n]
            if last > first:
                tried = menu.sizes[first:last]
                self._start.append((i, n, float(tried[int(np.abs(tried - amount).argmin())])))

    def weeks(
        self, over: Callable[[], bool], moves: int, turns: int, threads: int
    ) -> Iterator[Servings]:
        """Yield the best week of each of `turns` anneals of so many moves, until `over`.

        Plates that the earlier plan does not serve begin with a dish by chance.
        """
        with ThreadPoolExecutor(threads) as pool:
            for first in range(0, turns, threads):
                together = range(first, min(turns, first + threads))
                found = list(pool.map(lambda turn: self._week(turn, over, moves), together))
                yield from (week for week in found if week is not None)
                if over():
                    return

    def _week(self, turn: int, over: Callable[[], bool], moves: int) -> Servings | None:
        annealing = Annealing(self.arrays, self.seed + turn, Schedule())
        annealing.random_week()
        dish, size = annealing.week()
        for i, n, amount in self._start:
            dish[i], size[i] = n, amount
        self._apart(dish, size, seed=self.seed + turn)
        annealing.load(*tied_up(self.arrays, dish, size))
        hot, done = _HEATS[turn % len(_HEATS)], 0
        while done < moves and not over():
            heats = (
                hot * (_COLD / hot) ** (min(moves, at) / moves) for at in (done, done + _CHUNK)
            )
            annealing.run(min(_CHUNK, moves - done), *heats)
            done += _CHUNK
        if not isfinite(annealing.best):
            return None
        return servings_of(self.problem, self.arrays, *annealing.best_week())

    def _apart(self, dish: Ints, size: Floats, seed: int) -> None:
        """Give plates another dish where their day has theirs already; moves would keep both.

        Plates with the least choice keep their dish, and of others those of the earlier plan.
        """
        menu, recipe = self.arrays.menu, self.arrays.larder.recipe
        rng = np.random.default_rng(seed)
        held = {i for i, _, _ in self._start}

        def choice(place: int) -> Ints:
            kind = menu.slot_kind[place]
            return menu.options[menu.option_start[kind] : menu.option_start[kind + 1]]

        for first, last in zip(menu.day_start[:-1], menu.day_start[1:], strict=True):
            taken: set[int] = set()
            places = [int(p) for p in menu.day_places[first:last] if dish[p] >= 0]
            for p in sorted(places, key=lambda p: (len(choice(p)), p not in held, p)):
                free = [n for n in choice(p) if recipe[n] not in taken]
                if recipe[dish[p]] in taken and free:
                    dish[p] = free[int(rng.integers(len(free)))]
                    size[p] = menu.sizes[menu.size_span[menu.slot_kind[p], dish[p]][0]]
                taken.add(int(recipe[dish[p]]))
