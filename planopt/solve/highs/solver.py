"""Run HiGHS on arrays, with our own settings, and tell its own status, bound and gap.

This is the only module that starts a solver.
"""

from __future__ import annotations

import os
from collections.abc import Callable, Iterator, Mapping
from contextlib import contextmanager
from dataclasses import dataclass
from math import inf, isfinite
from time import perf_counter
from typing import Any

import highspy
import numpy as np

from planopt.faults import BadOption, SolverFailed
from planopt.solve.endings import Ending, solver_ending
from planopt.solve.highs.matrix import Floats, Matrix
from planopt.solve.settings import SolveSettings

Watcher = Callable[[float, float | None, float | None], bool]


@dataclass(frozen=True)
class Outcome:
    """How one run ended.

    `ending` is our word and `status` HiGHS's own. `bound` is its dual bound for the arrays given;
    `values` and `objective` are None without a feasible point. `nodes` counts branch-and-bound
    nodes.
    """

    status: str
    ending: Ending
    values: Floats | None
    objective: float | None
    bound: float
    seconds: float
    nodes: int
    column_duals: Floats | None = None
    row_duals: Floats | None = None

    @property
    def infeasible(self) -> bool:
        """Tell whether HiGHS proved that nothing is feasible."""
        return self.ending == "infeasible"


def new_solver(settings: SolveSettings) -> highspy.Highs:
    """Return a HiGHS instance with every limit and tolerance of `settings` in force.

    Raises:
        BadOption: an option name is unknown to HiGHS or its value is refused.
    """
    with _silent():
        # The thread pool is global to the process; a run with other threads needs it anew.
        highspy.Highs.resetGlobalScheduler(True)
        solver = highspy.Highs()
    options: dict[str, Any] = {
        "output_flag": False,
        "threads": settings.threads,
        "random_seed": settings.seed,
        "mip_rel_gap": settings.gap,
        "mip_abs_gap": 0.0,
        "mip_feasibility_tolerance": settings.integrality_tolerance,
        "primal_feasibility_tolerance": settings.feasibility_tolerance,
        "dual_feasibility_tolerance": settings.feasibility_tolerance,
    }
    if settings.work_limit is not None:
        options["mip_max_nodes"] = settings.work_limit
    else:
        options["time_limit"] = settings.time_limit_s
    clash = sorted(set(options) & set(settings.options) | ({"time_limit"} & set(settings.options)))
    if clash:
        raise BadOption(
            f"solver option {clash[0]!r} is set by a setting of its own (time limit, gap, seed, "
            "threads, tolerances); use that"
        )
    set_options(solver, options)
    set_options(solver, settings.options)
    return solver


@contextmanager
def _silent() -> Iterator[None]:
    """Keep HiGHS's banner, which it writes on creation, out of our standard output."""
    try:
        kept = os.dup(1)
    except OSError:
        yield
        return
    nowhere = os.open(os.devnull, os.O_WRONLY)
    os.dup2(nowhere, 1)
    try:
        yield
    finally:
        os.dup2(kept, 1)
        os.close(kept)
        os.close(nowhere)


def set_options(solver: highspy.Highs, options: Mapping[str, Any]) -> None:
    """Set HiGHS options by name; text is turned into the option's own type.

    Raises:
        BadOption: naming the option and what HiGHS knows.
    """
    for name, value in options.items():
        status, kind = solver.getOptionType(name)
        if status != highspy.HighsStatus.kOk:
            raise BadOption(f"solver option {name!r} is unknown to HiGHS; nothing was solved")
        if isinstance(value, str):
            value = _typed(name, value, kind)
        if solver.setOptionValue(name, value) != highspy.HighsStatus.kOk:
            raise BadOption(f"solver option {name!r}: HiGHS refuses the value {value!r}")


def _typed(name: str, text: str, kind: Any) -> bool | int | float | str:
    try:
        if kind == highspy.HighsOptionType.kBool:
            return {"true": True, "on": True, "false": False, "off": False}[text.lower()]
        if kind == highspy.HighsOptionType.kInt:
            return int(text)
        if kind == highspy.HighsOptionType.kDouble:
            return float(text)
    except (KeyError, ValueError):
        raise BadOption(f"solver option {name!r}: {text!r} is not of its type") from None
    return text


