"""Shadow prices: the duals of the LP at a plan, its dishes kept and its amounts free.

The yes-or-no choices of the plan (what is cooked, who eats what, which shop is visited) are fixed;
portions, batches and packs may be of any size. Near the plan, and only there, a dual tells what
one unit of a limit is worth.

Method: the LP that remains when the yes-or-no choices of a MIP are fixed, and its dual values.
Source: common practice for mixed-integer programs, no source.
"""

from __future__ import annotations

import numpy as np

from planopt.problem.build import Problem
from planopt.problem.decisions import Decisions
from planopt.problem.limits import LimitKey
from planopt.solve.highs.daymodel import build_plain
from planopt.solve.highs.solver import solve_matrix
from planopt.solve.settings import SolveSettings


def limit_duals(
    problem: Problem, decisions: Decisions, settings: SolveSettings
) -> dict[LimitKey, float]:
    """Return money for one more unit of each limit's value, 0 for what does not bind.

    Least amounts have duals of 0 or more, most amounts of 0 or less, in units of the currency for
    each unit of the limit; empty where the LP gave no duals.
    """
    model = build_plain(problem, strengthen=False)
    matrix = model.matrix
    place = {name: i for i, name in enumerate(matrix.names)}
    fixed: dict[str, bool] = {}
    for (i, j), pick in model.menus.pick.items():
        fixed[pick.name] = decisions.servings.get((i, j), 0.0) > 0
    for n, started in enumerate(model.kitchen.started):
        fixed[started.name] = decisions.batches.get(n, 0.0) > 0
    bought = set()
    for s, o in decisions.packs:
        supply = problem.supplies[s]
        bought.add((problem.offers[supply.food_id][o].seller_id, supply.shop_day))
    for (seller, day), visit in model.kitchen.visits.items():
        fixed[visit.name] = (seller, day) in bought
    lower, upper = matrix.lower.copy(), matrix.upper.copy()
    for name, on in fixed.items():
        lower[place[name]] = upper[place[name]] = float(on)
    relaxed = matrix.relaxed()
    relaxed.lower[:], relaxed.upper[:] = lower, upper
    outcome = solve_matrix(relaxed, settings)
    duals = outcome.row_duals
    if duals is None:
        return {}
    return {key: float(np.sum(duals[rows])) for key, rows in model.kitchen.limit_rows.items()}
