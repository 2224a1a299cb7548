"""Run jobs one after the other, each in a fresh process, and put their figures in order."""

from __future__ import annotations

import json
import os
import signal
import subprocess
import sys
from collections.abc import Callable, Sequence
from dataclasses import dataclass, field, replace
from math import inf
from pathlib import Path
from statistics import median
from typing import Any

import planopt
from benchmarks.measure import Job, Result, job_text, relative_gap
from benchmarks.others import NOT_AVAILABLE

_TESTS = Path(__file__).resolve().parents[1]
_GRACE_SECONDS = 120.0


@dataclass(frozen=True)
class Options:
    """What the command line asks for. `marks` are the seconds at which gaps are shown."""

    seeds: int = 3
    seconds: float = 60.0
    gap: float = 0.0
    threads: int = 2
    marks: tuple[float, ...] = (10.0, 30.0, 60.0)
    households: tuple[int, ...] = (1, 20)


@dataclass(frozen=True)
class Table:
    """A printed table: rows as wide as the headers, and notes beneath."""

    title: str
    headers: tuple[str, ...]
    rows: list[list[object]]
    notes: tuple[str, ...] = ()


@dataclass
class Bench:
    """Runs jobs and keeps every job with its figures in `done`."""

    options: Options
    tell: Callable[[str], None] = lambda text: None
    done: list[dict[str, Any]] = field(default_factory=list)

    def job(self, way: str, shape: dict[str, Any] | None, **more: Any) -> Job:
        """Return a job under the options' limits."""
        options = self.options
        limits = Job(way, shape, options.seconds, options.gap, 1, options.threads)
        return replace(limits, **more)

    def run(self, table: str, label: str, job: Job) -> Result:
        """Run a job in a process of its own and keep its figures."""
        kitchen_seed = job.seed if job.shape is None else job.shape["seed"]
        self.tell(f"{table}: {label}, seed {kitchen_seed}")
        figures = _in_child(job)
        self.done.append({"table": table, "label": label, "job": vars(job), "figures": figures})
        return figures


def _in_child(job: Job) -> Result:
    """Return a job's figures, or its `error` when the process fails or does not end."""
    # The child is to measure the planopt that this process has found.
    paths = [str(_TESTS), str(Path(planopt.__file__).parents[1]), os.environ.get("PYTHONPATH", "")]
    process = subprocess.Popen(
        [sys.executable, "-m", "benchmarks.measure"],
        stdin=subprocess.PIPE,
        stdout=subprocess.PIPE,
        stderr=subprocess.PIPE,
        text=True,
        env={**os.environ, "PYTHONPATH": os.pathsep.join(path for path in paths if path)},
        start_new_session=True,
    )
    try:
        out, complaint = process.communicate(
            job_text(job), timeout=3 * job.seconds + _GRACE_SECONDS
        )
    except BaseException as stopped:
        # The session holds the solver that the process may have started.
        os.killpg(process.pid, signal.SIGKILL)
        process.communicate()
        if not isinstance(stopped, subprocess.TimeoutExpired):
            raise
        return {"error": "did not end in time"}
    if process.returncode != 0:
        last = complaint.strip().splitlines()[-1:] or [f"exit code {process.returncode}"]
        return {"error": last[0]}
    figures: Result = json.loads(out.splitlines()[-1])
    return figures


def values(results: Sequence[Result], key: str, missing: float | None = None) -> list[float]:
    """Return a figure of each result; results without it count as `missing`, or not at all."""
    found = [result.get(key) for result in results]
    return [
        missing if v is None else float(v) for v in found if v is not None or missing is not None
    ]


def middle(numbers: Sequence[float], digits: int = 2) -> str:
    """Return the median as text."""
    return _number(median(numbers), digits) if numbers else "-"


def worst(numbers: Sequence[float], digits: int = 2) -> str:
    """Return the greatest as text."""
    return _number(max(numbers), digits) if numbers else "-"


def _number(value: float, digits: int) -> str:
    return "none" if value == inf else f"{value:.{digits}f}"


def gap_percents(results: Sequence[Result]) -> list[float]:
    """Return proven gaps in percent; infinite where there is no plan."""
    return [100.0 * gap for gap in values(results, "gap", inf)]


def first_plans(results: Sequence[Result]) -> list[float]:
    """Return seconds to the first plan; infinite where there is none, nothing where not told."""
    return [
        inf if result.get("objective") is None else float(result["first_s"])
        for result in results
        if result.get("objective") is None or result.get("first_s") is not None
    ]


def plans(results: Sequence[Result]) -> str:
    """Return how many of the results have a plan."""
    return f"{sum(r.get('objective') is not None for r in results)}/{len(results)}"


def gap_at(result: Result, seconds: float) -> float:
    """Return the proven gap in percent at so many seconds; infinite before the first plan."""
    known = [event for event in result.get("events", []) if event[0] <= seconds]
    if not known or known[-1][1] is None:
        return inf
    return 100.0 * relative_gap(known[-1][1], known[-1][2])


def trouble(results: Sequence[tuple[str, Result]]) -> tuple[str, ...]:
    """Return notes on runs without a figure to trust.

    They failed, were infeasible, had no solver, or have a plan that the audit rejects.
    """
    notes = []
    for label, result in results:
        if "error" in result:
            notes.append(f"{label}: failed: {result['error']}")
        elif result.get("status") == NOT_AVAILABLE:
            notes.append(f"{label}: this solver is not installed")
        elif result.get("infeasible"):
            notes.append(f"{label}: proven infeasible")
        for finding in result.get("findings", [])[:1]:
            notes.append(f"{label}: the audit rejects the plan: {finding}")
    return tuple(notes)
