"""The bound: the weekly relaxation, solved by HiGHS in a process of its own beside the search.

The worker is started as a module, so that a caller's script is not run again in it. It reads one
pickled job and answers with one JSON line for each better bound or guiding point.
"""

from __future__ import annotations

import json
import os
import pickle
import signal
import subprocess
import sys
from contextlib import suppress
from dataclasses import dataclass, field, replace
from math import isfinite
from pathlib import Path
from threading import Thread
from time import perf_counter
from typing import Any

import numpy as np

from planopt.interrupts import interrupts_held
from planopt.model.kitchen import new_kitchen
from planopt.model.strengthen import Strengthening
from planopt.model.weekly import add_weekly
from planopt.problem.build import Problem
from planopt.solve.highs import Outcome, solve_matrix
from planopt.solve.matrix import Floats, Matrix, to_matrix
from planopt.solve.settings import SolveSettings

_SAFETY = 1e-6
_WHOLE_SHARE = 0.45
_LARGE = 10_000


@dataclass(frozen=True)
class WeeklyArrays:
    """The weekly relaxation as arrays.

    `started` are the columns of the cookings' switches; `switches` those of dishes made and foods
    used at all, which matter most for the bound.
    """

    matrix: Matrix
    started: tuple[int, ...]
    switches: tuple[int, ...]

    def only_switches(self) -> Matrix:
        """Return the relaxation in which the switches alone are whole."""
        integer = np.zeros_like(self.matrix.integer)
        integer[list(self.switches)] = True
        return replace(self.matrix, integer=integer)


def weekly_arrays(problem: Problem) -> WeeklyArrays:
    """Write the weekly relaxation of a problem and turn it into arrays."""
    kitchen = new_kitchen(problem)
    rows = Strengthening(kitchen)
    rows.add()
    add_weekly(kitchen, rows.made)
    matrix = to_matrix(kitchen.lp)
    place = {name: i for i, name in enumerate(matrix.names)}
    return WeeklyArrays(
        matrix,
        tuple(place[v.name] for v in kitchen.started),
        tuple(place[v.name] for v in rows.switches()),
    )


def safe_bound(bound: float) -> float:
    """Return a solver's bound less what its feasibility tolerances can be worth."""
    return bound - _SAFETY * max(1.0, abs(bound)) if isfinite(bound) else -np.inf


@dataclass
class BoundWorker:
    """The worker as seen from the search: `bound`, `guides` and `ended` change as it reports."""

    bound: float = -np.inf
    guides: list[frozenset[int]] = field(default_factory=list)
    ended: str | None = None
    _process: subprocess.Popen[bytes] | None = None
    _stopped: bool = False

    def start(self, arrays: WeeklyArrays, settings: SolveSettings) -> None:
        """Start the worker."""
        package = str(Path(__file__).resolve().parents[2])
        path = os.pathsep.join([package, os.environ.get("PYTHONPATH", "")]).rstrip(os.pathsep)
        # A terminal sends Ctrl-C to the worker too, which may still be importing.
        with interrupts_held():
            self._process = subprocess.Popen(
                [sys.executable, "-P", "-m", "planopt.solve.bound"],
                stdin=subprocess.PIPE,
                stdout=subprocess.PIPE,
                env={**os.environ, "PYTHONPATH": path},
            )
        assert self._process.stdin is not None
        # A worker that is gone by now says so by its end, which the listener hears.
        with suppress(BrokenPipeError), self._process.stdin as given:
            pickle.dump((arrays, settings), given)
        Thread(target=self._listen, daemon=True).start()

    def _listen(self) -> None:
        assert self._process is not None
        assert self._process.stdout is not None
        for line in self._process.stdout:
            told = json.loads(line)
            if "bound" in told:
                self.bound = max(self.bound, safe_bound(told["bound"]))
            if "started" in told:
                self.guides.append(frozenset(told["started"]))
            if "ended" in told:
                self.ended = told["ended"]
        if self.ended is None and not self._stopped:
            self.ended = "The bound's process ended early"

    @property
    def process_id(self) -> int | None:
        """Return the worker's process id; None before its start."""
        return None if self._process is None else self._process.pid

    def wait(self, seconds: float | None) -> None:
        """Wait until the worker ends by itself, or the seconds are over."""
        if self._process is not None:
            try:
                self._process.wait(seconds)
            except subprocess.TimeoutExpired:
                return

    def stop(self) -> None:
        """End the worker now."""
        self._stopped = True
        if self._process is not None:
            self._process.kill()
            self._process.wait()
            if self._process.stdout is not None:
                self._process.stdout.close()


def relaxed_outcome(arrays: WeeklyArrays, settings: SolveSettings) -> Outcome:
    """Solve the LP of the weekly relaxation."""
    return solve_matrix(arrays.matrix.relaxed(), settings)


def _tell(**facts: Any) -> None:
    sys.stdout.write(json.dumps(facts) + "\n")
    sys.stdout.flush()


def _serve() -> None:
    """Run as the worker: one job in, JSON lines out."""
    signal.signal(signal.SIGINT, signal.SIG_IGN)
    parent = os.getppid()
    arrays, settings = pickle.load(sys.stdin.buffer)
    told = -np.inf
    began, limit = perf_counter(), settings.time_limit_s

    def watch(seconds: float, best: float | None, bound: float | None) -> bool:
        nonlocal told
        if bound is not None and bound > told + 1e-4 * max(1.0, abs(bound)):
            told = bound
            _tell(bound=bound)
        return os.getppid() != parent

    def improved(values: Floats) -> None:
        columns = np.array(arrays.started)
        _tell(started=[int(n) for n in np.flatnonzero(values[columns] > 0.5)])

    if arrays.matrix.columns > _LARGE:
        # The tree search of a large relaxation may not tell a bound for a long time.
        bound = relaxed_outcome(arrays, settings).bound
        if isfinite(bound):
            _tell(bound=bound)
        limit -= perf_counter() - began
    # All whole numbers first: its weeks guide the search. Then the switches alone, which close
    # sooner and often prove more.
    extra: dict[str, float] = {}
    if settings.work_limit is None:
        extra["time_limit"] = max(1.0, _WHOLE_SHARE * limit)
    outcome = solve_matrix(arrays.matrix, settings, watch=watch, improved=improved, extra=extra)
    watch(outcome.seconds, None, outcome.bound if isfinite(outcome.bound) else None)
    if outcome.status in ("Optimal", "Infeasible"):
        _tell(ended=outcome.status)
        return
    left = settings.model_copy(update={"time_limit_s": max(1.0, limit - outcome.seconds)})
    switches = solve_matrix(
        arrays.only_switches(), left, watch=watch, extra={"mip_heuristic_effort": 0.0}
    )
    watch(switches.seconds, None, switches.bound if isfinite(switches.bound) else None)
    _tell(ended=outcome.status)


if __name__ == "__main__":
    _serve()
