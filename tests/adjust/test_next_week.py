"""Next week's scenario: new dates, what is left in amounts a person writes, all else as it was."""

from __future__ import annotations

from decimal import Decimal
from fractions import Fraction
from pathlib import Path

import pytest

from planopt.adjust.nextweek import next_week, rounded_down, written_stock
from planopt.adjust.week import Written
from planopt.catalog.quantities import Quantities
from planopt.faults import BadInput
from planopt.scenario.reading.load import load_kitchen


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
