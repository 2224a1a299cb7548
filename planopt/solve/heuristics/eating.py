"""Can given batches feed the week, in sum over its days? A small LP, solved again and again.

Method: an aggregated LP relaxation with the batches fixed, warm-started each time.
Source: the weekly relaxation in planopt/model/ALGEBRA.md; no paper is followed.
"""

from __future__ import annotations

from math import inf

import numpy as np
from numpy.typing import NDArray

from planopt.model.eating import eating_part
from planopt.model.kitchen import serving_value
from planopt.problem.build import Problem
from planopt.solve.endings import solver_ending
from planopt.solve.highs.matrix import to_matrix
from planopt.solve.highs.solver import new_solver, set_options
from planopt.solve.settings import SolveSettings

Floats = NDArray[np.float64]
Ints = NDArray[np.int64]


class Eating:
    """The eating part of the weekly relaxation as an LP in which batches are given.

    Rules and windows are those of the weekly relaxation, so batches that it refuses feed no
    compliant week; those that it takes need not split into days.
    """

    def __init__(self, problem: Problem, settings: SolveSettings) -> None:
        """Write the LP.

        Raises:
            BadOption: from the settings.
        """
        kitchen = eating_part(problem)
        dishes = [problem.dishes[cooking.dish] for cooking in problem.cookings]
        weight = problem.waste_weight
        value = [weight * serving_value(problem, cooking.dish) for cooking in problem.cookings]
        matrix = to_matrix(kitchen.lp)
        place = {name: i for i, name in enumerate(matrix.names)}
        self._units = [place[variable.name] for variable in kitchen.units]
        self._started = [place[variable.name] for variable in kitchen.started]
        self._step_value = np.array(value) * np.array(
            [dish.yield_servings * (dish.batch_step or 1.0) for dish in dishes]
        )
        self._given = np.full(len(problem.cookings), -1, np.int64)
        self._solver = new_solver(settings)
        # HiGHS counts the time of all runs together.
        set_options(self._solver, {"time_limit": inf})
        self._solver.passModel(matrix.relaxed().as_highs())

    def waste(self, steps: Ints) -> float | None:
        """Return the least value of servings left over, or None when a week cannot be fed.

        Args:
            steps: batch steps by cooking, shape (N,).
        """
        columns: list[int] = []
        values: list[float] = []
        for n in np.flatnonzero(steps != self._given):
            columns += [self._units[n], self._started[n]]
            values += [float(steps[n]), float(steps[n] > 0)]
        if columns:
            bounds = np.array(values)
            self._solver.changeColsBounds(len(columns), np.array(columns, np.int32), bounds, bounds)
        self._given = steps.copy()
        self._solver.run()
        if solver_ending(self._solver) != "optimal":
            return None
        least = float(self._solver.getInfo().objective_function_value)
        return least + float(steps @ self._step_value)
