"""Settings of a solve: every limit, tolerance and seed, set by us and reported with the plan."""

from __future__ import annotations

from pydantic import Field

from planopt.catalog.records import Record


class SolveSettings(Record):
    """How hard to search, and how exactly.

    `gap` is relative: (objective - bound) / objective. `work_limit` replaces the clock by a count
    of branch-and-bound nodes, so that a run repeats to the letter on any machine.
    `options` are HiGHS options by their own names; a misspelt one is refused.
    """

    time_limit_s: float = Field(default=60.0, gt=0)
    gap: float = Field(default=0.02, ge=0, lt=1)
    seed: int = Field(default=1, ge=0, le=2**31 - 1)
    threads: int = Field(default=2, ge=1, le=64)
    work_limit: int | None = Field(default=None, ge=1)
    integrality_tolerance: float = Field(default=1e-6, gt=0, le=1e-3)
    feasibility_tolerance: float = Field(default=1e-7, gt=0, le=1e-4)
    options: dict[str, str] = {}
