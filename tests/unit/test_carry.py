"""Leftovers as the next week's stock: amounts, dates, files."""

from __future__ import annotations

import os
from datetime import date
from decimal import Decimal
from fractions import Fraction
from pathlib import Path

import pytest
import yaml
from hypothesis import given, settings
from hypothesis import strategies as st
from typer.testing import CliRunner

from planopt import cli
from planopt.carry import (
    FIRST_LINE,
    carried_file_name,
    carried_stock,
    stock_text,
    write_stock,
)
from planopt.catalog.quantities import Quantities
from planopt.catalog.records import Catalog
from planopt.faults import BadInput, ExitCode
from planopt.plan.records import FoodUse, Plan
from planopt.scenario.checks.stock import read_stock_file
from planopt.scenario.records import Stock, StockFile
from report_samples import sample_catalog, sample_plan


def _plan(*uses: FoodUse) -> Plan:
    return sample_plan().model_copy(update={"food_uses": uses})


def _use(food: str, left: float, until: date | None = None, fate: str = "carried") -> FoodUse:
    return FoodUse.model_validate(
        {
            "food_id": food, "food_name": food, "supply": "shop day 0", "available_g": left,
            "used_g": {}, "left_g": left, "usable_until": until, "fate": fate,
            "left_value": Decimal(0),
        }
    )  # fmt: skip


def _shared(share: float) -> Catalog:
    catalog = sample_catalog()
    potato = catalog.foods["potato"].model_copy(update={"edible_share": share})
    return catalog.model_copy(update={"foods": {**catalog.foods, "potato": potato}})


def test_only_what_is_carried_is_carried() -> None:
    """The sample's potatoes go on; its wasted foods and its spare serving of fish do not."""
    stock = carried_stock(sample_plan(), sample_catalog())
    assert stock.stock == (
        Stock(food="potato", amount=Decimal("862.5"), unit="g", use_by=date(2027, 2, 2)),
    )
    assert stock.note == "Left over from Two days of fish, 2027-01-04 to 2027-01-05."


def test_supplies_of_one_food_come_together_by_use_by_date() -> None:
    """One entry a food and date, the one that keeps for ever last."""
    soon, late = date(2027, 2, 1), date(2027, 3, 1)
    uses = (
        _use("potato", 10),
        _use("potato", 100, late),
        _use("cod", 5, late),
        _use("potato", 20, soon),
        _use("potato", 30, late),
    )
    stock = carried_stock(_plan(*uses), sample_catalog()).stock
    assert [(one.food, one.amount, one.use_by) for one in stock] == [
        ("cod", 5, late),
        ("potato", 20, soon),
        ("potato", 130, late),
        ("potato", 10, None),
    ]


@settings(deadline=None)
@given(
    left=st.floats(min_value=0.01, max_value=1e5).map(lambda grams: round(grams, 6)),
    share=st.floats(min_value=0.05, max_value=1).map(lambda share: round(share, 3)),
)
def test_edible_grams_survive_the_way_through_the_file(left: float, share: float) -> None:
    """Read back as stock, the grams are never more than what is left, and short by a milligram."""
    catalog = _shared(share)
    stock = carried_stock(_plan(_use("potato", left)), catalog)
    (row,) = yaml.safe_load(stock_text(stock))["stock"]
    again = Stock.model_validate(row)
    edible = Fraction(
        repr(Quantities(catalog).stock_edible_g(again.food, again.amount, again.unit))
    )
    assert Fraction(repr(left)) - Fraction(1, 1000) <= edible <= Fraction(repr(left))


def test_a_trace_is_not_carried() -> None:
    """Less than a milligram as purchased is nothing to write down."""
    assert carried_stock(_plan(_use("potato", 0.0004)), sample_catalog()).stock == ()


def test_every_food_that_the_catalog_lost_is_told_at_once() -> None:
    """A plan may be older than its catalog."""
    plan = _plan(_use("leek", 10), _use("potato", 10), _use("kale", 5), _use("leek", 1))
    with pytest.raises(BadInput) as caught:
        carried_stock(plan, sample_catalog())
    assert str(caught.value) == "\n".join(
        f"catalogs: food_uses: {food!r} [carried_food_unknown]\n"
        "    why: the plan leaves some of this food, and the catalog has it no more\n"
        "    mend: put the food back into foods.csv, or plan the week again"
        for food in ("kale", "leek")
    )


@pytest.mark.parametrize("name", ["Week: one", "- x\nstock: []", "=1+1", "'\"#{", "Müsli 🥕", ""])
def test_the_file_reads_back_as_written(tmp_path: Path, name: str) -> None:
    """Whatever the scenario is called, and for foods whose ids YAML would take for other things."""
    rows = tuple(
        Stock(food=food, amount=Decimal(amount), unit="g", use_by=until)
        for food, amount, until in (
            ("potato", "0.001", date(2027, 1, 9)),
            ("no", "1200", None),
            ("null", "99999999.999", None),
        )
    )
    for stock in (StockFile(note=name, stock=rows), StockFile(note=name)):
        write_stock(stock, tmp_path / "carried.yaml")
        _, again, faults = read_stock_file(tmp_path / "carried.yaml")
        assert faults == []
        assert again == stock


def test_the_usual_name_has_the_first_date_after_the_plan() -> None:
    """Weeks that follow each other write different files."""
    assert carried_file_name(sample_plan()) == "carried-2027-01-06.yaml"


def test_only_its_own_file_is_replaced(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    """An earlier stock file of the command gives way; anything else is refused and kept."""
    monkeypatch.chdir(tmp_path)
    write_stock(StockFile(note="first"), Path("carried.yaml"))
    write_stock(StockFile(note="second"), Path("carried.yaml"))
    assert "second" in Path("carried.yaml").read_text(encoding="utf-8")
    Path("mine.yaml").write_text("stock: []\n", encoding="utf-8")
    Path("folder").mkdir()
    for name in ("mine.yaml", "folder"):
        with pytest.raises(BadInput) as caught:
            write_stock(StockFile(), Path(name))
        assert str(caught.value) == (
            f"{name}: {name!r} [carry_file_taken]\n"
            "    why: it exists, and is not a file that `planopt carry` wrote\n"
            "    mend: choose another file with --out, or move this one away"
        )
    assert Path("mine.yaml").read_text(encoding="utf-8") == "stock: []\n"
    assert sorted(os.listdir()) == ["carried.yaml", "folder", "mine.yaml"]


def test_a_place_that_cannot_be_written_is_a_fault(tmp_path: Path) -> None:
    """A file where a folder should be is told, and nothing is left behind."""
    (tmp_path / "file").write_text("", encoding="utf-8")
    target = tmp_path / "file" / "carried.yaml"
    with pytest.raises(BadInput) as caught:
        write_stock(StockFile(), target)
    assert str(caught.value) == (
        f"{target}: 'carried.yaml' [file_unwritable]\n"
        "    why: the system refuses to write this file: File exists\n"
        "    mend: choose another place, or free the space or the rights it needs"
    )
    assert os.listdir(tmp_path) == ["file"]


def test_the_command_tells_what_is_wrong(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    """A folder without a plan ends with the code for bad input, and no file."""
    monkeypatch.chdir(tmp_path)
    Path("empty").mkdir()
    result = CliRunner().invoke(cli.app, ["carry", "empty"])
    assert result.exit_code == ExitCode.BAD_INPUT
    assert "[plan_unreadable]" in result.stderr
    assert os.listdir() == ["empty"]
    assert FIRST_LINE.startswith("# ")
