"""The quick account against the kitchen's own model, on random small kitchens.

Servings of each cooking are drawn; the kitchen's model with these servings held fast finds the
cheapest batches and packs, and `cost_of` prices them. Where the account is meant to be exact the
two agree; elsewhere it may only be too low.
"""

from __future__ import annotations

from dataclasses import replace
from functools import lru_cache
from random import Random
from typing import Any

import numpy as np
import pytest

from model.small import EXACT, catalog, food, pack, random_kitchen, recipe, scenario
from planopt.model.kitchen import new_kitchen
from planopt.model.strengthen import pools_of
from planopt.problem.build import Problem, build_problem
from planopt.problem.decisions import Decisions, cost_of
from planopt.scenario.records import Stock
from planopt.solve.heuristics.ledger import Ledger
from planopt.solve.highs.matrix import Floats, to_matrix
from planopt.solve.highs.reading import kitchen_decisions
from planopt.solve.highs.solver import solve_matrix

KITCHENS = range(40)
WEEKS_PER_KITCHEN = 3
SIZES = np.array([0.5, 1.0, 2.5])


@lru_cache
def _problem(seed: int, **changes: Any) -> Problem:
    drawn = random_kitchen(seed)
    return build_problem(drawn.catalog, drawn.scenario.model_copy(update=changes))


def _free(seed: int) -> Problem:
    """Return a kitchen whose only costs are packs and waste, without stock and without limits."""
    problem = _problem(seed, stock=(), visit_cost=0, budget=None)
    limits = ("hands_on_minutes", "oven_minutes", "hob_minutes", "most_recipes")
    return replace(
        problem,
        cook_days=tuple(replace(cook, **dict.fromkeys(limits)) for cook in problem.cook_days),
        dishes=tuple(replace(dish, most_per_cook_day=50) for dish in problem.dishes),
    )


def _one_shop_a_pool(problem: Problem) -> bool:
    """Tell whether all that a pool buys has one fate, so that the account knows it exactly."""
    shops = [
        sum(problem.supplies[s].stock_index is None for s in pool.supplies)
        for pool in pools_of(problem)
    ]
    return max(shops, default=0) <= 1


def _weeks(problem: Problem, seed: int, count: int, batches: float = 1.5) -> list[Floats]:
    """Return drawn servings, of at most four cookings each and of so many batches at most.

    Pack tables reach twelve steps of the largest use; beyond that the account is only a guess.
    """
    rng = Random(seed)
    found = []
    for _ in range(count):
        eaten = np.zeros(len(problem.cookings))
        for n in rng.sample(range(len(eaten)), min(4, len(eaten))):
            top = problem.dishes[problem.cookings[n].dish].yield_servings * batches
            eaten[n] = rng.choice([0.0, 0.5, 0.5]) * rng.randint(0, int(2 * top))
        found.append(eaten)
    return found


def _decided(problem: Problem, eaten: Floats) -> Decisions | None:
    """Return the cheapest batches and packs for servings eaten, by the kitchen's own model."""
    kitchen = new_kitchen(problem)
    matrix = to_matrix(kitchen.lp)
    column = {name: i for i, name in enumerate(matrix.names)}
    for variable, servings in zip(kitchen.eaten, eaten, strict=True):
        i = column[variable.name]
        matrix.lower[i] = matrix.upper[i] = servings
    values = solve_matrix(matrix, EXACT).values
    if values is None:
        return None
    # Who eats is of no matter to a kitchen: the first slot that may take a cooking eats it all.
    servings_of: dict[tuple[int, int], float] = {}
    for n, cooking in enumerate(problem.cookings):
        if eaten[n] > 0:
            i = next(i for i, slot in enumerate(problem.slots) if cooking in slot.options)
            servings_of[i, problem.slots[i].options.index(cooking)] = float(eaten[n])
    return kitchen_decisions(kitchen, column, values, servings_of)


