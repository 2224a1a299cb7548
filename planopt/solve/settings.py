"""Settings of a solve: every limit, tolerance and seed, set by us and reported with the plan."""

from __future__ import annotations

from typing import Annotated

from planopt import ranges
from planopt.catalog.records import Record


class SolveSettings(Record):
    """How hard to search, and how exactly.

    `gap` is relative: (objective - bound) / objective. `work_limit` replaces the clock by a count
    of branch-and-bound nodes, so that a run repeats to the letter on any machine.
    `options` are HiGHS options by their own names; a misspelt one is refused.
    """

    time_limit_s: Annotated[float, ranges.SECONDS] = 60.0
    gap: Annotated[float, ranges.GAP] = 0.02
    seed: Annotated[int, ranges.SEED] = 1
    threads: Annotated[int, ranges.THREADS] = 2
    work_limit: Annotated[int | None, ranges.WORK] = None
    integrality_tolerance: Annotated[float, ranges.INTEGRALITY] = 1e-6
    feasibility_tolerance: Annotated[float, ranges.FEASIBILITY] = 1e-7
    options: dict[str, str] = {}

    def single(self) -> SolveSettings:
        """Return the settings with one thread."""
        return self.model_copy(update={"threads": 1})
