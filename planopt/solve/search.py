"""Choose how to search a problem, and run it."""

from __future__ import annotations

from time import perf_counter

from planopt.problem.build import Problem
from planopt.solve.plain import search_plain
from planopt.solve.progress import Progress, ProgressCallback
from planopt.solve.result import SearchResult
from planopt.solve.settings import SolveSettings


def search(
    problem: Problem, settings: SolveSettings, progress: ProgressCallback | None = None
) -> SearchResult:
    """Find the cheapest plan of a problem within the limits of `settings`.

    Raises:
        BadOption: a solver option is unknown or refused.
    """
    began = perf_counter()

    def watch(seconds: float, best: float | None, bound: float | None) -> bool:
        if progress is not None:
            progress(Progress("day by day", perf_counter() - began, best, bound))
        return False

    return search_plain(problem, settings, watch)
