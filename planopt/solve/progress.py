"""What a running solve tells about itself."""

from __future__ import annotations

import logging
from collections.abc import Callable
from dataclasses import dataclass

_LOG = logging.getLogger("planopt.search")


@dataclass(frozen=True)
class Progress:
    """A moment of a solve. Costs are in units of the currency; None = not known yet.

    `limit_s` is the time limit, None where there is none.
    """

    phase: str
    seconds: float
    best_objective: float | None = None
    best_bound: float | None = None
    limit_s: float | None = None

    @property
    def gap(self) -> float | None:
        """Return the proven relative gap, or None while plan or bound is missing."""
        if self.best_objective is None or self.best_bound is None:
            return None
        if self.best_objective <= 0:
            return 0.0
        return max(0.0, (self.best_objective - self.best_bound) / self.best_objective)


ProgressCallback = Callable[[Progress], None]


def logged(progress: ProgressCallback | None) -> ProgressCallback | None:
    """Return a callback that also tells the logger: new phases and plans at INFO, all at DEBUG.

    Where nobody listens to the logger it is the callback itself.
    """
    if not _LOG.isEnabledFor(logging.INFO):
        return progress
    known: list[tuple[str, float | None]] = [("", None)]

    def tell(moment: Progress) -> None:
        now = (moment.phase, moment.best_objective)
        level = logging.DEBUG if now == known[0] else logging.INFO
        known[0] = now
        _LOG.log(
            level,
            "%s: best %s, no less than %s, after %.1f s",
            moment.phase,
            moment.best_objective,
            moment.best_bound,
            moment.seconds,
        )
        if progress is not None:
            progress(moment)

    return tell
