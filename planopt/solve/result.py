"""What a search gives back."""

from __future__ import annotations

from dataclasses import dataclass

from planopt.problem.build import Problem
from planopt.problem.decisions import Decisions
from planopt.solve.endings import Ending
from planopt.solve.settings import SolveSettings


@dataclass(frozen=True)
class SearchResult:
    """The end of a search.

    `bound` is proven for the real problem, in units of the currency; `composition` says which
    proofs gave it. `decisions` is None when no compliant plan was found; `infeasible` means that
    the solver proved there is none; `found_by` is how weeks were searched for, beside the solver.
    `problem` is what the decisions are about, where that is not the problem asked of.
    """

    status: Ending
    solver_status: str
    decisions: Decisions | None
    bound: float
    composition: str
    infeasible: bool
    seconds: float
    build_seconds: float
    found_by: str = ""
    problem: Problem | None = None


def ending_of_search(
    settings: SolveSettings, *, infeasible: bool, proven: bool, interrupted: bool
) -> Ending:
    """Return how a search of several steps has ended; if by none of these, by its limit."""
    if infeasible:
        return "infeasible"
    if proven:
        return "optimal"
    if interrupted:
        return "interrupted"
    return "time_limit" if settings.work_limit is None else "work_limit"
