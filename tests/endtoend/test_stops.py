"""What asks a command to stop, and streams that cannot be written: a sentence, no traceback."""

from __future__ import annotations

import json
import os
import signal
import subprocess
import sys
from collections.abc import Callable
from pathlib import Path
from typing import Any

import pytest

import planopt
from kitchens import tiny_client, write_kitchen
from planopt import cli, pipeline
from planopt.faults import ExitCode, NoCompliantWeek
from planopt.interrupts import Stopped, interrupts_held, listening, noted, stop_asked
from planopt.plan.file import read_plan
from planopt.report.files.folder import PLAN_FILES
from planopt.runs.records import RunIndex
from planopt.solve.engine.search import search
from planopt.solve.settings import SolveSettings
from planopt.start import STOPPED_TEXT
from slow import few
from solve.smallweeks import week

pytestmark = pytest.mark.skipif(os.name != "posix", reason="signals are sent in the POSIX way")
STOPS = [signal.SIGINT, signal.SIGTERM, signal.SIGHUP]
_ENV = {**os.environ, "PYTHONPATH": str(Path(planopt.__file__).parents[1])}

# Kicks itself as soon as a module is looked for.
_KICKED = """
import os, signal, sys
class Kick:
    def find_spec(self, name, path, target=None):
        if name == sys.argv[1]:
            os.kill(os.getpid(), int(sys.argv[2]))
sys.meta_path.insert(0, Kick())
from planopt.start import main
kick, sys.argv = sys.argv[:3], [sys.argv[0], *sys.argv[3:]]
sys.argv, words = kick, sys.argv
main()
"""


def _asked(number: int, work: Callable[..., Any]) -> Callable[..., Any]:
    """Return a function that is asked to stop before it does its work."""

    def asked(*args: Any, **kwargs: Any) -> Any:
        os.kill(os.getpid(), number)
        return work(*args, **kwargs)

    return asked


def _run(monkeypatch: pytest.MonkeyPatch, *words: str) -> int:
    """Run the command line here, listening as its process does."""
    monkeypatch.setattr(sys, "argv", ["planopt", *words])
    with listening():
        return cli.run()


