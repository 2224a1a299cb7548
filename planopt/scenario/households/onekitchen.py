"""What a file of several kitchens must not say, as it is about the plan of one of them."""

from __future__ import annotations

from collections.abc import Iterator

from planopt.faults import Fault
from planopt.reading.documents import Document
from planopt.reading.files import path_text
from planopt.scenario.byhand import ByHand
from planopt.scenario.records import Scenario

# Field: code, why, mend.
_ALONE = {
    "by_hand": (
        "by_hand_one_kitchen",
        "what is settled by hand is for the plan of one kitchen",
        "take it out here, and adjust the kitchen's plan with `planopt adjust`",
    ),
    "ready_portions": (
        "ready_of_one_kitchen",
        "boxes of earlier weeks are in the fridge or freezer of one kitchen",
        "take them out here, and plan that kitchen by itself with `planopt plan`",
    ),
    "past_plans": (
        "past_plans_one_kitchen",
        "past plans are those of one kitchen",
        "take them out here, and write eaten_before in the roster's clients",
    ),
}


def of_one_kitchen(scenario: Scenario, document: Document) -> Iterator[Fault]:
    """Yield a fault for each thing that a scenario of several kitchens cannot say.

    So are named clients whose meals are tied.
    """
    for field, (code, why, mend) in _ALONE.items():
        if getattr(scenario, field) != Scenario.model_fields[field].default:
            yield document.place((field,)).fault(field, field, why, mend, code)
    for index, row in enumerate(scenario.same_dish):
        if row.clients:
            why = "clients are named, who may be of several kitchens"
            mend = "leave clients out: then it holds in each kitchen for all who eat from it"
            path = ("same_dish", index, "clients")
            value = ", ".join(row.clients)
            place = document.place(path)
            yield place.fault(path_text(path), value, why, mend, "same_dish_one_kitchen")


def without_these(scenario: Scenario) -> Scenario:
    """Return a scenario without them, and without the variants to try."""
    update: dict[str, object] = {
        "variants": (),
        "by_hand": ByHand(),
        "ready_portions": (),
        "past_plans": (),
        "same_dish": tuple(row for row in scenario.same_dish if not row.clients),
    }
    return scenario.model_copy(update=update)
