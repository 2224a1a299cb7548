"""Choose how to search a problem, and run it."""

from __future__ import annotations

from dataclasses import replace
from math import inf

from planopt.deadlines import OutOfTime, ending_at
from planopt.model.daymenus import one_dish_in_steps, supports_menus
from planopt.problem.build import Problem
from planopt.problem.decisions import Decisions
from planopt.solve.budget import Budget
from planopt.solve.engine.bydays import search_days
from planopt.solve.engine.bymenus import search_menus
from planopt.solve.engine.byoutline import Recut, search_choices
from planopt.solve.engine.narrow import narrowed
from planopt.solve.heuristics.tidy import tidied
from planopt.solve.highs.daymodel import search_plain
from planopt.solve.parameters import PARAMETERS
from planopt.solve.progress import ProgressCallback
from planopt.solve.result import SearchResult
from planopt.solve.settings import SolveSettings

_CHOOSING = PARAMETERS.choosing


def search(
    problem: Problem,
    settings: SolveSettings,
    progress: ProgressCallback | None = None,
    start: Decisions | None = None,
    recut: Recut | None = None,
    began: float | None = None,
) -> SearchResult:
    """Find the cheapest plan of a problem within the limits of `settings`.

    Problems with few options, those whose meals are not one dish in whole portion steps, and those
    that ask for an order of meals are searched day by day; the others over day menus, a very large
    recipe book narrowed first. `start` is a week in terms of this problem, of which some meals may
    be missing; its menus are where the search begins. Whatever finds the week, it is tidied, and
    the bound is never below nothing.
    `recut` makes the problem anew with versions that are wanted; see `byoutline.py`. Time counts
    from when the work `began`, a reading of `perf_counter`; whatever is being built is given up a
    moment after the limit.

    Raises:
        BadOption: a solver option is unknown or refused.
    """
    if any(not slot.options for slot in problem.bounding.slots):
        # A solver has nothing to say of a model without columns; that a meal lacks dishes is proof.
        return SearchResult(
            status="infeasible",
            solver_status="not asked: a meal has no dish",
            decisions=None,
            bound=-inf,
            composition="none",
            infeasible=True,
            seconds=0.0,
            build_seconds=0.0,
        )
    budget = Budget(settings, progress, began)
    with budget.hearing_interrupt():
        result = _in_time(problem, settings, budget, start, recut)
        return _plain_truth(result.problem or problem, result)


def _in_time(
    problem: Problem,
    settings: SolveSettings,
    budget: Budget,
    start: Decisions | None,
    recut: Recut | None,
) -> SearchResult:
    """Search, and give up what is being built a moment after the time limit."""
    try:
        with ending_at(budget.end() + _CHOOSING.grace_s):
            if problem.outline is None:
                return _search(problem, settings, budget, start)
            return search_choices(problem, settings, budget, start, _search, recut)
    except OutOfTime:
        return SearchResult(
            status="interrupted" if budget.interrupted else "time_limit",
            solver_status="not asked: writing the model took all the time",
            decisions=None,
            bound=0.0,
            composition="none",
            infeasible=False,
            seconds=budget.seconds(),
            build_seconds=budget.seconds(),
        )


def _search(
    problem: Problem, settings: SolveSettings, budget: Budget, start: Decisions | None
) -> SearchResult:
    if any(not slot.options for slot in problem.slots):
        # Of versions that are left out, one may serve this meal: nothing is proven.
        return SearchResult(
            status="time_limit",
            solver_status="not asked: a meal has no dish at hand",
            decisions=None,
            bound=0.0,
            composition="none",
            infeasible=False,
            seconds=budget.seconds(),
            build_seconds=0.0,
        )
    if problem.done:
        rest = budget.within(settings)
        return search_plain(problem, rest, lambda *_: budget.interrupted, start)
    few = sum(len(slot.options) for slot in problem.slots) <= _CHOOSING.few_options
    if not few and one_dish_in_steps(problem) and not problem.order:
        smaller = problem if supports_menus(problem) else narrowed(problem, start)
        if smaller is not None:
            return search_menus(problem, settings, budget, smaller, start)
    return search_days(problem, settings, budget, start, few=few)


def _plain_truth(problem: Problem, result: SearchResult) -> SearchResult:
    """Return the result with its week tidied, and no bound below the least anything can cost."""
    week = None if result.decisions is None else tidied(problem, result.decisions)
    # Prices, visits and waste are never negative; nor is what has no number a bound.
    bound = result.bound if result.bound > 0 else 0.0
    return replace(result, decisions=week, bound=bound)
