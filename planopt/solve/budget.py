"""The budget of a search or of a part of it: time, work, who is told, and whether to stop.

One is made for a whole search and handed down. Parts are cut off it, each of which ends with itself
or with the whole. With a work limit no second counts, so that a run repeats on any machine.
"""

from __future__ import annotations

from collections.abc import Callable, Iterator
from contextlib import AbstractContextManager
from math import inf, isfinite
from time import perf_counter

from planopt.interrupts import noted, stop_asker
from planopt.solve.progress import Progress, ProgressCallback
from planopt.solve.settings import SolveSettings

# A solver is never given less; a proof, which begins with an LP, never less than a second.
_LEAST_SECONDS, _LEAST_PROOF_SECONDS = 0.05, 1.0


class Budget:
    """What a search may spend, from its making or from when the work began."""

    def __init__(
        self,
        settings: SolveSettings,
        progress: ProgressCallback | None = None,
        began: float | None = None,
    ) -> None:
        self.counted = settings.work_limit is not None
        self._began = perf_counter() if began is None else began
        self._limit = inf if self.counted else settings.time_limit_s
        self._progress = progress
        self._stopped = False
        # A solver asks from threads of its own.
        self._stop_asked = stop_asker()

    @property
    def interrupted(self) -> bool:
        """Tell whether the user asked to stop: this search, or the whole command."""
        return self._stopped or self._stop_asked()

    def seconds(self) -> float:
        """Return seconds since the start of the whole."""
        return perf_counter() - self._began

    def left(self) -> float:
        """Return seconds left, infinite with a work limit."""
        return max(0.0, self._limit - self.seconds())

    def end(self) -> float:
        """Return the reading of `perf_counter` at which time is over."""
        return self._began + self._limit

    def over(self) -> bool:
        """Tell whether time is over or the user asked to stop."""
        return self.interrupted or self.left() <= 0

    def spent(self) -> float:
        """Return the part of its own time or work that is over, from 0 to 1."""
        return 0.0 if self.counted else min(1.0, self.seconds() / max(self._limit, 1e-9))

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

    def by_work(self, count: float) -> float:
        """Return a count with a work limit; without one it is endless, as time is the limit."""
        return count if self.counted else inf

    def part(
        self, seconds: float = inf, work: float = inf, stop: Callable[[], bool] | None = None
    ) -> BudgetPart:
        """Return a part, over after so many seconds or turns, when `stop` says so, or with this."""
        return BudgetPart(self, seconds, work, stop)

    def share(self, share: float) -> BudgetPart:
        """Return a part with a share of the time that is left."""
        return self.part(share * self.left())

    def within(self, settings: SolveSettings) -> SolveSettings:
        """Return the settings with what is left of the time; with a work limit they have none."""
        if self.counted:
            return settings
        return settings.model_copy(update={"time_limit_s": max(_LEAST_SECONDS, self.left())})

    def for_proof(self, settings: SolveSettings) -> SolveSettings:
        """Return the settings of a proof in what is left, which goes on to the last gap."""
        seconds = max(_LEAST_PROOF_SECONDS, self.left())
        return settings.model_copy(update={"time_limit_s": seconds, "gap": 0.0})


class BudgetPart(Budget):
    """A part of a budget; `turns` spends its work, one at a time."""

    def __init__(
        self,
        whole: Budget,
        seconds: float = inf,
        work: float = inf,
        stop: Callable[[], bool] | None = None,
    ) -> None:
        self.counted = whole.counted
        self._whole = whole
        self._from = whole.seconds()
        timed = isfinite(seconds) and not whole.counted
        self._own = min(seconds, whole.left()) if timed else inf
        self._work, self._done = work, 0
        self._asked = stop

    @property
    def interrupted(self) -> bool:
        """Tell whether the user asked to stop."""
        return self._whole.interrupted

    def seconds(self) -> float:
        """Return seconds since the start of the whole."""
        return self._whole.seconds()

    def left(self) -> float:
        """Return seconds left, infinite with a work limit."""
        return max(0.0, min(self._whole.left(), self._from + self._own - self.seconds()))

    def end(self) -> float:
        """Return the reading of `perf_counter` at which time is over."""
        return perf_counter() + self.left()

    def over(self) -> bool:
        """Tell whether time or work is over, or somebody asked to stop."""
        asked = self._asked is not None and self._asked()
        return asked or self._done >= self._work or self._whole.over() or self.left() <= 0

    def spent(self) -> float:
        """Return the part of its own time or work that is over, from 0 to 1."""
        time = 0.0
        if isfinite(self._own):
            time = (self.seconds() - self._from) / max(self._own, 1e-9)
        return min(1.0, max(time, self._done / max(self._work, 1.0)))

    def turns(self) -> Iterator[None]:
        """Yield as long as time and work are left; each turn is one unit of work."""
        while not self.over():
            yield
            self._done += 1

    def tell(self, phase: str, best: float | None, bound: float | None) -> None:
        """Report progress to whoever listens."""
        self._whole.tell(phase, best, bound)

    def stop(self) -> None:
        """Ask the search to stop."""
        self._whole.stop()
