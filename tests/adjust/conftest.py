"""A tiny kitchen with a written plan, to be adjusted."""

from __future__ import annotations

from pathlib import Path

import pytest

from kitchens import tiny_client, write_kitchen
from planopt.adjust.week import Written, read_written
from planopt.pipeline import load_kitchen, make_plan
from planopt.report.files.folder import write_plan
from planopt.solve.settings import SolveSettings

QUICK = SolveSettings(work_limit=50, threads=1)


@pytest.fixture(scope="session")
def plan_folder(tmp_path_factory: pytest.TempPathFactory) -> Path:
    """Return the folder of the plan of two clients who cook on day 1 and on day 3 of four."""
    folder = tmp_path_factory.mktemp("adjust")
    ben = tiny_client(id="ben", name="Ben", allergens=["milk"], meals=["lunch", "dinner"],
                      windows_per_day={"energy_kcal": {"min": 500, "max": 1800}})  # fmt: skip
    path = write_kitchen(
        folder,
        days=4,
        cook_days=[{"day": 1}, {"day": 3}],
        clients=[tiny_client(), ben],
    )
    kitchen = load_kitchen(path)
    plan = make_plan(kitchen, QUICK)
    write_plan(plan, kitchen.catalog, kitchen.scenario, folder / "plan")
    return folder / "plan"


@pytest.fixture(scope="session")
def written(plan_folder: Path) -> Written:
    """Return that plan with its kitchen."""
    return read_written(plan_folder)
