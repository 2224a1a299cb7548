"""Decisions in plain numbers: grams shared out among supplies, and what it all costs."""

from __future__ import annotations

from dataclasses import replace
from datetime import date, timedelta
from typing import Any

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from scipy.optimize import linprog

from model.chosen import Chosen
from model.small import START, catalog, client, food, pack, recipe, scenario
from model.solved import solved, solved_plan
from planopt.audit import audit_plan
from planopt.problem.build import Problem, build_problem
from planopt.problem.decisions import (
    Decisions,
    allocate,
    available_g,
    cost_of,
    grams_used,
    servings_eaten,
)
from planopt.problem.supplies import Supply
from slow import few

COOK_DAYS = (1, 2, 4, 5)
LAST_DAY = 6
HALF_A_CENT = 0.005


def _base() -> Problem:
    """Return a problem in which one batch of the only dish takes a gram of rice on any cook day."""
    dish = recipe(
        "pot", {"rice": 1}, batch={"step": "any", "most_per_cook_day": 99}, yield_servings=1,
        keeps={"kind": "dishes", "fridge_days": 0, "serve": "either"},
    )  # fmt: skip
    week = scenario(days=LAST_DAY, cook_days=[{"day": day} for day in COOK_DAYS], carry_days=0)
    return build_problem(catalog([food("rice")], [pack("rice", 1, "0.02")], [dish]), week)


BASE = _base()


def _supply(first: int | None, last: int | None, grams: float) -> Supply:
    """Return a supply of rice usable from a day to a day; None leaves the side open."""
    days = tuple(
        day
        for day in COOK_DAYS
        if (first is None or day >= first) and (last is None or day <= last)
    )
    until = None if last is None else date.fromisoformat(START) + timedelta(days=last - 1)
    wasted = last is not None and last < LAST_DAY
    stock = 0 if first is None else None
    return Supply("rice", first, stock, grams, days, until, wasted)


@st.composite
def _kitchens(draw: st.DrawFn) -> tuple[Problem, Decisions]:
    """Draw supplies of one food over intervals, and whole grams cooked on each cook day."""
    supplies, packs = [], {}
    for s in range(draw(st.integers(1, 5))):
        first = draw(st.one_of(st.none(), st.integers(0, 5)))
        last = draw(st.one_of(st.none(), st.integers(first or 1, 8)))
        grams = draw(st.integers(0, 12))
        supplies.append(_supply(first, last, grams if first is None else float("inf")))
        if first is not None:
            packs[s, 0] = float(grams)
    cooked = {n: float(draw(st.integers(0, 8))) for n in range(len(BASE.cookings))}
    return replace(BASE, supplies=tuple(supplies)), Decisions(cooked, {}, packs)


def _least_waste(problem: Problem, decisions: Decisions) -> float | None:
    """Return the least grams wasted by any allocation, None when there is none."""
    keys = [
        (s, k)
        for s, supply in enumerate(problem.supplies)
        for k, cook in enumerate(problem.cook_days)
        if cook.day in supply.cook_days
    ]
    need = grams_used(problem, decisions)
    available = [available_g(problem, decisions, s) for s in range(len(problem.supplies))]
    rows = range(len(problem.cook_days))
    if not keys:
        return None if any(need.values()) else _wasted(problem, available)
    answer = linprog(
        [-1.0 if problem.supplies[s].wasted else 0.0 for s, _ in keys],
        A_ub=[[float(s == row) for s, _ in keys] for row in range(len(available))],
        b_ub=available,
        A_eq=[[float(k == row) for _, k in keys] for row in rows],
        b_eq=[need.get(("rice", row), 0.0) for row in rows],
    )
    return None if answer.x is None else _wasted(problem, available) + float(answer.fun)


def _wasted(problem: Problem, grams: list[float]) -> float:
    return sum(g for g, supply in zip(grams, problem.supplies, strict=True) if supply.wasted)


@settings(max_examples=300, deadline=None, derandomize=True)
@given(_kitchens())
def test_allocation_is_found_whenever_there_is_one_and_wastes_least(
    kitchen: tuple[Problem, Decisions],
) -> None:
    """Against a linear program: the same verdict, rows kept, and no gram more wasted."""
    problem, decisions = kitchen
    least = _least_waste(problem, decisions)
    if least is None:
        with pytest.raises(ValueError, match="g short on cook day"):
            allocate(problem, decisions)
    else:
        taken = allocate(problem, decisions)
        left = []
        for s, supply in enumerate(problem.supplies):
            used = taken.get(s, {})
            assert all(problem.cook_days[k].day in supply.cook_days for k in used)
            assert all(grams > 0 for grams in used.values())
            left.append(available_g(problem, decisions, s) - sum(used.values()))
        assert min(left) >= -1e-9
        for (_, k), grams in grams_used(problem, decisions).items():
            assert sum(used.get(k, 0.0) for used in taken.values()) == pytest.approx(grams)
        assert _wasted(problem, left) == pytest.approx(least, abs=1e-6)


