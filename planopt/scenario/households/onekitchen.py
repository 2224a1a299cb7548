"""What a file of several kitchens must not say, as it is about the plan of one of them."""

from __future__ import annotations

from collections.abc import Iterator

from planopt.faults import Fault
from planopt.reading.documents import Document
from planopt.reading.files import path_text
from planopt.scenario.byhand import ByHand
from planopt.scenario.records import Scenario


def of_one_kitchen(document: Document, common: Scenario) -> Iterator[Fault]:
    """Yield a fault for what is settled by hand, and for named clients whose meals are tied."""
    if common.by_hand != ByHand():
        why = "what is settled by hand is for the plan of one kitchen"
        mend = "take it out here, and adjust the kitchen's plan with `planopt adjust`"
        place = document.place(("by_hand",))
        yield place.fault("by_hand", "by_hand", why, mend, "by_hand_one_kitchen")
    for index, row in enumerate(common.same_dish):
        if row.clients:
            why = "clients are named, who may be of several kitchens"
            mend = "leave clients out: then it holds in each kitchen for all who eat from it"
            path = ("same_dish", index, "clients")
            value = ", ".join(row.clients)
            field = path_text(path)
            yield document.place(path).fault(field, value, why, mend, "same_dish_one_kitchen")


def without_them(common: Scenario) -> Scenario:
    """Return the scenario without any of that, and without variants, which no kitchen takes."""
    tied = tuple(row for row in common.same_dish if not row.clients)
    return common.model_copy(update={"variants": (), "by_hand": ByHand(), "same_dish": tied})
