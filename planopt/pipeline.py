"""The library's verbs in the order of the data: load, plan, audit, carry. The CLI calls these."""

from __future__ import annotations

from importlib.metadata import version
from math import isfinite
from pathlib import Path
from time import perf_counter

from planopt.audit import Finding, audit_plan, check_label_claims, check_timetables
from planopt.carry import carried_stock
from planopt.catalog.load import load_catalog
from planopt.cookday.containers import containers_of
from planopt.cookday.schedule import schedule_cook_days
from planopt.faults import AuditFailed, NoCompliantWeek, NoPlanInTime, StoppedByUser
from planopt.folders import settle
from planopt.plan.extract import SolveFacts, Source, extract_plan
from planopt.plan.file import read_plan
from planopt.plan.handles import kitchen_as_named
from planopt.plan.records import Plan, Solution
from planopt.plan.reread import decisions_of, versions_in, whole_decisions
from planopt.problem.build import Problem, build_problem
from planopt.problem.decisions import Decisions
from planopt.scenario.reading.changed import changed_kitchen
from planopt.scenario.reading.load import Kitchen, load_kitchen
from planopt.scenario.records import Scenario, StockFile
from planopt.solve.engine.search import search
from planopt.solve.heuristics.tidy import tidied
from planopt.solve.progress import Progress, ProgressCallback, logged
from planopt.solve.result import SearchResult
from planopt.solve.settings import SolveSettings
from planopt.whynot.explain import EXPLAIN_SECONDS, explain

# Asked once: each question keeps a listing of the packages folder.
_HIGHS = f"HiGHS {version('highspy')}"
# What follows a search takes so long for each meal, on a machine of two cores; of a week of an
# ordinary kitchen nobody notices.
_AFTER_SECONDS_A_MEAL, _FREE_MEALS, _AFTER_SHARE = 0.035, 20, 0.5

__all__ = [
    "audit_folder",
    "carry_folder",
    "findings_of",
    "load_kitchen",
    "make_plan",
    "refit",
    "reported",
    "written_out",
]


def make_plan(
    kitchen: Kitchen,
    settings: SolveSettings | None = None,
    progress: ProgressCallback | None = None,
    start: Plan | None = None,
    *,
    explain_s: float = EXPLAIN_SECONDS,
    began: float | None = None,
) -> Plan:
    """Return the cheapest compliant plan found, audited.

    `start` is a plan of this or another kitchen; what still fits of it is where the search begins.
    When no week complies, up to `explain_s` seconds more, and no more than the time limit, go into
    finding out why; 0 asks for no explanation. The time limit counts from when the work `began`, a
    reading of `perf_counter`; by default now, so that building the problem counts.

    Raises:
        NoCompliantWeek: proven; `explanation` has the clash and what would end it.
        NoPlanInTime: the limit came before any compliant plan; `StoppedByUser` if Ctrl-C did.
        AuditFailed: the plan found does not hold; it is not returned.
        BadOption: a solver option is unknown or refused.
    """
    settings = settings or SolveSettings()
    began = perf_counter() if began is None else began
    progress = logged(progress)
    problem = build_problem(kitchen.catalog, kitchen.scenario, versions_in(start))
    begin = None if start is None else decisions_of(start, problem)

    def recut(wanted: list[tuple[str, str]]) -> Problem:
        return build_problem(kitchen.catalog, kitchen.scenario, wanted)

    result = search(problem, _for_search(settings, problem), progress, begin, recut, began)
    problem = result.problem or problem
    if result.infeasible:
        seconds = min(explain_s, settings.time_limit_s)
        if seconds > 0 and progress is not None:
            progress(Progress("finding out why no week complies", perf_counter() - began))
        raise _no_week(kitchen, settings, seconds)
    if result.decisions is None:
        raise _no_plan(result, kitchen.scenario.currency)
    return written_out(kitchen, problem, result.decisions, _facts(result, settings))


def _no_week(kitchen: Kitchen, settings: SolveSettings, seconds: float) -> NoCompliantWeek:
    """Return the error of a kitchen that is proven to have no week, with why if there is time."""
    if seconds <= 0:
        return NoCompliantWeek(["Why was not asked."])
    found = explain(kitchen.catalog, kitchen.scenario, settings, seconds=seconds, proven=True)
    return NoCompliantWeek(found.sentences, found)


def _facts(result: SearchResult, settings: SolveSettings) -> SolveFacts:
    """Return what a plan tells about the search that found it."""
    assert result.status != "infeasible"
    return SolveFacts(
        status=result.status,
        bound=result.bound,
        gap_asked=settings.gap,
        solve_seconds=result.seconds,
        build_seconds=result.build_seconds,
        solver=", ".join(filter(None, [_HIGHS, result.found_by])),
        solver_status=result.solver_status,
        bound_composition=result.composition,
        settings=reported(settings),
    )


def _for_search(settings: SolveSettings, problem: Problem) -> SolveSettings:
    """Return settings of which a large week leaves time for timetables, audit and files."""
    after = min(
        _AFTER_SHARE * settings.time_limit_s,
        _AFTER_SECONDS_A_MEAL * (len(problem.slots) - _FREE_MEALS),
    )
    if settings.work_limit is not None or after <= 0:
        return settings
    return settings.model_copy(update={"time_limit_s": settings.time_limit_s - after})


