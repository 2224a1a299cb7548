"""One measurement in a process of its own: a job as JSON on standard input, one JSON line out.

Time zero is when the problem is built and the model is not: a way's model building counts against
its seconds. Objectives are computed anew from the decisions, and every plan is audited.
"""

from __future__ import annotations

import json
import sys
import warnings
from collections.abc import Callable
from dataclasses import asdict, dataclass, field
from math import isfinite
from time import perf_counter
from typing import Any

from benchmarks.ablation import weekly_matrix
from benchmarks.instances import Shape, make_instance
from benchmarks.memory import peak_mb, worker_peak
from benchmarks.others import SOLVERS
from benchmarks.pantry import DEMO_WEEK
from planopt.audit import audit_plan
from planopt.catalog.records import Catalog
from planopt.model.daymenus import MenuTable, supports_menus
from planopt.plan.extract import SolveFacts, Source, extract_plan
from planopt.problem.build import Problem, build_problem
from planopt.problem.decisions import Decisions, cost_of
from planopt.scenario.reading.load import load_kitchen
from planopt.scenario.records import Scenario
from planopt.solve.bounding.relaxations import proofs_of, weekly_arrays
from planopt.solve.engine.search import search
from planopt.solve.heuristics.tidy import tidied
from planopt.solve.highs.daymodel import build_plain
from planopt.solve.highs.matrix import Floats, Matrix
from planopt.solve.highs.solver import solve_matrix
from planopt.solve.progress import Progress
from planopt.solve.settings import SolveSettings

Result = dict[str, Any]


@dataclass(frozen=True)
class Job:
    """What to measure: a way, a kitchen (None = the demo week), and the solver's limits."""

    way: str
    shape: dict[str, Any] | None
    seconds: float = 10.0
    gap: float = 0.0
    seed: int = 1
    threads: int = 2
    variant: str = "all rows"

    def settings(self, used_seconds: float = 0.0, threads: int | None = None) -> SolveSettings:
        """Return settings with the seconds that are left."""
        return SolveSettings(
            time_limit_s=max(0.5, self.seconds - used_seconds),
            gap=self.gap,
            seed=self.seed,
            threads=threads or self.threads,
        )


@dataclass
class Track:
    """What was known when: (seconds, best objective, best bound), on every change."""

    began: float = field(default_factory=perf_counter)
    events: list[tuple[float, float | None, float | None]] = field(default_factory=list)

    def seconds(self) -> float:
        """Return seconds since the start."""
        return perf_counter() - self.began

    def note(self, best: float | None, bound: float | None) -> None:
        """Add a moment if something has changed; None = nothing new of that kind."""
        if self.events:
            best = self.events[-1][1] if best is None else best
            bound = self.events[-1][2] if bound is None else bound
        if not self.events or self.events[-1][1:] != (best, bound):
            self.events.append((round(self.seconds(), 3), best, bound))

    def first_plan(self) -> float | None:
        """Return when the first plan was known."""
        return next((seconds for seconds, best, _ in self.events if best is not None), None)


def read_kitchen(job: Job) -> tuple[Catalog, Scenario, Problem, float]:
    """Return catalog, scenario and problem of a job, and the seconds of building it."""
    if job.shape is None:
        kitchen = load_kitchen(DEMO_WEEK)
        catalog, scenario = kitchen.catalog, kitchen.scenario
    else:
        instance = make_instance(Shape(**job.shape))
        catalog, scenario = instance.catalog, instance.scenario
    began = perf_counter()
    problem = build_problem(catalog, scenario)
    return catalog, scenario, problem, perf_counter() - began


def findings(
    catalog: Catalog, scenario: Scenario, problem: Problem, decisions: Decisions
) -> list[str]:
    """Return what the audit says against the plan of some decisions."""
    facts = SolveFacts(
        status="time_limit", bound=0.0, gap_asked=0.0, solve_seconds=0.0, build_seconds=0.0,
        solver="none", solver_status="none", bound_composition="none", settings={},
    )  # fmt: skip
    source = Source("scenario.yaml", "0" * 64, "catalogs", "0" * 64)
    # The plain ways leave needless packs behind when they are stopped; a plan is tidied.
    plan = extract_plan(problem, catalog, scenario, tidied(problem, decisions), facts, source)
    return [finding.text() for finding in audit_plan(plan, catalog, scenario)]


def _search(job: Job, problem: Problem) -> tuple[Decisions | None, Result]:
    track = Track()

    def progress(moment: Progress) -> None:
        track.note(moment.best_objective, moment.best_bound)

    with worker_peak() as worker:
        result = search(problem, job.settings(), progress)
    return result.decisions, {
        "by": "day menus" if "weekly" in result.composition else "plain",
        "status": result.solver_status,
        "infeasible": result.infeasible,
        "bound": result.bound,
        "build_s": result.build_seconds,
        "first_s": track.first_plan(),
        "total_s": track.seconds(),
        "events": track.events,
        "worker_mb": worker[0] if worker else None,
    }


