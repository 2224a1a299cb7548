"""Ready portions under audit: a plan of a tiny kitchen that has some, and changes to it."""

from __future__ import annotations

import copy
from typing import Any

import pytest

from kitchens import tiny_client, write_kitchen
from planopt.adjust.words import over_by
from planopt.audit import audit_plan
from planopt.cookday.containers import containers_of
from planopt.pipeline import load_kitchen, make_plan
from planopt.plan.records import Plan
from planopt.plan.reread import whole_decisions
from planopt.problem.build import build_problem
from planopt.problem.decisions import cost_of
from planopt.reading.files import Place
from planopt.scenario.checks.whole import check_scenario
from planopt.scenario.reading.load import Kitchen
from planopt.scenario.records import Scenario
from planopt.solve.settings import SolveSettings

READY = [
    {
        "recipe": "lentil_soup",
        "servings": 3,
        "cooked_on": "2026-11-20",
        "use_by": "2026-12-01",
        "price": "0.10",
        "clients": ["ana"],
    }
]
Where = tuple[str | int, ...]


@pytest.fixture(scope="module")
def week(tmp_path_factory: pytest.TempPathFactory) -> tuple[Kitchen, Plan]:
    """Return a kitchen with three servings of soup in the freezer, and its plan."""
    path = write_kitchen(
        tmp_path_factory.mktemp("ready"),
        ready_portions=READY,
        work_prices={"box": "0.50"},
        clients=[tiny_client(), tiny_client(id="ben", name="Ben")],
    )
    kitchen = load_kitchen(path)
    return kitchen, make_plan(kitchen, SolveSettings(gap=0.1, time_limit_s=60.0))


def test_boxes_are_eaten_thawed_and_labelled_and_never_late(week: tuple[Kitchen, Plan]) -> None:
    """Ana gets them up to the first of December, from the freezer, under a label of their own."""
    kitchen, plan = week
    (row,) = plan.ready
    eaten = [p for p in plan.portions if p.cook_day == row.cook_day]
    assert row.servings_eaten == sum(p.servings for p in eaten) > 0
    assert {p.client_id for p in eaten} == {"ana"}
    assert all(p.stored == "freezer" and p.day <= 2 for p in eaten)
    assert plan.solution.ready_cost * 10 == pytest.approx(row.servings_eaten)
    assert not any(b.cook_day == row.cook_day for b in plan.batches)
    boxes = [b for b in containers_of(plan, kitchen.catalog, kitchen.scenario) if b.ready]
    assert len(boxes) == len(eaten)
    assert all(b.use_by <= row.keeps_until and b.freeze_by is None for b in boxes)


CHANGES: list[tuple[str, Where, Any]] = [
    ("ready", ("ready",), []),
    ("ready", ("ready", 0, "servings"), 4.0),
    ("ready", ("ready", 0, "kept"), "fridge"),
    ("ready", ("ready", 0, "keeps_until"), "2026-12-02"),
    ("ready", ("ready", 0, "lines", 0, "grams"), 1.0),
    ("ready", ("ready", 0, "price"), "0.20"),
    ("ready-cost", ("solution", "ready_cost"), "0.00"),
]
STRICTER: list[tuple[str, Where, Any]] = [
    ("over-eaten", ("ready_portions", 0, "servings"), 0.5),
    ("kept-too-long", ("ready_portions", 0, "use_by"), "2026-11-29"),
    ("ready-for-others", ("ready_portions", 0, "clients"), ["ben"]),
    ("portion-storage", ("ready_portions", 0, "kept"), "fridge"),
    ("cook-day", ("ready_portions",), []),
    ("allergen", ("clients", 0, "allergens"), ["milk", "egg", "wheat", "gluten_cereals"]),
    ("excluded-food", ("clients", 0, "excluded_foods"), ["lentils_red_dry"]),
]


def _put(data: Any, where: Where, value: Any) -> Any:
    data = copy.deepcopy(data)
    inner = data
    for step in where[:-1]:
        inner = inner[step]
    inner[where[-1]] = value
    return data


@pytest.mark.parametrize(("rule", "where", "value"), CHANGES)
def test_a_plan_that_says_otherwise_is_found(
    week: tuple[Kitchen, Plan], rule: str, where: Where, value: Any
) -> None:
    """What a plan tells of ready portions is recomputed from the scenario."""
    kitchen, plan = week
    assert audit_plan(plan, kitchen.catalog, kitchen.scenario) == []
    data = _put(plan.model_dump(mode="json", by_alias=True), where, value)
    found = audit_plan(Plan.model_validate(data), kitchen.catalog, kitchen.scenario)
    assert rule in {finding.rule for finding in found}


@pytest.mark.parametrize(("rule", "where", "value"), STRICTER)
def test_a_stricter_scenario_is_broken(
    week: tuple[Kitchen, Plan], rule: str, where: Where, value: Any
) -> None:
    """More eaten than there is, too late, by others, or by who must not have it."""
    kitchen, plan = week
    data = _put(kitchen.scenario.model_dump(mode="json", by_alias=True), where, value)
    found = audit_plan(plan, kitchen.catalog, Scenario.model_validate(data))
    assert rule in {finding.rule for finding in found}


def test_a_plan_with_boxes_is_read_back_whole(week: tuple[Kitchen, Plan]) -> None:
    """What-if and adjust begin from all of it; mid-week its past plates stand as they were."""
    kitchen, plan = week
    problem = build_problem(kitchen.catalog, kitchen.scenario)
    decisions = whole_decisions(plan, problem)
    assert decisions is not None
    assert cost_of(problem, decisions).objective == pytest.approx(float(plan.solution.objective))
    hand = over_by(plan, 3)
    assert any(rule.cook_day == plan.ready[0].cook_day for rule in hand.plates)
    settled = kitchen.scenario.model_copy(update={"by_hand": hand})
    assert check_scenario(settled, kitchen.catalog, lambda _: Place("", 0)) == []
    then = build_problem(kitchen.catalog, settled)
    assert whole_decisions(plan, then) is not None
