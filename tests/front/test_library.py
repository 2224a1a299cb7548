"""The library as its guide page tells it, and what else stands at the door."""

from __future__ import annotations

import logging
import re
from dataclasses import replace
from decimal import Decimal
from pathlib import Path
from typing import Any

import pytest

import planopt
from inprocess import in_this_process
from kitchens import tiny_client, write_kitchen
from modules import HOUSE
from planopt.faults import BadInput, BadOption, NoCompliantWeek
from planopt.front.planned import PlannedWeek
from planopt.runs import run as run_module
from planopt.solve.progress import Progress, logged

PAGE = (HOUSE / "guide" / "library.md").read_text(encoding="utf-8")


@pytest.mark.slow
def test_the_guide_page_runs(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch, capsys: pytest.CaptureFixture[str]
) -> None:
    """Every block of the page, one after the other, in a folder that `planopt new` made."""
    planopt.new(tmp_path / "kitchen")
    monkeypatch.chdir(tmp_path / "kitchen")
    names: dict[str, Any] = {}
    blocks = re.findall(r"^```python\n(.*?)^```$", PAGE, re.MULTILINE | re.DOTALL)
    assert len(blocks) == 4
    for block in blocks:
        exec(compile(block, "library.md", "exec"), names)
    shown = capsys.readouterr().out
    plan, answers = names["plan"], names["answers"]
    assert f"{plan.cost} and no compliant week costs less than {plan.bound}" in shown
    assert plan.status == "optimal"
    # A food that may not be bought makes no week cheaper, and none of it is bought.
    assert any(p.food_id == "chicken_thigh" for p in plan.record.purchases)
    (without,) = answers.plans().values()
    assert without.cost > plan.cost
    assert not any(p.food_id == "chicken_thigh" for p in without.record.purchases)
    assert names["again"].cost == plan.cost
    assert planopt.audit(plan) == []
    assert planopt.audit(names["again"]) == []
    rows = Path("groceries.csv").read_text(encoding="utf-8").splitlines()
    assert len(rows) == len(plan.groceries()) + 1


def test_an_audit_of_a_plan_in_memory_sees_a_change(tmp_path: Path) -> None:
    """The same findings as of a folder: here a bill that is a dollar too low."""
    path = write_kitchen(tmp_path)
    plan = planopt.plan(str(path), work_limit=20)
    assert planopt.audit(plan) == []
    lower = plan.record.solution.model_copy(
        update={"grocery_cost": plan.record.solution.grocery_cost - 1}
    )
    record = plan.record.model_copy(update={"solution": lower})
    changed = PlannedWeek(replace(plan.opened, plan=record), plan.origin)
    assert [found.rule for found in planopt.audit(changed)]


def test_weeks_are_planned_and_told_from_one_call(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    """Two households, one of which cannot be planned; tables, plan and the same look again."""
    monkeypatch.setattr(run_module, "run_in_processes", in_this_process)
    clients = [tiny_client(id="ana", name="Ana"), tiny_client(id="dan", allergens=["milc"])]
    path = write_kitchen(tmp_path, kitchen="separate", clients=clients)
    weeks = planopt.plan_many(str(path), str(tmp_path / "out"), work_limit=20, threads=1)
    assert list(weeks.clients()["state"]) == ["planned", "failed"]
    assert "milc" in weeks.clients()["cause"].iloc[1]
    pays = weeks.clients()["pays_usd"].iloc[0]
    assert isinstance(pays, Decimal)
    assert pays == weeks.groceries()["price_usd"].sum() == weeks.overview.bill
    assert weeks.plan("ana").cost == weeks.kitchens()["all_counted_usd"].iloc[0]
    again = planopt.overview(tmp_path / "out")
    assert repr(again) == repr(weeks)
    assert "1 of 2 clients planned" in repr(again)


def test_the_search_tells_its_logger_and_whoever_listens(
    tmp_path: Path, caplog: pytest.LogCaptureFixture
) -> None:
    """Time with its limit, new plans, and the look for reasons, which may take as long again."""
    heard: list[Progress] = []
    path = write_kitchen(tmp_path)
    with caplog.at_level(logging.INFO, "planopt"):
        planopt.plan(path, time_limit_s=9, gap=0.5, progress=heard.append)
    assert heard
    assert {moment.limit_s for moment in heard} == {9.0}
    assert [record for record in caplog.records if record.name == "planopt.search"]
    path = write_kitchen(tmp_path, budget="1.00")
    with pytest.raises(NoCompliantWeek):
        planopt.plan(path, time_limit_s=1, progress=heard.append)
    assert heard[-1].phase == "finding out why no week complies"
    # A logger that is off costs nothing.
    assert logged(None) is None
    assert logged(heard.append) == heard.append


def test_a_kitchen_shows_itself_on_a_line(tmp_path: Path) -> None:
    """Pages of records help nobody in a session."""
    kitchen = planopt.load(write_kitchen(tmp_path), "budget 130")
    for shown in (repr(kitchen), repr(kitchen.catalog)):
        assert "\n" not in shown
        assert len(shown) < 200
    assert kitchen.scenario.budget == 130


@pytest.mark.parametrize(
    ("call", "words"),
    [
        (lambda path: planopt.plan(path, time_limt=3), "did you mean 'time_limit_s'"),
        (lambda path: planopt.plan(path, gap=2), "from 0 to below 1"),
        (lambda path: planopt.whatif(path), "nothing is asked"),
        (lambda path: planopt.whatif(path, "no egg", points=1), "from 3 to 100"),
        (lambda path: planopt.add_food("figs", nam="Figs"), "did you mean 'name'"),
        (lambda path: planopt.add_food("Figs"), "lower-case"),
        (lambda path: planopt.prices_list(day="monday"), "YYYY-MM-DD"),
        (lambda path: planopt.targets(height=168, weight=70, activity="light"), "--sex"),
    ],
)
def test_wrong_keywords_are_told_with_their_mend(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch, call: Any, words: str
) -> None:
    """A slip in a keyword is no traceback from somewhere deep, and is not passed over."""
    path = write_kitchen(tmp_path)
    monkeypatch.chdir(tmp_path)
    with pytest.raises(BadOption, match=words):
        call(path)


def test_other_functions_take_texts_as_paths(tmp_path: Path) -> None:
    """What needs no search: check, prices, recipe, schema, export, and a stock file's faults."""
    path = write_kitchen(tmp_path)
    catalog = str(tmp_path / "catalogs")
    assert planopt.check(str(path)).faults == []
    assert planopt.check(str(tmp_path / "none.yaml")).faults[0].code == "file_missing"
    prices = planopt.prices_list(catalog=catalog)
    assert list(prices["food_id"]) == sorted(prices["food_id"])
    assert all(isinstance(price, Decimal) for price in prices["price_per_kg"])
    recipe_id = next(iter(planopt.load(path).catalog.recipes))
    assert planopt.recipe(recipe_id, catalog, servings=3).servings == 3
    with pytest.raises(BadInput, match="no such recipe"):
        planopt.recipe("nothing", catalog)
    assert planopt.schema("recipe")["title"] == "Recipe"
    assert len(planopt.export_recipes(str(tmp_path), str(tmp_path / "out"))) > 1
