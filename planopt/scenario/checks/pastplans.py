"""Plans of earlier weeks that a scenario names: who had which dish, and when last."""

from __future__ import annotations

import json
import os
from collections.abc import Iterator, Sequence
from dataclasses import dataclass
from datetime import date, timedelta
from pathlib import Path

from pydantic import BaseModel, ValidationError

from planopt.faults import Fault
from planopt.reading.documents import Document
from planopt.reading.files import MOST_PLAN_BYTES, regular_bytes
from planopt.scenario.checks.subject import Check, Checking
from planopt.scenario.records import Client, Scenario

PLAN_FILE = "plan.json"


class _Eaten(BaseModel):
    client_id: str
    date: date
    recipe_id: str


class _Week(BaseModel):
    """What is looked at of a plan; the rest of it may be as it is."""

    start_date: date
    days: int
    portions: tuple[_Eaten, ...]


@dataclass(frozen=True)
class PastPlan:
    """A plan of an earlier week that could be read."""

    path: Path
    week: _Week


def read_past_plans(
    scenario_path: Path, document: Document | None, scenario: Scenario | None
) -> tuple[list[PastPlan], list[Fault]]:
    """Read the past plans that a scenario names, each relative to the scenario's file."""
    readings: list[PastPlan] = []
    faults: list[Fault] = []
    if document is None or scenario is None:
        return readings, faults
    for index, name in enumerate(scenario.past_plans):
        place, field = document.place(("past_plans", index)), f"past_plans[{index}]"
        path = Path(os.path.normpath(scenario_path.parent / name)) / PLAN_FILE
        try:
            week = _Week.model_validate(json.loads(regular_bytes(path, MOST_PLAN_BYTES)))
            last = week.start_date + timedelta(days=week.days - 1)
        except OSError as error:
            why = f"its {PLAN_FILE} cannot be read: {error.strerror or error}"
        except (ValidationError, ValueError, OverflowError, RecursionError):
            why = f"its {PLAN_FILE} is not a plan"
        else:
            if last < scenario.start_date:
                readings.append(PastPlan(path, week))
            else:
                why = f"it runs to {last}, and this scenario begins on {scenario.start_date}"
                mend = "name plans of earlier weeks, or correct start_date"
                faults.append(place.fault(field, name, why, mend, "past_plan_dates"))
            continue
        mend = "name a folder that `planopt plan` wrote, relative to this file, or take it out"
        faults.append(place.fault(field, name, why, mend, "past_plan_unreadable"))
    return readings, faults


def with_past(scenario: Scenario, readings: Sequence[PastPlan]) -> Scenario:
    """Return the scenario whose clients know when they last had which dish."""
    if not readings:
        return scenario
    last: dict[str, dict[str, date]] = {}
    for reading in readings:
        for row in reading.week.portions:
            had = last.setdefault(row.client_id, {})
            had[row.recipe_id] = max(row.date, had.get(row.recipe_id, row.date))

    def told(client: Client) -> Client:
        had = dict(client.eaten_before)
        for recipe, on in sorted(last.get(client.client_id, {}).items()):
            had[recipe] = max(on, had.get(recipe, on))
        return client.model_copy(update={"eaten_before": had})

    return scenario.model_copy(update={"clients": tuple(map(told, scenario.clients))})


def eaten_before(c: Checking) -> Iterator[Fault]:
    """What clients had before was eaten before this plan begins."""
    for path, client in c.clients():
        for recipe, on in client.eaten_before.items():
            if on >= c.scenario.start_date:
                yield c.fault(
                    (*path, "eaten_before", recipe),
                    str(on),
                    f"this scenario begins on {c.scenario.start_date}",
                    "write a date before it",
                    "past_plan_dates",
                )


PAST_CHECKS: tuple[Check, ...] = (eaten_before,)
