"""Runs: many kitchens into one folder, each failure its client's own, and resumable to the byte."""

from __future__ import annotations

import os
import shutil
import signal
import subprocess
import sys
from collections import deque
from collections.abc import Generator
from pathlib import Path
from time import perf_counter, sleep
from typing import Any

import pytest

import planopt
from inprocess import in_this_process
from kitchens import tiny_client, write_kitchen
from planopt.audit import audit_plan
from planopt.catalog.records import Catalog
from planopt.faults import BadInput, BadOption, ExitCode, NoPlanInTime
from planopt.overview.files import write_overview
from planopt.pipeline import audit_folder
from planopt.plan.file import read_plan
from planopt.report.files.folder import PLAN_FILES
from planopt.runs import run as run_module
from planopt.runs.jobs import JobAnswer, RunJob, solve_job
from planopt.runs.run import RunMoment, RunResult, plan_weeks
from planopt.scenario.reading.load import load_kitchen
from planopt.solve.settings import SolveSettings

SETTINGS = SolveSettings(threads=1, gap=0.2, time_limit_s=30)


def client(name: str, **keys: Any) -> dict[str, Any]:
    """Return a client like the tiny kitchen's with another name."""
    return tiny_client(id=name, name=name.title(), **keys)


def impossible(name: str, **keys: Any) -> dict[str, Any]:
    """Return a client whom no menu can satisfy."""
    return client(name, windows_per_day={"protein_g": {"min": 500}}, **keys)


@pytest.fixture
def without_processes(monkeypatch: pytest.MonkeyPatch) -> None:
    """Plan without starting processes."""
    monkeypatch.setattr(run_module, "run_in_processes", in_this_process)


def snapshot(root: Path) -> dict[str, tuple[int, bytes]]:
    """Return the time of change and the bytes of every file of the plans."""
    return {
        path.relative_to(root).as_posix(): (path.stat().st_mtime_ns, path.read_bytes())
        for folder in ("plans", "alone", "kitchens")
        for path in sorted((root / folder).rglob("*"))
        if path.is_file()
    }


def states(result: RunResult) -> dict[str, str]:
    """Return the state of every client."""
    return {c.client_id: c.state for k in result.index.kitchens for c in k.clients}


@pytest.mark.usefixtures("without_processes")
def test_each_failure_is_its_clients_own(tmp_path: Path) -> None:
    """Bad data and an impossible week leave everybody else with an audited plan.

    In a household of three, only the one who cannot be planned goes without.
    """
    path = write_kitchen(
        tmp_path,
        kitchen="separate",
        clients=[
            client("ana"),
            client("bad", allergens=["milc"]),
            impossible("ian"),
            client("hal", household="home"),
            impossible("hob", household="home"),
            client("hue", household="home", allergens=["milk"]),
        ],
    )
    moments: list[RunMoment] = []
    result = plan_weeks(path, tmp_path / "out", SETTINGS, progress=moments.append)
    assert result.exit_code == ExitCode.SOME_FAILED
    assert states(result) == {
        "ana": "planned", "bad": "failed", "ian": "failed",
        "hal": "planned", "hob": "failed", "hue": "failed",
    }  # fmt: skip
    causes = {c.client_id: c for k in result.index.kitchens for c in k.clients}
    assert "did you mean 'milk'?" in causes["bad"].cause
    assert causes["bad"].exit_code == ExitCode.BAD_INPUT
    assert "Ian: Protein at least 500 g a day." in causes["ian"].cause
    assert causes["hob"].exit_code == ExitCode.NO_COMPLIANT_WEEK
    # Without milk there is no breakfast in this catalog, which the check sees before solving.
    assert "[meal_without_recipe]" in causes["hue"].cause
    assert {p.name for p in (tmp_path / "out" / "plans").iterdir()} == {"ana", "home"}
    assert {p.client_id for p in read_plan(tmp_path / "out/plans/home").portions} == {"hal"}
    last = moments[-1]
    assert (last.done, last.failed, last.total) == (2, 2, 4)
    assert last.spend == sum(
        read_plan(tmp_path / "out" / "plans" / name).solution.grocery_cost
        for name in ("ana", "home")
    )
    for name in ("ana", "home"):
        _, findings = audit_folder(tmp_path / "out" / "plans" / name)
        assert findings == []


