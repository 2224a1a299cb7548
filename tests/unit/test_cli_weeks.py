"""The commands `weeks` and `overview`: answers, exit codes and streams."""

from __future__ import annotations

import json
from pathlib import Path
from typing import Any

import pytest
from typer.testing import CliRunner

from inprocess import in_this_process
from kitchens import tiny_client, write_kitchen
from planopt import cli
from planopt.faults import BadOption, ExitCode
from planopt.report.words.locale import Display
from planopt.runs import run as run_module
from planopt.runs.run import Shown, plan_weeks
from planopt.solve.settings import SolveSettings

runner = CliRunner()


@pytest.fixture
def here(monkeypatch: pytest.MonkeyPatch, tmp_path: Path) -> Path:
    """Run in a folder with a scenario, and plan without starting processes."""
    monkeypatch.setattr(run_module, "run_in_processes", in_this_process)
    monkeypatch.chdir(tmp_path)
    write_kitchen(
        tmp_path,
        kitchen="separate",
        clients=[tiny_client(), tiny_client(id="ben", name="Ben", allergens=["milc"])],
    )
    return tmp_path


class _Called:
    """Stands in for the run; remembers what it was asked, and raises."""

    def __init__(self, error: BaseException) -> None:
        self.error = error
        self.asked: dict[str, Any] = {}

    def __call__(
        self, scenario: Path, out: Path, settings: SolveSettings, **asked: Any
    ) -> None:  # fmt: skip
        """Take what the command passes on."""
        self.asked = {"scenario": scenario, "out": out, "settings": settings, **asked}
        raise self.error


def test_weeks_plans_all_it_can_and_answers_7(here: Path) -> None:
    """The overview goes to stdout, progress to stderr, files to NAME-weeks; Ben's cause is told."""
    result = runner.invoke(cli.app, ["weeks", "scenario.yaml", "--gap", "30%"])
    assert result.exit_code == ExitCode.SOME_FAILED, result.output
    assert result.stdout.startswith("Weeks of Tiny week\n")
    assert "1 of 2 clients planned" in result.stdout
    assert "clients[1].allergens[0]: 'milc' [unknown_allergen]" in result.stdout
    assert "0 of 2 weeks, 1 failed" in result.stderr
    assert "Written to scenario-weeks: overview.html and more" in result.stderr
    assert (here / "scenario-weeks" / "plans" / "ana" / "plan.json").is_file()
    again = runner.invoke(cli.app, ["overview", "scenario-weeks"])
    assert again.exit_code == ExitCode.OK
    assert again.stdout == result.stdout
    data = json.loads(runner.invoke(cli.app, ["overview", "scenario-weeks", "--json"]).stdout)
    assert [c["state"] for c in data["clients"]] == ["planned", "failed"]


@pytest.mark.usefixtures("here")
def test_weeks_all_planned_answers_0_and_json_is_the_overview() -> None:
    """Quiet and as JSON, stdout is the overview and stderr is empty."""
    write_kitchen(Path(), clients=[tiny_client(household="home")])
    words = ["weeks", "scenario.yaml", "--out", "x", "--quiet", "--json", "--gap", "0.3"]
    result = runner.invoke(cli.app, words)
    assert (result.exit_code, result.stderr) == (ExitCode.OK, "")
    written = Path("x/overview.json").read_text(encoding="utf-8")
    assert json.loads(result.stdout) == json.loads(written)


def test_weeks_passes_all_options_on(monkeypatch: pytest.MonkeyPatch) -> None:
    """Every option reaches the run; the run chooses the threads if none are given."""
    called = _Called(BadOption("no such option"))
    monkeypatch.setattr(cli.weeks, "plan_weeks", called)
    options = (
        "--out x --sharing --processes 3 --cluster tcp://h:1 --time-limit 5 --gap 3% --seed 9 "
        "--threads 2 --work-limit 50 --option presolve=off --quiet --handles"
    )
    result = runner.invoke(cli.app, ["weeks", "w.yaml", *options.split()])
    assert (result.exit_code, result.stderr) == (ExitCode.USAGE, "no such option\n")
    settings = SolveSettings(
        time_limit_s=5, gap=0.03, seed=9, threads=2, work_limit=50, options={"presolve": "off"}
    )
    assert called.asked == {
        "scenario": Path("w.yaml"), "out": Path("x"), "settings": settings,
        "workers": "tcp://h:1", "sharing": True, "progress": None,
        "shown": Shown(True, Display(also=(("names", "handles"),))),
    }  # fmt: skip
    runner.invoke(cli.app, ["weeks", "w.yaml"])
    assert "threads" not in called.asked["settings"].model_fields_set
    assert called.asked["workers"] is None
    assert called.asked["out"] == Path("w-weeks")


def test_ctrl_c_before_anything_is_written_answers_8(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    """There is no overview to show then, and no traceback."""
    monkeypatch.chdir(tmp_path)
    monkeypatch.setattr(cli.weeks, "plan_weeks", _Called(KeyboardInterrupt()))
    result = runner.invoke(cli.app, ["weeks", "w.yaml", "--quiet"])
    assert result.exit_code == ExitCode.STOPPED
    assert list(tmp_path.iterdir()) == []


def test_weeks_with_a_fault_for_everybody_answers_3(here: Path) -> None:
    """A roster that is not there is told as text and as JSON; nothing is written."""
    write_kitchen(here, clients=None, roster="none.csv")
    result = runner.invoke(cli.app, ["weeks", "scenario.yaml", "--json", "--quiet"])
    assert result.exit_code == ExitCode.BAD_INPUT
    assert [f["code"] for f in json.loads(result.stdout)["faults"]] == ["file_missing"]
    assert "none.csv" in result.stderr
    assert not (here / "scenario-weeks").exists()


def test_overview_of_something_else_answers_3(tmp_path: Path) -> None:
    """The fault names the file that makes a folder a run."""
    result = runner.invoke(cli.app, ["overview", str(tmp_path)])
    assert result.exit_code == ExitCode.BAD_INPUT
    assert "run.json" in result.stderr
    assert "name a folder that `planopt weeks` wrote" in result.stderr


def test_the_command_only_calls_the_library(here: Path) -> None:
    """What the command has planned, the library finds finished."""
    runner.invoke(cli.app, ["weeks", "scenario.yaml", "--gap", "0.3", "--quiet"])
    settings = SolveSettings(threads=1, gap=0.3)
    result = plan_weeks(Path("scenario.yaml"), here / "scenario-weeks", settings)
    assert (result.kept, result.planned) == (1, 0)
