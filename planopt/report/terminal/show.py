"""Any part of a written plan as text for a terminal."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import replace
from enum import StrEnum
from pathlib import Path

from planopt.cookday.containers import containers_of
from planopt.cookday.records import Container
from planopt.cookday.schedule import schedule_cook_days
from planopt.faults import BadInput, BadOption, Fault, nearest
from planopt.plan.file import PLAN_FILE
from planopt.plan.handles import plan_with_handles
from planopt.report.files.reopen import OpenPlan, open_plan
from planopt.report.terminal.pots import parse_pot, pots_screen
from planopt.report.terminal.screens import (
    client_screen,
    cook_screen,
    groceries_screen,
    labels_screen,
)
from planopt.report.terminal.summary import summary_text
from planopt.report.words.locale import NEUTRAL, Display, showing
from planopt.scenario.households.handles import Handles, scenario_with_handles


class Part(StrEnum):
    """What of a plan is shown."""

    SUMMARY = "summary"
    CLIENT = "client"
    GROCERIES = "groceries"
    COOK = "cook"
    LABELS = "labels"


# The parts that can be narrowed to one client.
_OF_CLIENTS = (Part.CLIENT, Part.LABELS)


def show_folder(
    folder: Path,
    part: Part = Part.SUMMARY,
    client_id: str | None = None,
    display: Display = NEUTRAL,
    *,
    handles: bool = False,
    pots: Sequence[str] = (),
) -> tuple[str, tuple[str, ...]]:
    """Return a part of a written plan, at most 80 columns wide, and notes on where it is from.

    With `handles` clients are named by their ids, whatever plan and scenario call them. `pots` say
    what pots weigh, as `DISH=GRAMS`: then the part is what each box gets of them.

    Raises:
        BadInput: the plan cannot be read, or labels are asked for without the catalog.
        BadOption: the plan has no such client, or the part is not one of clients; a pot is not
            written as it should be, or of no dish of the plan.
    """
    weighed = [parse_pot(text) for text in pots]
    if weighed and part is not Part.COOK:
        raise BadOption(f"--pot goes with cook, not with {part.value}")
    opened = open_plan(folder)
    if handles:
        opened = _with_handles(opened)
    if client_id is not None:
        _check_client(opened, part, client_id)
    if weighed:
        boxes = _boxes(opened, folder)
        with showing(display):
            return pots_screen(weighed, boxes, opened.catalog), opened.notes
    return show_open(opened, part, client_id, display, folder), opened.notes


def show_open(
    opened: OpenPlan,
    part: Part,
    client_id: str | None,
    display: Display,
    folder: Path = Path(),
) -> str:
    """Return a part of an open plan as text; `folder` is where faults say that it lies.

    Raises:
        BadInput: labels are asked for without the catalog, or it has changed.
        BadOption: the plan has no such client, or the part is not one of clients.
    """
    if client_id is not None:
        _check_client(opened, part, client_id)
    with showing(display):
        return _text(opened, folder, part, client_id)


def _with_handles(opened: OpenPlan) -> OpenPlan:
    names = Handles.of_scenario(opened.scenario)
    return replace(
        opened,
        plan=plan_with_handles(opened.plan, names),
        scenario=scenario_with_handles(opened.scenario, names),
        notes=tuple(map(names.hide, opened.notes)),
    )


def _check_client(opened: OpenPlan, part: Part, client_id: str) -> None:
    if part not in _OF_CLIENTS:
        raise BadOption(f"{part.value} is not of one client; only client and labels are")
    known = [client.client_id for client in opened.scenario.clients]
    if client_id not in known:
        raise BadOption(f"the plan has no client {client_id!r}; {nearest(client_id, known)}")


def _text(opened: OpenPlan, folder: Path, part: Part, client_id: str | None) -> str:
    plan, catalog, scenario = opened.plan, opened.catalog, opened.scenario
    match part:
        case Part.CLIENT:
            return client_screen(plan, catalog, scenario, client_id)
        case Part.GROCERIES:
            return groceries_screen(plan, catalog, scenario)
        case Part.COOK:
            schedules = schedule_cook_days(plan, catalog, scenario)
            return cook_screen(plan, catalog, scenario, schedules)
        case Part.LABELS:
            return _labels(opened, folder, client_id)
        case _:
            return summary_text(plan, catalog, scenario)


def _labels(opened: OpenPlan, folder: Path, client_id: str | None) -> str:
    plan, catalog = opened.plan, opened.catalog

    def fault(value: str, why: str, mend: str, code: str) -> BadInput:
        return BadInput([Fault(str(folder / PLAN_FILE), 0, "batches", value, why, mend, code)])

    cooked = {line.food_id for batch in plan.batches for line in batch.lines}
    # A label without allergens is worse than none.
    if unknown := sorted(cooked - set(catalog.foods)):
        raise fault(
            unknown[0],
            "labels name allergens, and the catalog of this plan is not found or lacks this food",
            "run it from the folder in which the plan was made, or plan again",
            "label_food_unknown",
        )
    if opened.changed:
        raise fault(
            opened.changed[0],
            "it has changed since this plan was made, so a label made now might not tell what is in"
            " the box",
            "use labels.html of the plan's folder, or plan again",
            "label_fact_changed",
        )
    boxes = _boxes(opened, folder)
    return labels_screen(boxes, catalog, opened.scenario, client_id)


def _boxes(opened: OpenPlan, folder: Path) -> tuple[Container, ...]:
    plan, catalog = opened.plan, opened.catalog
    try:
        schedules = schedule_cook_days(plan, catalog, opened.scenario)
        return containers_of(plan, catalog, opened.scenario, schedules)
    except ValueError as error:
        mend = "run `planopt audit` on the plan, then plan again"
        where = str(folder / PLAN_FILE)
        fault = Fault(where, 0, "batches", "portions", str(error), mend, "portion_not_cooked")
        raise BadInput([fault]) from error
