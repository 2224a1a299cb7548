"""The bound: relaxations solved by HiGHS, here or in a process of its own beside the search.

The worker is started as a module, so that a caller's script is not run again in it. It reads one
pickled job and answers with one JSON line for each better bound or guiding point.

Method: the dual bound of branch and bound, less a millionth for the solver's tolerances.
Source: common practice, no source.
"""

from __future__ import annotations

import json
import os
import pickle
import signal
import subprocess
import sys
from collections.abc import Callable, Sequence
from contextlib import suppress
from dataclasses import dataclass, field
from math import isfinite
from pathlib import Path
from threading import Thread
from time import perf_counter
from typing import Any

import numpy as np
from numpy.typing import NDArray

from planopt.faults import SolverFailed
from planopt.interrupts import interrupts_held
from planopt.solve.bounding.relaxations import Proof
from planopt.solve.highs.matrix import Floats
from planopt.solve.highs.solver import solve_matrix
from planopt.solve.settings import SolveSettings

Ints = NDArray[np.int64]

_SAFETY = 1e-6
_TOLD_STEP = 1e-4
_LEAST_SECONDS = 0.5


@dataclass(frozen=True)
class Told:
    """News of a proof: a better bound, or the cookings of a point, or just a sign of life."""

    bound: float | None = None
    started: tuple[int, ...] | None = None


def safe_bound(bound: float) -> float:
    """Return a solver's bound, lowered by what its tolerances may have added to it."""
    return bound - _SAFETY * max(1.0, abs(bound)) if isfinite(bound) else -np.inf


def first_bound(proof: Proof, settings: SolveSettings) -> tuple[float, bool]:
    """Return the bound of a relaxation's LP, 0 if it does not end, and whether it is infeasible."""
    outcome = solve_matrix(proof.matrix.relaxed(), settings)
    return (safe_bound(outcome.bound) if outcome.ending == "optimal" else 0.0), outcome.infeasible


@dataclass
class BoundWorker:
    """The worker as seen from the search: `bound`, `guides` and `ended` change as it reports."""

    bound: float = -np.inf
    guides: list[frozenset[int]] = field(default_factory=list)
    ended: str | None = None
    _process: subprocess.Popen[bytes] | None = None
    _listener: Thread | None = None
    _stopped: bool = False

    def start(self, proofs: Sequence[Proof], settings: SolveSettings) -> None:
        """Start the worker."""
        package = str(Path(__file__).resolve().parents[3])
        path = os.pathsep.join([package, os.environ.get("PYTHONPATH", "")]).rstrip(os.pathsep)
        # A terminal sends Ctrl-C to the worker too, which may still be importing.
        with interrupts_held():
            self._process = subprocess.Popen(
                [sys.executable, "-P", "-m", "planopt.solve.bounding.worker"],
                stdin=subprocess.PIPE,
                stdout=subprocess.PIPE,
                env={**os.environ, "PYTHONPATH": path},
            )
        job = pickle.dumps((tuple(proofs), settings))
        self._listener = Thread(target=self._listen, args=(job,), daemon=True)
        self._listener.start()

    def _listen(self, job: bytes) -> None:
        """Hand over the job once the worker has started, and take in what it reports."""
        assert self._process is not None
        assert self._process.stdin is not None
        assert self._process.stdout is not None
        # A worker that is gone by now says so by its end.
        with suppress(BrokenPipeError), self._process.stdin as given:
            given.write(job)
        with self._process.stdout as heard:
            for line in heard:
                told = json.loads(line)
                self._take(Told(told.get("bound"), told.get("started")))
                if "ended" in told:
                    self.ended = told["ended"]
        if self.ended is None and not self._stopped:
            self.ended = "The bound's process ended early"

    def _take(self, told: Told) -> None:
        if told.bound is not None:
            self.bound = max(self.bound, safe_bound(told.bound))
        if told.started is not None:
            self.guides.append(frozenset(told.started))

    def run_here(
        self, proofs: Sequence[Proof], settings: SolveSettings, over: Callable[[], bool]
    ) -> None:
        """Prove in this process instead, until it ends or `over` says so."""

        def hear(told: Told) -> bool:
            self._take(told)
            return over()

        self.ended = prove(proofs, settings, hear)

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
        if self._listener is not None:
            self._listener.join()


def prove(proofs: Sequence[Proof], settings: SolveSettings, hear: Callable[[Told], bool]) -> str:
    """Solve relaxations one after the other; return how it ended, in HiGHS's own words.

    `hear` is given each better bound, each set of cookings that guides the search, and now and
    then nothing, and stops everything by returning True.

    Raises:
        BadOption: from the settings.
    """
    began, best, status, stopped = perf_counter(), -np.inf, "Not Set", False

    def watch(_: float, __: float | None, bound: float | None) -> bool:
        nonlocal best, stopped
        told = Told()
        if bound is not None and bound > best + _TOLD_STEP * max(1.0, abs(bound)):
            best = bound
            told = Told(bound=bound)
        stopped = hear(told) or stopped
        return stopped

    for proof in proofs:
        extra: dict[str, Any] = {}
        if settings.work_limit is None:
            left = settings.time_limit_s - (perf_counter() - began)
            extra["time_limit"] = max(_LEAST_SECONDS, proof.share * left)
        if not proof.started:
            extra["mip_heuristic_effort"] = 0.0
        columns = np.array(proof.started, np.int64)

        def improved(values: Floats, columns: Ints = columns) -> None:
            hear(Told(started=tuple(int(n) for n in np.flatnonzero(values[columns] > 0.5))))

        try:
            outcome = solve_matrix(
                proof.matrix,
                settings,
                watch=watch,
                improved=improved if proof.started else None,
                extra=extra,
            )
        except SolverFailed as failed:
            # What was proven before stays proven, and the plan tells how this ended.
            return str(failed)
        status = outcome.status
        if isfinite(outcome.bound) and outcome.bound > best:
            best = outcome.bound
            stopped = hear(Told(bound=best)) or stopped
        if stopped or outcome.infeasible:
            break
    return status


def _tell(**facts: Any) -> None:
    sys.stdout.write(json.dumps(facts) + "\n")
    sys.stdout.flush()


def _serve() -> None:
    """Run as the worker: one job in, JSON lines out."""
    signal.signal(signal.SIGINT, signal.SIG_IGN)
    parent = os.getppid()
    proofs, settings = pickle.load(sys.stdin.buffer)

    def hear(told: Told) -> bool:
        if told.bound is not None:
            _tell(bound=told.bound)
        if told.started is not None:
            _tell(started=told.started)
        return os.getppid() != parent

    _tell(ended=prove(proofs, settings, hear))


if __name__ == "__main__":
    _serve()