@pytest.fixture
def here(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> Path:
    """Stand in a folder with a small kitchen."""
    write_kitchen(tmp_path)
    monkeypatch.chdir(tmp_path)
    return tmp_path


# ------------------------------------------------------------------ before the search


@pytest.mark.parametrize(
    ("module", "number"),
    [("planopt.cli", signal.SIGINT), ("pandas", signal.SIGTERM)],
)
def test_while_modules_load_a_sentence_is_all(module: str, number: int) -> None:
    """Each kind of request in another moment of loading; with streams as they are."""
    done = subprocess.run(
        [sys.executable, "-P", "-c", _KICKED, module, str(int(number)), "check", "x.yaml"],
        env=_ENV, capture_output=True, text=True, timeout=120, check=False,
    )  # fmt: skip
    assert (done.returncode, done.stdout) == (ExitCode.STOPPED, "")
    assert done.stderr == f"{STOPPED_TEXT}\n"


@pytest.mark.parametrize("number", STOPS)
@pytest.mark.parametrize(
    ("words", "where"),
    [
        (("plan", "scenario.yaml", "--json"), "plans.load_kitchen"),
        (("whatif", "scenario.yaml", "--json", "--out", "w"), "whatif.load_kitchen"),
        (("weeks", "scenario.yaml", "--json"), "weeks.plan_weeks"),
        (("check", "scenario.yaml", "--json"), "files.check_paths_and_warn"),
        (("overview", ".", "--json"), "weeks.write_overview"),
    ],
)
def test_while_files_are_read_a_sentence_is_all(
    here: Path,
    monkeypatch: pytest.MonkeyPatch,
    capsys: pytest.CaptureFixture[str],
    words: tuple[str, ...],
    where: str,
    number: int,
) -> None:
    """Every command answers alike, in JSON too, and writes nothing."""
    module, name = where.split(".")
    place = getattr(cli, module)
    monkeypatch.setattr(place, name, _asked(number, getattr(place, name)))
    before = sorted(os.listdir(here))
    assert _run(monkeypatch, *words) == ExitCode.STOPPED
    shown = capsys.readouterr()
    assert shown.err == f"{STOPPED_TEXT}\n"
    assert json.loads(shown.out) == {"ok": False, "exit_code": 8, "error": STOPPED_TEXT}
    assert sorted(os.listdir(here)) == before


def test_a_request_among_the_options_is_answered_alike(
    monkeypatch: pytest.MonkeyPatch, capsys: pytest.CaptureFixture[str]
) -> None:
    """Outside a command's own work the words are the same."""
    monkeypatch.setattr(cli.limits, "parse_options", _asked(signal.SIGTERM, dict))
    assert _run(monkeypatch, "plan", "scenario.yaml") == ExitCode.STOPPED
    assert capsys.readouterr().err == f"{STOPPED_TEXT}\n"


# ------------------------------------------------------------------ from the search on


@pytest.mark.parametrize("number", STOPS)
@pytest.mark.parametrize("moment", ["make_plan", "write_plan"])
def test_a_plan_that_is_found_is_written_before_the_end(
    here: Path,
    monkeypatch: pytest.MonkeyPatch,
    capsys: pytest.CaptureFixture[str],
    number: int,
    moment: str,
) -> None:
    """Asked right after the search, or as the files are written: the plan is there, code 8."""
    real = getattr(cli.plans, moment)
    if moment == "make_plan":

        def found(*args: Any, **more: Any) -> Any:
            plan = real(*args, **more)
            os.kill(os.getpid(), number)
            return plan

        monkeypatch.setattr(cli.plans, moment, found)
    else:
        monkeypatch.setattr(cli.plans, moment, _asked(number, real))
    code = _run(monkeypatch, "plan", "scenario.yaml", "--out", "out", "--gap", "0.5", "--quiet")
    assert code == ExitCode.STOPPED
    shown = capsys.readouterr()
    assert shown.err == "Stopped: the best plan so far is audited and in out.\n"
    assert "Plan for" in shown.out
    assert set(os.listdir(here / "out")) == PLAN_FILES
    assert read_plan(here / "out").portions


def test_a_second_request_ends_it_without_a_trace(
    here: Path, monkeypatch: pytest.MonkeyPatch, capsys: pytest.CaptureFixture[str]
) -> None:
    """What was being written is gone, and nothing of it lies about."""
    twice = _asked(signal.SIGINT, _asked(signal.SIGTERM, cli.plans.write_plan))
    monkeypatch.setattr(cli.plans, "write_plan", twice)
    before = sorted(os.listdir(here))
    code = _run(monkeypatch, "plan", "scenario.yaml", "--gap", "0.5", "--quiet")
    assert (code, capsys.readouterr().err) == (ExitCode.STOPPED, f"{STOPPED_TEXT}\n")
    assert sorted(os.listdir(here)) == before


def test_whatif_says_what_is_left_out(
    here: Path, monkeypatch: pytest.MonkeyPatch, capsys: pytest.CaptureFixture[str]
) -> None:
    """Asked after the base plan, it shows and writes what it knows."""
    monkeypatch.setattr(cli.whatif, "ask", _asked(signal.SIGTERM, cli.whatif.ask))
    words = ("whatif", "scenario.yaml", "--change", "no egg", "--gap", "0.5", "--out", "w")
    assert _run(monkeypatch, *words, "--quiet") == ExitCode.STOPPED
    shown = capsys.readouterr()
    assert shown.err == "Stopped: what is not answered yet is left out.\n"
    assert "no egg" in shown.out
    assert (here / "w" / "whatif.json").is_file()


def test_an_explanation_ends_soon(
    here: Path, monkeypatch: pytest.MonkeyPatch, capsys: pytest.CaptureFixture[str]
) -> None:
    """That no week complies is known by then; why is not looked into any more."""
    windows = {"energy_kcal": {"min": 1500}, "protein_g": {"min": 500}}
    write_kitchen(here, clients=[tiny_client(windows_per_day=windows)])
    monkeypatch.setattr(pipeline, "explain", _asked(signal.SIGHUP, pipeline.explain))
    assert _run(monkeypatch, "plan", "scenario.yaml", "--quiet") == NoCompliantWeek.exit_code
    shown = capsys.readouterr().err
    assert "No compliant week exists." in shown
    assert "was found in the time given" in shown
    assert ": suffices" not in shown


def test_weeks_keep_what_is_finished(
    here: Path, monkeypatch: pytest.MonkeyPatch, capsys: pytest.CaptureFixture[str]
) -> None:
    """Asked while kitchens are at work, the run's folder tells where it stands."""
    none = _asked(signal.SIGHUP, lambda *_: iter(()))
    monkeypatch.setattr("planopt.runs.run.run_in_processes", none)
    assert _run(monkeypatch, "weeks", "scenario.yaml", "--quiet") == ExitCode.STOPPED
    assert capsys.readouterr().err == "Stopped. The same command goes on from here.\n"
    text = (here / "scenario-weeks" / "run.json").read_text(encoding="utf-8")
    assert RunIndex.model_validate_json(text).kitchens


# ------------------------------------------------------------------ how it is heard


def test_a_library_hears_ctrl_c_only_while_it_searches() -> None:
    """There is no listening then: SIGTERM is the caller's, and so is a second Ctrl-C."""
    before = [signal.getsignal(stop) for stop in STOPS]
    heard: list[str] = []
    with noted(lambda: heard.append("once")):
        assert signal.getsignal(signal.SIGTERM) == before[1]
        os.kill(os.getpid(), signal.SIGINT)
        assert signal.getsignal(signal.SIGINT) == before[0]
    assert heard == ["once"]
    assert not stop_asked()
    assert [signal.getsignal(stop) for stop in STOPS] == before


def test_what_is_ignored_stays_ignored() -> None:
    """`nohup`, and a shell that starts something in its background, mean it."""
    before = signal.signal(signal.SIGHUP, signal.SIG_IGN)
    try:
        with listening():
            os.kill(os.getpid(), signal.SIGHUP)
            assert not stop_asked()
    finally:
        signal.signal(signal.SIGHUP, before)


def test_a_process_that_is_being_started_is_not_torn() -> None:
    """A request in that moment is answered right after it."""
    done = []

    def start() -> None:
        with listening(), interrupts_held():
            os.kill(os.getpid(), signal.SIGTERM)
            done.append("started")

    with pytest.raises(Stopped):
        start()
    assert done == ["started"]


def test_no_search_begins_once_a_stop_was_asked() -> None:
    """Whatever asks for a week then gets the answer of a search that was stopped at once."""
    with listening():
        with noted(lambda: None):
            os.kill(os.getpid(), signal.SIGINT)
        result = search(week(10), SolveSettings(gap=0.0, time_limit_s=600.0))
    assert result.status == "interrupted"
    assert result.seconds < 60


# ------------------------------------------------------------------ streams


def _shell(line: str, folder: Path) -> subprocess.CompletedProcess[str]:
    line = line.replace("planopt", f"{sys.executable} -P -m planopt", 1)
    return subprocess.run(
        ["sh", "-c", line], cwd=folder, env=_ENV, capture_output=True, text=True,
        timeout=120, check=False,
    )  # fmt: skip


@pytest.mark.parametrize(
    ("line", "shown", "code"),
    few(
        [
            ("planopt --help >&-", "standard output: it is closed.", 10),
            ("planopt --help >/dev/full", "standard output: no space left on device.", 10),
            ("planopt check x.yaml 2>/dev/full", "standard error: no space left on device.", 3),
        ],
        1,
    ),
)
def test_a_stream_that_cannot_be_written_is_told_on_the_other(
    tmp_path: Path, line: str, shown: str, code: int
) -> None:
    """In one sentence, with a code that is not 0."""
    if not Path("/dev/full").exists():
        pytest.skip("this system has no /dev/full")
    done = _shell(line, tmp_path)
    assert (done.returncode, done.stdout + done.stderr) == (
        code, f"Not all could be shown: {shown}\n"
    )  # fmt: skip


@pytest.mark.slow
def test_a_plan_is_written_whatever_becomes_of_its_progress(here: Path) -> None:
    """Both streams are closed; no file gets their numbers, and all files are there."""
    done = _shell("planopt plan scenario.yaml --gap 0.5 --out out <&- >&- 2>&-", here)
    assert (done.returncode, done.stdout, done.stderr) == (ExitCode.NOT_SHOWN, "", "")
    assert set(os.listdir(here / "out")) == PLAN_FILES
    assert read_plan(here / "out").portions


def test_an_unwritable_folder_is_noticed_before_the_search(
    here: Path, monkeypatch: pytest.MonkeyPatch, capsys: pytest.CaptureFixture[str]
) -> None:
    """All commands with --out; no second goes into a plan that could not be kept."""
    (here / "file").write_text("mine", encoding="utf-8")
    for module, name in (("plans", "make_plan"), ("whatif", "base_plan"), ("weeks", "plan_weeks")):
        if module != "weeks":
            monkeypatch.setattr(getattr(cli, module), name, pytest.fail)
    monkeypatch.setattr("planopt.runs.run.load_kitchens", pytest.fail)
    for command in ("plan", "whatif", "weeks"):
        code = _run(monkeypatch, command, "scenario.yaml", "--out", "file/out")
        assert code == ExitCode.BAD_INPUT
        shown = capsys.readouterr().err
        assert "file/out: 'out' [folder_unwritable]" in shown
        assert "the system refuses to write here: Not a directory" in shown