def _total(problem: Problem, eaten: Floats) -> float:
    return float(Ledger(problem).total(eaten[None, :])[0])


@pytest.mark.parametrize("seed", KITCHENS)
def test_the_total_is_the_least_cost_of_the_servings(seed: int) -> None:
    """With one shop day for each pool the account names the very cost of the best packs."""
    problem = _free(seed)
    exact = _one_shop_a_pool(problem)
    for eaten in _weeks(problem, seed, WEEKS_PER_KITCHEN):
        decisions = _decided(problem, eaten)
        assert decisions is not None
        cost = cost_of(problem, decisions).objective
        total = _total(problem, eaten)
        assert total <= cost + 1e-6
        if exact:
            assert total == pytest.approx(cost, abs=1e-6)


@pytest.mark.parametrize("seed", KITCHENS[::2])
def test_visits_and_budgets_only_add_to_the_total(seed: int) -> None:
    """What the account leaves out costs something: it is never above the true cost."""
    problem = _problem(seed, stock=())
    ledger = Ledger(problem)
    for eaten in _weeks(problem, seed, WEEKS_PER_KITCHEN):
        decisions = None if ledger.broken(eaten) else _decided(problem, eaten)
        if decisions is not None:
            total = float(ledger.total(eaten[None, :])[0])
            assert total <= cost_of(problem, decisions).objective + 1e-6


@pytest.mark.parametrize("seed", KITCHENS[::2])
def test_stock_that_keeps_is_used_first_and_free(seed: int) -> None:
    """Where no waste is charged, stock lowers the account exactly by the packs it saves."""
    bare = _free(seed)
    rng = Random(seed)
    stock = tuple(
        Stock(food=food_id, amount=rng.choice([70, 300]), unit="g") for food_id in bare.foods
    )
    problem = _problem(seed, stock=stock, visit_cost=0, budget=None, waste_weight=0)
    problem = replace(problem, cook_days=bare.cook_days, dishes=bare.dishes)
    for eaten in _weeks(problem, seed, WEEKS_PER_KITCHEN):
        decisions = _decided(problem, eaten)
        assert decisions is not None
        cost = cost_of(problem, decisions).objective
        total = _total(problem, eaten)
        assert total <= cost + 1e-6
        if _one_shop_a_pool(problem):
            assert total == pytest.approx(cost, abs=1e-6)


def test_enough_of_the_kitchens_are_exact() -> None:
    """The equalities above are not idle: many kitchens have one shop day for each pool."""
    assert sum(_one_shop_a_pool(_free(seed)) for seed in KITCHENS) >= 20


@pytest.mark.parametrize("seed", KITCHENS[::2])
def test_a_marginal_cost_is_the_difference_of_two_totals(seed: int) -> None:
    """One more portion of one cooking costs what the account says with it less without it."""
    problem = _free(seed)
    ledger = Ledger(problem)
    for eaten in [np.zeros(len(problem.cookings)), *_weeks(problem, seed, WEEKS_PER_KITCHEN)]:
        marginal = ledger.marginal(eaten, SIZES)
        now = _total(problem, eaten)
        for n in range(len(problem.cookings)):
            for s, size in enumerate(SIZES):
                more = eaten.copy()
                more[n] += size
                assert marginal[n, s] == pytest.approx(_total(problem, more) - now, abs=1e-6)


@pytest.mark.parametrize("seed", KITCHENS[::4])
def test_many_weeks_at_once_are_priced_as_one_by_one(seed: int) -> None:
    """The total of a table of weeks is that of each row by itself, limits included."""
    problem = _problem(seed)
    weeks = _weeks(problem, seed, 12, 3.5)
    together = Ledger(problem).total(np.array(weeks))
    assert together == pytest.approx([_total(problem, eaten) for eaten in weeks], abs=1e-6)


