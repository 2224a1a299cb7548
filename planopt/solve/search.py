"""Choose how to search a problem, and run it."""

from __future__ import annotations

from math import inf

from planopt.model.daymenus import one_dish_in_steps, supports_menus
from planopt.problem.build import Problem
from planopt.problem.decisions import Decisions
from planopt.solve.clock import Clock
from planopt.solve.menusearch import search_menus
from planopt.solve.narrow import narrowed
from planopt.solve.plain import search_plain
from planopt.solve.progress import ProgressCallback
from planopt.solve.result import SearchResult
from planopt.solve.settings import SolveSettings

_FEW_OPTIONS = 400


def search(
    problem: Problem,
    settings: SolveSettings,
    progress: ProgressCallback | None = None,
    start: Decisions | None = None,
) -> SearchResult:
    """Find the cheapest plan of a problem within the limits of `settings`.

    Small problems, and those whose meals are not one dish in whole portion steps, go to HiGHS day
    by day; the others are searched over day menus, a very large recipe book narrowed first.
    `start` is a week in terms of this problem, of which some meals may be missing; its menus are
    where the search begins.

    Raises:
        BadOption: a solver option is unknown or refused.
    """
    if any(not slot.options for slot in problem.slots):
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
    clock = Clock(settings, progress)
    with clock.hearing_interrupt():
        options = sum(len(slot.options) for slot in problem.slots)
        if options > _FEW_OPTIONS and one_dish_in_steps(problem):
            smaller = problem if supports_menus(problem) else narrowed(problem, start)
            if smaller is not None:
                return search_menus(problem, settings, clock, smaller, start)

        def watch(_: float, best: float | None, bound: float | None) -> bool:
            clock.tell("day by day", best, bound)
            return clock.interrupted

        return search_plain(problem, settings, watch, start)
