"""Cooked portions that a plan leaves in their boxes, as ready portions of the next week."""

from __future__ import annotations

from collections.abc import Iterator
from datetime import date
from decimal import Decimal
from fractions import Fraction
from typing import Any

import yaml

from planopt.plan.records import Batch, Plan, ReadyBatch
from planopt.scenario.ready import ReadyPortions
from planopt.units import exact

Uneaten = tuple[tuple[str, float, date], ...]
# What is left of a batch below this is a taste, not a box; common practice, no source.
_LEAST_SERVINGS = Fraction(1, 4)


def left_in_boxes(
    plan: Plan, data: Any, start: date, first_cooked: date
) -> tuple[tuple[ReadyPortions, ...], Uneaten]:
    """Return what is left in boxes for a week, and what no longer is: recipe, servings, last day.

    Spare servings that may be frozen are taken to be frozen on the day they are cooked. What is
    cooked on the next week's first cook day or later is not told apart from what that week cooks.
    `data` is the scenario of the plan as read.
    """
    ready: list[ReadyPortions] = []
    gone: list[tuple[str, float, date]] = []
    freezer = bool(data.get("use_freezer", True))
    lost = dict(_lost(plan, data))
    for row in plan.sources:
        key = (row.recipe_id, row.version, row.cook_day)
        left = exact(row.servings_left) - lost.get(key, Fraction(0))
        if left < _LEAST_SERVINGS:
            continue
        entry = _entry(row, float(left), freezer)
        if entry.use_by < start or entry.cooked_on >= first_cooked:
            gone.append((row.recipe_name, float(left), entry.use_by))
        else:
            ready.append(entry)
    return tuple(ready), tuple(gone)


def _entry(row: Batch, servings: float, freezer: bool) -> ReadyPortions:
    frozen = freezer and row.use_by_freezer is not None
    last = row.use_by_freezer if frozen else row.use_by_fridge
    if isinstance(row, ReadyBatch):
        frozen, last = row.kept == "freezer", row.keeps_until
    assert last is not None
    return ReadyPortions(
        recipe=row.recipe_id,
        version=row.version,
        servings=servings,
        cooked_on=row.cook_date,
        use_by=last,
        kept="freezer" if frozen else "fridge",
        clients=row.clients if isinstance(row, ReadyBatch) else (),
        price=row.price if isinstance(row, ReadyBatch) else Decimal(0),
    )


def _lost(plan: Plan, data: Any) -> Iterator[tuple[tuple[str, str, int], Fraction]]:
    """Yield the servings of batches that nobody can eat, as file and changes say."""
    for entry in (data.get("by_hand") or {}).get("cooked") or ():
        key = (entry["recipe"], entry.get("version", "base"), entry["day"])
        yield key, exact(float(entry.get("lost", 0)))
    for row in plan.changes.by_hand.cooked if plan.changes is not None else ():
        yield (row.recipe, row.version, row.day), exact(row.lost)


def ready_text(entries: tuple[ReadyPortions, ...]) -> str:
    """Return ready portions as lines of a scenario; what is usual is left out."""
    lines = []
    for entry in entries:
        row: dict[str, object] = {"recipe": entry.recipe}
        if entry.version != "base":
            row["version"] = entry.version
        servings = entry.servings or 0.0
        row["servings"] = int(servings) if servings == int(servings) else servings
        row |= {"cooked_on": entry.cooked_on, "use_by": entry.use_by, "kept": entry.kept}
        if entry.clients:
            row["clients"] = list(entry.clients)
        if entry.price:
            row["price"] = float(entry.price)
        text = yaml.safe_dump(
            row, default_flow_style=True, sort_keys=False, allow_unicode=True, width=10**9
        )
        lines.append(f"  - {text.rstrip()}")
    return "\n".join(lines) + "\n"
