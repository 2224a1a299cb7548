"""The program as its users have it: shipped files, the installed command, real endings."""

from __future__ import annotations

import json
import os
import re
import shutil
import signal
import subprocess
import sys
from pathlib import Path
from time import perf_counter, sleep
from typing import Any

import pytest

import planopt
from kitchens import tiny_client, write_kitchen
from planopt.audit import audit_plan
from planopt.faults import ExitCode
from planopt.pipeline import load_kitchen, make_plan
from planopt.plan.file import read_plan
from planopt.report.files.folder import PLAN_FILES, plan_json
from planopt.scenario.households.paths import check_paths_and_warn
from planopt.solve.settings import SolveSettings

ROOT = Path(__file__).resolve().parents[2]
SCENARIOS = sorted((ROOT / "scenarios").glob("*.yaml"))
QUICK = "scenarios/one_client_quick.yaml"
# What two runs of one search do not share.
UNALIKE = ("solve_seconds", "build_seconds")


def _environment() -> dict[str, str]:
    """Return an environment in which a process finds the planopt under test."""
    return {**os.environ, "PYTHONPATH": str(Path(planopt.__file__).parents[1])}


def planopt_in(folder: Path, *words: str) -> subprocess.CompletedProcess[str]:
    """Run the command line in a folder to its end."""
    return subprocess.run(
        [sys.executable, "-P", "-m", "planopt", *words],
        cwd=folder,
        env=_environment(),
        capture_output=True,
        encoding="utf-8",
        timeout=900,
        check=False,
    )


def _without_times(text: str) -> Any:
    data = json.loads(text)
    for name in UNALIKE:
        assert data["solution"].pop(name) >= 0
    return data


def _new_kitchen(folder: Path) -> None:
    done = planopt_in(folder, "new", "kitchen")
    assert done.returncode == ExitCode.OK, done.stderr
    assert "planopt plan kitchen/scenarios/" in done.stdout


# ------------------------------------------------------------------ shipped files


@pytest.mark.parametrize("path", [ROOT / "catalogs", *SCENARIOS], ids=lambda path: path.stem)
def test_what_is_shipped_has_no_fault(path: Path) -> None:
    """The catalogs, and each scenario with its catalog, pass every check without a warning."""
    faults, warnings = check_paths_and_warn([path])
    assert [fault.text() for fault in faults] == []
    assert [warning.text() for warning in warnings] == []


def test_both_scenarios_of_the_readme_are_shipped() -> None:
    """The demo and the quick scenario are there."""
    assert {"demo_week", "one_client_quick"} <= {path.stem for path in SCENARIOS}


# ------------------------------------------------------------------ plan, write, audit


