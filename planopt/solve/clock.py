"""The clock of one search: time left, progress told, and Ctrl-C heard without losing the plan."""

from __future__ import annotations

from contextlib import AbstractContextManager
from math import isfinite
from time import perf_counter

from planopt.interrupts import noted, stop_asker
from planopt.solve.progress import Progress, ProgressCallback
from planopt.solve.settings import SolveSettings


class Clock:
    """Counts from its making, or from when the work began; a work limit has no time limit."""

    def __init__(
        self,
        settings: SolveSettings,
        progress: ProgressCallback | None,
        began: float | None = None,
    ) -> None:
        self._began = perf_counter() if began is None else began
        self._limit = settings.time_limit_s if settings.work_limit is None else float("inf")
        self._progress = progress
        self._stopped = False
        # A solver asks from threads of its own.
        self._stop_asked = stop_asker()

    @property
    def interrupted(self) -> bool:
        """Tell whether the user asked to stop: this search, or the whole command."""
        return self._stopped or self._stop_asked()

    def seconds(self) -> float:
        """Return seconds since the start."""
        return perf_counter() - self._began

    def left(self) -> float:
        """Return seconds left, infinite with a work limit."""
        return max(0.0, self._limit - self.seconds())

    def at(self, seconds: float) -> float:
        """Return the reading of `perf_counter` at that many seconds after the start."""
        return self._began + seconds

    def end(self) -> float:
        """Return the reading of `perf_counter` at which time is over."""
        return self._began + self._limit

    def over(self) -> bool:
        """Tell whether time is over or the user asked to stop."""
        return self.interrupted or self.left() <= 0

    def tell(self, phase: str, best: float | None, bound: float | None) -> None:
        """Report progress to whoever listens."""
        if self._progress is not None:
            limit = self._limit if isfinite(self._limit) else None
            self._progress(Progress(phase, self.seconds(), best, bound, limit))

    def hearing_interrupt(self) -> AbstractContextManager[None]:
        """Turn the first Ctrl-C into a request to stop; a second one is raised as usual."""
        return noted(self.stop)

    def stop(self) -> None:
        """Ask the search to stop."""
        self._stopped = True


class ClockPart(Clock):
    """The clock of a part of a search, over after some seconds of its own or with the whole."""

    def __init__(self, whole: Clock, seconds: float) -> None:
        self._whole = whole
        self._until = whole.seconds() + seconds

    @property
    def interrupted(self) -> bool:
        """Tell whether the user asked to stop."""
        return self._whole.interrupted

    def seconds(self) -> float:
        """Return seconds since the start of the whole."""
        return self._whole.seconds()

    def left(self) -> float:
        """Return seconds left, infinite with a work limit."""
        left = self._whole.left()
        return left if left == float("inf") else max(0.0, min(left, self._until - self.seconds()))

    def at(self, seconds: float) -> float:
        """Return the reading of `perf_counter` at that many seconds after the start."""
        return self._whole.at(seconds)

    def tell(self, phase: str, best: float | None, bound: float | None) -> None:
        """Report progress to whoever listens."""
        self._whole.tell(phase, best, bound)


def in_time(settings: SolveSettings, clock: Clock) -> SolveSettings:
    """Return the settings with what is left of the time; with a work limit they have none."""
    if settings.work_limit is not None:
        return settings
    return settings.model_copy(update={"time_limit_s": max(0.1, clock.left())})


def for_proof(settings: SolveSettings, seconds: float) -> SolveSettings:
    """Return the settings of a proof of so many seconds, which goes on to the last gap."""
    return settings.model_copy(update={"time_limit_s": max(1.0, seconds), "gap": 0.0})
