"""`--handles`: every file and every line of every command is searched for the names of clients.

The names here are no words of the language, so that none can stand anywhere by chance. Workbooks
are unzipped, and the text of printed pages is read where the library that draws them is installed.
"""

from __future__ import annotations

import io
import re
import zipfile
from pathlib import Path
from typing import Any

import pytest
from pypdf import PdfReader
from typer.testing import CliRunner

from inprocess import in_this_process
from kitchens import tiny_client, write_kitchen
from planopt.cli import app
from planopt.plan.file import read_plan
from planopt.plan.handles import plan_with_handles
from planopt.report.files.pdf import pdf_fault
from planopt.runs import run as run_module
from planopt.scenario.households.handles import Handles

NAMES = ("Zyxwora Quillbane", "Vordak", "Vordak Ümlautsen", "Hushwick")
IDS = ("c1", "c2", "c3")
# A low window and few meals, so that each has a caution about energy with a name in it.
LOW: dict[str, Any] = {"energy_kcal": {"min": 820, "max": 2100}}
QUICK = ["--time-limit", "20", "--gap", "50%", "--threads", "1"]


def person(n: int, **keys: Any) -> dict[str, Any]:
    """Return the client of a position."""
    return tiny_client(id=IDS[n], name=NAMES[n], windows_per_day=LOW, allergens=["milk"],
                       meals=["lunch", "dinner", "snack"], **keys)  # fmt: skip


def kitchen(folder: Path, **keys: Any) -> Path:
    """Write a kitchen of two whose scenario, variants and stock speak of them, return its path."""
    variants = [
        {"name": f"without {NAMES[0]}", "away": [{"client": "c1"}]},
        {"name": "guest", "clients_added": [person(2)]},
    ]
    given: dict[str, Any] = {
        "name": f"Week of {NAMES[0]}", "note": f"{NAMES[1]} likes it hot", "days": 2,
        "meals": ["lunch", "dinner", "snack"], "clients": [person(0), person(1)],
        "variants": variants, **keys,
    }  # fmt: skip
    return write_kitchen(folder, **given)


def texts_of(folder: Path) -> dict[str, str]:
    """Return all that a folder's files say, by their path: XML of workbooks, pages of PDFs."""
    found = {}
    for path in sorted(folder.rglob("*")):
        if not path.is_file():
            continue
        content = path.read_bytes()
        if path.suffix == ".xlsx":
            with zipfile.ZipFile(io.BytesIO(content)) as book:
                text = "".join(book.read(name).decode() for name in book.namelist())
        elif path.suffix == ".pdf":
            text = " ".join(page.extract_text() for page in PdfReader(io.BytesIO(content)).pages)
        else:
            text = content.decode()
        # Calendars fold their lines, and pages break them.
        unfolded = text.replace("\r\n ", "").replace("\n ", "")
        found[path.relative_to(folder).as_posix()] = re.sub(r"\s+", " ", unfolded)
    return found


def naming(texts: dict[str, str]) -> list[str]:
    """Return which texts hold a part of any name, in any case."""
    parts = {part.casefold() for name in NAMES for part in name.split()}
    return [
        name
        for name, text in texts.items()
        if any(part in f"{name} {text}".casefold() for part in parts)
    ]


def run(*words: str | Path) -> str:
    """Run a command and return all that it says, on both streams."""
    done = CliRunner().invoke(app, [str(word) for word in words])
    assert done.exception is None or isinstance(done.exception, SystemExit), done.exception
    return f"{done.exit_code} {done.output}"


