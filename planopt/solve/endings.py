"""How a run of HiGHS can end: a closed vocabulary of our own, for every word that HiGHS knows.

Whatever is neither an answer nor a limit is an error: nothing is claimed of a run that ended so.
"""

from __future__ import annotations

from typing import Literal

import highspy

from planopt.faults import SolverFailed

Ending = Literal[
    "optimal", "infeasible", "time_limit", "work_limit", "interrupted", "undecided"
]  # fmt: skip

_Status = highspy.HighsModelStatus

# `undecided`: HiGHS gave up by itself before any limit, with whatever point and bound it had.
ENDINGS: dict[highspy.HighsModelStatus, Ending] = {
    _Status.kOptimal: "optimal",
    _Status.kInfeasible: "infeasible",
    _Status.kTimeLimit: "time_limit",
    _Status.kIterationLimit: "work_limit",
    _Status.kSolutionLimit: "work_limit",
    # Only a solver option that the user gives can ask for these two.
    _Status.kObjectiveBound: "work_limit",
    _Status.kObjectiveTarget: "work_limit",
    _Status.kInterrupt: "interrupted",
    _Status.kUnknown: "undecided",
}

# HiGHS's own word for a proof that no point exists, as it comes from the bound's process.
INFEASIBLE_WORD = "Infeasible"

FAILURES: dict[highspy.HighsModelStatus, str] = {
    _Status.kNotset: "nothing was solved",
    _Status.kLoadError: "the model could not be loaded",
    _Status.kModelError: "the model is not well formed",
    _Status.kPresolveError: "making the model smaller failed",
    _Status.kSolveError: "solving failed",
    _Status.kPostsolveError: "turning the answer back into the model's own terms failed",
    # Of a model without columns HiGHS says so whether its rows hold or not.
    _Status.kModelEmpty: "the model has no columns",
    # Every cost of a plan has a least, so both point to a fault in the model or in the solver.
    _Status.kUnboundedOrInfeasible: "no least cost exists, or no point",
    _Status.kUnbounded: "no least cost exists",
    _Status.kMemoryLimit: "memory ran out",
}
# Only later versions of HiGHS have this one.
if "kHighsInterrupt" in _Status.__members__:
    FAILURES[_Status.__members__["kHighsInterrupt"]] = "HiGHS stopped itself"


def ending_of(status: highspy.HighsModelStatus, word: str) -> Ending:
    """Return our word for a status of HiGHS; `word` is its own.

    Raises:
        SolverFailed: the status is neither an answer nor a limit.
    """
    if status in ENDINGS:
        return ENDINGS[status]
    why = FAILURES.get(status, "planopt does not know this ending")
    raise SolverFailed(f"the solver failed ({word}): {why}. No answer is taken from it.")


def solver_ending(solver: highspy.Highs) -> Ending:
    """Return how the last run of an instance ended.

    Raises:
        SolverFailed: in a way that is neither an answer nor a limit.
    """
    status = solver.getModelStatus()
    return ending_of(status, solver.modelStatusToString(status))