def test_what_expires_first_is_used_first() -> None:
    """Of two stocks the one with the earlier date goes first, the lasting one last."""
    stocks = (_supply(None, None, 5.0), _supply(None, 5, 5.0), _supply(None, 4, 5.0))
    problem = replace(BASE, supplies=stocks)
    assert allocate(problem, Decisions({0: 7.0}, {}, {})) == {2: {0: 5.0}, 1: {0: 2.0}}


def test_a_shortage_names_food_grams_and_day() -> None:
    """Three grams needed on day 2 and two there: one is short; a rounding trace is not."""
    problem = replace(BASE, supplies=(_supply(None, None, 2.0),))
    with pytest.raises(ValueError, match="rice: 1 g short on cook day 2"):
        allocate(problem, Decisions({1: 3.0}, {}, {}))
    assert allocate(problem, Decisions({1: 2.0 + 1e-9}, {}, {})) == {0: {1: 2.0}}


def test_nothing_decided_uses_eats_and_takes_nothing() -> None:
    """Without batches there is nothing to take; stock that ends in the plan is then all waste."""
    problem = replace(BASE, supplies=(_supply(None, 3, 50.0),))
    nothing = Decisions({}, {}, {})
    assert grams_used(problem, nothing) == {}
    assert servings_eaten(problem, nothing) == {}
    assert allocate(problem, nothing) == {}
    costs = cost_of(problem, nothing)
    assert (costs.grocery, costs.visits) == (0.0, 0.0)
    assert costs.waste == pytest.approx(50 * 0.02)


def test_costs_of_a_week_reckoned_by_hand() -> None:
    """Two packs at two sellers, leftovers and a serving too many: every part is counted once."""
    # Rice 300 g for 1.20 and 500 g for 1.50: worth 0.3 cents a gram. Cooked 2 x 250 g, 300 g are
    # wasted; three of four servings are eaten, one of 125 g is left; one visit after the first.
    packs = [pack("rice", 300, "1.20"), pack("rice", 500, "1.50", "market")]
    table = catalog([food("rice", keeps_days=2)], packs, [recipe("pot", {"rice": 250})])
    eaters = [client(name) for name in ("ana", "ben", "cleo")]
    keys: dict[str, Any] = {"clients": eaters, "visit_cost": "0.75", "waste_weight": 0.5}
    problem = build_problem(table, scenario(**keys))
    everyone = {(i, 0): 1.0 for i in range(3)}
    costs = cost_of(problem, Decisions({0: 2.0}, everyone, {(0, 0): 1.0, (0, 1): 1.0}))
    assert costs.grocery == pytest.approx(2.70)
    assert costs.visits == pytest.approx(0.75)
    assert costs.waste == pytest.approx(425 * 0.003)
    assert costs.objective == pytest.approx(2.70 + 0.75 + 0.5 * 425 * 0.003)


def test_money_has_the_decimals_of_its_currency() -> None:
    """A yen has no smaller unit; a dinar has a thousand."""
    for currency, price in (("JPY", "350"), ("KWD", "0.125")):
        packs = [pack("rice", 300, price, currency=currency)]
        table = catalog([food("rice")], packs, [recipe("pot", {"rice": 100})])
        problem = build_problem(table, scenario(currency=currency))
        bought = Decisions({0: 1.0}, {(0, 0): 1.0}, {(0, 0): 2.0})
        assert cost_of(problem, bought).grocery == pytest.approx(2 * float(price))


WITH_PLAN = Chosen(lambda seed: solved(seed).decisions is not None)


@pytest.mark.parametrize("nth", few(range(18), 4))
def test_costs_are_those_of_the_audited_plan(nth: int) -> None:
    """Groceries, visits, waste and objective equal the plan's, which the audit reckons anew."""
    seed = WITH_PLAN[nth]
    week = solved(seed)
    assert week.decisions is not None
    plan = solved_plan(seed)
    assert audit_plan(plan, week.drawn.catalog, week.drawn.scenario) == []
    costs = cost_of(week.problem, week.decisions)
    told = plan.solution
    assert costs.grocery == pytest.approx(float(told.grocery_cost), abs=1e-9)
    assert costs.visits == pytest.approx(float(told.visit_cost), abs=1e-9)
    assert abs(costs.waste - float(told.waste_cost)) <= HALF_A_CENT + 1e-9
    assert abs(costs.objective - float(told.objective)) <= HALF_A_CENT + 1e-9
    assert np.isfinite(costs.objective)
