"""A written plan with ids in place of names, as far as it names anybody."""

from __future__ import annotations

import re

from planopt.plan.cautions import STANDING
from planopt.plan.records import Plan
from planopt.scenario.households.handles import Handles, kitchen_with_handles
from planopt.scenario.reading.load import Kitchen

# How a caution about one client's energy begins, after the name.
_ABOUT = re.compile(r"(?P<who>.+?): (?=the energy window |\d+ of \d+ days )")


def plan_with_handles(plan: Plan, handles: Handles) -> Plan:
    """Return a plan whose cautions, title and changes name clients by their ids.

    A caution about somebody whose name is not known, as of a scenario that is gone, is told of `a
    client`.
    """
    changes = plan.changes
    if changes is not None:
        added = tuple(
            client.model_copy(update={"name": client.client_id}) for client in changes.clients_added
        )
        changes = changes.model_copy(
            update={"name": handles.hide(changes.name), "clients_added": added}
        )
    return plan.model_copy(
        update={
            "scenario_name": handles.hide(plan.scenario_name),
            "changes": changes,
            "cautions": tuple(_caution(plan, text, handles) for text in plan.cautions),
        }
    )


def kitchen_as_named(plan: Plan, kitchen: Kitchen) -> Kitchen:
    """Return the kitchen with ids for names if the plan was made so, else as it is.

    It shows where the scenario's own title holds a name, which the audit compares.
    """
    handles = Handles.of_scenario(kitchen.scenario)
    title = kitchen.scenario.name
    made_so = plan.scenario_name != title and plan.scenario_name == handles.hide(title)
    return kitchen_with_handles(kitchen, handles) if made_so else kitchen


def _caution(plan: Plan, text: str, handles: Handles) -> str:
    found = None if text in STANDING else _ABOUT.match(text)
    if found is None:
        return text if text in STANDING else handles.hide(text)
    known = {portion.client_id for portion in plan.portions} | set(handles.ids.values())
    who = handles.hide(found["who"])
    return f"{who if who in known else 'a client'}: {handles.hide(text[found.end() :])}"
