"""What a running solve tells about itself."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass


@dataclass(frozen=True)
class Progress:
    """A moment of a solve. Costs are in units of the currency; None = not known yet."""

    phase: str
    seconds: float
    best_objective: float | None = None
    best_bound: float | None = None

    @property
    def gap(self) -> float | None:
        """Return the proven relative gap, or None while plan or bound is missing."""
        if self.best_objective is None or self.best_bound is None:
            return None
        if self.best_objective <= 0:
            return 0.0
        return max(0.0, (self.best_objective - self.best_bound) / self.best_objective)


ProgressCallback = Callable[[Progress], None]
