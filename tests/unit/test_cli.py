"""The command line: answers, exit codes and streams."""

from __future__ import annotations

import json
from collections.abc import Callable
from pathlib import Path
from time import perf_counter
from typing import Any

import pytest
import typer
from typer.testing import CliRunner

from planopt import cli
from planopt.cli.shared import parse_gap
from planopt.faults import (
    AuditFailed,
    BadInput,
    BadOption,
    ExitCode,
    Fault,
    NoCompliantWeek,
    NoPlanInTime,
    StoppedByUser,
)
from planopt.plan.file import read_plan
from planopt.plan.records import Plan
from planopt.report.files.pdf import PdfUnavailable
from planopt.scenario.reading.load import Kitchen
from planopt.solve.progress import Progress
from planopt.solve.settings import SolveSettings
from report_samples import sample_catalog, sample_plan, sample_scenario

runner = CliRunner()
_FAULT = Fault("week.yaml", 7, "days", "0", "too few", "write 1 or more", "too_small")


class _FakeSolve:
    """Stands in for loading and solving; remembers the settings it was given."""

    def __init__(self) -> None:
        self.settings: SolveSettings | None = None
        self.error: BaseException | None = None

    def load(self, path: Path) -> Kitchen:
        """Give the sample kitchen."""
        return Kitchen(
            sample_catalog(), sample_scenario(), path, path.parent, "0" * 64, "1" * 64
        )  # fmt: skip

    def solve(
        self,
        kitchen: Kitchen,
        settings: SolveSettings,
        progress: Callable[[Progress], None] | None,
        *,
        began: float,
    ) -> Plan:
        """Report one moment, then give the sample plan or the error asked for."""
        assert 0 <= perf_counter() - began < 60
        self.settings = settings
        if progress is not None:
            progress(Progress("search", 1.0, 17.55, 16.80))
        if self.error is not None:
            raise self.error
        return sample_plan()


@pytest.fixture
def fake(monkeypatch: pytest.MonkeyPatch, tmp_path: Path) -> _FakeSolve:
    """Run in an empty folder with the solve faked."""
    solve = _FakeSolve()
    monkeypatch.setattr(cli.plans, "load_kitchen", solve.load)
    monkeypatch.setattr(cli.plans, "make_plan", solve.solve)
    monkeypatch.chdir(tmp_path)
    return solve


def test_plan_writes_a_folder_named_after_the_scenario(fake: _FakeSolve, tmp_path: Path) -> None:
    """Summary to stdout, progress to stderr, files in STEM-plan of the current folder."""
    result = runner.invoke(cli.app, ["plan", "kitchens/two_days.yaml"])
    assert result.exit_code == ExitCode.OK
    assert read_plan(tmp_path / "two_days-plan") == sample_plan()
    assert result.stdout.startswith("Plan for Two days of fish\n")
    assert all(len(line) <= 80 for line in result.stdout.splitlines())
    assert "1 s  search  all counted 17.55 USD  no less than 16.80  gap 4.3 %" in result.stderr
    assert "Written to two_days-plan: plan.json, report.md" in result.stderr
    assert "no less than 16.80" not in result.stdout


def test_plan_passes_all_settings_on(fake: _FakeSolve) -> None:
    """Every option of the command line reaches the solve; others keep their defaults."""
    options = (
        "--out x --time-limit 5 --gap 3% --seed 9 --threads 1 --work-limit 50 "
        "--option presolve=off --option mip_rel_gap=0.1=2"
    )
    result = runner.invoke(cli.app, ["plan", "w.yaml", *options.split()])
    assert result.exit_code == 0
    assert fake.settings == SolveSettings(
        time_limit_s=5,
        gap=0.03,
        seed=9,
        threads=1,
        work_limit=50,
        options={"presolve": "off", "mip_rel_gap": "0.1=2"},
    )
    runner.invoke(cli.app, ["plan", "w.yaml"])
    assert fake.settings == SolveSettings()


def test_quiet_leaves_stderr_empty(fake: _FakeSolve) -> None:
    """With --quiet nothing but the summary is printed."""
    result = runner.invoke(cli.app, ["plan", "w.yaml", "--quiet"])
    assert result.stderr == ""
    assert result.stdout.startswith("Plan for")


def test_json_prints_the_plan_itself(fake: _FakeSolve) -> None:
    """With --json stdout is plan.json to the letter."""
    result = runner.invoke(cli.app, ["plan", "w.yaml", "--json"])
    assert result.stdout == Path("w-plan/plan.json").read_text(encoding="utf-8")


