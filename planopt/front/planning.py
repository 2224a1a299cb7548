"""One plan: plan, show, audit, carry."""

from __future__ import annotations

from pathlib import Path
from typing import Unpack

from planopt.audit import Finding
from planopt.carry import carried_stock
from planopt.front.limits import Limits, settings_of
from planopt.front.planned import PartName, PlannedWeek, planned
from planopt.front.sources import PathLike, Source, kitchen_of
from planopt.pipeline import audit_folder, carry_folder, findings_of, make_plan
from planopt.report.words.locale import Units
from planopt.runs.carry import carry_run, is_run
from planopt.scenario.households.handles import Handles, kitchen_with_handles
from planopt.scenario.reading.load import Kitchen
from planopt.scenario.records import StockFile
from planopt.solve.progress import ProgressCallback


def plan(
    scenario: Source,
    *,
    start: PlannedWeek | None = None,
    handles: bool = False,
    progress: ProgressCallback | None = None,
    **limits: Unpack[Limits],
) -> PlannedWeek:
    """Return the cheapest compliant plan found, audited; `write` puts it into a folder.

    `start` is a plan, of this or another kitchen, from which to search. With `handles` clients are
    named by their ids. `progress` hears how the search goes. `limits` are `time_limit_s`, `gap`,
    `seed`, `threads`, `work_limit` and `options`.

    Raises:
        BadInput: with every fault of every file.
        NoCompliantWeek: proven; `explanation` has the clash and what would end it.
        NoPlanInTime: the limit came before any compliant plan; `StoppedByUser` if Ctrl-C did.
        AuditFailed: the plan found does not hold; it is not returned.
        BadOption: a limit is out of its range, or a solver option refused.
    """
    settings = settings_of(limits)
    kitchen = kitchen_of(scenario)
    if handles:
        kitchen = kitchen_with_handles(kitchen, Handles.of_scenario(kitchen.scenario))
    begin = None if start is None else start.record
    found = make_plan(kitchen, settings, progress, begin)
    return planned(found, kitchen)


def show(
    plan: PlannedWeek | PathLike,
    part: PartName = "summary",
    client: str | None = None,
    *,
    locale: str | None = None,
    units: Units | None = None,
) -> str:
    """Return a part of a plan, or of the one in a folder, as text of at most 80 columns.

    Raises:
        BadInput: the plan cannot be read, or labels are asked for without its catalog.
        BadOption: there is no such part, client, locale or system of units.
    """
    found = plan if isinstance(plan, PlannedWeek) else PlannedWeek.read(plan)
    return found.show(part, client, locale=locale, units=units)


def audit(plan: PlannedWeek | PathLike) -> list[Finding]:
    """Recompute a plan, or the one in a folder, and return what does not agree: best nothing.

    Raises:
        BadInput: the plan, its scenario or its catalogs cannot be read.
    """
    if not isinstance(plan, PlannedWeek):
        return audit_folder(Path(plan))[1]
    if isinstance(plan.origin, Kitchen):
        return findings_of(plan.record, plan.origin)
    return audit_folder(plan.origin)[1]


def carry(plan: PlannedWeek | PathLike) -> StockFile | dict[str, StockFile]:
    """Return what a plan leaves over as stock for the next week; of a run that of each kitchen.

    Raises:
        BadInput: a plan or its catalog cannot be read, or the catalog lacks a food left over.
    """
    if isinstance(plan, PlannedWeek):
        return carried_stock(plan.record, plan.opened.catalog)
    folder = Path(plan)
    return carry_run(folder)[1] if is_run(folder) else carry_folder(folder)[1]
