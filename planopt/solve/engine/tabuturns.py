"""Turns of the search over what is cooked: good sets of batches are made into weeks of days."""

from __future__ import annotations

import numpy as np
from numpy.typing import NDArray

from planopt.solve.engine.neighbourhoods import Neighbourhood, search_round
from planopt.solve.engine.state import SearchState
from planopt.solve.engine.walks import MOST_MOVES, realize
from planopt.solve.heuristics.tabu import BatchWalk
from planopt.solve.settings import SolveSettings

_SLICE_SECONDS, _SLICE_MOVES, _SLICES = 0.5, 60, 4
_WEEK_SECONDS, _WEEK_MOVES = 0.8, 100
_FAR_BELOW, _ROUND_SECONDS, _LEAST_ROUND_SECONDS = 0.97, 3.0, 1.0


def by_batches(state: SearchState, settings: SolveSettings, seconds: float) -> None:
    """Search over what is cooked, and split the best sets of cookings that turn up into days."""
    clocked = settings.work_limit is None
    began = state.clock.seconds()
    if state.batches is None:
        state.batches = BatchWalk(state.problem, settings)
    assert state.best is not None
    walk = state.batches
    walk.begin(state.best.batches)

    def left() -> float:
        return seconds - (state.clock.seconds() - began)

    for _ in range(MOST_MOVES if clocked else _SLICES):
        stop = state.clock.seconds() + min(_SLICE_SECONDS, left())

        def over(stop: float = stop) -> bool:
            state.tell("improving")
            return state.over() or (clocked and state.clock.seconds() > stop)

        walk.walk(over, MOST_MOVES if clocked else _SLICE_MOVES)
        keep = walk.promising(state.objective)
        if keep is not None and not state.over():
            week_seconds = min(_WEEK_SECONDS, left()) if clocked else _WEEK_SECONDS
            _week_from_batches(state, settings, walk.found[keep][1], week_seconds)
            seconds_left = min(_ROUND_SECONDS, left()) if clocked else _ROUND_SECONDS
            if (
                len(state.problem.clients) > 1
                and seconds_left > _LEAST_ROUND_SECONDS
                and walk.found[keep][0] < _FAR_BELOW * state.objective
            ):
                search_round(state, settings, Neighbourhood(keep, anew=True), seconds_left)
            walk.tried(keep)
        if state.over() or (clocked and left() <= 0):
            return


def _week_from_batches(
    state: SearchState, settings: SolveSettings, steps: NDArray[np.int64], seconds: float
) -> None:
    """Put a week together from these batches, and improve it for a moment."""
    local = state.local
    assert local is not None
    clocked = settings.work_limit is None
    began = state.clock.seconds()
    if not local.start_from(steps):
        return

    def over() -> bool:
        state.tell("improving")
        return state.over() or (clocked and state.clock.seconds() > began + seconds)

    def spent() -> float:
        return (state.clock.seconds() - began) / max(seconds, 1e-9)

    if clocked:
        local.improve(over, MOST_MOVES, spent)
    else:
        local.improve(over, _WEEK_MOVES)
    if local.cost() < state.objective:
        realize(state)