def test_locale_and_units_reach_the_report_and_the_summary(fake: _FakeSolve) -> None:
    """A decimal comma and ounces for people; plan.json as ever for programs."""
    result = runner.invoke(cli.app, ["plan", "w.yaml", "--locale", "de_DE", "--units", "us"])
    assert result.exit_code == ExitCode.OK
    assert "17,55" in result.stdout
    report = Path("w-plan/report.md").read_text(encoding="utf-8")
    assert "12,70" in report
    assert "1 lb 15 1/2 oz" in report
    told = {"shown": {"locale": "de_DE", "units": "us"}}
    assert read_plan(Path("w-plan")) == sample_plan().model_copy(update=told)


def test_pdf_files_are_made_on_the_paper_asked_for(
    fake: _FakeSolve, monkeypatch: pytest.MonkeyPatch
) -> None:
    """The pages are printed after the plan is written, and named with its files."""
    asked: list[tuple[Path, str]] = []

    def printed(folder: Path, paper: str) -> list[Path]:
        asked.append((folder, paper))
        return [folder / "report.pdf"]

    monkeypatch.setattr(cli.plans, "pdf_fault", lambda: None)
    monkeypatch.setattr(cli.plans, "add_pdfs", printed)
    result = runner.invoke(cli.app, ["plan", "w.yaml", "--pdf", "letter"])
    assert asked == [(Path("w-plan"), "letter")]
    assert result.stderr.rstrip().endswith(", report.pdf")


@pytest.mark.parametrize("when", ["before", "after"])
def test_a_plan_is_as_good_without_its_pdf(
    fake: _FakeSolve, monkeypatch: pytest.MonkeyPatch, when: str
) -> None:
    """Where no PDF can be made the reason is told, and the plan is written with exit code 0."""

    def failing(folder: Path, paper: str) -> list[Path]:
        raise PdfUnavailable("no PDF: no ink")

    monkeypatch.setattr(
        cli.plans, "pdf_fault", lambda: "no PDF: no ink" if when == "before" else None
    )
    monkeypatch.setattr(cli.plans, "add_pdfs", failing)
    result = runner.invoke(cli.app, ["plan", "w.yaml", "--pdf", "a4"])
    assert result.exit_code == ExitCode.OK
    assert result.stderr.count("no PDF: no ink") == 1
    assert read_plan(Path("w-plan")) == sample_plan()


@pytest.mark.parametrize(
    ("text", "gap"), [("0.02", 0.02), ("2%", 0.02), ("0", 0.0), ("0.5 %", 0.005)]
)
def test_gap_is_a_share_or_percent(text: str, gap: float) -> None:
    """0.02 and 2% are the same gap."""
    assert parse_gap(text) == pytest.approx(gap)


@pytest.mark.parametrize("text", ["2", "-1%", "100%", "nan", "inf", "much", "", "%"])
def test_odd_gaps_are_refused(text: str) -> None:
    """A gap of one or more, below zero or not a number is a usage error."""
    with pytest.raises(typer.BadParameter):
        parse_gap(text)


@pytest.mark.parametrize(
    "arguments",
    [
        ["plan"],
        ["plan", "w.yaml", "--gap", "2"],
        ["plan", "w.yaml", "--option", "presolve"],
        ["plan", "w.yaml", "--option", "a=1", "--option", "a=2"],
        ["plan", "w.yaml", "--threads", "0"],
        ["plan", "w.yaml", "--time-limit", "-1"],
        ["plan", "w.yaml", "--time-limit", "nan"],
        ["plan", "w.yaml", "--no-such-option"],
        ["plan", "w.yaml", "--locale", "xx_XX"],
        ["plan", "w.yaml", "--units", "imperial"],
        ["plan", "w.yaml", "--pdf", "a5"],
        ["schema", "--scenario", "--recipe"],
        ["check"],
        ["no-such-command"],
    ],
)
def test_usage_errors_answer_2(fake: _FakeSolve, arguments: list[str]) -> None:
    """Wrong use is told as such, before any search, with exit code 2."""
    result = runner.invoke(cli.app, arguments)
    assert result.exit_code == ExitCode.USAGE
    assert "Traceback" not in result.stderr
    assert fake.settings is None


@pytest.mark.parametrize(
    ("error", "code", "words"),
    [
        (BadInput([_FAULT]), ExitCode.BAD_INPUT, "week.yaml:7: days: '0'"),
        (NoCompliantWeek(["Ana needs more."]), ExitCode.NO_COMPLIANT_WEEK, "Ana needs more."),
        (NoPlanInTime("nothing yet"), ExitCode.NO_PLAN_IN_TIME, "nothing yet"),
        (StoppedByUser("stopped early"), ExitCode.STOPPED, "stopped early"),
        (AuditFailed(["one sum differs"]), ExitCode.AUDIT_FAILED, "one sum differs"),
        (BadOption("no option 'presolv'"), ExitCode.USAGE, "no option 'presolv'"),
    ],
)
def test_each_error_has_its_exit_code(
    fake: _FakeSolve, error: Exception, code: ExitCode, words: str
) -> None:
    """Errors raised on purpose become text on stderr and their own exit code."""
    fake.error = error
    result = runner.invoke(cli.app, ["plan", "w.yaml", "--quiet", "--json"])
    assert result.exit_code == code
    assert words in result.stderr
    assert "Traceback" not in result.stderr
    answer = json.loads(result.stdout)
    assert answer["ok"] is False
    assert answer["exit_code"] == code
    assert not Path("w-plan").exists()


