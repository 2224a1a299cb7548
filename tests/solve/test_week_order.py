"""The compiled search where meals share a dish, dishes keep apart, and recipes are few or rated.

The account by difference is held against that worked out anew, ties against the week as it stands,
and the best week against HiGHS's proven optimum.
"""

from __future__ import annotations

from functools import lru_cache
from typing import Any

import numpy as np
import pytest

from model.small import EXACT, random_kitchen
from planopt.problem.build import Problem, build_problem
from planopt.problem.decisions import cost_of
from planopt.problem.order import week_kept
from planopt.scenario.records import Scenario
from planopt.solve.annealing import compiled
from planopt.solve.annealing.arrays import week_arrays
from planopt.solve.annealing.memetic import suits
from planopt.solve.annealing.tying import ties_hold
from planopt.solve.annealing.week import Annealing, servings_of
from planopt.solve.heuristics.tidy import carried_out
from planopt.solve.highs.daymodel import search_plain

pytestmark = pytest.mark.skipif(not compiled.installed(), reason="numba is not installed")

MOVES = 15_000
SEEDS = range(36)


@lru_cache
def _problem(seed: int) -> Problem:
    """Return a random kitchen without visits' cost and budget, with rules of the week by turns."""
    drawn = random_kitchen(seed)
    week = drawn.scenario
    meals = week.meals
    recipes = sorted(drawn.catalog.recipes)
    rows: list[dict[str, Any]] = [{"meals": [meals[0]], "days": [1, 2], "across": "days"}]
    if len(week.clients) > 1:
        rows.append({"meals": [meals[-1]], "days": [2], "across": "clients"})
    keys: dict[str, Any] = week.model_dump(mode="json", by_alias=True)
    keys |= {"visit_cost": 0, "budget": None}
    if seed % 2:
        keys |= {"days_between": 1, "days_between_of": {recipes[0]: 0}}
    if seed % 3:
        keys["same_dish"] = rows
    if seed % 4 == 1:
        keys["most_recipes"] = 3
    for n, client in enumerate(keys["clients"]):
        if seed % 4 == 2:
            client |= {"most_different_recipes": 2, "least_different_recipes": 0}
        if seed % 4 == 3:
            client["ratings"] = {recipes[n]: "2.50", recipes[-1]: "-1.00"}
    return build_problem(drawn.catalog, Scenario.model_validate(keys))


@lru_cache
def _annealed(seed: int) -> Annealing | None:
    problem = _problem(seed)
    if not suits(problem):
        return None
    annealing = Annealing(week_arrays(problem), seed)
    annealing.random_week()
    annealing.run(MOVES, 3.5, 0.2)
    return annealing


def test_the_account_by_difference_is_that_worked_out_anew() -> None:
    """After thousands of moves money and penalties are those of the week; ties still hold."""
    tied = apart = 0
    for seed in SEEDS:
        annealing = _annealed(seed)
        if annealing is None:
            continue
        money, penalty = annealing.money, annealing.penalty
        annealing.settle()
        assert annealing.money == pytest.approx(money, abs=1e-7)
        assert annealing.penalty == pytest.approx(penalty, abs=1e-6)
        assert ties_hold(annealing.arrays, annealing.week()[0])
        tied += len(annealing.arrays.order.places) > 0
        apart += len(annealing.arrays.order.gaps) > 0
    assert tied >= 8
    assert apart >= 6


def test_sound_weeks_keep_the_order_and_come_near_the_best() -> None:
    """What the search calls sound keeps every rule, and costs no less than the proven optimum."""
    near = looked = 0
    for seed in SEEDS:
        annealing, problem = _annealed(seed), _problem(seed)
        if annealing is None or not np.isfinite(annealing.best):
            continue
        week = carried_out(problem, servings_of(problem, annealing.arrays, *annealing.best_week()))
        if week is None:
            continue
        assert week_kept(problem, week)
        best = search_plain(problem, EXACT).decisions
        assert best is not None
        cost, least = (cost_of(problem, one).objective for one in (week, best))
        assert cost >= least - 1e-6
        looked += 1
        near += cost <= 1.02 * least
    assert looked >= 7
    assert near >= 0.6 * looked


def test_a_week_that_needs_no_order_is_searched_as_before() -> None:
    """Where nothing is asked, the arrays are empty, so that nothing is looked at."""
    order = week_arrays(random_kitchen(0).problem).order
    assert (len(order.places), len(order.gaps), len(order.taste)) == (0, 0, 0)
    assert (order.counted == 1).all()
    assert order.most_made == np.inf
