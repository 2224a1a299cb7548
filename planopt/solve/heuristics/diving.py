"""A dive in the weekly relaxation: which cookings a cheap week is likely to be made of.

Method: diving. Solve the LP, fix the most certain yes-or-no choices, solve again.
Source: a primal heuristic of branch-and-bound codes, as in Achterberg, Constraint Integer
Programming, doctoral thesis, TU Berlin (2007). From memory.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from planopt.solve.bounding.relaxations import WeeklyArrays
from planopt.solve.endings import solver_ending
from planopt.solve.highs.solver import new_solver
from planopt.solve.settings import SolveSettings

_SURE = 0.7


@dataclass(frozen=True)
class Dive:
    """Result of a dive: the LP objective, cookings switched on, all cookings best first."""

    infeasible: bool
    objective: float
    cookings: tuple[int, ...]
    ranking: tuple[int, ...]


def dive(arrays: WeeklyArrays, settings: SolveSettings, *, deep: bool = True) -> Dive:
    """Fix the most certain cookings one after the other, re-solving the LP each time.

    A choice that makes the LP infeasible is reversed; if that does not help, the dive ends.
    Unless it is `deep`, the LP is solved once, and nothing is fixed.
    """
    solver = new_solver(settings)
    solver.passModel(arrays.matrix.relaxed().as_highs())
    solver.run()
    ending = solver_ending(solver)
    if ending == "infeasible":
        return Dive(True, np.inf, (), ())
    if ending != "optimal":
        return Dive(False, -np.inf, (), tuple(range(len(arrays.started))))
    objective = float(solver.getInfo().objective_function_value)
    columns = np.array(arrays.started, np.int64)
    solution = solver.getSolution()
    value = np.array(solution.col_value)[columns]
    reduced = np.array(solution.col_dual)[columns]
    ranking = tuple(int(n) for n in np.lexsort((np.arange(len(columns)), reduced, -value)))
    on: set[int] = set()
    off: set[int] = set()
    while deep:
        value = np.array(solver.getSolution().col_value)[columns]
        open_ = [n for n in range(len(columns)) if n not in on and n not in off and value[n] > 1e-6]
        if not open_:
            break
        sure = [n for n in open_ if value[n] > _SURE]
        take = sure or [max(open_, key=lambda n: (value[n], -n))]
        for n in take:
            solver.changeColBounds(int(columns[n]), 1.0, 1.0)
        solver.run()
        if solver_ending(solver) == "optimal":
            on.update(take)
            continue
        for n in take:
            solver.changeColBounds(int(columns[n]), 0.0, 1.0)
        first = take[0]
        solver.changeColBounds(int(columns[first]), 0.0, 0.0)
        off.add(first)
        solver.run()
        if solver_ending(solver) != "optimal":
            break
    return Dive(False, objective, tuple(sorted(on)), ranking)
