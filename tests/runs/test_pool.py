"""Worker processes: every job is answered once, even when a worker dies."""

from __future__ import annotations

import os
from collections import deque
from dataclasses import replace
from pathlib import Path
from typing import Any

import pytest

from kitchens import tiny_client, write_kitchen
from planopt import __version__, pipeline
from planopt.catalog.records import Catalog
from planopt.faults import AuditFailed, BadInput, ExitCode, NoPlanInTime
from planopt.plan.records import Plan
from planopt.runs import jobs
from planopt.runs.jobs import RunJob, failure_of, solve_job
from planopt.runs.layout import RunFolder
from planopt.runs.pool import run_in_processes, usable_cores
from planopt.scenario.reading.load import Kitchen, load_kitchen
from planopt.solve.settings import SolveSettings

SETTINGS = SolveSettings(threads=1, gap=0.2, time_limit_s=30)


def job_of(path: Path, key: str) -> tuple[RunJob, Catalog]:
    """Return the job of a kitchen of one client, and its catalog."""
    kitchen = load_kitchen(path)
    return RunJob(
        key=key,
        scenario=kitchen.scenario,
        scenario_file=path.as_posix(),
        scenario_sha256=kitchen.scenario_sha256,
        catalog_folder=kitchen.catalog_folder.as_posix(),
        catalog_sha256=kitchen.catalog_sha256,
        settings=SETTINGS,
    ), kitchen.catalog


class Deadly:
    """Ends the process that unpickles it, as running out of memory would."""

    def __reduce__(self) -> tuple[Any, ...]:
        """Name what the other process is to call."""
        return os._exit, (9,)


def test_a_new_plan_takes_away_what_was_printed_from_the_old_one(tmp_path: Path) -> None:
    """A PDF of the earlier plan would be out of date; the user's own note beside it is kept."""
    job, _ = job_of(write_kitchen(tmp_path), "good")
    folder = RunFolder(tmp_path / "run")
    for text in (b"old", b"new"):
        folder.write_files(job, {"plan.json": text})
        if text == b"old":
            for name in ("report.pdf", "note.txt"):
                (folder.plan_folder("good") / name).write_bytes(text)
    found = {path.name: path.read_bytes() for path in folder.plan_folder("good").iterdir()}
    assert found == {"plan.json": b"new", "note.txt": b"old"}


@pytest.mark.slow
def test_every_job_is_answered_once_though_one_kills_its_worker(tmp_path: Path) -> None:
    """The job that ends its process fails by itself; those beside it are planned all the same."""
    job, catalog = job_of(write_kitchen(tmp_path), "good")
    deadly = replace(job, key="deadly", scenario=Deadly())  # type: ignore[arg-type]
    jobs = [deadly, job, replace(job, key="more")]
    answers = list(run_in_processes(deque(jobs), catalog, 2))
    assert sorted(answer.key for answer in answers) == ["deadly", "good", "more"]
    by_key = {answer.key: answer for answer in answers}
    failure = by_key["deadly"].failure
    assert failure is not None
    assert (failure.kind, failure.exit_code) == ("worker_lost", ExitCode.INTERNAL)
    for key in ("good", "more"):
        answer = by_key[key]
        assert answer.failure is None
        assert answer.files is not None
        assert "plan.json" in answer.files
        assert answer.process_id != os.getpid()


def test_a_worker_of_another_version_refuses(tmp_path: Path) -> None:
    """A plan must not come from an older planopt on some machine of a cluster."""
    job, catalog = job_of(write_kitchen(tmp_path), "a")
    answer = solve_job(replace(job, planopt_version="0.0.0"), catalog)
    assert answer.failure is not None
    assert f"planopt {__version__} runs here, and 0.0.0 was asked" in answer.failure.text


def test_a_kitchen_of_impossible_clients_names_them(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    """Only a kitchen of several is looked through, for those of whom its clash does not tell."""
    asked = []

    def make_plan(kitchen: Kitchen, *given: Any, **more: Any) -> Plan:
        asked.append([client.client_id for client in kitchen.scenario.clients])
        return pipeline.make_plan(kitchen, *given, **more)

    monkeypatch.setattr(jobs, "make_plan", make_plan)
    never = {"protein_g": {"min": 500}}
    clients = [tiny_client(), tiny_client(id="ben", name="Ben", windows_per_day=never)]
    job, catalog = job_of(write_kitchen(tmp_path / "two", clients=clients), "two")
    answer = solve_job(job, catalog)
    assert answer.failure is not None
    assert answer.failure.kind == "no_compliant_week"
    assert set(answer.impossible) == {"ben"}
    assert "protein" in answer.impossible["ben"].lower()
    assert asked == [["ana", "ben"], ["ana"]]
    job, catalog = job_of(write_kitchen(tmp_path / "one", clients=clients[1:]), "one")
    answer = solve_job(job, catalog)
    assert answer.failure is not None
    assert answer.impossible == {}


@pytest.mark.parametrize(
    ("error", "kind", "code"),
    [
        (BadInput([]), "bad_input", 3),
        (NoPlanInTime("none yet"), "no_plan_in_time", 5),
        (AuditFailed(["two and two"]), "audit_failed", 6),
        (MemoryError("no room"), "internal", 1),
    ],
)
def test_errors_become_failures(error: Exception, kind: str, code: int) -> None:
    """Each error has its kind and the exit code that `plan` would answer."""
    failure = failure_of(error)
    assert (failure.kind, failure.exit_code) == (kind, code)
    assert str(error) in failure.text


def test_the_cores_at_hand_are_at_least_one() -> None:
    """A process may be held to fewer cores than the machine has."""
    assert 1 <= usable_cores() <= (os.cpu_count() or 1)
