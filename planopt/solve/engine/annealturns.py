"""Turns of the search by compiled annealing: good weeks are made exact and offered as plans."""

from __future__ import annotations

from collections.abc import Callable

from planopt.problem.build import Problem
from planopt.problem.decisions import Decisions
from planopt.solve.annealing.compiled import way
from planopt.solve.annealing.memetic import Servings, WeekSearch
from planopt.solve.budget import Budget
from planopt.solve.engine.state import SearchState
from planopt.solve.heuristics.tidy import carried_out
from planopt.solve.parameters import PARAMETERS

_ANNEAL = PARAMETERS.anneal
_MANY_JOBS = 10**6


def annealed() -> str:
    """Return how weeks were found, in words for the plan."""
    return f"weeks by simulated annealing ({way()})"


def anneal_weeks(
    problem: Problem,
    search: WeekSearch,
    budget: Budget,
    horizon_s: float,
    offer: Callable[[Decisions], object],
) -> None:
    """Anneal weeks within a budget; the better ones go to `offer` with exact batches and packs.

    Anneals are as long as fits a search of `horizon_s` seconds, of which this may be a part.
    """

    def carry_out(servings: Servings) -> None:
        found = carried_out(problem, servings)
        if found is not None:
            offer(found)

    if budget.counted:
        search.improve(budget.over, carry_out, _ANNEAL.moves_by_work, _ANNEAL.jobs_by_work)
    else:
        search.improve(budget.over, carry_out, search.moves_for(horizon_s), _MANY_JOBS)


def anneal_turn(
    state: SearchState, seconds: float, start: Decisions | None = None, horizon_s: float = 0.0
) -> None:
    """Let the weeks of a search over day menus be annealed for a while, at first from `start`.

    However large the recipe book, they are weeks of all of it.
    """
    part = state.part(seconds)
    settings = state.settings
    if state.weeks is None:
        state.weeks = WeekSearch(state.whole, settings.seed, 1)
        for week in (start, state.plan()):
            if week is not None:
                state.weeks.add(week)
    # The second core is free until the bound is being proved, and once it is.
    proving = state.worker.process_id is not None and state.worker.ended is None
    state.weeks.use(1 if proving or part.counted else settings.threads)

    def offer(found: Decisions) -> None:
        state.offer_of_whole(found)
        state.tell("improving")

    anneal_weeks(state.whole, state.weeks, part, max(seconds, horizon_s), offer)