def _plain(job: Job, problem: Problem, *, strengthen: bool) -> tuple[Decisions | None, Result]:
    track = Track()
    model = build_plain(problem, strengthen=strengthen)

    def watch(_: float, best: float | None, bound: float | None) -> bool:
        track.note(best, bound)
        return False

    def improved(values: Floats) -> None:
        track.note(float(model.matrix.cost @ values) + model.matrix.offset, None)

    outcome = solve_matrix(
        model.matrix, job.settings(track.seconds()), watch=watch, improved=improved
    )
    decisions = None if outcome.values is None else model.decisions(outcome.values)
    track.note(outcome.objective, outcome.bound)
    return decisions, {
        **_size(model.matrix),
        "status": outcome.status,
        "infeasible": outcome.infeasible,
        "bound": outcome.bound,
        "build_s": model.build_seconds,
        "first_s": track.first_plan(),
        "total_s": track.seconds(),
        "events": track.events,
    }


def _other(job: Job, problem: Problem) -> tuple[Decisions | None, Result]:
    """Solve the plain model by a solver that is not planopt's own, if it is installed."""
    track = Track()
    model = build_plain(problem, strengthen=False)
    before = track.seconds()
    ended = SOLVERS[job.way](model, job.settings(before))
    decisions = None if ended.point is None else model.decisions(ended.point)
    return decisions, {
        **_size(model.matrix),
        "status": ended.status,
        "infeasible": ended.infeasible,
        "bound": ended.bound,
        "build_s": model.build_seconds,
        "first_s": None if ended.first_s is None else before + ended.first_s,
        "total_s": track.seconds(),
        "events": track.events,
    }


def _size(matrix: Matrix) -> Result:
    return {
        "columns": matrix.columns,
        "rows": len(matrix.row_lower),
        "entries": len(matrix.value),
    }


def _build(job: Job, problem: Problem) -> Result:
    """Time the building of every model, and the LP of the weekly relaxation as the least solve."""
    seconds: dict[str, float] = {}

    def timed(name: str, make: Callable[[], Any]) -> Any:
        began = perf_counter()
        made = make()
        seconds[name] = perf_counter() - began
        return made

    plain = timed("plain_s", lambda: build_plain(problem, strengthen=False))
    timed("strong_s", lambda: build_plain(problem))
    menus = supports_menus(problem)
    if not menus:
        return {**_size(plain.matrix), **seconds, "menus": False}
    arrays = timed("weekly_s", lambda: weekly_arrays(problem))
    timed("proofs_s", lambda: proofs_of(problem, arrays))
    groups = range(len(problem.groups))
    timed("menus_s", lambda: [MenuTable(problem, g) for g in groups])
    settings = job.settings(threads=1)
    timed("lp_s", lambda: solve_matrix(arrays.matrix.relaxed(), settings))
    return {
        **_size(plain.matrix),
        "weekly_columns": arrays.matrix.columns,
        **seconds,
        "menus": True,
    }


def _ablation(job: Job, problem: Problem) -> Result:
    """Solve one variant of the weekly relaxation on one thread, as the bound worker does."""
    began = perf_counter()
    matrix = weekly_matrix(problem, job.variant)
    build = perf_counter() - began
    settings = job.settings(threads=1)
    relaxed = solve_matrix(matrix.relaxed(), settings)
    outcome = solve_matrix(matrix, settings)
    return {
        **_size(matrix),
        "status": outcome.status,
        "lp": relaxed.bound,
        "lp_s": relaxed.seconds,
        "bound": outcome.bound,
        "nodes": outcome.nodes,
        "build_s": build,
    }


_PLANNING: dict[str, Callable[[Job, Problem], tuple[Decisions | None, Result]]] = {
    "search": _search,
    "plain": lambda job, problem: _plain(job, problem, strengthen=False),
    "strong": lambda job, problem: _plain(job, problem, strengthen=True),
    **dict.fromkeys(SOLVERS, _other),
}
_OTHER: dict[str, Callable[[Job, Problem], Result]] = {"build": _build, "ablation": _ablation}
WAYS = (*_PLANNING, *_OTHER)


def run_job(job: Job) -> Result:
    """Return the figures of a job; money in units of the currency, memory in MB."""
    catalog, scenario, problem, problem_s = read_kitchen(job)
    told: Result = {
        "problem_s": problem_s,
        "options": sum(len(slot.options) for slot in problem.slots),
        "menus": supports_menus(problem),
    }
    if job.way in _OTHER:
        told |= _OTHER[job.way](job, problem)
    else:
        decisions, figures = _PLANNING[job.way](job, problem)
        told |= {**figures, "objective": None, "gap": None, "findings": []}
        if decisions is not None:
            told["objective"] = cost_of(problem, decisions).objective
            told["gap"] = relative_gap(told["objective"], told["bound"])
            told["findings"] = findings(catalog, scenario, problem, decisions)
    told["peak_mb"] = peak_mb()
    return {
        key: None if isinstance(value, float) and not isfinite(value) else value
        for key, value in told.items()
    }


def relative_gap(objective: float, bound: float | None) -> float:
    """Return (objective - bound) / objective, and 1 where nothing is proven."""
    if bound is None or not isfinite(bound):
        return 1.0
    return max(0.0, (objective - bound) / objective) if objective > 0 else 0.0


def job_text(job: Job) -> str:
    """Return a job as the JSON that a measuring process reads."""
    return json.dumps(asdict(job))


if __name__ == "__main__":
    # PuLP announces its next version at every variable.
    warnings.simplefilter("ignore", DeprecationWarning)
    answer = run_job(Job(**json.load(sys.stdin)))
    print(json.dumps(answer))
