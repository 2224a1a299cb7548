"""Plan the weeks of all kitchens of a scenario into one folder; run it again to finish it."""

from __future__ import annotations

from collections import deque
from collections.abc import Callable, Sequence
from contextlib import closing
from dataclasses import dataclass, field
from decimal import Decimal
from math import ceil
from pathlib import Path
from time import monotonic

from planopt import __version__
from planopt.faults import BadOption, ExitCode
from planopt.pipeline import reported
from planopt.plan.records import Plan, Solution
from planopt.report.words.locale import NEUTRAL, Display
from planopt.runs.board import Table, index_of, new_table, nobody_left
from planopt.runs.cluster import run_on_cluster
from planopt.runs.jobs import Failure, JobAnswer, RunJob
from planopt.runs.layout import RunFolder, text_sha256
from planopt.runs.pool import run_in_processes, usable_cores
from planopt.runs.records import ProvenFailure, RunIndex
from planopt.scenario.households.handles import handles_of_file, kitchens_with_handles
from planopt.scenario.households.parties import Kitchens, load_kitchens
from planopt.scenario.kitchens import alone_scenario, path_from, scenario_text
from planopt.scenario.records import Scenario
from planopt.solve.settings import SolveSettings
from planopt.units import percent_up

_INDEX_PAUSE_S = 1.0
_WHOLE_KITCHEN = ""
Told = str | float | int | bool


@dataclass(frozen=True)
class RunMoment:
    """A moment of a run. `spend` is what the plans so far cost at the tills and in visits.

    `text` tells what has just come; weeks of clients alone count as weeks. `limit_s` is about how
    long the whole run may take, None where that is not known.
    """

    done: int
    failed: int
    total: int
    seconds: float
    spend: Decimal
    currency: str
    text: str = ""
    limit_s: float | None = None


RunProgress = Callable[[RunMoment], None]


@dataclass
class RunResult:
    """What a run did. `work_seconds` is the time that its jobs took, in all processes together."""

    index: RunIndex
    kept: int = 0
    planned: int = 0
    failed: int = 0
    seconds: float = 0.0
    work_seconds: float = 0.0
    process_ids: set[int] = field(default_factory=set)

    @property
    def exit_code(self) -> ExitCode:
        """Return OK, or SOME_FAILED when a client has no plan."""
        states = {client.state for k in self.index.kitchens for client in k.clients}
        return ExitCode.OK if states <= {"planned"} else ExitCode.SOME_FAILED


@dataclass(frozen=True)
class Shown:
    """How a run names clients and kitchens in all it writes and tells, and how it shows amounts.

    With `handles` they are named by their ids.
    """

    handles: bool = False
    display: Display = NEUTRAL


AS_USUAL = Shown()


def plan_weeks(
    scenario_path: Path,
    out_dir: Path,
    settings: SolveSettings | None = None,
    *,
    workers: int | str | None = None,
    sharing: bool = False,
    shown: Shown = AS_USUAL,
    progress: RunProgress | None = None,
) -> RunResult:
    """Plan every kitchen of a scenario; what `out_dir` already holds of it stays untouched.

    Kitchens are planned side by side by `workers`: so many processes (default: the cores at hand),
    or a Dask scheduler at an address. With `sharing`, each client of a kitchen of several is
    planned alone too. The limits of `settings` are for each kitchen; where it does not give
    `threads`, a kitchen has one, or two while half of the processes would stand idle. New plans
    are `shown` as asked for; plans kept stay as they are.

    Raises:
        BadInput: the scenario, its roster or its catalog is at fault for everybody, or the folder
            cannot be used. A single client's faults are in the result instead.
        BadOption: a solver option is refused, or the cluster cannot be reached.
        KeyboardInterrupt: after the workers have ended; what is finished is in the folder.
    """
    folder = RunFolder(out_dir)
    folder.check()
    kitchens = load_kitchens(scenario_path)
    if shown.handles:
        kitchens = kitchens_with_handles(kitchens, handles_of_file(scenario_path))
    workers = usable_cores() if workers is None else workers
    settings = settings or SolveSettings()
    cores = 1 if isinstance(workers, str) else workers
    run = _Run(folder, kitchens, settings, cores, sharing, progress)
    run.display = shown.display
    run.at_once = None if isinstance(workers, str) else workers
    try:
        run.prepare()
        if run.queue:
            answers = (
                run_on_cluster(run.queue, kitchens.catalog, workers)
                if isinstance(workers, str)
                else run_in_processes(run.queue, kitchens.catalog, workers)
            )
            with closing(answers):
                for answer in answers:
                    run.take(answer)
    finally:
        run.finish()
    return run.result