def solve_matrix(
    matrix: Matrix,
    settings: SolveSettings,
    *,
    start: Floats | None = None,
    watch: Watcher | None = None,
    improved: Callable[[Floats], None] | None = None,
    extra: Mapping[str, Any] | None = None,
) -> Outcome:
    """Solve arrays once.

    `start` is a (possibly partial, NaN for unknown) point to begin from. `watch` is called with
    seconds, best objective and bound, and stops the run by returning True. `improved` is called
    with each better point. `extra` are further HiGHS options.

    Raises:
        BadOption: from the settings.
        SolverFailed: HiGHS refuses the model, or its ending is neither an answer nor a limit.
    """
    if not matrix.columns:
        return _without_columns(matrix)
    solver = new_solver(settings)
    if extra:
        set_options(solver, extra)
    if solver.passModel(matrix.as_highs()) == highspy.HighsStatus.kError:
        raise SolverFailed("the solver failed: it refuses the model. No answer is taken from it.")
    if start is not None:
        known = np.flatnonzero(~np.isnan(start))
        solver.setSolution(len(known), known.astype(np.int32), start[known])
    began = perf_counter()
    if watch is not None and matrix.integer.any():
        _subscribe(solver, watch)
    if improved is not None and matrix.integer.any():
        tell = improved
        solver.cbMipImprovingSolution.subscribe(
            lambda event: tell(np.array(event.data_out.mip_solution, float))
        )
    if solver.run() == highspy.HighsStatus.kError:
        word = solver.modelStatusToString(solver.getModelStatus())
        raise SolverFailed(f"the solver failed ({word}). No answer is taken from it.")
    return read_outcome(solver, matrix, perf_counter() - began)


def _without_columns(matrix: Matrix) -> Outcome:
    """Return the outcome of a model without columns, which HiGHS itself does not judge."""
    met = bool(np.all(matrix.row_lower <= 0.0) and np.all(matrix.row_upper >= 0.0))
    return Outcome(
        status="Empty",
        ending="optimal" if met else "infeasible",
        values=np.zeros(0) if met else None,
        objective=matrix.offset if met else None,
        bound=matrix.offset if met else inf,
        seconds=0.0,
        nodes=0,
    )


def _subscribe(solver: highspy.Highs, watch: Watcher) -> None:
    def on_event(event: Any) -> None:
        data = event.data_out
        best = data.mip_primal_bound
        bound = data.mip_dual_bound
        stop = watch(
            data.running_time,
            best if isfinite(best) and best < 1e30 else None,
            bound if isfinite(bound) and bound > -1e30 else None,
        )
        if stop and event.data_in is not None:
            event.data_in.user_interrupt = True

    solver.cbMipInterrupt.subscribe(on_event)


def read_outcome(solver: highspy.Highs, matrix: Matrix, seconds: float) -> Outcome:
    """Read how a run ended; never guesses: without a feasible point there are no values.

    Raises:
        SolverFailed: its ending is neither an answer nor a limit.
    """
    ending = solver_ending(solver)
    status = solver.modelStatusToString(solver.getModelStatus())
    info = solver.getInfo()
    feasible = info.primal_solution_status == int(highspy.SolutionStatus.kSolutionStatusFeasible)
    solution = solver.getSolution()
    values = np.array(solution.col_value, float) if feasible else None
    is_mip = bool(matrix.integer.any())
    if is_mip:
        bound = float(info.mip_dual_bound)
        nodes = int(info.mip_node_count)
    else:
        bound = float(info.objective_function_value) if ending == "optimal" else -inf
        nodes = 0
    duals = not is_mip and bool(solution.dual_valid)
    return Outcome(
        status=status,
        ending=ending,
        values=values,
        objective=float(info.objective_function_value) if feasible else None,
        bound=bound,
        seconds=seconds,
        nodes=max(nodes, 0),
        column_duals=np.array(solution.col_dual, float) if duals else None,
        row_duals=np.array(solution.row_dual, float) if duals else None,
    )