def test_a_bug_keeps_its_traceback(fake: _FakeSolve) -> None:
    """An error that nobody foresaw is not dressed up: it leaves the command as it is."""
    fake.error = ZeroDivisionError("bug")
    result = runner.invoke(cli.app, ["plan", "w.yaml"])
    assert result.exit_code == ExitCode.INTERNAL
    assert isinstance(result.exception, ZeroDivisionError)


def test_a_taken_folder_is_refused_before_the_search(fake: _FakeSolve) -> None:
    """No minute of searching is spent for a plan that could not be written."""
    Path("w-plan").mkdir()
    Path("w-plan/own.txt").write_text("mine", encoding="utf-8")
    result = runner.invoke(cli.app, ["plan", "w.yaml"])
    assert result.exit_code == ExitCode.BAD_INPUT
    assert fake.settings is None
    assert "[out_dir_taken]" in result.stderr


def test_check_lists_faults_and_warnings(monkeypatch: pytest.MonkeyPatch) -> None:
    """Faults answer 3, as text or as JSON; warnings stop nothing."""
    answers: dict[str, Any] = {"bad.yaml": ([_FAULT], []), "good.yaml": ([], [_FAULT])}
    monkeypatch.setattr(cli.files, "check_paths_and_warn", lambda paths: answers[paths[0].name])
    bad = runner.invoke(cli.app, ["check", "bad.yaml", "--json"])
    assert bad.exit_code == ExitCode.BAD_INPUT
    assert json.loads(bad.stdout)["faults"] == [_FAULT.as_dict()]
    good = runner.invoke(cli.app, ["check", "good.yaml"])
    assert good.exit_code == ExitCode.OK
    assert good.stdout == "No faults in 1 path, 1 warning.\n"
    assert "warning, stops nothing: week.yaml:7" in good.stderr
    as_json = json.loads(runner.invoke(cli.app, ["check", "good.yaml", "--json"]).stdout)
    assert as_json["ok"] is True
    assert len(as_json["warnings"]) == 1


class _Finding:
    def text(self) -> str:
        """Give a finding's text."""
        return "[grocery-cost] solution: expected 1, found 2"


def test_audit_answers_6_with_its_findings(monkeypatch: pytest.MonkeyPatch) -> None:
    """A plan that does not add up is rejected with every finding, a sound one confirmed."""
    monkeypatch.setattr(cli.plans, "audit_folder", lambda folder: (sample_plan(), [_Finding()]))
    rejected = runner.invoke(cli.app, ["audit", "week"])
    assert rejected.exit_code == ExitCode.AUDIT_FAILED
    assert "[grocery-cost]" in rejected.stderr
    monkeypatch.setattr(cli.plans, "audit_folder", lambda folder: (sample_plan(), []))
    agreed = runner.invoke(cli.app, ["audit", "week"])
    assert agreed.exit_code == ExitCode.OK
    assert (
        agreed.stdout
        == "The audit agrees: every rule is met, and the week costs 17.55 USD, all counted.\n"
    )


def test_new_writes_a_starter_that_checks_clean(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    """The starter arrives, names what to try first, and will not be written twice."""
    monkeypatch.chdir(tmp_path)
    first = runner.invoke(cli.app, ["new", "mine"])
    assert first.exit_code == ExitCode.OK
    assert "Try: planopt plan mine/scenarios/" in first.stdout
    assert (tmp_path / "mine" / "catalogs" / "foods.csv").is_file()
    second = runner.invoke(cli.app, ["new", "mine"])
    assert second.exit_code == ExitCode.BAD_INPUT


@pytest.mark.parametrize(
    ("arguments", "title"), [([], "Plan"), (["--scenario"], "Scenario"), (["--recipe"], "Recipe")]
)
def test_schema_prints_json(arguments: list[str], title: str) -> None:
    """Each of the three schemas is printed as JSON."""
    result = runner.invoke(cli.app, ["schema", *arguments])
    assert json.loads(result.stdout)["title"] == title


def test_version() -> None:
    """The version is one line."""
    result = runner.invoke(cli.app, ["--version"])
    assert result.stdout.startswith("planopt ")
    assert result.exit_code == ExitCode.OK
