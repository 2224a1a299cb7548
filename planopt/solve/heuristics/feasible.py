"""Any week at all, for kitchens so tight that walks break their limits: HiGHS without a price.

What such a week buys is no guide to anything, so it counts only once it is tidied.

Method: the day-by-day model without an objective, up to its first point. Source: none is followed.
"""

from __future__ import annotations

from dataclasses import replace

import numpy as np

from planopt.problem.build import Problem
from planopt.problem.decisions import Decisions
from planopt.solve.budget import Budget
from planopt.solve.heuristics.tidy import tidied
from planopt.solve.highs.daymodel import build_plain
from planopt.solve.highs.solver import solve_matrix
from planopt.solve.settings import SolveSettings

_ONE_SOLUTION = {"mip_max_improving_sols": 1}


def any_week(
    problem: Problem, settings: SolveSettings, whole: Budget, share: float
) -> Decisions | None:
    """Return a week that complies, tidied, or None if none is found in a share of the time left.

    Raises:
        BadOption: from the settings.
    """
    model = build_plain(problem, strengthen=False)
    blank = replace(model.matrix, cost=np.zeros_like(model.matrix.cost))

    budget = whole.share(share)

    def watch(_: float, __: float | None, ___: float | None) -> bool:
        budget.tell("first plan", None, None)
        return budget.over()

    outcome = solve_matrix(blank, budget.within(settings), watch=watch, extra=_ONE_SOLUTION)
    return None if outcome.values is None else tidied(problem, model.decisions(outcome.values))