def written_out(
    kitchen: Kitchen, problem: Problem, decisions: Decisions, facts: SolveFacts
) -> Plan:
    """Return decisions of a kitchen's problem as a plan, audited.

    Raises:
        AuditFailed: the plan does not hold.
    """
    plan = _written(problem, kitchen, decisions, facts)
    findings = findings_of(plan, kitchen)
    if findings:
        raise AuditFailed(finding.text() for finding in findings)
    return plan


def _written(problem: Problem, kitchen: Kitchen, decisions: Decisions, facts: SolveFacts) -> Plan:
    """Return the plan of a kitchen that decisions make."""
    source = _source(kitchen)
    return extract_plan(problem, kitchen.catalog, kitchen.scenario, decisions, facts, source)


def _source(kitchen: Kitchen) -> Source:
    return Source(
        scenario_file=kitchen.scenario_path.as_posix(),
        scenario_sha256=kitchen.scenario_sha256,
        catalog_folder=kitchen.catalog_folder.as_posix(),
        catalog_sha256=kitchen.catalog_sha256,
        changes=kitchen.changes,
    )


def refit(kitchen: Kitchen, plan: Plan, proven: Solution) -> Plan | None:
    """Return the week of another kitchen's plan as a plan of this one, costed anew and audited.

    `proven` has this kitchen's bound and how its search ended, which the plan then tells. None
    where the week does not hold here.
    """
    problem = build_problem(kitchen.catalog, kitchen.scenario, versions_in(plan))
    decisions = whole_decisions(plan, problem)
    if decisions is None:
        return None
    decisions = tidied(problem, decisions)
    facts = SolveFacts(
        status=proven.status,
        bound=float(proven.best_bound),
        gap_asked=proven.gap_asked,
        solve_seconds=proven.solve_seconds,
        build_seconds=proven.build_seconds,
        solver=proven.solver,
        solver_status=proven.solver_status,
        bound_composition=proven.bound_composition,
        settings=proven.settings,
    )
    try:
        found = _written(problem, kitchen, decisions, facts)
    except ValueError:
        # Food is short where stock or shop days differ.
        return None
    solution = found.solution
    if solution.status == "optimal" and solution.proven_gap > solution.gap_asked:
        # What was proven of another week does not reach this one.
        limited = solution.model_copy(update={"status": "time_limit"})
        found = found.model_copy(update={"solution": limited})
    return None if findings_of(found, kitchen) else found


def _no_plan(result: SearchResult, currency: str) -> NoPlanInTime:
    """Return the error of a search that ended before any plan was found."""
    known = "nothing is known to forbid one."
    if isfinite(result.bound) and result.bound > 0:
        known += f" No plan can cost less than {result.bound:.2f} {currency}, all counted."
    if result.status == "interrupted":
        return StoppedByUser(
            f"the search was stopped before a compliant plan was found; {known} "
            "Let it run longer before you stop it."
        )
    return NoPlanInTime(
        f"no compliant plan was found within the limit ({result.solver_status}); {known} "
        "Allow more time with --time-limit."
    )


def findings_of(plan: Plan, kitchen: Kitchen) -> list[Finding]:
    """Return what the audit finds in a plan, and in the timetables that it gives."""
    given = (plan, kitchen.catalog, _with_exclusions_as_written(kitchen))
    findings = audit_plan(*given)
    # A plan that does not hold may name what no timetable can be made of.
    if findings:
        return findings
    schedules = schedule_cook_days(*given)
    boxes = containers_of(*given, schedules)
    return [
        *check_timetables(schedules, *given),
        *check_label_claims(boxes, schedules, *given),
    ]


def _with_exclusions_as_written(kitchen: Kitchen) -> Scenario:
    """Return the scenario with all that its clients exclude, here or in the files.

    A kitchen is derived from files that many kitchens share, and changed by what-if questions; if
    an exclusion got lost on the way, the plan would be made and audited without it.
    """
    written = {client.client_id: client for client in kitchen.written}
    clients = []
    for client in kitchen.scenario.clients:
        asked = written.get(client.client_id, client)
        every = {
            name: tuple(dict.fromkeys((*getattr(client, name), *getattr(asked, name))))
            for name in ("allergens", "excluded_foods", "excluded_recipes")
        }
        clients.append(client.model_copy(update=every))
    return kitchen.scenario.model_copy(update={"clients": tuple(clients)})


def reported(settings: SolveSettings) -> dict[str, str | float | int | bool]:
    """Return settings as a plan records them."""
    told: dict[str, str | float | int | bool] = {}
    for name, value in settings.model_dump().items():
        if name == "options":
            told.update({f"option {key}": text for key, text in value.items()})
        elif value is None:
            told[name] = "none"
        else:
            told[name] = value
    return told


def audit_folder(folder: Path) -> tuple[Plan, list[Finding]]:
    """Read a written plan and audit it against the files it names.

    Raises:
        BadInput: the plan, its scenario or its catalogs cannot be read.
    """
    settle(folder)
    plan = read_plan(folder)
    kitchen = load_kitchen(Path(plan.scenario_file))
    if plan.changes is not None:
        kitchen = changed_kitchen(kitchen, plan.changes)
    return plan, findings_of(plan, kitchen_as_named(plan, kitchen))


def carry_folder(folder: Path) -> tuple[Plan, StockFile]:
    """Read a written plan and return what it carries to the next week.

    Only the plan and its catalog are read: the scenario may be that of the next week already.

    Raises:
        BadInput: the plan or its catalog cannot be read, or the catalog lacks a food left over.
    """
    settle(folder)
    plan = read_plan(folder)
    return plan, carried_stock(plan, load_catalog(Path(plan.catalog_folder)))
