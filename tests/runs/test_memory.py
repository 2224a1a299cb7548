"""Memory stays flat over many weeks in one process; `benchmarks/weeksmemory.py` is the long run."""

from __future__ import annotations

import gc
from pathlib import Path

import pytest

from benchmarks.weeksmemory import jobs_of
from planopt.audit.findings import _read
from planopt.runs.jobs import solve_job
from planopt.solve.highs.packs import cheapest_basket

WARM, MORE = 3, 4
# A cache of a library may still fill; a week left alive has thousands of objects.
SOME = 30


@pytest.mark.slow
def test_a_week_that_is_over_leaves_nothing_behind(tmp_path: Path) -> None:
    """After the first weeks no object more is alive, but for what bounded caches keep."""
    catalog, jobs = jobs_of(tmp_path, WARM + MORE)
    alive = []
    for job in jobs:
        assert solve_job(job, catalog).files is not None
        # Both keep so many answers and no more.
        for bounded in (cheapest_basket, _read):
            assert bounded.cache_info().maxsize is not None
            bounded.cache_clear()
        gc.collect()
        alive.append(len(gc.get_objects()))
    assert alive[-1] - alive[WARM - 1] <= SOME, alive