@pytest.fixture(autouse=True)
def _without_processes(monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr(run_module, "run_in_processes", in_this_process)


@pytest.mark.slow
def test_a_plan_and_what_is_shown_of_it(tmp_path: Path) -> None:
    """Pages, labels, workbook, calendar, CSV, JSON, Markdown and terminal name ids alone."""
    path = kitchen(tmp_path / "kitchen")
    printed = ["--pdf", "a4"] if pdf_fault() is None else []
    out = tmp_path / "out"
    told = run("plan", path, "--out", out, "--handles", *printed, *QUICK)
    assert told.startswith("0 ")
    texts = {**texts_of(out), "terminal": told}
    assert naming(texts) == []
    assert {"labels.html", "plan.xlsx", "week.ics", "menu.csv", "report.md"} <= texts.keys()
    assert "report.pdf" in texts or not printed
    for name in ("report.html", "labels.html", "plan.xlsx", "menu.csv", "report.md", "plan.json"):
        assert all(client in texts[name] for client in IDS[:2]), name
    assert "c1: the energy window starts at 820 kcal" in texts["plan.json"]
    # Without the option the names are there, so that the search above could have found them.
    loud = tmp_path / "loud"
    run("plan", path, "--out", loud, *printed, *QUICK)
    named = set(naming(texts_of(loud)))
    assert {"report.html", "labels.html", "plan.xlsx", "week.ics", "menu.csv"} <= named
    assert named >= {"split.csv", "containers.csv", "report.md", "plan.json"}
    assert "report.pdf" in named or not printed
    for folder in (out, loud):
        for part in ("", "client", "groceries", "cook", "labels", "client --client c1"):
            shown = run("show", folder, *part.split(), "--handles")
            assert shown.startswith("0 ")
            assert naming({"show": shown}) == []
    assert naming({"show": run("show", loud, "client")})
    assert run("audit", out).startswith("0 ")


def test_a_plan_whose_scenario_is_gone_names_nobody(tmp_path: Path) -> None:
    """Its cautions are told of a client; nobody knows any more that the words are a name."""
    path = kitchen(tmp_path / "kitchen", name="Plain week")
    run("plan", path, "--out", tmp_path / "out", *QUICK)
    path.unlink()
    shown = run("show", tmp_path / "out", "--handles")
    assert shown.startswith("0 ")
    assert naming({"show": shown}) == []
    plan = read_plan(tmp_path / "out")
    hidden = plan_with_handles(plan, Handles())
    assert naming({"cautions": " ".join(plan.cautions)})
    assert naming({"cautions": " ".join(hidden.cautions)}) == []
    told = [text for text in hidden.cautions if text not in plan.cautions]
    assert len(told) == 2
    assert all(text.startswith("a client: the energy window starts at 820 kcal") for text in told)


def test_what_if_names_ids_alone(tmp_path: Path) -> None:
    """Tables, pictures, plans of variants, progress and JSON; also from a plan with names."""
    path = kitchen(tmp_path / "kitchen")
    told = run(
        "whatif", path, "--out", tmp_path / "out", "--handles", "--each", "5",
        "--change", "one more like c2", "--limit-prices", *QUICK,
    )  # fmt: skip
    assert told.startswith("0 ")
    texts = texts_of(tmp_path / "out")
    assert naming({**texts, "terminal": told}) == []
    assert any(name.endswith("plan.json") and "c2_2" in text for name, text in texts.items())
    run("plan", path, "--out", tmp_path / "loud", *QUICK)
    told = run("whatif", path, "--base", tmp_path / "loud", "--out", tmp_path / "based",
               "--handles", "--each", "5", "--variant", "guest", "--json", *QUICK)  # fmt: skip
    assert told.startswith("0 ")
    assert naming({**texts_of(tmp_path / "based"), "terminal": told}) == []


def test_weeks_and_their_overview_name_ids_alone(tmp_path: Path) -> None:
    """Kitchens' files, plans, index and overview; causes and progress; a run with names too."""
    roster = (
        "id,name,household,allergens,protein_g_min\n"
        f"c1,{NAMES[0]},,milk,\nc2,{NAMES[1]},home,milk,\nc3,{NAMES[2]},home,milk,\n"
        f"c4,{NAMES[0]},,milc,\nc5,{NAMES[1]},,milk,900\n"
    )
    keys = {
        "clients": None, "variants": None, "roster": "people.csv", "kitchen": "separate",
        "households": [{"id": "home", "name": NAMES[3]}], "days": 1, "meals": ["lunch", "dinner"],
    }  # fmt: skip
    path = kitchen(tmp_path / "kitchen", **keys)
    (path.parent / "people.csv").write_text(roster, encoding="utf-8")
    told = run("weeks", path, "--out", tmp_path / "out", "--sharing", "--handles", *QUICK)
    assert told.startswith("7 "), told
    texts = texts_of(tmp_path / "out")
    assert naming({**texts, "terminal": told}) == []
    assert {"run.json", "overview.html", "clients.csv", "kitchens/c1.yaml"} <= texts.keys()
    assert "\nc5:\n" in told
    assert "(c5)" not in told + texts["overview.html"]
    assert "c5: Protein at least 900 g a day" in texts["overview.json"]
    again = run("overview", tmp_path / "out", "--handles", "--json")
    assert naming({"again": again}) == []
    loud = run("weeks", path, "--out", tmp_path / "loud", "--sharing", *QUICK)
    assert naming({"loud": loud})
    assert "kitchens/c1.yaml" in naming(texts_of(tmp_path / "loud"))
    shown = run("overview", tmp_path / "loud", "--handles")
    files = {name: text for name, text in texts_of(tmp_path / "loud").items() if "/" not in name}
    assert naming({"shown": shown}) == []
    assert naming(files) == ["run.json"]


@pytest.mark.parametrize("as_json", [[], ["--json"]])
def test_faults_and_impossible_weeks_name_ids_alone(tmp_path: Path, as_json: list[str]) -> None:
    """What is refused, or proven impossible, is told without a name too."""
    clients = [person(0, portions={"step": NAMES[1]}), person(1)]
    path = kitchen(tmp_path / "bad", clients=clients)
    for command in (["plan"], ["whatif", "--budget-curve"]):
        told = run(command[0], path, *command[1:], "--handles", *as_json)
        assert told.startswith("3 ")
        assert naming({"told": told}) == []
    hungry = {**LOW, "protein_g": {"min": 900}}
    clients = [{**person(0), "windows_per_day": hungry}, person(1)]
    path = kitchen(tmp_path / "hungry", clients=clients)
    told = run("plan", path, "--out", tmp_path / "none", "--handles", *QUICK, *as_json)
    assert told.startswith("4 ")
    assert naming({"told": told}) == []
    assert "c1: Protein at least 900 g a day" in told
