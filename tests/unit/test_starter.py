"""The starter: a copy of the shipped catalogs and scenarios."""

from __future__ import annotations

from pathlib import Path

import pytest

from planopt import starter
from planopt.faults import BadInput
from planopt.starter import write_starter


@pytest.fixture
def source(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> Path:
    """Give a small starter to copy."""
    folder = tmp_path / "shipped"
    for name in ("catalogs/foods.csv", "catalogs/recipes/mash.yaml", "scenarios/week.yaml"):
        path = folder / name
        path.parent.mkdir(parents=True, exist_ok=True)
        path.write_text(name, encoding="utf-8")
    (folder / "catalogs" / ".cache").write_text("hidden", encoding="utf-8")
    monkeypatch.setattr(starter, "starter_source", lambda: folder)
    return folder


def test_starter_copies_catalogs_and_scenarios(source: Path, tmp_path: Path) -> None:
    """Both folders arrive whole, hidden files do not."""
    target = tmp_path / "mine"
    paths = write_starter(target)
    assert [path.relative_to(target).as_posix() for path in paths] == [
        "catalogs/foods.csv",
        "catalogs/recipes/mash.yaml",
        "scenarios/week.yaml",
    ]
    assert {path.name for path in tmp_path.iterdir()} == {"shipped", "mine"}


def test_starter_fills_an_empty_folder(source: Path, tmp_path: Path) -> None:
    """An empty folder may be used."""
    (tmp_path / "mine").mkdir()
    assert len(write_starter(tmp_path / "mine")) == 3


@pytest.mark.parametrize("kind", ["folder", "file"])
def test_starter_refuses_what_is_in_use(source: Path, tmp_path: Path, kind: str) -> None:
    """Nothing of the user's is ever overwritten."""
    target = tmp_path / "mine"
    if kind == "folder":
        target.mkdir()
        (target / "own.txt").write_text("mine", encoding="utf-8")
    else:
        target.write_text("mine", encoding="utf-8")
    with pytest.raises(BadInput) as caught:
        write_starter(target)
    assert caught.value.faults[0].code == "starter_dir_taken"


def test_the_source_tree_ships_its_own_starter() -> None:
    """Run from the source tree, the starter is the repository's catalogs and scenarios."""
    folder = starter.starter_source()
    assert (folder / "catalogs" / "foods.csv").is_file()
    assert any((folder / "scenarios").glob("*.yaml"))
