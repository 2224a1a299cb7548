"""The energy floor holds in every formulation: 800 kcal a full day, its share with meals away.

Source of the line: NHLBI/NAASO Practical Guide 2000 (NIH 00-4084).
"""

from __future__ import annotations

from collections import defaultdict
from typing import Any

import pytest

from model.small import (
    EXACT,
    SOURCE,
    catalog,
    client,
    facts,
    food,
    pack,
    recipe,
    scenario,
)
from planopt.audit import audit_plan
from planopt.catalog.records import Catalog
from planopt.model.daymenus import MenuTable
from planopt.plan.extract import extract_plan
from planopt.plan.records import Plan
from planopt.problem.build import Problem, build_problem
from planopt.scenario.records import Scenario
from planopt.solve.engine.search import search
from planopt.solve.highs.daymodel import build_plain, search_plain
from planopt.whatif.curves import missing_allowed
from planopt.whynot.explain import explain

UNWATCHED = client(medically_supervised=False)


def _catalog() -> Catalog:
    """Return three dishes for every meal: 150 kcal for 0.50, 350 for 1.50, 850 for 2.00."""
    foods = [food("broth", kcal=150), food("rice", kcal=350), food("beans", kcal=850, protein=30)]
    packs = [pack("broth", 100, "0.50"), pack("rice", 100, "1.50"), pack("beans", 100, "2.00")]
    batch = {"step": "whole", "most_per_cook_day": 20}
    dishes = [
        recipe(name, {name: 100}, yield_servings=1, batch=batch)
        for name in ("broth", "rice", "beans")
    ]
    return catalog(foods, packs, dishes)


CATALOG = _catalog()


def _week(eater: dict[str, Any], **keys: Any) -> Scenario:
    return scenario(
        **{"days": 2, "meals": ["lunch", "dinner"], "clients": [eater], "visit_cost": 0, **keys}
    )


def _solved(week: Scenario) -> tuple[Problem, Plan]:
    problem = build_problem(CATALOG, week)
    result = search(problem, EXACT)
    assert result.decisions is not None
    return problem, extract_plan(problem, CATALOG, week, result.decisions, facts(), SOURCE)


def _kcal(plan: Plan) -> dict[int, float]:
    found: dict[int, float] = defaultdict(float)
    for row in plan.portions:
        found[row.day] += row.nutrients["energy_kcal"]
    return dict(found)


def test_the_cheapest_week_would_starve_and_is_not_served() -> None:
    """Broth and rice are cheapest, 500 kcal; without a window the floor asks for 800 or more."""
    _, watched = _solved(_week(client()))
    assert _kcal(watched) == {1: 500.0, 2: 500.0}
    _, plan = _solved(_week(UNWATCHED))
    # By hand: broth and beans is the cheapest pair of 800 kcal or more.
    assert _kcal(plan) == {1: 1000.0, 2: 1000.0}
    assert str(plan.solution.grocery_cost) == "5.00"
    assert audit_plan(plan, CATALOG, _week(UNWATCHED)) == []


def test_a_most_without_a_least_keeps_the_floor() -> None:
    """`energy_kcal: {max: 1100}` gave days of 500 kcal; the floor is the least of that window."""
    eater = client(medically_supervised=False, windows_per_day={"energy_kcal": {"max": 1100}})
    problem, plan = _solved(_week(eater))
    assert problem.groups[0].windows["energy_kcal"] == (800.0, 1100.0)
    assert set(_kcal(plan).values()) == {1000.0}


def test_a_day_with_a_meal_away_has_half_the_floor() -> None:
    """One of two meals: 400 kcal, which of the three beans alone give."""
    eater = client(medically_supervised=False, away={"meals": {2: ["dinner"]}})
    problem, plan = _solved(_week(eater))
    floors = {g.days: g.windows["energy_kcal"][0] for g in problem.groups}
    assert floors == {(1,): 800.0, (2,): 400.0}
    assert _kcal(plan) == {1: 1000.0, 2: 850.0}


def test_meals_never_eaten_here_count_as_away() -> None:
    """A client who takes only dinners of a day of two meals needs half the floor from them."""
    problem, _ = _solved(_week(client(medically_supervised=False, meals=["dinner"])))
    assert {g.windows["energy_kcal"][0] for g in problem.groups} == {400.0}


