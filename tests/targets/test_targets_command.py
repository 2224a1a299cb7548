"""`planopt targets` into files, and from there into the plan."""

from __future__ import annotations

import json
from pathlib import Path

import pytest
import yaml
from typer.testing import CliRunner

from kitchens import write_kitchen
from planopt import cli
from planopt.faults import ExitCode
from planopt.pipeline import load_kitchen, make_plan
from planopt.plan.records import Plan
from planopt.solve.settings import SolveSettings

runner = CliRunner()
WEEK = """\
# The first week.
name: Week   # a name
start_date: 2026-11-30
cook_days: [{day: 0}]
clients:
  - id: ada
    name: Ada
    windows_per_day:
      energy_kcal: {min: 1, max: 2}   # by hand
      fibre_g: {min: 25}
    cautions: [Ask about nuts, 'Targets: of last month']
    # what follows is by taste
    dislikes: {mushrooms: 0}

  - id: ben
    name: Ben
"""
MEASURES = ["--height", "164", "--weight", "65", "--activity", "light"]


def test_windows_go_into_the_client_and_nothing_else_changes(tmp_path: Path) -> None:
    """Comments, order and the other client stay; older cautions of the command are replaced."""
    path = tmp_path / "week.yaml"
    path.write_text(WEEK, encoding="utf-8")
    words = ["targets", *MEASURES, "--sex", "female", "--age", "35", "--goal", "lose"]
    result = runner.invoke(cli.app, [*words, "--into", str(path), "--client", "ada"])
    assert result.exit_code == ExitCode.OK, result.stderr
    text = path.read_text(encoding="utf-8")
    # 1339 x 1.55 - 500 = 1575.5 kcal, 5 % to both sides.
    assert "      energy_kcal: {min: 1490, max: 1660}   # by hand\n" in text
    assert "    # what follows is by taste\n    dislikes: {mushrooms: 0}\n\n  - id: ben\n" in text
    assert text.startswith("# The first week.\nname: Week   # a name\n")
    ada, ben = yaml.safe_load(text)["clients"]
    assert list(ada) == [
        "id", "name", "sex", "age_years", "windows_per_day", "cautions", "dislikes"
    ]  # fmt: skip
    assert ada["windows_per_day"]["fibre_g"] == {"min": 25}
    assert ada["cautions"][-1] == "Ask about nuts"
    assert not any("last month" in one for one in ada["cautions"])
    assert ben == {"id": "ben", "name": "Ben"}
    # A second run finds sex and age in the file and changes nothing.
    words = ["targets", *MEASURES, "--goal", "lose", "--into", str(path), "--client", "ada"]
    assert runner.invoke(cli.app, words).exit_code == ExitCode.OK
    assert path.read_text(encoding="utf-8") == text


def test_json_and_refusals(tmp_path: Path) -> None:
    """Data for programs; usage errors with their code; a client that is not there."""
    words = ["targets", *MEASURES, "--sex", "female", "--age", "35"]
    data = json.loads(runner.invoke(cli.app, [*words, "--json"]).stdout)
    assert data["resting_kcal"] == 1339.0
    assert runner.invoke(cli.app, ["targets", *MEASURES]).exit_code == ExitCode.USAGE
    assert runner.invoke(cli.app, [*words, "--client", "ada"]).exit_code == ExitCode.USAGE
    assert runner.invoke(cli.app, [*words, "--room", "80%"]).exit_code == ExitCode.USAGE
    path = tmp_path / "week.yaml"
    path.write_text(WEEK, encoding="utf-8")
    result = runner.invoke(cli.app, [*words, "--into", str(path), "--client", "adda"])
    assert result.exit_code == ExitCode.BAD_INPUT
    assert "did you mean 'ada'?" in result.stderr
    assert path.read_text(encoding="utf-8") == WEEK


@pytest.fixture(scope="module")
def planned(tmp_path_factory: pytest.TempPathFactory) -> Plan:
    """Return the plan of the tiny kitchen, whose client has a caution."""
    path = write_kitchen(tmp_path_factory.mktemp("own"))
    data = yaml.safe_load(path.read_text(encoding="utf-8"))
    data["clients"][0]["cautions"] = ["Targets: below 1200 kcal"]
    path.write_text(yaml.safe_dump(data), encoding="utf-8")
    return make_plan(load_kitchen(path), SolveSettings(work_limit=20, gap=0.5))


def test_a_plan_repeats_the_cautions_of_its_clients(planned: Plan) -> None:
    """With the client's name; `make_plan` audits, and the audit asks for them."""
    assert any(text.endswith(": Targets: below 1200 kcal") for text in planned.cautions)


ROSTER = """\
id,name,energy_kcal_min,energy_kcal_max,protein_g_min,protein_g_max,fat_g_min,fat_g_max,\
carbohydrate_g_min,carbohydrate_g_max,sex,age_years,cautions,note
bo,"Bo, the first",1,2,,,,,,,,,Ask|Targets: old,"two
lines"
cy,Cy,,,,,,,,,,,,last"""


def test_windows_go_into_the_row_of_a_roster(tmp_path: Path) -> None:
    """By the scenario or by the table; one row changes, and a column that is missing is told."""
    path = write_kitchen(tmp_path, clients=None, roster="clients.csv", kitchen="separate")
    roster = tmp_path / "clients.csv"
    roster.write_text(ROSTER, encoding="utf-8")
    words = ["targets", *MEASURES, "--sex", "female", "--age", "35", "--client"]
    assert runner.invoke(cli.app, [*words, "bo", "--into", str(path)]).exit_code == ExitCode.OK
    text = roster.read_text(encoding="utf-8")
    # 1339 x 1.55 = 2075.45 kcal.
    assert 'bo,"Bo, the first",1970,2180,' in text
    assert "|Ask," in text
    assert "Targets: old" not in text
    assert text.startswith(ROSTER.split("\n", 1)[0])
    assert text.endswith('"two\nlines"\ncy,Cy,,,,,,,,,,,,last')
    words = ["targets", *MEASURES, "--into", str(roster), "--client"]
    assert runner.invoke(cli.app, [*words, "bo"]).exit_code == ExitCode.OK
    assert roster.read_text(encoding="utf-8") == text
    missing = runner.invoke(cli.app, [*words, "bob", "--sex", "male", "--age", "30"])
    assert "did you mean 'bo'?" in missing.stderr
    roster.write_text("id,name,sex,age_years\ncy,Cy,male,30\n", encoding="utf-8")
    missing = runner.invoke(cli.app, [*words, "cy"])
    assert missing.exit_code == ExitCode.BAD_INPUT
    assert "add the column 'energy_kcal_min' to the header" in missing.stderr
    assert "add the column 'cautions' to the header" in missing.stderr
