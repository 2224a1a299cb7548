"""The day-by-day model handed whole to HiGHS: any scenario, and the yardstick for faster ways."""

from __future__ import annotations

from dataclasses import dataclass
from time import perf_counter

import numpy as np

from planopt.model.kitchen import KitchenModel, new_kitchen
from planopt.model.menus import Menus, add_menus
from planopt.model.strengthen import Strengthening
from planopt.problem.build import Problem
from planopt.problem.decisions import Decisions
from planopt.solve.highs.matrix import Floats, Matrix, to_matrix
from planopt.solve.highs.reading import kitchen_decisions
from planopt.solve.highs.solver import Watcher, solve_matrix
from planopt.solve.result import SearchResult
from planopt.solve.settings import SolveSettings


@dataclass(frozen=True)
class PlainModel:
    """A built day-by-day model with its arrays."""

    kitchen: KitchenModel
    menus: Menus
    matrix: Matrix
    build_seconds: float

    def decisions(self, values: Floats) -> Decisions:
        """Read decisions from a point of the arrays."""
        column = {name: i for i, name in enumerate(self.matrix.names)}
        servings = {}
        problem = self.kitchen.problem
        for (i, j), portion in self.menus.portion.items():
            _, step = self.menus.servings(i, j)
            amount = float(values[column[portion.name]])
            amount = (round(amount) if portion.cat == "Integer" else amount) * step
            pick = self.menus.pick.get((i, j))
            # A solver's tolerance is no portion, and takes nothing off one.
            if amount > 1e-9 and (pick is None or values[column[pick.name]] > 0.5):
                smallest = problem.clients[problem.slots[i].client].portions.smallest
                servings[i, j] = max(amount, smallest)
        return kitchen_decisions(self.kitchen, column, values, servings)

    def point(self, start: Decisions, *, whole: bool = False) -> Floats:
        """Return the menus of a week as a point to begin from, NaN for all that it leaves open.

        With `whole`, the week is a plan of this very problem: its batches and packs count too.
        """
        known = {i for i, _ in start.servings}
        values = dict.fromkeys(self.matrix.names, np.nan)
        for (i, j), portion in self.menus.portion.items():
            if i in known:
                amount = start.servings.get((i, j), 0.0)
                values[portion.name] = amount / self.menus.servings(i, j)[1]
                if (i, j) in self.menus.pick:
                    values[self.menus.pick[i, j].name] = float(amount > 0)
        if whole:
            kitchen = self.kitchen
            for n, unit in enumerate(kitchen.units):
                step = kitchen.problem.dishes[kitchen.problem.cookings[n].dish].batch_step
                batches = start.batches.get(n, 0.0)
                values[unit.name] = batches if step is None else round(batches / step)
                values[kitchen.started[n].name] = float(batches > 0)
            for key, pack in kitchen.packs.items():
                values[pack.name] = start.packs.get(key, 0.0)
        return np.array(list(values.values()))


def build_plain(problem: Problem, *, strengthen: bool = True) -> PlainModel:
    """Write the day-by-day model and turn it into arrays."""
    began = perf_counter()
    kitchen = new_kitchen(problem)
    if strengthen:
        Strengthening(kitchen).add()
    menus = add_menus(kitchen)
    matrix = to_matrix(kitchen.lp)
    return PlainModel(kitchen, menus, matrix, perf_counter() - began)


def search_plain(
    problem: Problem,
    settings: SolveSettings,
    watch: Watcher | None = None,
    start: Decisions | None = None,
    *,
    model: PlainModel | None = None,
    whole: bool = False,
) -> SearchResult:
    """Solve the day-by-day model whole, from the menus of `start` if given.

    `model` is the problem's, if it is built already; `whole` tells that `start` is a plan of it.

    Raises:
        BadOption: from the settings.
    """
    model = build_plain(problem) if model is None else model
    begin = None
    if start is not None and model.matrix.integer.any():
        begin = model.point(start, whole=whole)
    outcome = solve_matrix(model.matrix, settings, start=begin, watch=watch)
    decisions = None if outcome.values is None else model.decisions(outcome.values)
    return SearchResult(
        status=outcome.ending,
        solver_status=outcome.status,
        decisions=decisions,
        bound=outcome.bound,
        composition="HiGHS branch and bound on the day-by-day model",
        infeasible=outcome.infeasible,
        seconds=outcome.seconds,
        build_seconds=model.build_seconds,
    )