@pytest.mark.parametrize("keys", [{"most_dishes_per_meal": 2}, {"most_dishes_per_meal": "any"}])
def test_the_floor_holds_with_several_dishes_a_meal(keys: dict[str, Any]) -> None:
    """The plain model, which takes over there, has the floor as well."""
    _, plan = _solved(_week(UNWATCHED, **keys))
    assert min(_kcal(plan).get(day, 0.0) for day in (1, 2)) >= 800


def test_all_ways_agree_on_the_floor() -> None:
    """Menus, the plain model and its bound know no day below it."""
    problem = build_problem(CATALOG, _week(UNWATCHED))
    table = MenuTable(problem, 0)
    assert [rule.low for rule in table.rules if rule.what == "energy_kcal"] == [800.0]
    assert search_plain(problem, EXACT).bound == pytest.approx(5.0)
    lows = build_plain(problem).matrix.row_lower
    assert sum(lows == 800.0) == 2


def test_why_not_names_the_floor_and_never_lowers_it() -> None:
    """At most 12 g of protein bars beans, and the rest has 500 kcal: the protein has to give."""
    eater = client(
        medically_supervised=False,
        windows_per_day={"protein_g": {"max": 12}, "energy_kcal": {"max": 1500}},
    )
    week = _week(eater)
    found = explain(CATALOG, week, EXACT.model_copy(update={"time_limit_s": 8.0}), seconds=8.0)
    assert found.conflict is not None
    kinds = {rule.key.kind for rule in found.conflict.rules}
    assert kinds == {"energy_floor", "window"}
    text = "\n".join(found.sentences)
    assert (
        "Ana: energy_kcal at least 800 kcal on a full day (the floor without medical supervision, "
        "never lowered)"
    ) in text
    assert found.repairs
    for repair in found.repairs:
        assert all(move.what != "energy_floor" for move in repair.moves)
        assert min(_kcal(repair.plan).values()) >= 800
        assert not repair.scenario.clients[0].medically_supervised


def test_windows_that_may_be_missed_leave_the_floor() -> None:
    """The budget curve opens the windows below its least budget; the floor stays."""
    eater = client(medically_supervised=False, windows_per_day={"energy_kcal": {"max": 1500}})
    problem, plan = _solved(missing_allowed(_week(eater)))
    assert min(group.windows["energy_kcal"][0] for group in problem.groups) == 800.0
    assert min(_kcal(plan).values()) >= 800


def test_a_plan_lowered_below_the_floor_is_a_finding() -> None:
    """The week of a supervised client, handed to one who is not, is refused day by day."""
    _, plan = _solved(_week(client()))
    found = audit_plan(plan, CATALOG, _week(UNWATCHED))
    assert {(f.rule, f.where) for f in found} == {
        ("energy-floor", "ana day 1"), ("energy-floor", "ana day 2"),
    }  # fmt: skip


def test_lean_days_are_cautioned_whether_or_not_a_window_names_energy() -> None:
    """1,000 kcal is above the floor and below 1,200: said with the leanest day, and audited."""
    week = _week(UNWATCHED)
    _, plan = _solved(week)
    (said,) = [text for text in plan.cautions if text.startswith("Ana: ")]
    assert said.startswith(
        "Ana: 2 of 2 days have less energy than 1,200 kcal a full day (a day with meals away "
        "counts by its share), the leanest is 2026-03-02 with 1,000 kcal. The 2013 AHA/ACC/TOS "
    )
    silent = tuple(text for text in plan.cautions if text != said)
    for cautions in (silent, (*silent, said.replace("1,000", "1,050"))):
        changed = plan.model_copy(update={"cautions": cautions})
        assert {f.rule for f in audit_plan(changed, CATALOG, week)} == {"cautions"}


def test_a_day_of_1200_kcal_or_its_share_is_not_cautioned() -> None:
    """Rice and beans are 1,200 kcal; beans alone are above the half of it on a day of one meal."""
    eater = client(
        medically_supervised=False,
        windows_per_day={"energy_kcal": {"min": 1200}},
        away={"meals": {2: ["dinner"]}},
    )
    _, plan = _solved(_week(eater))
    assert _kcal(plan) == {1: 1200.0, 2: 850.0}
    assert not [text for text in plan.cautions if text.startswith("Ana: ")]