@pytest.mark.slow
def test_a_new_kitchen_is_planned_alike_by_command_and_library_and_audited(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    """`new`, `check`, `plan` and `audit` agree; the library's plan.json differs in times alone.

    The written plan passes the audit, and fails it with exit code 6 after one number is changed.
    """
    _new_kitchen(tmp_path)
    checked = planopt_in(tmp_path, "check", "kitchen")
    assert checked.returncode == ExitCode.OK, checked.stderr
    scenario = f"kitchen/{QUICK}"
    # Counted and not timed: of plans that cost alike, the same is found however busy the machine.
    counted = ("--gap", "0", "--work-limit", "100000", "--threads", "1")
    done = planopt_in(tmp_path, "plan", scenario, *counted, "--out", "out", "--json", "--quiet")
    assert (done.returncode, done.stderr) == (ExitCode.OK, "")
    written = (tmp_path / "out" / "plan.json").read_text(encoding="utf-8")
    assert done.stdout == written
    assert {path.name for path in (tmp_path / "out").iterdir()} == PLAN_FILES

    monkeypatch.chdir(tmp_path)
    settings = SolveSettings(gap=0.0, work_limit=100_000, threads=1)
    plan = make_plan(load_kitchen(Path(scenario)), settings)
    assert plan.solution.status == "optimal"
    assert _without_times(plan_json(plan)) == _without_times(written)

    audited = planopt_in(tmp_path, "audit", "out")
    assert audited.returncode == ExitCode.OK, audited.stderr
    assert f"{plan.solution.objective}" in audited.stdout
    data = json.loads(written)
    data["portions"][0]["servings"] += 0.5
    (tmp_path / "out" / "plan.json").write_text(json.dumps(data), encoding="utf-8")
    audited = planopt_in(tmp_path, "audit", "out")
    assert audited.returncode == ExitCode.AUDIT_FAILED
    assert audited.stderr.startswith("The audit rejects this plan.\n")
    assert data["portions"][0]["recipe_id"] in audited.stderr


# ------------------------------------------------------------------ exit codes


def _assert_refused(
    done: subprocess.CompletedProcess[str], code: ExitCode, folder: Path, words: str
) -> None:
    """Assert an exit code, its text without a traceback, and that nothing was written."""
    assert done.returncode == code, done.stderr
    assert words in done.stderr
    assert "Traceback" not in done.stderr
    assert done.stdout == ""
    assert not (folder / "out").exists()


def test_bad_input_answers_3(tmp_path: Path) -> None:
    """An unknown allergen is told with its file and line; nothing is solved or written."""
    write_kitchen(tmp_path, clients=[tiny_client(allergens=["milc"])])
    done = planopt_in(tmp_path, "plan", "scenario.yaml", "--out", "out")
    _assert_refused(done, ExitCode.BAD_INPUT, tmp_path, "[unknown_allergen]")
    assert "did you mean 'milk'?" in done.stderr


def test_a_week_that_cannot_be_answers_4(tmp_path: Path) -> None:
    """A window that no day meets is proven impossible, and named with its client."""
    windows = {"energy_kcal": {"min": 1500}, "protein_g": {"min": 500}}
    write_kitchen(tmp_path, clients=[tiny_client(windows_per_day=windows)])
    done = planopt_in(tmp_path, "plan", "scenario.yaml", "--out", "out", "--quiet")
    _assert_refused(done, ExitCode.NO_COMPLIANT_WEEK, tmp_path, "No compliant week exists.")
    assert "cannot be met by itself: Ana: Protein at least 500 g a day." in done.stderr
    assert "- Ana: Protein at least 121.7 g a day: suffices" in done.stderr


def test_no_plan_in_time_answers_5(tmp_path: Path) -> None:
    """Without time nothing is found and nothing is called impossible."""
    words = ("--out", "out", "--quiet", "--time-limit", "0.000001")
    done = planopt_in(tmp_path, "plan", str(ROOT / "scenarios" / "demo_week.yaml"), *words)
    _assert_refused(done, ExitCode.NO_PLAN_IN_TIME, tmp_path, "no compliant plan was found within")
    assert "nothing is known to forbid one" in done.stderr


def test_a_wrong_option_answers_2(tmp_path: Path) -> None:
    """A misspelt solver option, and one that a setting governs, are refused before any search."""
    write_kitchen(tmp_path)
    for option in ("mip_rel_gapp=0.1", "mip_rel_gap=0.1"):
        done = planopt_in(tmp_path, "plan", "scenario.yaml", "--out", "out", "--option", option)
        _assert_refused(done, ExitCode.USAGE, tmp_path, "solver option")


# ------------------------------------------------------------------ Ctrl-C


def _wait_for_a_plan(process: subprocess.Popen[str], log: Path) -> None:
    """Wait until the progress tells of a first plan."""
    stop = perf_counter() + 250
    while not re.search(r"  all counted \d", log.read_text(encoding="utf-8")):
        assert process.poll() is None, log.read_text(encoding="utf-8")
        assert perf_counter() < stop, "no plan in four minutes"
        sleep(0.05)


@pytest.mark.slow
@pytest.mark.skipif(os.name != "posix", reason="a terminal's Ctrl-C is sent in the POSIX way")
def test_ctrl_c_ends_with_the_best_plan_written_and_audited(tmp_path: Path) -> None:
    """As a terminal does, SIGINT goes to the whole group; the plan found so far is kept."""
    for part in ("catalogs", "scenarios"):
        shutil.copytree(ROOT / part, tmp_path / part)
    log, shown = tmp_path / "log", tmp_path / "shown"
    words = (
        "plan",
        "scenarios/demo_week.yaml",
        "--out",
        "out",
        "--time-limit",
        "300",
        "--gap",
        "0",
    )
    with log.open("w") as errors, shown.open("w") as output:
        process = subprocess.Popen(
            [sys.executable, "-P", "-m", "planopt", *words],
            cwd=tmp_path, env=_environment(), stdout=output, stderr=errors, text=True,
            start_new_session=True,
        )  # fmt: skip
        try:
            _wait_for_a_plan(process, log)
            os.killpg(process.pid, signal.SIGINT)
            # Well before the time limit, even on a slow machine.
            code = process.wait(200)
        finally:
            if process.poll() is None:
                os.killpg(process.pid, signal.SIGKILL)
                process.wait()
    assert code == ExitCode.STOPPED, log.read_text(encoding="utf-8")
    assert "Traceback" not in log.read_text(encoding="utf-8")
    plan = read_plan(tmp_path / "out")
    assert plan.solution.status == "interrupted"
    assert plan.solution.best_bound < plan.solution.objective
    assert {path.name for path in (tmp_path / "out").iterdir()} == PLAN_FILES
    assert "interrupted" in shown.read_text(encoding="utf-8").lower()
    kitchen = load_kitchen(tmp_path / "scenarios" / "demo_week.yaml")
    assert audit_plan(plan, kitchen.catalog, kitchen.scenario) == []
    with pytest.raises(ProcessLookupError):
        os.killpg(process.pid, 0)  # nobody of the group is left, the bound worker neither
