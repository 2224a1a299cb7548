"""The audit holds a plan to what is settled by hand, by its own look."""

from __future__ import annotations

from typing import Any

import pytest

from audit.handmade_plan import PLAN
from audit.test_audit_rules import findings

ROW: dict[str, Any] = PLAN["portions"][0]
BATCH: dict[str, Any] = PLAN["batches"][0]
BOUGHT: dict[str, Any] = PLAN["purchases"][0]
PLATE = {"client": ROW["client_id"], "day": ROW["day"], "meal": ROW["meal"]}
PUT = {**PLATE, "put": ROW["recipe_id"]}
COOKED = {"recipe": BATCH["recipe_id"], "version": BATCH["version"], "day": BATCH["cook_day"]}
PACKS = {"pack": BOUGHT["pack_id"], "day": BOUGHT["shop_day"]}


def by_hand(**keys: Any) -> list[str]:
    """Return what the audit finds of what is settled by hand, of a plan that holds otherwise."""
    found = findings(kitchen=[(("by_hand",), keys)])
    assert {finding.rule for finding in found} <= {"by-hand"}
    return [finding.text() for finding in found]


def test_what_the_plan_has_is_agreed_to() -> None:
    """A dish that is there, packs and batches that are there: nothing is found."""
    settled = {**PUT, "servings": ROW["servings"], "cook_day": ROW["cook_day"]}
    assert by_hand(plates=[settled]) == []
    assert by_hand(plates=[{**PLATE, "without": "nothing_such"}]) == []
    assert by_hand(bought=[{**PACKS, "count": BOUGHT["count"]}]) == []
    assert by_hand(cooked=[{**COOKED, "batches": BATCH["batches"]}]) == []


@pytest.mark.parametrize(
    "keys",
    [
        {"plates": [{**PLATE, "put": "another_dish"}]},
        {"plates": [{**PUT, "servings": ROW["servings"] + 0.5}]},
        {"plates": [{**PUT, "version": "0=another"}]},
        {"plates": [{**PUT, "cook_day": ROW["cook_day"] + 1}]},
        {"plates": [{**PLATE, "without": ROW["recipe_id"]}]},
        {"plates": [{"without": ROW["recipe_id"]}]},
        {"bought": [{**PACKS, "count": BOUGHT["count"] + 1}]},
        {"cooked": [{**COOKED, "batches": BATCH["batches"] + 1}]},
        {"cooked": [{**COOKED, "batches": BATCH["batches"], "lost": BATCH["servings"]}]},
        {"sold_out": [BOUGHT["food_id"]]},
        {"from_day": BOUGHT["shop_day"] + 1},
        {"from_day": BATCH["cook_day"] + 1},
    ],
    ids=lambda keys: next(iter(keys)),
)
def test_what_the_plan_does_otherwise_is_found(keys: dict[str, Any]) -> None:
    """Another dish or portion, fewer packs, other batches, more than was there: each is told."""
    assert by_hand(**keys)


def test_the_closest_rule_counts() -> None:
    """A rule for every day gives way to one that names the plate."""
    everyday = {"put": "another_dish", "meal": ROW["meal"], "client": ROW["client_id"]}
    assert by_hand(plates=[{**everyday, "day": None}, PUT]) != []
    others = [text for text in by_hand(plates=[everyday, PUT]) if f"day {ROW['day']} " in text]
    assert others == []
