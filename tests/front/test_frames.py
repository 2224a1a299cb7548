"""Tables of a plan for people: real types, exact money, every column told in the guide."""

from __future__ import annotations

import re
from decimal import Decimal
from io import StringIO
from pathlib import Path

import pandas as pd
import pytest

import planopt
from modules import HOUSE
from planopt.faults import BadOption
from planopt.front import frames
from planopt.front.planned import PlannedWeek
from planopt.report.files.reopen import OpenPlan
from report_samples import sample_catalog, sample_plan, sample_scenario

FRAMES = ("menu", "groceries", "batches", "windows", "costs", "bill", "leftovers")
MONEY = {
    "groceries": ("price_each_usd", "price_usd"),
    "costs": ("amount_usd", "counted_usd"),
    "bill": ("groceries_usd", "visits_usd", "pays_usd"),
    "leftovers": ("value_usd",),
}
DATES = {
    "menu": ("date", "thaw_on"),
    "groceries": ("shop_date",),
    "batches": ("cook_date", "keeps_until", "freezer_until"),
    "windows": ("date",),
    "leftovers": ("usable_until",),
}


def sample(**changes: object) -> PlannedWeek:
    """Return the plan made by hand for the reports, with changes."""
    plan = sample_plan().model_copy(update=changes)
    return PlannedWeek(OpenPlan(plan, sample_catalog(), sample_scenario(), True, ()), Path())


def table(plan: PlannedWeek, name: str) -> pd.DataFrame:
    """Return a table by the name of its method."""
    found = getattr(plan, name)()
    assert isinstance(found, pd.DataFrame)
    return found


@pytest.mark.parametrize("name", FRAMES)
def test_columns_have_real_types_and_stand_in_the_guide(name: str) -> None:
    """Dates are dates, money is exact and never a float, and no column goes untold."""
    found = table(sample(), name)
    assert len(found)
    for column in DATES.get(name, ()):
        assert pd.api.types.is_datetime64_dtype(found[column]), column
    for column in MONEY.get(name, ()):
        assert all(isinstance(value, Decimal) for value in found[column]), column
    plain = set(found) - set(MONEY.get(name, ()))
    assert not [column for column in plain if found[column].dtype == object]
    guide = (HOUSE / "guide" / "library.md").read_text(encoding="utf-8")
    told = next(part for part in guide.split("\n\n") if re.match(rf"\| Column .*{name}\(\)", part))
    assert set(found) <= {cell for row in told.splitlines() for cell in re.findall(r"`(\w+)`", row)}


@pytest.mark.parametrize("name", FRAMES)
def test_a_plan_with_nothing_in_it_has_the_same_columns(name: str) -> None:
    """Nobody's code breaks over a week without leftovers or purchases."""
    empty = sample(portions=(), purchases=(), batches=(), food_uses=())
    assert list(table(empty, name)) == list(table(sample(), name))


def test_sums_are_those_of_the_plan() -> None:
    """To the cent: costs to the cost, bills to the bill, prices to the groceries."""
    plan = sample()
    s = plan.record.solution
    assert plan.costs()["counted_usd"].sum() == plan.cost == s.objective
    work = s.model_copy(
        update={"work_cost": Decimal("3.40"), "objective": s.objective + Decimal("3.40")}
    )
    priced = plan.record.model_copy(update={"solution": work})
    costs = frames.costs(priced, plan.opened.catalog, plan.opened.scenario).set_index("part")
    assert costs["counted_usd"].sum() == work.objective
    assert costs.loc["waste", "counted_usd"] == s.waste_cost, "the cook's time is no waste"
    assert plan.bill()["pays_usd"].sum() == s.grocery_cost + s.visit_cost
    groceries = plan.groceries()
    by_seller = groceries.groupby("seller", observed=True)["price_usd"].sum()
    assert by_seller.sum() == sum(p.price for p in plan.record.purchases)
    menu = plan.menu()
    first = plan.record.portions[0]
    eaten = menu[(menu["client_id"] == first.client_id) & (menu["day"] == first.day)]
    kcal = sum(
        p.nutrients["energy_kcal"]
        for p in plan.record.portions
        if (p.client_id, p.day) == (first.client_id, first.day)
    )
    assert eaten["energy_kcal"].sum() == pytest.approx(kcal)


def test_work_is_a_row_of_its_own_and_no_waste() -> None:
    """What a week costs in work is not counted as waste, which it once was."""
    solution = sample_plan().solution
    worked = {"work_cost": Decimal("4.20"), "objective": solution.objective + Decimal("4.20")}
    counted = [
        sample(solution=one).costs().set_index("part")["counted_usd"]
        for one in (solution, solution.model_copy(update=worked))
    ]
    assert counted[1]["work"] == Decimal("4.20")
    assert counted[1]["waste"] == counted[0]["waste"]
    assert counted[1].sum() == solution.objective + Decimal("4.20")


def test_meals_keep_the_order_of_the_scenario_and_csv_keeps_the_figures() -> None:
    """Sorting by meal is by the day; what is written is read back alike."""
    menu = sample().menu()
    assert menu["meal"].cat.ordered
    assert list(menu["meal"].cat.categories)[: len(sample_scenario().meals)] == list(
        sample_scenario().meals
    )
    again = pd.read_csv(StringIO(menu.to_csv(index=False)), parse_dates=["date"])
    assert list(again["date"]) == list(menu["date"])
    assert list(again["servings"]) == list(menu["servings"])


def test_a_plan_shows_itself_on_a_line_and_in_a_notebook() -> None:
    """Short in a session, a table in a notebook, and names cannot be markup."""
    plan = sample(scenario_name="<b>Ana & Co</b>")
    assert "\n" not in repr(plan)
    assert len(repr(plan)) < 200
    assert f"{plan.cost} USD" in repr(plan)
    assert repr(plan) == str(plan.record)
    html = plan._repr_html_()
    assert "&lt;b&gt;Ana &amp; Co&lt;/b&gt;" in html
    assert "<b>Ana" not in html
    assert f"{plan.cost} USD" in html
    assert plan.record.batches[0].recipe_name in html


def test_a_plan_whose_kitchen_has_changed_is_read_with_a_warning_and_not_written(
    tmp_path: Path,
) -> None:
    """Labels made of a kitchen that has changed might lie."""
    sample().write(tmp_path / "week")
    with pytest.warns(UserWarning, match="is not found"):
        plan = planopt.Plan.read(str(tmp_path / "week"))
    assert plan.cost == sample().cost
    with pytest.raises(BadOption, match="Plan again"):
        plan.write(tmp_path / "other")
    assert not (tmp_path / "other").exists()
