"""Asking on the command line and in the library: what is asked is answered, and nothing else."""

from __future__ import annotations

import json
import re
from decimal import Decimal
from pathlib import Path

import pytest
from typer.testing import CliRunner

from kitchens import write_kitchen
from planopt import cli
from planopt.faults import AuditFailed, BadInput, ExitCode
from planopt.pipeline import make_plan
from planopt.report.files.folder import write_plan
from planopt.scenario.reading.load import Kitchen, load_kitchen
from planopt.solve.settings import SolveSettings
from planopt.whatif.ask import base_plan, chosen_variants

runner = CliRunner()
VARIANTS = [
    {"name": "Poor", "budget": "20.00"},
    {"name": "Dear eggs", "prices": [{"food": "egg", "percent": 30}]},
]
EXACT = SolveSettings(gap=0.0, threads=1)


@pytest.fixture
def path(tmp_path: Path) -> Path:
    """Return the scenario file of the tiny kitchen with two variants."""
    return write_kitchen(tmp_path, budget="30.00", variants=VARIANTS)


@pytest.fixture
def kitchen(path: Path) -> Kitchen:
    """Return the tiny kitchen with two variants."""
    return load_kitchen(path)


def test_variants_are_chosen_by_name_and_by_words(kitchen: Kitchen) -> None:
    """Without a choice all of the file are meant, if that is wanted."""
    names = [v.name for v in chosen_variants(kitchen, [], [], otherwise_all=True)]
    assert names == ["Poor", "Dear eggs"]
    assert chosen_variants(kitchen, [], [], otherwise_all=False) == ()
    both = chosen_variants(kitchen, ["Dear eggs"], ["no milk_whole"], otherwise_all=True)
    assert [v.name for v in both] == ["Dear eggs", "no milk_whole"]


def test_each_change_is_a_variant_unless_they_are_joined(kitchen: Kitchen) -> None:
    """Two changes are two variants; together they are one; faults come at once."""
    words = ["no milk_whole", "budget 25", "no milk_whole"]
    apart = chosen_variants(kitchen, [], words, otherwise_all=True)
    assert [v.name for v in apart] == ["no milk_whole", "budget 25"]
    (joined,) = chosen_variants(kitchen, [], words, otherwise_all=True, together=True)
    assert joined.name == "no milk_whole; budget 25"
    assert (joined.unavailable, joined.budget) == (("milk_whole",), Decimal(25))
    for together in (False, True):
        with pytest.raises(BadInput) as caught:
            chosen_variants(
                kitchen, [], ["less salt", "no sugarr"], otherwise_all=True, together=together
            )
        codes = {fault.code for fault in caught.value.faults}
        assert codes == {"change_not_understood", "unknown_food"}


def test_unknown_names_and_words_are_told_together(kitchen: Kitchen) -> None:
    """Faults of names and of changes come at once."""
    with pytest.raises(BadInput) as caught:
        chosen_variants(kitchen, ["Por"], ["less salt"], otherwise_all=True)
    assert {fault.code for fault in caught.value.faults} == {
        "unknown_variant", "change_not_understood",
    }  # fmt: skip


def test_a_written_plan_is_the_base_only_while_it_holds(kitchen: Kitchen, tmp_path: Path) -> None:
    """A plan of the same kitchen is taken as it is; one that breaks today's budget is refused."""
    plan = make_plan(kitchen, EXACT)
    write_plan(plan, kitchen.catalog, kitchen.scenario, tmp_path / "plan")
    assert base_plan(kitchen, EXACT, tmp_path / "plan") == plan
    changed = kitchen.scenario.model_copy(update={"budget": plan.solution.grocery_cost / 2})
    poorer = Kitchen(
        kitchen.catalog, changed, kitchen.scenario_path, kitchen.catalog_folder, "0", "1"
    )
    with pytest.raises(AuditFailed):
        base_plan(poorer, EXACT, tmp_path / "plan")


def test_the_command_answers_all_variants_and_writes_the_folder(path: Path, tmp_path: Path) -> None:
    """Text to stdout, what is worked on to stderr, files in the folder asked for."""
    out = tmp_path / "found"
    done = runner.invoke(cli.app, ["whatif", str(path), "--gap", "0", "--out", str(out)])
    assert done.exit_code == ExitCode.OK
    assert done.stdout.startswith("What if: Tiny week\n")
    assert "Poor" in done.stdout
    assert re.search(r"^\d+ of \d+ s  now: Dear eggs$", done.stderr, re.MULTILINE)
    assert (out / "whatif.json").is_file()
    assert (out / "variants.csv").is_file()


def test_the_command_prints_json_alone(path: Path) -> None:
    """With --json and --quiet stdout is JSON, and stderr is empty."""
    done = runner.invoke(
        cli.app, ["whatif", str(path), "--change", "budget 25", "--json", "--quiet"]
    )
    assert done.exit_code == ExitCode.OK
    assert done.stderr == ""
    data = json.loads(done.stdout)
    assert [row["variant"]["name"] for row in data["variants"]] == ["budget 25"]
    assert data["budget_curve"] is None


@pytest.mark.parametrize(
    ("options", "code"),
    [
        (["--change", "less salt"], ExitCode.BAD_INPUT),
        (["--target", "ana zinc_mg"], ExitCode.BAD_INPUT),
        (["--variant", "Por"], ExitCode.BAD_INPUT),
        (["--together"], ExitCode.USAGE),
        (["--spread", "0"], ExitCode.USAGE),
        (["--spread", "120%"], ExitCode.USAGE),
        (["--points", "2"], ExitCode.USAGE),
        (["--base", "nowhere"], ExitCode.BAD_INPUT),
    ],
)
def test_wrong_questions_are_refused_before_anything_is_solved(
    path: Path, options: list[str], code: ExitCode, monkeypatch: pytest.MonkeyPatch
) -> None:
    """The exit code tells what kind of mistake it was; no search is begun."""

    def no_search(*_: object, **__: object) -> None:
        raise AssertionError("a search was begun")

    monkeypatch.setattr("planopt.whatif.ask.make_plan", no_search)
    done = runner.invoke(cli.app, ["whatif", str(path), *options])
    assert done.exit_code == code, done.output


def test_nothing_asked_is_told(tmp_path: Path) -> None:
    """A scenario without variants and a command without questions is a usage error."""
    done = runner.invoke(cli.app, ["whatif", str(write_kitchen(tmp_path))])
    assert done.exit_code == ExitCode.USAGE
    assert "nothing is asked" in done.output


def test_no_compliant_week_is_explained_in_text_and_json(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    """The plan command tells the clash and its repairs; JSON has them as data."""
    monkeypatch.chdir(tmp_path)
    path = write_kitchen(tmp_path, budget="3.00")
    done = runner.invoke(cli.app, ["plan", str(path), "--work-limit", "9999", "--json", "--quiet"])
    assert done.exit_code == ExitCode.NO_COMPLIANT_WEEK
    assert "budget 3.00 USD" in done.stderr
    data = json.loads(done.stdout)
    (repair,) = [r for r in data["explanation"]["repairs"] if r["moves"][0]["what"] == "budget"]
    assert repair["least"] is True
    assert repair["moves"][0]["after"] > 3.0
    assert data["reasons"] == data["explanation"]["sentences"]
