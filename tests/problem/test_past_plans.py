"""Past plans: nothing again too soon, what was seen costs a little, next week names its plan."""

from __future__ import annotations

import json
from datetime import date
from pathlib import Path
from typing import Any

import pytest

from kitchens import tiny_client, write_kitchen
from planopt.adjust.nextweek import next_week
from planopt.audit import audit_plan
from planopt.faults import NoCompliantWeek
from planopt.pipeline import load_kitchen, make_plan
from planopt.plan.records import Plan
from planopt.problem.build import build_problem
from planopt.problem.limits import LimitKey, limits_of, with_limits
from planopt.report.files.folder import write_plan
from planopt.scenario.households.paths import check_paths
from planopt.scenario.reading.load import Kitchen
from planopt.solve.engine.search import search
from planopt.solve.settings import SolveSettings
from planopt.whynot.witness import limits_met

QUICK = SolveSettings(gap=0.0, time_limit_s=30.0)
# Of the tiny kitchen; its week begins on 30 November 2026 and has three days.
LATELY = {"lentil_soup": "2026-11-27"}


def kitchen_of(folder: Path, had: dict[str, str], **keys: Any) -> Kitchen:
    """Return the tiny kitchen with three lunches of a client who had some dishes before."""
    client = tiny_client(
        eaten_before=had,
        meals=["lunch"],
        windows_per_day={},
        most_repeats=None,
        portions={"step": 0.5, "smallest": 1, "largest": 2},
    )
    return load_kitchen(write_kitchen(folder, clients=[client], **keys))


def days_of(plan: Plan, recipe: str) -> set[int]:
    """Return the days on which a plan serves a recipe."""
    return {row.day for row in plan.portions if row.recipe_id == recipe}


def test_a_dish_comes_again_only_after_so_many_days(tmp_path: Path) -> None:
    """Had on the 27th, not again within 4 days: from the 2nd of December on, which is day 3."""
    kitchen = kitchen_of(tmp_path, LATELY, not_again_days=4)
    problem = build_problem(kitchen.catalog, kitchen.scenario)
    soups = {
        slot.day
        for slot in problem.slots
        for option in slot.options
        if problem.dishes[option.dish].recipe_id == "lentil_soup"
    }
    assert soups == {3}
    plan = make_plan(kitchen, QUICK)
    assert days_of(plan, "lentil_soup") <= {3}
    assert audit_plan(plan, kitchen.catalog, kitchen.scenario) == []


def test_the_audit_and_the_witness_find_a_dish_that_comes_too_soon(tmp_path: Path) -> None:
    """A plan made without the rule breaks it where it serves the dish too soon."""
    free = kitchen_of(tmp_path / "free", {})
    plan = make_plan(free, QUICK)
    recipe = min(row.recipe_id for row in plan.portions)
    last = date(2026, 11, 27)
    gap = (free.scenario.date_of(min(days_of(plan, recipe))) - last).days
    for days, found in ((gap, {"not-again"}), (gap - 1, set())):
        client = free.scenario.clients[0].model_copy(
            update={"eaten_before": {recipe: last}, "not_again_days": days}
        )
        scenario = free.scenario.model_copy(update={"clients": (client,)})
        rules = {one.rule for one in audit_plan(plan, free.catalog, scenario)}
        assert rules & {"not-again"} == found


def test_the_limit_is_named_left_out_and_never_offered(tmp_path: Path) -> None:
    """Why-not knows it as a limit of its client; without it the week is as before."""
    scenario = kitchen_of(tmp_path, LATELY, not_again_days=9).scenario
    (limit,) = [one for one in limits_of(scenario) if one.key == LimitKey("not_again", "ana")]
    assert (limit.value, limit.relaxable) == (9.0, False)
    without = with_limits(scenario, [one for one in limits_of(scenario) if one != limit])
    assert not any(one.key.kind == "not_again" for one in limits_of(without))
    assert limit in limits_of(with_limits(scenario, limits_of(scenario)))


def test_a_week_that_keeps_the_limit_is_told_from_one_that_does_not(tmp_path: Path) -> None:
    """The witness counts whole days between, as the rule does."""
    kitchen = kitchen_of(tmp_path, {"lentil_soup": "2026-11-25"}, not_again_days=4)
    problem = build_problem(kitchen.catalog, kitchen.scenario)
    week = search(problem, QUICK).decisions
    assert week is not None
    key = LimitKey("not_again", "ana")
    for days in (4, 5, 6, 40):
        client = kitchen.scenario.clients[0].model_copy(update={"not_again_days": days})
        scenario = kitchen.scenario.model_copy(update={"clients": (client,)})
        (limit,) = [one for one in limits_of(scenario) if one.key == key]
        served = min(
            problem.slots[i].day
            for i, j in week.servings
            if problem.dishes[problem.slots[i].options[j].dish].recipe_id == "lentil_soup"
        )
        gap = (scenario.date_of(served) - date(2026, 11, 25)).days
        assert (limit in limits_met(problem, week, [limit])) == (gap > days)


