"""planopt: the cheapest week of meals that honestly complies.

The front door: every command has a function of its name here, loaded when it is first asked for.

    import planopt

    kitchen = planopt.load("scenarios/week.yaml")
    plan = planopt.plan(kitchen, time_limit_s=30)
    plan.groceries().to_csv("groceries.csv")
"""

from __future__ import annotations

import sys
from importlib import import_module
from types import ModuleType
from typing import TYPE_CHECKING, Any

if TYPE_CHECKING:
    from planopt.front.additions import add_client, add_food, add_price, add_recipe
    from planopt.front.changes import adjust, edit, next  # noqa: A004
    from planopt.front.defaulted import defaults
    from planopt.front.dishes import export_recipes, import_recipes, recipe
    from planopt.front.guidance import guide
    from planopt.front.households import Weeks, overview, plan_many, weeks
    from planopt.front.kitchens import Checked, check, load, new
    from planopt.front.planned import Plan
    from planopt.front.planning import audit, carry, plan, show
    from planopt.front.pricing import prices_import, prices_list, prices_receipt
    from planopt.front.questions import Answers, whatif
    from planopt.front.schemas import schema
    from planopt.front.windows import targets

__version__ = "0.1.0"

# Module of the front -> what it gives; the names above, for type checkers, are the same.
_DOORS = {
    "additions": ("add_client", "add_food", "add_price", "add_recipe"),
    "changes": ("adjust", "edit", "next"),
    "defaulted": ("defaults",),
    "dishes": ("export_recipes", "import_recipes", "recipe"),
    "guidance": ("guide",),
    "households": ("Weeks", "overview", "plan_many", "weeks"),
    "kitchens": ("Checked", "check", "load", "new"),
    "planned": ("Plan",),
    "planning": ("audit", "carry", "plan", "show"),
    "pricing": ("prices_import", "prices_list", "prices_receipt"),
    "questions": ("Answers", "whatif"),
    "schemas": ("schema",),
    "windows": ("targets",),
}
_HOME = {name: module for module, names in _DOORS.items() for name in names}

__all__ = [
    "Answers",
    "Checked",
    "Plan",
    "Weeks",
    "add_client",
    "add_food",
    "add_price",
    "add_recipe",
    "adjust",
    "audit",
    "carry",
    "check",
    "defaults",
    "edit",
    "export_recipes",
    "guide",
    "import_recipes",
    "load",
    "new",
    "next",
    "overview",
    "plan",
    "plan_many",
    "prices_import",
    "prices_list",
    "prices_receipt",
    "recipe",
    "schema",
    "show",
    "targets",
    "weeks",
    "whatif",
]


def __getattr__(name: str) -> Any:
    """Load what is asked for at the door."""
    if name not in _HOME:
        raise AttributeError(f"module {__name__!r} has no attribute {name!r}")
    found = getattr(import_module(f"{__name__}.front.{_HOME[name]}"), name)
    room = sys.modules.get(f"{__name__}.{name}")
    if room is not None:
        # `planopt.audit.money` still leads into the room whose name the function has.
        found.__dict__ = room.__dict__
    globals()[name] = found
    return found


def __dir__() -> list[str]:
    """Return the names at the door."""
    return [*globals(), *(name for name in __all__ if name not in globals())]


class _Door(ModuleType):
    """Keeps functions at the door where Python would put the rooms of the same names."""

    def __setattr__(self, name: str, value: object) -> None:
        if not (name in _HOME and isinstance(value, ModuleType)):
            super().__setattr__(name, value)


sys.modules[__name__].__class__ = _Door
