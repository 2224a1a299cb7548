"""Small random weeks: planopt, enumeration and scipy's milp must name the same cost.

The enumeration (`bruteforce`) and the program for scipy (`milpweek`) are written apart from planopt
and from each other; they share only `facts`, which reads the same data with its own arithmetic.
"""

from __future__ import annotations

from copy import deepcopy
from dataclasses import replace
from decimal import Decimal
from fractions import Fraction
from functools import lru_cache
from pathlib import Path
from typing import Any

import pytest

from planopt.faults import NoCompliantWeek
from planopt.pipeline import make_plan
from planopt.problem.build import build_problem
from planopt.problem.decisions import cost_of
from planopt.scenario.reading.load import load_kitchen
from planopt.solve.engine.search import search
from planopt.solve.highs.daymodel import search_plain
from planopt.solve.settings import SolveSettings
from published.bruteforce import brute_force
from published.facts import Facts
from published.milpweek import milp_objective
from published.randomweeks import SHAPES, Week, random_week, write_week
from slow import few

SEEDS = range(45)
EXACT = SolveSettings(gap=0.0)


@lru_cache
def enumerated(seed: int) -> Fraction | None:
    """Return the least objective of a seed's week in cents, None if no week complies."""
    return brute_force(Facts(random_week(seed)))


@pytest.mark.parametrize("seed", few(SEEDS, 12))
def test_search_agrees_with_enumeration_and_scipy(tmp_path: Path, seed: int) -> None:
    """Objective and bound of the search equal both oracles, and all three agree on infeasible."""
    week = random_week(seed)
    cents = enumerated(seed)
    by_scipy = milp_objective(Facts(week))
    kitchen = load_kitchen(write_week(tmp_path, week))
    problem = build_problem(kitchen.catalog, kitchen.scenario)
    result = search(problem, EXACT)
    if cents is None:
        assert by_scipy is None
        assert result.infeasible
        assert result.decisions is None
    else:
        assert result.decisions is not None
        dollars = float(cents) / 100
        assert by_scipy is not None
        assert by_scipy / 100 == pytest.approx(dollars, abs=1e-6)
        assert cost_of(problem, result.decisions).objective == pytest.approx(dollars, abs=1e-6)
        assert result.bound == pytest.approx(dollars, abs=1e-6)


@pytest.mark.parametrize("seed", few(SEEDS, 6))
def test_plan_agrees_with_enumeration_to_the_cent(tmp_path: Path, seed: int) -> None:
    """The audited plan states the enumerated objective, rounded half up once to the cent."""
    kitchen = load_kitchen(write_week(tmp_path, random_week(seed)))
    cents = enumerated(seed)
    if cents is None:
        with pytest.raises(NoCompliantWeek):
            make_plan(kitchen, EXACT)
    else:
        half_up = (cents + Fraction(1, 2)).__floor__()
        solution = make_plan(kitchen, EXACT).solution
        assert solution.status == "optimal"
        assert solution.objective == Decimal(half_up) / 100
        assert solution.best_bound <= solution.objective


GROUP_RULES: tuple[dict[str, Any], ...] = (
    {"most_meals_of": {"green": 1}},
    {"least_meals_of": {"green": 3}},
    {"most_meals_of": {"red": 2}, "least_meals_of": {"green": 2}},
)
FOOD_GROUPS = {"beans": ["legumes"], "greens": ["vegetables"], "roots": ["vegetables", "roots"]}
FOOD_GROUP_RULES: tuple[dict[str, Any], ...] = (
    {"most_meals_with": {"legumes": 1}},
    {"least_meals_with": {"vegetables": 4}, "most_meals_with": {"roots": 2}},
    {"windows_per_week": {"vegetables_g": {"min": 330}}},
    {"windows_per_meal": {"dinner": {"vegetables_g": {"min": 190}}}},
    {
        "day_patterns": {
            "rest": {"protein_g": {"max": 40}},
            "training": {"protein_g": {"min": 35}},
        },
        "pattern_days": {"rest": [1], "training": [2]},
    },
    {"windows_on_days": {1: {"vegetables_g": {"min": 170}}, 2: {"legumes_g": {"max": 100}}}},
)
FOOD_GROUP_SEEDS = (25, 34, 44)
GROUP_SEEDS = (0, 1, 9, 10, 14, 25, 29, 34, 35, 40, 42, 44)


def _grouped(seed: int, rule: dict[str, Any]) -> Week:
    """Return the week of a seed with recipes in groups and one more rule for each client."""
    week = random_week(seed)
    recipes = {
        recipe_id: {**recipe, "groups": [("green", "red")[nth % 2]]}
        for nth, (recipe_id, recipe) in enumerate(week.recipes.items())
    }
    clients = [{**client, **rule} for client in week.scenario["clients"]]
    return replace(week, recipes=recipes, scenario={**week.scenario, "clients": clients})