def test_what_was_seen_costs_its_price_and_a_new_dish_wins(tmp_path: Path) -> None:
    """A portion of a seen dish costs its price, apart from the bill; enough moves the week."""
    free = make_plan(kitchen_of(tmp_path / "a", {}), QUICK)
    seen = {"lentil_soup": "2026-10-01"}
    kitchen = kitchen_of(tmp_path / "b", seen, seen_price="0.01")
    plan = make_plan(kitchen, QUICK)
    portions = sum(row.recipe_id == "lentil_soup" for row in plan.portions)
    assert plan.solution.seen_cost * 100 == portions
    assert audit_plan(plan, kitchen.catalog, kitchen.scenario) == []
    dear = make_plan(kitchen_of(tmp_path / "c", seen, seen_price="9.00"), QUICK)
    count = sum(row.recipe_id == "lentil_soup" for row in dear.portions)
    assert count < sum(row.recipe_id == "lentil_soup" for row in free.portions)
    solution = plan.solution.model_copy(update={"seen_cost": plan.solution.grocery_cost})
    lied = plan.model_copy(update={"solution": solution})
    found = {one.rule for one in audit_plan(lied, kitchen.catalog, kitchen.scenario)}
    assert "seen-cost" in found


def test_no_dish_left_says_why(tmp_path: Path) -> None:
    """Where all that suits a meal was had lately, the explanation says so."""
    had = dict.fromkeys(("lentil_soup", "boiled_eggs", "egg_rice"), "2026-11-29")
    kitchen = kitchen_of(tmp_path, had, not_again_days=30)
    with pytest.raises(NoCompliantWeek) as caught:
        make_plan(kitchen, QUICK)
    text = " ".join(map(str, caught.value.reasons))
    assert "because all that suits was had too lately in a past plan" in text
    assert "Lower `not_again_days`, or use other recipes for these meals." in text


def test_a_scenario_reads_past_plans_and_next_week_adds_its_own(tmp_path: Path) -> None:
    """Who had what is read from the folders; what is no plan, or of other dates, is a fault."""
    kitchen = kitchen_of(tmp_path, {}, not_again_days=2)
    plan = make_plan(kitchen, QUICK)
    write_plan(plan, kitchen.catalog, kitchen.scenario, tmp_path / "week1")
    second = next_week(tmp_path / "week1", tmp_path / "second.yaml").save()
    then = load_kitchen(second)
    assert then.scenario.past_plans == ("week1",)
    had = then.scenario.clients[0].eaten_before
    assert had == {
        row.recipe_id: max(r.date for r in plan.portions if r.recipe_id == row.recipe_id)
        for row in plan.portions
    }
    (tmp_path / "odd").mkdir()
    (tmp_path / "odd" / "plan.json").write_text(json.dumps({"days": 3}), encoding="utf-8")
    bad = write_kitchen(tmp_path, past_plans=["week1", "nowhere", "odd"])
    found = {(f.code, f.value, f.why, f.mend) for f in check_paths([bad])}
    mend = "name a folder that `planopt plan` wrote, relative to this file, or take it out"
    gone = "its plan.json cannot be read: No such file or directory"
    assert found == {
        ("past_plan_unreadable", "nowhere", gone, mend),
        ("past_plan_unreadable", "odd", "its plan.json is not a plan", mend),
        (
            "past_plan_dates",
            "week1",
            "it runs to 2026-12-02, and this scenario begins on 2026-11-30",
            "name plans of earlier weeks, or correct start_date",
        ),
    }


def test_texts_of_what_cannot_be(tmp_path: Path) -> None:
    """A dish put too soon, a date that is not before the week, and several kitchens."""
    put = {"plates": [{"put": "egg_rice", "day": 2, "meal": "dinner"}]}
    client = tiny_client(eaten_before={"egg_rice": "2026-11-28"})
    (fault,) = check_paths(
        [write_kitchen(tmp_path, clients=[client], by_hand=put, not_again_days=9)]
    )
    assert (fault.code, fault.field) == ("put_too_soon", "by_hand.plates[0].put")
    assert fault.why == "ana had it on 2026-11-28, and gets nothing again within 9 days"
    assert fault.mend == "put it later, lower not_again_days, or put another recipe"
    late = tiny_client(eaten_before={"egg_rice": "2026-11-30"})
    (fault,) = check_paths([write_kitchen(tmp_path, clients=[late])])
    assert (fault.code, fault.field) == ("past_plan_dates", "clients[0].eaten_before.egg_rice")
    assert fault.why == "this scenario begins on 2026-11-30"
    assert fault.mend == "write a date before it"
    clients = [tiny_client(), tiny_client(id="ben", name="Ben", household="hill")]
    path = write_kitchen(tmp_path, clients=clients, past_plans=["week1"])
    (fault,) = [f for f in check_paths([path]) if f.code == "past_plans_one_kitchen"]
    assert fault.why == "past plans are those of one kitchen"
    assert fault.mend == "take them out here, and write eaten_before in the roster's clients"