@pytest.mark.usefixtures("without_processes")
def test_the_same_command_again_changes_nothing(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    """Finished plans keep their bytes and their times, and what is proven is not tried again."""
    clients = [client("ana"), impossible("ian"), client("ben", household="home"),
               client("cyd", household="home"), impossible("dan", household="home")]  # fmt: skip
    path = write_kitchen(tmp_path, kitchen="separate", clients=clients)
    first = plan_weeks(path, tmp_path / "out", SETTINGS, sharing=True)
    write_overview(tmp_path / "out")
    before = snapshot(tmp_path / "out")
    overview = (tmp_path / "out" / "overview.html").stat().st_mtime_ns
    monkeypatch.setattr(run_module, "run_in_processes", _no_jobs)
    again = plan_weeks(path, tmp_path / "out", SETTINGS, sharing=True)
    write_overview(tmp_path / "out")
    assert snapshot(tmp_path / "out") == before
    assert (tmp_path / "out" / "overview.html").stat().st_mtime_ns == overview
    assert states(again) == states(first)
    assert again.index == first.index
    assert (first.planned, again.planned, again.kept) == (4, 0, 2)
    # A plan that holds is not lost to settings under which nothing is found.
    monkeypatch.setattr(run_module, "run_in_processes", in_this_process)
    hasty = SETTINGS.model_copy(update={"gap": 0.0, "time_limit_s": 1e-6})
    with monkeypatch.context() as nothing:
        nothing.setattr("planopt.runs.jobs.make_plan", _finds_nothing)
        assert states(plan_weeks(path, tmp_path / "out", hasty, sharing=True)) == states(first)
    assert snapshot(tmp_path / "out") == before
    monkeypatch.setattr(run_module, "run_in_processes", _no_jobs)
    # A wider gap, and another seed for a plan that is proven well enough, ask for nothing new.
    easier = SETTINGS.model_copy(update={"gap": 0.9, "seed": 7})
    assert plan_weeks(path, tmp_path / "out", easier, sharing=True).planned == 0


def _finds_nothing(*_: object, **__: object) -> None:
    raise NoPlanInTime("out of time")


def _no_jobs(jobs: deque[RunJob], catalog: Catalog, processes: int) -> Generator[JobAnswer]:
    raise AssertionError(f"nothing should be solved, and {[job.key for job in jobs]} would be")
    yield


@pytest.mark.usefixtures("without_processes")
def test_changes_of_files_are_noticed_by_content(tmp_path: Path) -> None:
    """A changed client is planned anew and nobody else; a changed price, everybody.

    Plans made from other files are set aside, so that nobody cooks from them.
    """
    clients = [client("ana"), client("ben")]
    path = write_kitchen(tmp_path, kitchen="separate", clients=clients)
    out = tmp_path / "out"
    plan_weeks(path, out, SETTINGS)
    before = snapshot(out)
    (out / "plans" / "ben" / "notes.txt").write_text("mine", encoding="utf-8")

    clients[1] = impossible("ben")
    write_kitchen(tmp_path, kitchen="separate", clients=clients)
    result = plan_weeks(path, out, SETTINGS)
    assert states(result) == {"ana": "planned", "ben": "failed"}
    assert not (out / "plans" / "ben").exists()
    (aside,) = (out / "outdated").iterdir()
    assert (aside / "notes.txt").read_text(encoding="utf-8") == "mine"
    kept = {name: value for name, value in before.items() if "ben" not in name}
    assert {n: v for n, v in snapshot(out).items() if "ben" not in n} == kept

    clients[1] = client("ben")
    write_kitchen(tmp_path, kitchen="separate", clients=clients)
    assert states(plan_weeks(path, out, SETTINGS)) == {"ana": "planned", "ben": "planned"}
    assert not (out / "failed" / "ben.json").exists() or plan_weeks(path, out, SETTINGS).kept == 2

    packs = tmp_path / "catalogs" / "packs.csv"
    packs.write_text(packs.read_text(encoding="utf-8").replace("1.60", "1.70"), encoding="utf-8")
    result = plan_weeks(path, out, SETTINGS)
    assert (result.planned, result.kept) == (2, 0)
    assert audit_folder(out / "plans" / "ana")[1] == []


@pytest.mark.usefixtures("without_processes")
def test_a_client_who_leaves_takes_the_plan_along(tmp_path: Path) -> None:
    """Plans and files of kitchens that are no longer in the scenario do not stay among the rest."""
    path = write_kitchen(tmp_path, kitchen="separate", clients=[client("ana"), client("ben")])
    plan_weeks(path, tmp_path / "out", SETTINGS)
    (tmp_path / "out" / "kitchens" / "mine.yaml").write_text("a note\n", encoding="utf-8")
    write_kitchen(tmp_path, kitchen="separate", clients=[client("ana")])
    plan_weeks(path, tmp_path / "out", SETTINGS)
    assert {p.name for p in (tmp_path / "out" / "plans").iterdir()} == {"ana"}
    kept = {p.name for p in (tmp_path / "out" / "kitchens").iterdir()}
    assert kept == {"ana.yaml", "mine.yaml"}


@pytest.mark.usefixtures("without_processes")
def test_what_a_kill_leaves_behind_is_mended(tmp_path: Path) -> None:
    """A half-written folder goes, and a folder caught between two renames comes back.

    No index is needed to know what is finished.
    """
    path = write_kitchen(tmp_path, kitchen="separate", clients=[client("ana"), client("ben")])
    out = tmp_path / "out"
    plan_weeks(path, out, SETTINGS)
    before = snapshot(out)
    (out / "plans" / "ana").rename(out / "plans" / ".ana.0123abcd.old")
    shutil.copytree(out / "plans" / "ben", out / "plans" / ".ben.0123abcd.new")
    (out / "run.json").write_text("{", encoding="utf-8")
    (out / ".run.json.0123abcd.new").write_text("{", encoding="utf-8")
    (out / "kitchens" / ".ana.yaml.0123abcd.new").write_text("na", encoding="utf-8")
    result = plan_weeks(path, out, SETTINGS)
    assert (result.kept, result.planned) == (2, 0)
    assert snapshot(out) == before
    assert not list(out.glob(".*"))
    # A plan that cannot be read is no plan.
    (out / "plans" / "ana" / "plan.json").write_text("{", encoding="utf-8")
    result = plan_weeks(path, out, SETTINGS)
    assert (result.kept, result.planned) == (1, 1)


@pytest.mark.parametrize(
    ("clients", "processes", "given", "threads"),
    [
        (1, 2, {}, 2),
        (2, 2, {}, 1),
        (2, 4, {}, 2),
        (1, 2, {"threads": 1}, 1),
        (2, 2, {"threads": 3}, 3),
    ],
)
def test_idle_cores_are_given_to_the_kitchens(
    tmp_path: Path,
    monkeypatch: pytest.MonkeyPatch,
    clients: int,
    processes: int,
    given: dict[str, int],
    threads: int,
) -> None:
    """One thread a kitchen while there are kitchens for all cores; a number given holds."""
    seen: set[int] = set()

    def look(jobs: deque[RunJob], catalog: Catalog, count: int) -> Generator[JobAnswer]:
        assert count == processes
        seen.update(job.settings.threads for job in jobs)
        yield from ()

    monkeypatch.setattr(run_module, "run_in_processes", look)
    people = [client(f"c{n}") for n in range(clients)]
    path = write_kitchen(tmp_path, kitchen="separate", clients=people)
    settings = SolveSettings(gap=0.2, **given)  # type: ignore[arg-type]
    result = plan_weeks(path, tmp_path / "out", settings, workers=processes)
    assert seen == {threads}
    assert set(states(result).values()) == {"waiting"}
    assert result.exit_code == ExitCode.SOME_FAILED


def test_a_folder_of_something_else_is_refused(tmp_path: Path) -> None:
    """Neither the user's folder nor the folder one stands in is taken for a run."""
    path = write_kitchen(tmp_path)
    (tmp_path / "taken").mkdir()
    (tmp_path / "taken" / "letter.txt").write_text("dear", encoding="utf-8")
    for place, code in ((tmp_path / "taken", "out_dir_taken"), (Path("."), "folder_is_current")):
        with pytest.raises(BadInput) as caught:
            plan_weeks(path, place, SETTINGS)
        assert [fault.code for fault in caught.value.faults] == [code]
    assert [p.name for p in (tmp_path / "taken").iterdir()] == ["letter.txt"]


@pytest.mark.usefixtures("without_processes")
def test_a_run_killed_before_its_index_is_taken_up_again(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    """The index comes before everything else, and its own half-written file stops nobody."""
    path = write_kitchen(tmp_path, clients=[client("ana", household="home")])
    out = tmp_path / "out"
    out.mkdir()
    (out / ".run.json.0123abcd.new").write_text("{", encoding="utf-8")
    monkeypatch.setattr(run_module.RunFolder, "write_kitchen", _killed)
    with pytest.raises(InterruptedError):
        plan_weeks(path, out, SETTINGS)
    monkeypatch.undo()
    monkeypatch.setattr(run_module, "run_in_processes", in_this_process)
    assert plan_weeks(path, out, SETTINGS).planned == 1


def _killed(*_: object) -> None:
    raise InterruptedError


@pytest.mark.usefixtures("without_processes")
def test_a_refused_option_stops_the_run(tmp_path: Path) -> None:
    """A misspelt solver option is not the fault of any client."""
    path = write_kitchen(tmp_path, kitchen="separate", clients=[client("ana")])
    wrong = SETTINGS.model_copy(update={"options": {"mip_gapp": "1"}})
    with pytest.raises(BadOption):
        plan_weeks(path, tmp_path / "out", wrong)
    assert not (tmp_path / "out" / "plans").exists()


def test_a_bug_in_one_kitchen_is_told_with_its_traceback(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    """What nobody raised on purpose is that kitchen's failure too, and is tried again."""
    path = write_kitchen(tmp_path, kitchen="separate", clients=[client("ana"), client("ben")])

    def work(jobs: deque[RunJob], catalog: Catalog, processes: int) -> Generator[JobAnswer]:
        for job in jobs:
            broken = Catalog.model_construct() if job.key == "ben" else catalog
            yield solve_job(job, broken)

    monkeypatch.setattr(run_module, "run_in_processes", work)
    result = plan_weeks(path, tmp_path / "out", SETTINGS)
    assert states(result) == {"ana": "planned", "ben": "failed"}
    ben = result.index.kitchens[1].clients[0]
    assert ben.exit_code == ExitCode.INTERNAL
    assert "Traceback" in ben.cause
    monkeypatch.setattr(run_module, "run_in_processes", in_this_process)
    assert states(plan_weeks(path, tmp_path / "out", SETTINGS))["ben"] == "planned"


# ------------------------------------------------------------------ real processes


def _start(folder: Path, *words: str) -> subprocess.Popen[str]:
    environment = {**os.environ, "PYTHONPATH": str(Path(planopt.__file__).parents[1])}
    with (folder / "log").open("w") as log, (folder / "shown").open("w") as shown:
        return subprocess.Popen(
            [sys.executable, "-P", "-m", "planopt", "weeks", "scenario.yaml", "--out", "out",
             "--gap", "0", *words],
            cwd=folder, env=environment, stdout=shown, stderr=log, text=True,
            start_new_session=True,
        )  # fmt: skip


def _wait_for(process: subprocess.Popen[str], folder: Path, words: str) -> None:
    stop = perf_counter() + 120
    while words not in (folder / "log").read_text(encoding="utf-8"):
        assert process.poll() is None, (folder / "log").read_text(encoding="utf-8")
        assert perf_counter() < stop, "nothing is planned in a minute"
        sleep(0.02)


def _workers(process: subprocess.Popen[str]) -> list[int]:
    """Return the processes of a run's session but itself."""
    found = []
    for entry in Path("/proc").iterdir():
        if entry.name.isdigit() and int(entry.name) != process.pid:
            try:
                fields = (entry / "stat").read_text().rpartition(")")[2].split()
            except OSError:
                continue
            if int(fields[3]) == process.pid and fields[0] != "Z":
                found.append(int(entry.name))
    return found


def _end(process: subprocess.Popen[str]) -> None:
    if process.poll() is None:
        os.killpg(process.pid, signal.SIGKILL)
        process.wait()


@pytest.mark.slow
@pytest.mark.usefixtures("without_processes")
@pytest.mark.skipif(not Path("/proc/self/stat").exists(), reason="looks processes up in /proc")
def test_a_run_killed_at_a_bad_moment_goes_on_from_there(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    """After SIGKILL no worker lives on, and nothing is half-written.

    The same command goes on. Then Ctrl-C: the workers end, what is finished stays, and the exit
    code says so. The third run plans what is missing; the plans of the first are untouched.
    """
    names = [f"c{n}" for n in range(20)]
    write_kitchen(tmp_path, kitchen="separate", clients=[client(name) for name in names])
    process = _start(tmp_path, "--processes", "2")
    try:
        _wait_for(process, tmp_path, "1 of 20 weeks")
        workers = _workers(process)
        assert workers
        process.kill()
        process.wait()
        stop = perf_counter() + 20
        while any(Path(f"/proc/{pid}/stat").exists() for pid in workers):
            assert perf_counter() < stop, "a worker has outlived its run"
            sleep(0.05)
    finally:
        _end(process)
    plans = tmp_path / "out" / "plans"
    finished = {p.name for p in plans.iterdir() if not p.name.startswith(".")}
    assert finished < set(names)
    for name in finished:
        assert {p.name for p in (plans / name).iterdir()} == PLAN_FILES
    before = {n: v for n, v in snapshot(tmp_path / "out").items() if "/." not in n}

    process = _start(tmp_path, "--processes", "1")
    try:
        _wait_for(process, tmp_path, f"{len(finished) + 1} of 20 weeks")
        # As a terminal does: to the whole group, workers included.
        os.killpg(process.pid, signal.SIGINT)
        code = process.wait(90)
    finally:
        _end(process)
    stop = perf_counter() + 20
    while _workers(process):
        assert perf_counter() < stop, "a worker has outlived its run"
        sleep(0.05)
    log = (tmp_path / "log").read_text(encoding="utf-8")
    assert code == ExitCode.STOPPED, log
    assert "Traceback" not in log
    assert "The same command goes on from here." in log
    more = {p.name for p in plans.iterdir()}
    assert finished < more

    monkeypatch.chdir(tmp_path)
    result = plan_weeks(Path("scenario.yaml"), Path("out"), SETTINGS)
    assert (result.exit_code, result.kept) == (ExitCode.OK, len(more))
    after = snapshot(tmp_path / "out")
    for name in ("plans/" + name for name in finished):
        kept = {n: v for n, v in before.items() if n.startswith(f"{name}/")}
        assert kept
        assert {n: v for n, v in after.items() if n.startswith(f"{name}/")} == kept
    for name in names:
        kitchen = load_kitchen(tmp_path / "out" / "kitchens" / f"{name}.yaml")
        plan = read_plan(plans / name)
        assert audit_plan(plan, kitchen.catalog, kitchen.scenario) == []
