"""Runs without processes, for tests of what a run does with its answers."""

from __future__ import annotations

from collections import deque
from collections.abc import Generator

from planopt.catalog.records import Catalog
from planopt.runs.jobs import JobAnswer, RunJob, solve_job


def in_this_process(jobs: deque[RunJob], catalog: Catalog, processes: int) -> Generator[JobAnswer]:
    """Take the place of `run_in_processes`: one job after the other, here."""
    while jobs:
        yield solve_job(jobs.popleft(), catalog)
