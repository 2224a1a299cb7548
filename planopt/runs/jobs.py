"""One kitchen's work: solve, audit, and give back its files or the reason why not.

`solve_job` runs in any process, on this machine or another. Whatever goes wrong with a kitchen
comes back as a `Failure`; only the end of the process itself does not.
"""

from __future__ import annotations

import os
import traceback
from dataclasses import dataclass, field, replace
from pathlib import Path
from tempfile import TemporaryDirectory
from threading import Lock
from time import perf_counter
from typing import Literal

from planopt import __version__
from planopt.catalog.records import Catalog
from planopt.faults import (
    AuditFailed,
    BadInput,
    BadOption,
    ExitCode,
    NoCompliantWeek,
    NoPlanInTime,
    PlanoptError,
    SolverFailed,
)
from planopt.pipeline import make_plan
from planopt.plan.records import Plan, Solution
from planopt.report.files.folder import write_plan
from planopt.report.words.locale import NEUTRAL, Display
from planopt.scenario.reading.load import Kitchen
from planopt.scenario.records import Client, Scenario
from planopt.solve.settings import SolveSettings

FailureKind = Literal[
    "bad_input", "no_compliant_week", "no_plan_in_time", "audit_failed", "bad_option",
    "solver_failed", "worker_lost", "internal",
]  # fmt: skip
_KINDS: dict[type[PlanoptError], FailureKind] = {
    BadInput: "bad_input",
    NoCompliantWeek: "no_compliant_week",
    NoPlanInTime: "no_plan_in_time",
    AuditFailed: "audit_failed",
    BadOption: "bad_option",
    SolverFailed: "solver_failed",
}
# A client alone only has to be possible, and any plan shows that.
_ANY_PLAN = 0.99
# The solver's threads are the process's; a scheduler may give one process several jobs at once.
_ONE_AT_A_TIME = Lock()
_ALONE_SECONDS = 20.0


@dataclass(frozen=True)
class Failure:
    """Why there is no plan; `exit_code` is what `planopt plan` would have answered."""

    kind: FailureKind
    exit_code: int
    text: str


@dataclass(frozen=True)
class RunJob:
    """One kitchen to plan. `alone` marks a client planned alone for comparison.

    `written` are the clients as scenario or roster have them, before the kitchen was made of them.
    Files are shown as `display` says.
    """

    key: str
    scenario: Scenario
    scenario_file: str
    scenario_sha256: str
    catalog_folder: str
    catalog_sha256: str
    settings: SolveSettings
    alone: bool = False
    written: tuple[Client, ...] = ()
    display: Display = NEUTRAL
    planopt_version: str = __version__

    def with_threads(self, threads: int) -> RunJob:
        """Return the job with so many threads for its solver."""
        return replace(self, settings=self.settings.model_copy(update={"threads": threads}))


@dataclass(frozen=True)
class JobAnswer:
    """What came of a job: the bytes of a plan folder's files, or a failure.

    `impossible` names clients who have no compliant week even alone in this kitchen, with the
    reasons; the kitchen can be planned again without them. `seconds` is the work's own time.
    """

    key: str
    files: dict[str, bytes] | None = None
    solution: Solution | None = None
    failure: Failure | None = None
    impossible: dict[str, str] = field(default_factory=dict)
    seconds: float = 0.0
    process_id: int = 0


def failure_of(error: BaseException) -> Failure:
    """Return an error as a failure; what was not raised on purpose keeps its traceback."""
    if isinstance(error, PlanoptError):
        kind: FailureKind = "internal"
        for raised, name in _KINDS.items():
            if isinstance(error, raised):
                kind = name
        return Failure(kind, int(error.exit_code), str(error))
    text = "".join(traceback.format_exception(error)).strip()
    return Failure("internal", int(ExitCode.INTERNAL), text)


def lost(words: str) -> Failure:
    """Return the failure of a job whose process ended before it could answer."""
    text = f"the process that planned this kitchen ended early: {words}; run the command again"
    return Failure("worker_lost", int(ExitCode.INTERNAL), text)


def solve_job(job: RunJob, catalog: Catalog) -> JobAnswer:
    """Plan one kitchen; raises nothing but what ends the process."""
    with _ONE_AT_A_TIME:
        return _solved(job, catalog)


def _solved(job: RunJob, catalog: Catalog) -> JobAnswer:
    began = perf_counter()
    try:
        if job.planopt_version != __version__:
            words = f"planopt {__version__} runs here, and {job.planopt_version} was asked"
            return JobAnswer(job.key, failure=lost(words), process_id=os.getpid())
        plan = make_plan(_kitchen(job, catalog), job.settings)
        files = _files(plan, catalog, job)
    except Exception as error:
        return JobAnswer(
            job.key,
            failure=failure_of(error),
            impossible=_impossible_alone(job, catalog, error),
            seconds=perf_counter() - began,
            process_id=os.getpid(),
        )
    seconds = perf_counter() - began
    return JobAnswer(job.key, files, plan.solution, seconds=seconds, process_id=os.getpid())


def _kitchen(job: RunJob, catalog: Catalog) -> Kitchen:
    return Kitchen(
        catalog=catalog,
        scenario=job.scenario,
        scenario_path=Path(job.scenario_file),
        catalog_folder=Path(job.catalog_folder),
        scenario_sha256=job.scenario_sha256,
        catalog_sha256=job.catalog_sha256,
        written=job.written,
    )


def _files(plan: Plan, catalog: Catalog, job: RunJob) -> dict[str, bytes]:
    """Return the files of a plan folder, so that the caller has only bytes to store."""
    with TemporaryDirectory() as place:
        folder = Path(place) / "plan"
        write_plan(plan, catalog, job.scenario, folder, job.display)
        return {
            path.relative_to(folder).as_posix(): path.read_bytes()
            for path in sorted(folder.rglob("*"))
            if path.is_file()
        }


def _impossible_alone(job: RunJob, catalog: Catalog, error: Exception) -> dict[str, str]:
    """Return the clients who fail alone, when a kitchen of several has no compliant week."""
    clients = job.scenario.clients
    if not isinstance(error, NoCompliantWeek) or len(clients) < 2:
        return {}
    seconds = min(_ALONE_SECONDS, job.settings.time_limit_s)
    settings = job.settings.model_copy(update={"gap": _ANY_PLAN, "time_limit_s": seconds})
    found = {}
    told = None if error.explanation is None else error.explanation.client
    for client in clients:
        if client.client_id == told:
            # The kitchen's explanation is this client's already.
            found[client.client_id] = str(error)
            continue
        alone = _kitchen(job, catalog)
        alone = Kitchen(
            **{**vars(alone), "scenario": job.scenario.model_copy(update={"clients": (client,)})}
        )
        try:
            make_plan(alone, settings)
        except NoCompliantWeek as impossible:
            found[client.client_id] = str(impossible)
        except PlanoptError:
            continue
    return found