@lru_cache
def with_groups(seed: int, nth: int) -> Fraction | None:
    """Return the least objective of a seed's week with a rule on groups, None if there is none."""
    return brute_force(Facts(_grouped(seed, GROUP_RULES[nth])))


@pytest.mark.parametrize("nth", range(len(GROUP_RULES)))
@pytest.mark.parametrize("seed", few(GROUP_SEEDS, 3))
def test_rules_on_groups_agree_with_enumeration(tmp_path: Path, seed: int, nth: int) -> None:
    """Most and least meals of a group: the search, and the model day by day, find the same cost."""
    cents = with_groups(seed, nth)
    kitchen = load_kitchen(write_week(tmp_path, _grouped(seed, GROUP_RULES[nth])))
    problem = build_problem(kitchen.catalog, kitchen.scenario)
    for result in (search(problem, EXACT), search_plain(problem, EXACT)):
        assert (result.decisions is None) == (cents is None)
        if cents is not None and result.decisions is not None:
            cost = cost_of(problem, result.decisions).objective
            assert cost == pytest.approx(float(cents) / 100, abs=1e-6)
            assert result.bound == pytest.approx(cost, abs=1e-6)


def _food_grouped(seed: int, rule: dict[str, Any]) -> Week:
    """Return the week of a seed with foods in groups and one more rule for each client."""
    week = _grouped(seed, rule)
    foods = {name: {**row, "groups": FOOD_GROUPS.get(name, [])} for name, row in week.foods.items()}
    return replace(week, foods=foods)


@lru_cache
def with_food_groups(seed: int, nth: int) -> Fraction | None:
    """Return the least objective of a seed's week with a rule on groups of foods."""
    return brute_force(Facts(_food_grouped(seed, FOOD_GROUP_RULES[nth])))


@pytest.mark.parametrize("nth", range(len(FOOD_GROUP_RULES)))
@pytest.mark.parametrize("seed", FOOD_GROUP_SEEDS)
def test_rules_on_food_groups_agree_with_enumeration(tmp_path: Path, seed: int, nth: int) -> None:
    """Meals with a group and grams of it, by day, meal and plan: both models find the same cost."""
    cents = with_food_groups(seed, nth)
    kitchen = load_kitchen(write_week(tmp_path, _food_grouped(seed, FOOD_GROUP_RULES[nth])))
    problem = build_problem(kitchen.catalog, kitchen.scenario)
    for result in (search(problem, EXACT), search_plain(problem, EXACT)):
        assert (result.decisions is None) == (cents is None)
        if cents is not None and result.decisions is not None:
            cost = cost_of(problem, result.decisions).objective
            assert cost == pytest.approx(float(cents) / 100, abs=1e-6)
            assert result.bound == pytest.approx(cost, abs=1e-6)


def test_rules_on_food_groups_matter() -> None:
    """Each rule makes some week dearer or impossible, and leaves some week."""
    for nth in range(len(FOOD_GROUP_RULES)):
        pairs = [(enumerated(seed), with_food_groups(seed, nth)) for seed in FOOD_GROUP_SEEDS]
        assert any(a is not None and (b is None or a < b) for a, b in pairs), nth
        assert any(b is not None for _, b in pairs), nth


@pytest.mark.slow
def test_rules_on_groups_matter() -> None:
    """Most and least make some week dearer, and leave some kitchen with no week at all."""
    for nth in (0, 1):
        pairs = [(enumerated(seed), with_groups(seed, nth)) for seed in GROUP_SEEDS]
        assert all(without is not None for without, _ in pairs)
        assert any(a is not None and b is not None and a < b for a, b in pairs)
        assert any(b is None for _, b in pairs)


@pytest.mark.slow
def test_seeds_hold_enough_of_everything() -> None:
    """Every shape of kitchen has a seed with a plan, and a fair share of seeds has none."""
    feasible = [seed for seed in SEEDS if milp_objective(Facts(random_week(seed))) is not None]
    assert {seed % len(SHAPES) for seed in feasible} == set(range(len(SHAPES)))
    assert len(feasible) >= 15
    assert len(SEEDS) - len(feasible) >= 10


@pytest.mark.slow
def test_what_meals_must_hold_and_work_that_costs_change_weeks() -> None:
    """The seeds with windows of meals and prices of work are not idle: most weeks hang on them."""
    changed = []
    for seed in SEEDS:
        week = random_week(seed)
        free = deepcopy(week.scenario)
        for one in (free, *free["clients"]):
            for name in ("windows_per_meal", "plate_g"):
                one.pop(name, None)
        if free != week.scenario:
            before = milp_objective(Facts(replace(week, scenario=free)))
            changed.append(before != milp_objective(Facts(week)))
    assert sum(changed) >= 2
    worked = [random_week(seed).scenario.get("work_prices") for seed in SEEDS]
    assert sum(prices is not None for prices in worked) >= 8
