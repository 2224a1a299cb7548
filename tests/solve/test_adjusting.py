"""The price of change: rings against every choice of plates, the compiled account against ours."""

from __future__ import annotations

from dataclasses import replace
from itertools import combinations

import numpy as np
import pytest

from model.small import Drawn, random_kitchen
from planopt.problem.build import Problem, Slot, build_problem
from planopt.problem.change import Before, ChangePrices, changes_of, plates_of
from planopt.problem.decisions import Decisions, cost_of
from planopt.scenario.byhand import ByHand, PlateRule
from planopt.solve.annealing.arrays import week_arrays
from planopt.solve.annealing.keeping import keeping_of
from planopt.solve.annealing.week import Annealing, servings_of
from planopt.solve.engine.adjusting import adjusted
from planopt.solve.highs.daymodel import search_plain
from planopt.solve.settings import SolveSettings

EXACT = SolveSettings(gap=0.0, time_limit_s=20.0, threads=1)


def _best(drawn: Drawn, plates: tuple[PlateRule, ...] = ()) -> tuple[Problem, Decisions | None]:
    """Return the problem with plates settled by hand, and its cheapest week."""
    week = drawn.scenario.model_copy(update={"by_hand": ByHand(plates=plates)})
    problem = build_problem(drawn.catalog, week)
    return problem, search_plain(problem, EXACT).decisions


def _wish(problem: Problem, week: Decisions) -> PlateRule | None:
    """Return a rule that takes the first dish off its plate, where another could be there."""
    (i, j), _ = min(week.servings.items())
    slot = problem.slots[i]
    recipes = {problem.dishes[option.dish].recipe_id for option in slot.options}
    mine = problem.dishes[slot.options[j].dish].recipe_id
    if recipes == {mine}:
        return None
    who = problem.clients[slot.client].client_id
    return PlateRule(without=mine, client=who, day=slot.day, meal=slot.meal)


def _held(problem: Problem, week: Decisions, slots: tuple[int, ...]) -> tuple[PlateRule, ...]:
    """Return rules that hold plates to dish and servings."""
    rules = []
    for (i, j), servings in week.servings.items():
        if i in slots:
            slot = problem.slots[i]
            dish = problem.dishes[slot.options[j].dish]
            rules.append(
                PlateRule(put=dish.recipe_id, version=dish.version, day=slot.day, meal=slot.meal,
                          client=problem.clients[slot.client].client_id, servings=servings)
            )  # fmt: skip
    return tuple(rules)


# Kitchens of few plates, each with a week, and one without the dish first served.
@pytest.mark.parametrize("seed", [1, 10, 33])
def test_the_adjusted_week_is_the_best_of_every_choice_of_plates(seed: int) -> None:
    """All other plates held by hand, for each set of plates: none beats what was found."""
    drawn = random_kitchen(seed)
    problem, base = _best(drawn)
    assert base is not None
    wish = _wish(problem, base)
    assert wish is not None
    changed, free = _best(drawn, (wish,))
    assert free is not None
    slots = [i for i, slot in enumerate(problem.slots) if not _covers(wish, problem, slot)]
    prices = ChangePrices(0.7, 0.7, 0.0, 0.0)
    before = Before(plates_of(problem, base))
    found = adjusted(changed, before, _known(problem, base, changed), prices, EXACT)
    assert found.decisions is not None
    best = np.inf
    for size in range(len(slots) + 1):
        for freed in combinations(slots, size):
            kept = tuple(i for i in slots if i not in freed)
            one, week = _best(drawn, (wish, *_held(problem, base, kept)))
            if week is not None:
                best = min(best, cost_of(one, week).objective + 0.7 * (1 + len(freed)))
    assert found.total == pytest.approx(best, abs=1e-5)


def _covers(rule: PlateRule, problem: Problem, slot: Slot) -> bool:
    return rule.covers(problem.clients[slot.client].client_id, slot.day, slot.meal)


def _known(problem: Problem, week: Decisions, target: Problem) -> Decisions:
    """Return what of a week's servings another problem still allows."""
    key = [(problem.dishes[o.dish].key, o.cook) for o in problem.cookings]
    assert len(set(key)) == len(key)
    servings = {}
    for (i, j), amount in week.servings.items():
        option = problem.slots[i].options[j]
        mine = (problem.dishes[option.dish].key, option.cook)
        for k, other in enumerate(target.slots[i].options):
            if (target.dishes[other.dish].key, other.cook) == mine:
                servings[i, k] = amount
    return Decisions({}, servings, {})


@pytest.mark.parametrize("seed", [3, 7, 11])
def test_the_compiled_account_counts_plates_as_we_do(seed: int) -> None:
    """After thousands of moves the price in it is that of the plates changed, from anew too."""
    drawn = random_kitchen(seed)
    week = drawn.scenario.model_copy(update={"visit_cost": 0, "budget": None})
    problem = build_problem(drawn.catalog, week)
    plain = week_arrays(problem)
    first = Annealing(plain, seed)
    first.random_week()
    home = servings_of(problem, plain, *first.week())
    before = Before(plates_of(problem, Decisions({}, home, {})))
    prices = ChangePrices(1.9, 0.4, 0.0, 0.0)
    annealing = Annealing(replace(plain, keeping=keeping_of(problem, before, prices)), seed)
    annealing.load(*first.week())
    annealing.run(5000, 1.0, 0.3)
    by_moves = annealing.money
    annealing.settle()
    assert annealing.money == pytest.approx(by_moves, abs=1e-7)
    first.load(*annealing.week())
    now = servings_of(problem, plain, *annealing.week())
    changes = changes_of(problem, before, Decisions({}, now, {}))
    assert annealing.money - first.money == pytest.approx(changes.price(prices), abs=1e-7)
    assert changes.dishes or changes.portions
