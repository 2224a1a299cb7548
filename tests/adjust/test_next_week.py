"""Next week's scenario: new dates, what is left in amounts a person writes, all else as it was."""

from __future__ import annotations

from datetime import timedelta
from decimal import Decimal
from fractions import Fraction
from pathlib import Path

import pytest
import yaml

from planopt.adjust.leftboxes import left_in_boxes, ready_text
from planopt.adjust.nextweek import next_week, rounded_down, written_stock
from planopt.adjust.week import Written
from planopt.catalog.quantities import Quantities
from planopt.faults import BadInput
from planopt.plan.file import read_plan
from planopt.scenario.reading.load import load_kitchen
from planopt.scenario.ready import ReadyPortions


@pytest.mark.parametrize(
    ("amount", "unit", "written"),
    [
        ("1234.9", "g", "1200"),
        ("999.9", "g", "990"),
        ("199.9", "ml", "195"),
        ("19.99", "g", "19"),
        ("0.9", "g", "0"),
        ("2.99", "each", "2"),
        ("1.249", "kg", "1.20"),
        ("3.7", "cup", "3"),
    ],
)
def test_amounts_are_as_a_person_writes_them(amount: str, unit: str, written: str) -> None:
    """Rounded down, in steps that grow with the amount."""
    assert rounded_down(Fraction(amount), unit) == Decimal(written)


def test_next_week_begins_after_the_plan_with_what_is_left(
    plan_folder: Path, written: Written, tmp_path: Path
) -> None:
    """Four days on; stock is what the plan carries, never more; the clients are the same."""
    found = next_week(plan_folder, tmp_path / "next.yaml")
    path = found.save()
    kitchen = load_kitchen(path)
    assert kitchen.scenario.start_date.isoformat() == "2026-12-04"
    assert kitchen.scenario.clients == written.kitchen.scenario.clients
    assert kitchen.scenario.cook_days == written.kitchen.scenario.cook_days
    carried = {u.food_id: u.left_g for u in written.plan.food_uses if u.fate == "carried"}
    quantities = Quantities(kitchen.catalog)
    assert kitchen.scenario.stock
    for row in kitchen.scenario.stock:
        grams = quantities.stock_edible_g(row.food, row.amount, row.unit)
        assert 0 < grams <= carried[row.food] + 1e-6
    assert {row.food: row.unit for row in found.stock}.get("egg", "each") == "each"


def test_units_are_those_the_scenario_has(written: Written) -> None:
    """A food that the scenario has in grams stays in grams, whatever its packs say."""
    data = {"stock": [{"food": "rice_white_long", "amount": 1, "unit": "g"}]}
    rows = {row.food: row for row in written_stock(written.plan, written.kitchen.catalog, data)}
    plain = {row.food: row for row in written_stock(written.plan, written.kitchen.catalog, {})}
    assert rows["rice_white_long"].unit == "g"
    assert set(rows) == set(plain)


def test_an_existing_file_is_not_replaced(plan_folder: Path, tmp_path: Path) -> None:
    """The fault names the file and what to do."""
    (tmp_path / "next.yaml").write_text("mine", encoding="utf-8")
    with pytest.raises(BadInput) as caught:
        next_week(plan_folder, tmp_path / "next.yaml")
    (fault,) = caught.value.faults
    assert fault.code == "next_file_taken"
    assert fault.mend == "choose another file with --out, or move this one away"
    assert (tmp_path / "next.yaml").read_text(encoding="utf-8") == "mine"


def test_portions_left_in_boxes_are_ready_next_week(plan_folder: Path, tmp_path: Path) -> None:
    """What may be frozen is in the freezer, what keeps too short is told; lost servings are not."""
    plan = read_plan(plan_folder)
    soup = next(row for row in plan.batches if row.use_by_freezer is not None)
    porridge = next(row for row in plan.batches if row.use_by_freezer is None)
    rows = tuple(
        row.model_copy(update={"servings_left": 1.5}) if row in (soup, porridge) else row
        for row in plan.batches
    )
    more = plan.model_copy(update={"batches": rows})
    start = plan.start_date + timedelta(days=plan.days)
    ready, gone = left_in_boxes(more, {}, start, start)
    kept = {entry.recipe: entry for entry in ready}
    assert kept[soup.recipe_id].servings == 1.5
    assert (kept[soup.recipe_id].kept, kept[soup.recipe_id].use_by) == (
        "freezer",
        soup.use_by_freezer,
    )
    assert (porridge.recipe_id in kept) == (porridge.use_by_fridge >= start)
    assert {name for name, _, last in gone if last >= start} == set()
    cooked = {"recipe": soup.recipe_id, "version": soup.version, "day": soup.cook_day, "lost": 1.5}
    ready, _ = left_in_boxes(more, {"by_hand": {"cooked": [cooked]}}, start, start)
    assert soup.recipe_id not in {entry.recipe for entry in ready}
    ready, _ = left_in_boxes(more, {"use_freezer": False}, start, start)
    assert soup.recipe_id not in {e.recipe for e in ready if e.kept == "freezer"}
    text = "ready_portions:\n" + ready_text(tuple(kept.values()))
    listed = yaml.safe_load(text)["ready_portions"]
    assert [ReadyPortions.model_validate(one) for one in listed] == list(kept.values())