class _Run:
    """The state of a run: tables, and what is still to do."""

    def __init__(
        self,
        folder: RunFolder,
        kitchens: Kitchens,
        settings: SolveSettings,
        cores: int,
        sharing: bool,
        progress: RunProgress | None,
    ) -> None:
        self.cores = cores
        # How many kitchens are planned at a time, where that is known, and how many in all.
        self.at_once: int | None = None
        self.asked = 0
        self.display = NEUTRAL
        self.folder = folder
        self.kitchens = kitchens
        self.written = {client.client_id: client for client in kitchens.written}
        self.settings = settings
        self.sharing = sharing
        self.progress = progress
        self.tables = {part.kitchen_id: new_table(part) for part in kitchens.parts}
        self.jobs: dict[str, tuple[RunJob, Table]] = {}
        self.queue: deque[RunJob] = deque()
        self.alone_failed = 0
        self.began = monotonic()
        self.index_at = 0.0
        self.result = RunResult(index_of(kitchens, []))

    # ---- before solving

    def prepare(self) -> None:
        """Make every kitchen's file, see which plans hold, and set the others aside."""
        self.folder.mend()
        if not self.folder.has_index():
            # First of all: it makes the folder one that the same command takes up again.
            self._write_index()
        wanted, alone = set(), set()
        for table in self.tables.values():
            if table.part.scenario is not None:
                wanted.add(table.part.kitchen_id)
                alone |= self._set_table(table, table.part.scenario)
        self.folder.keep_only(wanted, alone)
        # Large kitchens first, so that none of them is left alone at the end.
        missing = [t.job for t in self.tables.values() if t.job is not None and t.bill is None]
        self._queue(sorted(missing, key=lambda job: (-len(job.scenario.clients), job.key)))
        for table in self.tables.values():
            if table.bill is not None:
                self._queue(self._alone_jobs(table))
        self._write_index()
        self._tell("")

    def _set_table(self, table: Table, scenario: Scenario) -> set[str]:
        key = table.part.kitchen_id
        table.full_sha256 = text_sha256(self._text(scenario))
        sums = (table.full_sha256, self.kitchens.catalog_sha256)
        proven = self.folder.proven_failure(key, *sums)
        for client_id, reason in (proven.reasons if proven else {}).items():
            self._impossible(table, client_id, reason)
        self._new_job(table)
        return {job_key for job_key, _ in self._alone_keys(table)}

    def _text(self, scenario: Scenario) -> str:
        place = self.folder.root / "kitchens"
        catalog = path_from(place, self.kitchens.catalog_folder)
        return scenario_text(scenario, catalog, self.kitchens.scenario_path.name)

    def _impossible(self, table: Table, client_id: str, reason: str) -> None:
        failure = Failure("no_compliant_week", int(ExitCode.NO_COMPLIANT_WEEK), reason)
        if client_id == _WHOLE_KITCHEN:
            table.failure = failure
            return
        for member in table.part.members:
            if member.client_id == client_id:
                table.failed[member] = failure

    def _new_job(self, table: Table) -> RunJob | None:
        """Give a kitchen its job with the clients who can be planned, unless its plan holds."""
        scenario, key = table.part.scenario, table.part.kitchen_id
        assert scenario is not None
        out = {member.client_id for member in table.failed}
        clients = tuple(client for client in scenario.clients if client.client_id not in out)
        if not clients and table.failure is None:
            nobody_left(table)
        if table.failure is not None:
            self.folder.set_aside(key)
            table.job = None
            return None
        job = self._job(key, scenario.model_copy(update={"clients": clients}), alone=False)
        plan = self.folder.holds(job)
        if plan is None:
            self.folder.set_aside(key)
        elif self._good_enough(plan):
            table.bill = _bill(plan.solution)
            self.result.kept += 1
        table.job = job
        self.jobs[key] = (job, table)
        return None if table.bill is not None else job

    def _job(self, key: str, scenario: Scenario, alone: bool) -> RunJob:
        text = self._text(scenario)
        self.folder.write_kitchen(key, text)
        return RunJob(
            key=key,
            scenario=scenario,
            scenario_file=self.folder.kitchen_file(key).as_posix(),
            scenario_sha256=text_sha256(text),
            catalog_folder=self.kitchens.catalog_folder.as_posix(),
            catalog_sha256=self.kitchens.catalog_sha256,
            settings=self.settings,
            alone=alone,
            display=self.display,
            written=tuple(
                self.written[client.client_id]
                for client in scenario.clients
                if client.client_id in self.written
            ),
        )

    def _good_enough(self, plan: Plan) -> bool:
        """Tell whether the plan already gives all that was asked for."""
        solution = plan.solution
        return (
            solution.proven_gap <= self.settings.gap
            or (solution.status == "optimal" and solution.gap_asked <= self.settings.gap)
            or _but_threads(solution.settings) == _but_threads(reported(self.settings))
        )

    def _queue(self, jobs: Sequence[RunJob]) -> None:
        """Add jobs behind those that wait already."""
        self.asked += len(jobs)
        threads = self.settings.threads
        if "threads" not in self.settings.model_fields_set:
            threads = 2 if 2 * (len(self.queue) + len(jobs)) <= self.cores else 1
        self.queue.extend(job.with_threads(threads) for job in jobs)

    def _alone_jobs(self, table: Table) -> list[RunJob]:
        """Return the jobs of a planned kitchen's clients alone that are asked for and missing."""
        jobs: list[RunJob] = []
        assert table.job is not None
        for key, client_id in self._alone_keys(table):
            if not self.sharing and not self.folder.plan_folder(key, alone=True).is_dir():
                continue
            job = self._job(key, alone_scenario(table.job.scenario, client_id), alone=True)
            plan = self.folder.holds(job)
            if plan is None:
                self.folder.set_aside(key, alone=True)
            table.alone[client_id] = plan is not None
            if self.sharing and (plan is None or not self._good_enough(plan)):
                self.jobs[key] = (job, table)
                jobs.append(job)
        return jobs

    def _alone_keys(self, table: Table) -> list[tuple[str, str]]:
        clients = () if table.job is None else table.job.scenario.clients
        if len(clients) < 2:
            return []
        return [(f"{table.part.kitchen_id}.{c.client_id}", c.client_id) for c in clients]

    # ---- answers

    def take(self, answer: JobAnswer) -> None:
        """Store an answer; the plan is in its folder before anything tells of it.

        Raises:
            BadOption: the solver refuses an option, which no other kitchen can change.
        """
        job, table = self.jobs[answer.key]
        self.result.work_seconds += answer.seconds
        self.result.process_ids.add(answer.process_id)
        if answer.files is not None and answer.solution is not None:
            if answer.solution.status != "interrupted":
                self._planned(table, job, answer.files, answer.solution)
            return
        assert answer.failure is not None
        if answer.failure.kind == "bad_option":
            raise BadOption(answer.failure.text)
        if job.alone:
            self.alone_failed += 1
        else:
            self._failed(table, job, answer.failure, answer.impossible)
        self._stored(f"{job.key}  no plan: {answer.failure.text.splitlines()[0]}")

    def _planned(
        self, table: Table, job: RunJob, files: dict[str, bytes], solution: Solution
    ) -> None:  # fmt: skip
        before = self.folder.holds(job)
        if before is not None and before.solution.proven_gap <= solution.proven_gap:
            # Other settings were tried and prove less.
            solution = before.solution
        else:
            self.folder.write_files(job, files)
        self.result.planned += 1
        if job.alone:
            table.alone[job.scenario.clients[0].client_id] = True
        else:
            table.bill = _bill(solution)
            self._queue(self._alone_jobs(table))
        text = f"{solution.objective} {self.kitchens.common.currency} all counted"
        gap = percent_up(solution.proven_gap)
        self._stored(f"{job.key}  {text}, no less than {solution.best_bound}, gap {gap} %")

    def _failed(
        self, table: Table, job: RunJob, failure: Failure, impossible: dict[str, str]
    ) -> None:  # fmt: skip
        if failure.kind != "no_compliant_week":
            before = self.folder.holds(job)
            if before is None:
                table.failure = failure
            else:
                # Other settings were tried in vain; the plan of before is as good as it was.
                table.bill = _bill(before.solution)
            return
        reasons = dict(impossible) or {_WHOLE_KITCHEN: failure.text}
        for client_id, reason in reasons.items():
            self._impossible(table, client_id, reason)
        known = {
            member.client_id: failed.text
            for member, failed in table.failed.items()
            if failed.kind == "no_compliant_week"
        }
        self.folder.write_proven(
            ProvenFailure(
                kitchen_id=table.part.kitchen_id,
                scenario_sha256=table.full_sha256,
                catalog_sha256=self.kitchens.catalog_sha256,
                planopt_version=__version__,
                reasons={**known, **reasons},
            )
        )
        if table.failure is None:
            again = self._new_job(table)
            if again is not None:
                self._queue([again])
            elif table.bill is not None:
                self._queue(self._alone_jobs(table))

    def _stored(self, text: str) -> None:
        if monotonic() - self.index_at >= _INDEX_PAUSE_S:
            self._write_index()
        self._tell(text)

    def _write_index(self) -> None:
        self.result.index = index_of(self.kitchens, list(self.tables.values()))
        self.folder.write_index(self.result.index)
        self.index_at = monotonic()

    def _tell(self, text: str) -> None:
        if self.progress is None:
            return
        states = [table.state for table in self.tables.values()]
        alone = sum(job.alone for job, _ in self.jobs.values())
        alone_done = sum(
            table.alone[job.scenario.clients[0].client_id]
            for job, table in self.jobs.values()
            if job.alone
        )
        self.progress(
            RunMoment(
                done=states.count("planned") + alone_done,
                failed=states.count("failed") + self.alone_failed,
                total=len(states) + alone,
                seconds=monotonic() - self.began,
                spend=sum((t.bill for t in self.tables.values() if t.bill is not None), Decimal(0)),
                currency=self.kitchens.common.currency,
                text=text,
                limit_s=self._limit_s(),
            )
        )

    def _limit_s(self) -> float | None:
        """Return what all jobs may take, side by side; a cluster's machines are not known."""
        if self.at_once is None or self.settings.work_limit is not None:
            return None
        return ceil(self.asked / self.at_once) * self.settings.time_limit_s

    def finish(self) -> None:
        """Write the last index, whatever ended the run."""
        self.result.seconds = monotonic() - self.began
        self._write_index()
        states = [client.state for k in self.result.index.kitchens for client in k.clients]
        self.result.failed = states.count("failed")


def _but_threads(told: dict[str, Told]) -> dict[str, Told]:
    """Return settings without the threads, which are given as the cores allow."""
    return {name: value for name, value in told.items() if name != "threads"}


def _bill(solution: Solution) -> Decimal:
    return solution.grocery_cost + solution.visit_cost
