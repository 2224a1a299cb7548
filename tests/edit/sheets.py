"""Working sheets for tests: a tiny plan, and a page served in a thread."""

from __future__ import annotations

from collections.abc import Iterator
from contextlib import contextmanager
from pathlib import Path
from queue import Queue
from threading import Thread

from kitchens import tiny_client, write_kitchen
from planopt.edit.serving import serve
from planopt.edit.session import EditSession
from planopt.pipeline import load_kitchen, make_plan
from planopt.report.files.folder import write_plan
from planopt.solve.settings import SolveSettings

COUNTED = SolveSettings(work_limit=50, threads=1)


def write_tiny_plan(folder: Path) -> Path:
    """Write the plan of two clients who cook on day 1 and on day 3 of four."""
    ben = tiny_client(id="ben", name="Ben", allergens=["milk"], meals=["lunch", "dinner"],
                      windows_per_day={"energy_kcal": {"min": 500, "max": 1800}})  # fmt: skip
    cook_days = [{"day": 1}, {"day": 3}]
    path = write_kitchen(folder, days=4, cook_days=cook_days, clients=[tiny_client(), ben])
    kitchen = load_kitchen(path)
    plan = make_plan(kitchen, COUNTED)
    write_plan(plan, kitchen.catalog, kitchen.scenario, folder / "plan")
    return folder / "plan"


@contextmanager
def served(session: EditSession) -> Iterator[str]:
    """Serve a session in a thread, and give the address of its page."""
    told: Queue[str] = Queue()
    thread = Thread(target=serve, args=(session,), kwargs={"browser": False, "told": told.put})
    thread.start()
    try:
        yield told.get(timeout=10)
    finally:
        session.end()
        thread.join(20)
        assert not thread.is_alive()
