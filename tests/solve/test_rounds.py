"""Rounds of the search: a solver that fails loses a round, never the plan at hand."""

from __future__ import annotations

import pytest

from model.small import EXACT, random_kitchen
from planopt.faults import SolverFailed
from planopt.solve.bounding.worker import BoundWorker
from planopt.solve.budget import Budget
from planopt.solve.engine import neighbourhoods as rounds
from planopt.solve.engine.neighbourhoods import Around, search_round
from planopt.solve.engine.state import SearchState
from planopt.solve.highs.daymodel import search_plain


class _Failing:
    def __init__(self, *_: object) -> None:
        raise SolverFailed("memory ran out")


def test_a_failed_round_keeps_the_plan(monkeypatch: pytest.MonkeyPatch) -> None:
    """With a plan at hand the failure ends the round alone; without one it is told."""
    problem = random_kitchen(4).problem
    state = SearchState(problem, EXACT, Budget(EXACT), BoundWorker(), problem)
    monkeypatch.setattr(rounds, "MenuMaster", _Failing)
    around = Around(frozenset(range(len(problem.cookings))))
    with pytest.raises(SolverFailed):
        search_round(state, around, 1.0)
    week = search_plain(problem, EXACT).decisions
    assert week is not None
    state.offer(week)
    best = state.best
    assert not search_round(state, around, 1.0)
    assert state.best is best is not None
