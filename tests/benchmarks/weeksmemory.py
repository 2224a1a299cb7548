"""Memory of one process over many weeks: small kitchens planned and written one after the other.

    python tests/benchmarks/weeksmemory.py                 1,000 weeks
    python tests/benchmarks/weeksmemory.py --weeks 200

Each week is another kitchen (other windows, budget, stock), planned as a worker of `planopt weeks`
plans it: search, audit, timetables, and the bytes of all files. What is kept for later weeks
(dishes, packs, covers) grows until the kitchens repeat what they need, so that the first hundred
weeks may add to it and the rest must not.
"""

from __future__ import annotations

import argparse
import gc
import sys
from pathlib import Path
from random import Random
from tempfile import TemporaryDirectory
from time import perf_counter
from typing import Any

ROOT = Path(__file__).resolve().parents[2]
if __name__ == "__main__":
    sys.path[:0] = [str(ROOT / "tests"), str(ROOT)]

from benchmarks.memory import resident_mb  # noqa: E402
from kitchens import tiny_client, write_kitchen  # noqa: E402
from planopt.catalog.records import Catalog  # noqa: E402
from planopt.runs.jobs import RunJob, solve_job  # noqa: E402
from planopt.scenario.reading.load import load_kitchen  # noqa: E402
from planopt.solve.settings import SolveSettings  # noqa: E402

SETTINGS = SolveSettings(threads=1, gap=0.5, time_limit_s=20)


def jobs_of(folder: Path, count: int, seed: int = 1) -> tuple[Catalog, list[RunJob]]:
    """Return the catalog of the tiny kitchen, and jobs of which no two ask for the same."""
    rng = Random(seed)
    kitchen = load_kitchen(
        write_kitchen(
            folder, days=1, meals=["lunch", "dinner"], clients=[tiny_client()], meal_defaults="off"
        )
    )
    jobs = []
    for n in range(count):
        low = rng.randint(820, 1300)
        windows: dict[str, Any] = {"energy_kcal": {"min": low, "max": low + 900}}
        (ana,) = kitchen.scenario.clients
        client = type(ana).model_validate(
            tiny_client(id=f"client_{n}", windows_per_day=windows, portions={"largest": 4})
        )
        scenario = kitchen.scenario.model_copy(
            update={"name": f"Week {n}", "clients": (client,), "waste_weight": rng.random()}
        )
        key = f"week_{n}"
        jobs.append(RunJob(key, scenario, key, "0" * 64, "catalogs", "1" * 64, SETTINGS))
    return kitchen.catalog, jobs


def main() -> int:
    """Plan the weeks and print the memory at each tenth; 0 only if every week was planned."""
    parser = argparse.ArgumentParser(description="memory of one process over many weeks")
    parser.add_argument("--weeks", type=int, default=1000)
    count = parser.parse_args().weeks
    with TemporaryDirectory() as place:
        catalog, jobs = jobs_of(Path(place), count)
    began = perf_counter()
    planned = 0
    for n, job in enumerate(jobs, 1):
        answer = solve_job(job, catalog)
        planned += answer.files is not None
        if n in (1, 10, 50) or n % max(1, count // 10) == 0:
            gc.collect()
            print(f"{n:5} weeks: {resident_mb():6.1f} MB resident, {planned} planned, "
                  f"{perf_counter() - began:.0f} s", flush=True)  # fmt: skip
    return 0 if planned == count else 1


if __name__ == "__main__":
    sys.exit(main())