def _broken_limits(problem: Problem, eaten: Floats) -> bool:
    """Tell whether the fewest batches break a limit, in plain arithmetic."""
    batches = []
    for cooking, servings in zip(problem.cookings, eaten, strict=True):
        dish = problem.dishes[cooking.dish]
        assert dish.batch_step is not None
        steps = 0
        while steps * dish.batch_step * dish.yield_servings < servings - 1e-9:
            steps += 1
        batches.append(steps * dish.batch_step)
    for k, cook in enumerate(problem.cook_days):
        cooked = [
            (problem.dishes[cooking.dish], b)
            for cooking, b in zip(problem.cookings, batches, strict=True)
            if cooking.cook == k and b > 0
        ]
        pairs = [
            (
                sum(d.hands_on + d.hands_on_extra * max(0, b - 1) for d, b in cooked),
                cook.hands_on_minutes,
            ),
            (sum(d.oven_minutes * b for d, b in cooked), cook.oven_minutes),
            (sum(d.hob_minutes * b for d, b in cooked), cook.hob_minutes),
            (len(cooked), cook.most_recipes),
            *((b, d.most_per_cook_day) for d, b in cooked),
        ]  # fmt: skip
        if any(limit is not None and amount > limit + 1e-9 for amount, limit in pairs):
            return True
    return False


@pytest.mark.parametrize("seed", KITCHENS)
def test_penalties_come_only_with_a_broken_limit(seed: int) -> None:
    """Above the account of a kitchen without limits a penalty comes if and only if one breaks."""
    problem = _problem(seed, stock=(), visit_cost=0, budget=None)
    ledger, free = Ledger(problem), Ledger(_free(seed))
    for eaten in _weeks(problem, seed, 12, 3.5):
        broken = _broken_limits(problem, eaten)
        extra = float((ledger.total(eaten[None, :]) - free.total(eaten[None, :]))[0])
        assert ledger.broken(eaten) == broken
        assert (extra > 1e-6) == broken
        assert extra > -1e-6


def test_the_weeks_drawn_break_limits_and_keep_them() -> None:
    """The test above is not idle: both kinds of weeks are common."""
    found = [
        Ledger(problem).broken(eaten)
        for seed in KITCHENS
        for problem in [_problem(seed)]
        for eaten in _weeks(problem, seed, 12, 3.5)
    ]
    assert 0.1 < sum(found) / len(found) < 0.9


def test_an_account_reckoned_by_hand() -> None:
    """Three servings take two half batches of 100 g; 250 g cost least, and 50 g are wasted."""
    dish = recipe(
        "pot", {"rice": 200}, yield_servings=4, batch={"step": "half", "most_per_cook_day": 1}
    )
    foods = [food("rice", keeps_days=2)]
    packs = [pack("rice", 100, "1.20"), pack("rice", 250, "2.00")]
    problem = build_problem(catalog(foods, packs, [dish]), scenario(waste_weight=0.5))
    ledger = Ledger(problem)
    # 2.00, half of 50 g at 0.8 cents a gram, and half of a serving of 50 g at that price.
    assert _total(problem, np.array([3.0])) == pytest.approx(2.0 + 0.5 * 0.4 + 0.5 * 0.4)
    assert ledger.steps(np.array([3.0])) == pytest.approx([2.0])
    assert not ledger.broken(np.array([4.0]))
    assert ledger.broken(np.array([4.5]))
    # The fourth serving uses up what is cooked: it costs no food and saves the waste.
    assert ledger.marginal(np.array([3.0]), np.array([1.0])) == pytest.approx(np.array([[-0.2]]))
    # Hoping that others eat the rest, a first serving pays a quarter of the batch, and no waste.
    first = ledger.marginal(np.array([0.0]), np.array([1.0]), 1.0)
    assert first == pytest.approx(np.array([[_total(problem, np.array([2.0])) / 2]]))
    assert ledger.beyond(np.array([4.0])).tolist() == [False]
    assert ledger.beyond(np.array([4.5])).tolist() == [True]
