"""The plain day-by-day model on other solvers, where they are installed: CBC, SCIP and CP-SAT.

None of them is needed by planopt; they are yardsticks. SCIP runs on one thread in its wheel. CP-SAT
scales all numbers to integers, so its bound is one of the scaled model.
"""

from __future__ import annotations

import os
from collections.abc import Callable, Iterator
from contextlib import contextmanager
from dataclasses import dataclass
from importlib.util import find_spec
from math import inf, isfinite
from pathlib import Path
from tempfile import TemporaryDirectory

import numpy as np
import pulp

from benchmarks.cbclog import cbc_bound, cbc_first_plan
from planopt.solve.highs.daymodel import PlainModel
from planopt.solve.highs.matrix import Floats
from planopt.solve.settings import SolveSettings

NOT_AVAILABLE = "not available"


@dataclass(frozen=True)
class Ended:
    """How a solver ended; `first_s` counts from its start. `bound` is -inf where it told none."""

    status: str
    point: Floats | None = None
    bound: float = -inf
    first_s: float | None = None
    infeasible: bool = False


_NOT_THERE = Ended(NOT_AVAILABLE)


def solve_cbc(model: PlainModel, settings: SolveSettings) -> Ended:
    """Solve by PuLP's own CBC; its bound and first plan are read from its log."""
    with TemporaryDirectory() as folder:
        log = Path(folder) / "cbc.log"
        solver = pulp.PULP_CBC_CMD(
            msg=False,
            timeLimit=settings.time_limit_s,
            threads=settings.threads,
            gapRel=settings.gap,
            logPath=str(log),
        )
        if not solver.available():
            return _NOT_THERE
        lp = model.kitchen.lp
        lp.solve(solver)
        text = log.read_text(encoding="utf-8", errors="replace")
    status = pulp.LpSolution[lp.sol_status]
    found = lp.sol_status in (pulp.LpSolutionOptimal, pulp.LpSolutionIntegerFeasible)
    point = _point(model) if found else None
    proven = cbc_bound(text)
    if proven is None and lp.sol_status == pulp.LpSolutionOptimal and point is not None:
        proven = (float(model.matrix.cost @ point) + model.matrix.offset) * (1.0 - settings.gap)
    return Ended(
        status,
        point,
        -inf if proven is None else proven,
        cbc_first_plan(text) if found else None,
        "infeasible" in status.lower(),
    )


def solve_scip(model: PlainModel, settings: SolveSettings) -> Ended:
    """Solve by SCIP through PuLP; bound and first plan are SCIP's own."""
    solver = pulp.SCIP_PY(msg=False, timeLimit=settings.time_limit_s, gapRel=settings.gap)
    if not solver.available():
        return _NOT_THERE
    lp = model.kitchen.lp
    with _quiet():
        lp.solve(solver)
    scip = lp.solverModel
    kept = scip.getSols()
    bound = float(scip.getDualbound())
    return Ended(
        scip.getStatus(),
        _point(model) if kept else None,
        -inf if scip.isInfinity(abs(bound)) else bound,
        min((float(scip.getSolTime(one)) for one in kept), default=None),
        scip.getStatus() == "infeasible",
    )


def solve_cp_sat(model: PlainModel, settings: SolveSettings) -> Ended:
    """Solve by CP-SAT from an MPS file; when the first plan came is not told."""
    if find_spec("ortools") is None:
        return _NOT_THERE
    from ortools.linear_solver.python import model_builder

    read = model_builder.Model()
    with TemporaryDirectory() as folder:
        path = str(Path(folder) / "plain.mps")
        model.kitchen.lp.writeMPS(path)
        read.import_from_mps_file(path)
    solver = model_builder.Solver("SAT")
    solver.set_time_limit_in_seconds(settings.time_limit_s)
    solver.enable_output(False)
    solver.set_solver_specific_parameters(
        f"num_workers:{settings.threads} relative_gap_limit:{settings.gap}"
    )
    status = solver.solve(read)
    known = model_builder.SolveStatus
    point: Floats | None = None
    if status in (known.OPTIMAL, known.FEASIBLE):
        value: dict[str, float] = {v.name: solver.value(v) for v in read.get_variables()}
        point = np.array([value[name] for name in model.matrix.names], float)
    bound = float(solver.best_objective_bound)
    return Ended(
        status.name, point, bound if isfinite(bound) else -inf, None, status == known.INFEASIBLE
    )


SOLVERS: dict[str, Callable[[PlainModel, SolveSettings], Ended]] = {
    "cbc": solve_cbc,
    "scip": solve_scip,
    "cp_sat": solve_cp_sat,
}


def _point(model: PlainModel) -> Floats:
    value = {variable.name: variable.varValue for variable in model.kitchen.lp.variables()}
    return np.array([value[name] or 0.0 for name in model.matrix.names], float)


@contextmanager
def _quiet() -> Iterator[None]:
    """Keep what SCIP writes at its end away from the one line of figures on standard output."""
    before = os.dup(1)
    nowhere = os.open(os.devnull, os.O_WRONLY)
    try:
        os.dup2(nowhere, 1)
        yield
    finally:
        os.dup2(before, 1)
        os.close(before)
        os.close(nowhere)
