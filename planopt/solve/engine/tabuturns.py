"""Turns of the search over what is cooked: good sets of batches are made into weeks of days."""

from __future__ import annotations

import numpy as np
from numpy.typing import NDArray

from planopt.problem.decisions import Decisions
from planopt.solve.budget import BudgetPart
from planopt.solve.engine.neighbourhoods import Around, search_round
from planopt.solve.engine.state import SearchState
from planopt.solve.engine.walks import realize
from planopt.solve.heuristics.destroyrepair import LocalSearch
from planopt.solve.parameters import PARAMETERS

_BATCHES = PARAMETERS.batches


def by_batches(state: SearchState, local: LocalSearch, best: Decisions, seconds: float) -> None:
    """Search over what is cooked, from the best week on; make weeks of the best sets met."""
    budget = state.budget
    part = state.part(seconds, budget.by_work(_BATCHES.slices_by_work), "improving")
    walk = state.batch_walk()
    walk.begin(best.batches)
    for _ in part.turns():
        walk.walk(part.part(_BATCHES.slice_s, budget.by_work(_BATCHES.slice_moves)))
        keep = walk.promising(state.objective)
        if keep is not None and not state.over():
            cost, steps = walk.found[keep]
            moves = budget.by_work(_BATCHES.week_moves)
            _week_from_batches(state, local, steps, part.part(_BATCHES.week_s, moves))
            seconds_left = min(_BATCHES.round_s, part.left())
            if (
                len(state.problem.clients) > 1
                and seconds_left > _BATCHES.least_round_s
                and cost < _BATCHES.far_below * state.objective
            ):
                search_round(state, Around(keep, anew=True), seconds_left)
            walk.tried(keep)


def _week_from_batches(
    state: SearchState, local: LocalSearch, steps: NDArray[np.int64], part: BudgetPart
) -> None:
    """Put a week together from these batches, and improve it for a moment."""
    if not local.start_from(steps):
        return
    local.improve(part)
    if local.cost() < state.objective:
        realize(state, local)
