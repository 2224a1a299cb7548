"""The walk over batches, and the LP that says whether batches feed a week."""

from __future__ import annotations

from functools import lru_cache

import numpy as np
import pytest

from model.small import EXACT, random_kitchen
from planopt.model.daymenus import MenuTable
from planopt.problem.build import Problem
from planopt.problem.decisions import Decisions, cost_of
from planopt.solve.budget import Budget
from planopt.solve.heuristics.destroyrepair import LocalSearch
from planopt.solve.heuristics.eating import Eating, Ints
from planopt.solve.heuristics.ledger import Ledger
from planopt.solve.heuristics.tabu import BatchWalk
from planopt.solve.highs.daymodel import search_plain
from slow import few

MONEY = 1e-5
MOVES = 40


@lru_cache
def _cheapest(seed: int) -> tuple[Problem, Decisions] | None:
    """Return a kitchen whose batches go by steps, and its cheapest plan."""
    problem = random_kitchen(seed).problem
    if any(dish.batch_step is None for dish in problem.dishes):
        return None
    found = search_plain(problem, EXACT).decisions
    return None if found is None else (problem, found)


# Of the first thirty seeds those that have a plan; finding out at every collection is dear.
KITCHENS = (1, 2, 4, 10, 13, 17, 20, 21, 23, 26, 28, 29)


def _kitchen(seed: int) -> tuple[Problem, Decisions]:
    found = _cheapest(seed)
    assert found is not None, "take a seed whose kitchen has a plan"
    return found


def _steps(problem: Problem, plan: Decisions) -> Ints:
    steps = np.zeros(len(problem.cookings), np.int64)
    for n, batches in plan.batches.items():
        steps[n] = round(batches / (problem.dishes[problem.cookings[n].dish].batch_step or 1.0))
    return steps


def test_there_are_kitchens_to_walk_in() -> None:
    """The tests below are about something."""
    assert len(KITCHENS) >= 10


def _never() -> bool:
    return False


@pytest.mark.parametrize("seed", KITCHENS)
def test_batches_of_a_plan_feed_the_week(seed: int) -> None:
    """They do, with no more left over than in the plan; nothing cooked feeds nobody."""
    problem, plan = _kitchen(seed)
    eating = Eating(problem, EXACT)
    steps = _steps(problem, plan)
    costs = cost_of(problem, plan)
    waste = eating.waste(steps)
    assert waste is not None
    assert -MONEY <= waste <= costs.objective + MONEY
    assert eating.waste(np.zeros_like(steps)) is None
    again = eating.waste(steps)
    assert again == pytest.approx(waste, abs=MONEY), "the LP remembers what was asked before"


@pytest.mark.parametrize("seed", few(KITCHENS, 5))
def test_a_walk_from_the_cheapest_plan_never_looks_dearer(seed: int) -> None:
    """Where the account is exact or too low, the best set met costs at most the plan."""
    problem, plan = _kitchen(seed)
    walk = BatchWalk(problem, EXACT)
    walk.begin(plan.batches)
    assert walk.found
    began = min(cost for cost, _ in walk.found.values())
    walk.walk(Budget(EXACT).part(work=MOVES))
    assert min(cost for cost, _ in walk.found.values()) <= began + MONEY
    eating = Eating(problem, EXACT)
    ledger = Ledger(problem)
    for support, (cost, steps) in walk.found.items():
        assert support == set(np.flatnonzero(steps))
        assert (steps <= ledger.most_steps()).all()
        waste = eating.waste(steps)
        assert waste is not None, "a set that cannot feed the week was noted"
        wanted = steps.astype(float)
        money = ledger.kitchen_cost(wanted[None, :], wanted)[0]
        assert cost == pytest.approx(money + waste, abs=1e-4)


@pytest.mark.parametrize("seed", KITCHENS[:6])
def test_a_walk_repeats_for_a_seed(seed: int) -> None:
    """The same seed and moves meet the same sets at the same costs."""
    problem, plan = _kitchen(seed)
    walks = [BatchWalk(problem, EXACT) for _ in range(2)]
    for walk in walks:
        walk.begin(plan.batches)
        walk.walk(Budget(EXACT).part(work=MOVES))
    first, second = ({s: cost for s, (cost, _) in walk.found.items()} for walk in walks)
    assert first == second


@pytest.mark.parametrize("seed", KITCHENS[:6])
def test_sets_that_were_tried_are_not_named_again(seed: int) -> None:
    """Each promising set is unlike those tried, and cheaper than asked for."""
    problem, plan = _kitchen(seed)
    walk = BatchWalk(problem, EXACT)
    walk.begin(plan.batches)
    walk.walk(Budget(EXACT).part(work=MOVES))
    named: list[frozenset[int]] = []
    while (support := walk.promising(np.inf)) is not None:
        assert all(len(support ^ other) >= 3 for other in named)
        named.append(support)
        walk.tried(support)
    assert named
    assert walk.promising(-np.inf) is None


@pytest.mark.parametrize("seed", KITCHENS)
def test_prices_of_steps_do_not_depend_on_what_they_are_like(seed: int) -> None:
    """Pricing by difference gives what pricing from nothing gives."""
    problem, _ = _kitchen(seed)
    ledger = Ledger(problem)
    chance = np.random.default_rng(seed)
    steps = chance.integers(0, 4, (8, len(problem.cookings))).astype(float)
    from_nothing = ledger.kitchen_cost(steps, np.zeros(len(problem.cookings)))
    assert ledger.kitchen_cost(steps, steps[3]) == pytest.approx(from_nothing)


@pytest.mark.parametrize("seed", KITCHENS[:8])
def test_a_week_from_batches_is_whole_and_leaves_the_account_as_it_was(seed: int) -> None:
    """All days get menus, and prices afterwards are those of an account without free batches."""
    problem, plan = _kitchen(seed)
    tables = [MenuTable(problem, g) for g in range(len(problem.groups))]
    local = LocalSearch(problem, tables, 1)
    assert local.start_from(_steps(problem, plan))
    assert set(local.menus) == set(local.days)
    assert not local.ledger.cooked.any()


def test_portions_of_batches_at_hand_cost_no_food() -> None:
    """Within what is cooked already a portion saves its own waste and buys nothing."""
    problem, plan = _kitchen(KITCHENS[0])
    ledger = Ledger(problem)
    nobody = np.zeros(len(problem.cookings))
    sizes = np.array([0.5])
    before = ledger.marginal(nobody, sizes)
    ledger.cooked = _steps(problem, plan).astype(float)
    after = ledger.marginal(nobody, sizes)
    on = np.flatnonzero(ledger.cooked)
    assert (after[on] <= before[on] + 1e-9).all()
    assert (after[on, 0] <= 1e-9).all()
