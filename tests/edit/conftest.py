"""A tiny kitchen with a written plan, and sessions at its working sheet."""

from __future__ import annotations

import shutil
from collections.abc import Iterator
from pathlib import Path

import pytest

from edit.sheets import COUNTED, write_tiny_plan
from planopt.adjust.week import Adjustment, adjust, read_written
from planopt.adjust.words import changes_of_words
from planopt.edit.session import EditSession


@pytest.fixture(scope="session")
def tiny_plan(tmp_path_factory: pytest.TempPathFactory) -> Path:
    """Return the folder of a plan that no test changes."""
    return write_tiny_plan(tmp_path_factory.mktemp("edit"))


@pytest.fixture
def session(tiny_plan: Path, tmp_path: Path) -> Iterator[EditSession]:
    """Return a session of its own, with a folder of its own."""
    shutil.copytree(tiny_plan, tmp_path / "plan")
    made = EditSession(tmp_path / "plan", None, COUNTED, None)
    yield made
    made.stop(wait=True)


@pytest.fixture(scope="session")
def ready(tiny_plan: Path) -> Adjustment:
    """Return a new week for tests that only look at one: Ana's first dinner is another dish."""
    written = read_written(tiny_plan)
    (now,) = (p.recipe_id for p in written.plan.portions
              if (p.client_id, p.day, p.meal) == ("ana", 1, "dinner"))  # fmt: skip
    other = min({"egg_rice", "lentil_soup"} - {now})
    texts = [f"put {other} on day 1 dinner for ana"]
    variant = changes_of_words(texts, written.kitchen, written.plan)
    return adjust(written, variant, COUNTED)
