"""An adjustment as plain data for the page: what changed, what it cost, why more could not stay."""

from __future__ import annotations

from collections.abc import Iterator
from typing import Any

from planopt.adjust.text import headline, kitchen_changes, plate_changes, reasons
from planopt.adjust.week import Adjustment
from planopt.faults import AuditFailed, BadInput, NoCompliantWeek, PlanoptError
from planopt.report.words.plain import plain, short_day

Data = dict[str, Any]


def difference(found: Adjustment) -> Data:
    """Return what an adjustment changed and what is known of it."""
    scenario = found.kitchen.scenario
    names = {client.client_id: client.name for client in scenario.clients}

    def day(number: int) -> str:
        return short_day(scenario.date_of(number))

    plates = [
        {
            "client": one.client_id,
            "plate": f"{one.day}/{one.meal}",
            "where": f"{names[one.client_id]}, {day(one.day)}, {plain(one.meal)}",
            "asked": one.asked,
            "before": one.before,
            "after": one.after,
        }
        for one in plate_changes(found)
    ]
    return {
        "headline": headline(found),
        "plates": plates,
        "kitchen": [
            text.replace(" -> ", " \N{RIGHTWARDS ARROW} ") for text in kitchen_changes(found)
        ],
        "why": list(reasons(found)),
    }


def trouble(error: PlanoptError) -> Data:
    """Return an error as the page shows it: sentences, or each fault with all that it knows."""
    faults: list[dict[str, object]] = []
    sentences: list[str] = []
    match error:
        case BadInput():
            title = "This cannot be done as it stands."
            faults = [fault.as_dict() for fault in error.faults]
        case NoCompliantWeek():
            title = "No week makes these changes and keeps every limit; that is proven."
            sentences = list(error.reasons)
        case AuditFailed():
            title = "The check of the plan refuses it."
            sentences = list(error.findings)
        case _:
            title, sentences = "No plan came of it.", list(_lines(str(error)))
    return {"title": title, "faults": faults, "sentences": sentences}


def _lines(text: str) -> Iterator[str]:
    for line in filter(None, text.splitlines()):
        yield line[0].upper() + line[1:]
