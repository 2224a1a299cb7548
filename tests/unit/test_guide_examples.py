"""Every example of README.md and the guide is run, on kitchens that are planned in a second."""

from __future__ import annotations

import json
import re
import shutil
from pathlib import Path

import pandas as pd
import pytest
import yaml
from typer.testing import CliRunner

from inprocess import in_this_process
from planopt import cli
from planopt.scenario.households.parties import load_kitchens
from planopt.starter import write_starter
from slow import few
from unit.guidepages import GUIDE, README, ROOT, Block, blocks

PAGES = {"README": README, **GUIDE}
# What the examples plan is small, and the search counts its work, so that no clock decides.
SHORT = ("--work-limit", "1", "--gap", "90%")
SEARCH = {"plan", "weeks", "whatif"}
# Commands of other programs, and what needs other machines (tests/runs/test_cluster.py has some).
ELSEWHERE = {"python3", "dask", "."}
OTHER_MACHINES = "--cluster"
# Pages with so many examples that they are slow.
LONG = ("README", "commands")
MAKES_NO_PLAN = {"cautions", "figures", "library", "output", "sources", "whynot"}


@pytest.fixture(scope="module")
def starter(tmp_path_factory: pytest.TempPathFactory) -> Path:
    """Return the shipped files cut down: two days, few clients and recipes, and their foods."""
    folder = tmp_path_factory.mktemp("starter")
    for part in ("catalogs", "scenarios"):
        shutil.copytree(ROOT / part, folder / part)
    quick = folder / "scenarios" / "one_client_quick.yaml"
    text = quick.read_text(encoding="utf-8").replace("\ndays: 3\n", "\ndays: 2\n")
    quick.write_text(text, encoding="utf-8")
    mira = text.replace("id: ivo", "id: mira").replace("name: Ivo", "name: Mira")
    (folder / "scenarios" / "demo_week.yaml").write_text(mira, encoding="utf-8")
    roster = folder / "scenarios" / "several_households.csv"
    first = roster.read_text(encoding="utf-8").splitlines(keepends=True)[:3]
    roster.write_text("".join(first), encoding="utf-8")
    kept = {*yaml.safe_load(text)["recipes"]["include"], "paprika_roasted_chickpeas"}
    for recipe in (folder / "catalogs" / "recipes").iterdir():
        if recipe.stem not in kept:
            recipe.unlink()
    told = "\n".join(path.read_text(encoding="utf-8") for path in folder.rglob("*.yaml"))
    words = set(re.findall(r"\w+", "\n".join((told, roster.read_text("utf-8"), *PAGES.values()))))
    for name in ("foods", "packs", "measures", "yields"):
        table = pd.read_csv(folder / "catalogs" / f"{name}.csv", dtype=str, keep_default_na=False)
        table[table["food_id"].isin(words)].to_csv(folder / "catalogs" / f"{name}.csv", index=False)
    return folder


@pytest.fixture
def kitchen(starter: Path, tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> Path:
    """Return a folder as `planopt new` makes it, of what is cut down, and work in it."""
    monkeypatch.setattr("planopt.starter.starter_source", lambda: starter)
    monkeypatch.setattr("planopt.runs.run.run_in_processes", in_this_process)
    monkeypatch.setattr("planopt.edit.serving.show_in_browser", interrupted)
    write_starter(tmp_path / "here")
    monkeypatch.chdir(tmp_path / "here")
    return tmp_path / "here"


def interrupted(url: str) -> None:
    """Press Ctrl-C as soon as a page is served."""
    assert url.startswith("http://127.0.0.1:")
    raise KeyboardInterrupt


def run(words: list[str]) -> None:
    """Run a command of planopt as it is shown, with a short search, and see it succeed."""
    done = CliRunner().invoke(cli.app, [*words, *(SHORT if words[0] in SEARCH else ())])
    if done.exception and not isinstance(done.exception, SystemExit):
        raise done.exception
    assert done.exit_code == 0, f"planopt {' '.join(words)}\n{done.output}"


def follow(block: Block, monkeypatch: pytest.MonkeyPatch) -> int:
    """Do what a block of commands says, and return how many commands of planopt it has."""
    count = 0
    for words in block.commands():
        if "&&" in words:
            # The set-up of README.md; what it ends with is a command like any other.
            words = words[len(words) - words[::-1].index("&&") :]
        program = Path(words[0]).name
        if program == "cd":
            monkeypatch.chdir(words[1])
        elif program == "planopt" and OTHER_MACHINES not in words:
            run(words[1:])
            count += 1
        else:
            assert program in {*ELSEWHERE, "planopt", "pytest"}, words
    return count


@pytest.mark.parametrize("name", few(sorted(PAGES, key=LONG.__contains__), len(PAGES) - len(LONG)))
def test_the_examples_of_a_page_run(
    name: str, kitchen: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    """Files that a page shows are written, its commands are run in their order, and succeed."""
    count, begun = 0, set()
    for block in blocks(PAGES[name]):
        if block.file is not None:
            path = Path(block.file)
            path.parent.mkdir(parents=True, exist_ok=True)
            # A second block of the same file goes on with it.
            with path.open("a" if path in begun else "w", encoding="utf-8") as file:
                file.write(block.text)
            begun.add(path)
        elif block.language == "sh":
            count += follow(block, monkeypatch)
    assert count > 0 or name in MAKES_NO_PLAN


@pytest.mark.parametrize("name", sorted(PAGES))
def test_what_a_page_shows_as_data_is_data(name: str) -> None:
    """YAML and JSON can be read, and are files that the examples of the page use."""
    for block in blocks(PAGES[name]):
        if block.language in {"yaml", "csv", "json"}:
            assert block.file is not None, block.text
        if block.language == "yaml":
            assert isinstance(yaml.safe_load(block.text), dict)
        if block.language == "json":
            assert isinstance(json.loads(block.text), dict)


def test_the_kitchens_of_the_many_clients_are_those_shown(kitchen: Path) -> None:
    """The scenario with its roster makes one kitchen of the household and one of Cleo."""
    for block in blocks(GUIDE["clients"]):
        if block.file is not None:
            Path(block.file).write_text(block.text, encoding="utf-8")
    parts = load_kitchens(Path("scenarios/round.yaml")).parts
    assert [part.kitchen_id for part in parts] == ["cleo", "hill"]
