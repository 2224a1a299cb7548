"""Two variants made one after the other, as one."""

from __future__ import annotations

from planopt.scenario.byhand import settled_together
from planopt.scenario.records import Variant

# Lists whose later entries are applied after the earlier ones.
_IN_ORDER = ("prices", "unavailable", "windows", "clients_added", "clients_alike", "away")
# What is in by one list is out by the other; what comes later counts.
_OPPOSED = (("recipes_in", "recipes_out"), ("cook_days", "cook_days_out"), ("stock", "stock_gone"))


def both(first: Variant, then: Variant) -> Variant:
    """Return the variant that changes a scenario as the first and then the second would."""
    update: dict[str, object] = {
        "name": f"{first.name}; {then.name}",
        "by_hand": settled_together(first.by_hand, then.by_hand),
    }
    if then.budget is None:
        update["budget"] = first.budget
    for name in _IN_ORDER:
        update[name] = (*getattr(first, name), *getattr(then, name))
    for one, other in _OPPOSED:
        for mine, opposite in ((one, other), (other, one)):
            later = {_about(entry) for entry in (*getattr(then, mine), *getattr(then, opposite))}
            kept = [entry for entry in getattr(first, mine) if _about(entry) not in later]
            update[mine] = (*kept, *getattr(then, mine))
    return then.model_copy(update=update)


def _about(entry: object) -> object:
    """Return what an entry is about: a recipe, a cook day, a food."""
    return getattr(entry, "day", getattr(entry, "food", entry))
