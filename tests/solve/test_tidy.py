"""Tidying: portions stay, and everything that nobody needs goes, exactly."""

from __future__ import annotations

from random import Random

import pytest

from model.chosen import Chosen
from model.small import catalog, client, food, pack, random_kitchen, recipe, scenario
from planopt.problem.build import Problem, build_problem
from planopt.problem.decisions import Decisions, allocate, cost_of
from planopt.solve.heuristics import tidy as tidy_module
from planopt.solve.heuristics.tidy import carried_out, fewest_batches, tidied
from planopt.solve.highs import packs as packs_module
from planopt.solve.highs.packs import cheapest_basket
from solve.drawnservings import drawn_servings, least_cost_of

SEEDS = range(60)


def _problem(seed: int) -> Problem:
    return random_kitchen(seed, one_dish=seed % 2 == 0).problem


def _padded(problem: Problem, lean: Decisions, rng: Random) -> Decisions:
    """Return a week with more steps and more packs than it needs."""
    batches = dict(lean.batches)
    for n in rng.sample(range(len(problem.cookings)), min(2, len(problem.cookings))):
        step = problem.dishes[problem.cookings[n].dish].batch_step or 0.37
        batches[n] = batches.get(n, 0.0) + step
    packs = dict(lean.packs)
    for s, supply in enumerate(problem.supplies):
        for o, _ in enumerate(problem.offers[supply.food_id]):
            if supply.stock_index is None:
                packs[s, o] = packs.get((s, o), 0.0) + rng.choice([0, 1, 2, 9])
    packs = {key: n for key, n in packs.items() if n}
    padded = Decisions(batches, lean.servings, packs)
    try:
        allocate(problem, padded)
    except ValueError:
        # Food for the further steps is not sold any more, or not enough is on hand.
        return Decisions(lean.batches, lean.servings, packs)
    return padded


SERVED = Chosen(lambda seed: all(drawn_servings(_problem(seed), 10 * seed + n) for n in range(3)))
LEAN = Chosen(
    lambda seed: (
        bool(drawn_servings(_problem(seed), seed))
        and carried_out(_problem(seed), drawn_servings(_problem(seed), seed) or {}) is not None
    )
)


@pytest.mark.parametrize("nth", range(48))
def test_portions_are_made_for_the_least_there_is(nth: int) -> None:
    """Batches by division and packs by tables cost what HiGHS finds for both at once."""
    seed = SERVED[nth]
    problem = _problem(seed)
    for draw in range(3):
        servings = drawn_servings(problem, 10 * seed + draw)
        assert servings is not None
        least = least_cost_of(problem, servings)
        found = carried_out(problem, servings)
        assert (found is None) == (least is None)
        if found is not None:
            assert found.servings == servings
            assert cost_of(problem, found).objective == pytest.approx(least, abs=1e-6)


@pytest.mark.parametrize("nth", range(30))
def test_what_is_put_on_top_is_taken_off_again(nth: int) -> None:
    """However many packs and steps a week has too many, it ends at the same cost, or below."""
    seed = LEAN[nth]
    problem = _problem(seed)
    servings = drawn_servings(problem, seed)
    lean = carried_out(problem, servings or {})
    assert lean is not None
    padded = _padded(problem, lean, Random(seed))
    assert cost_of(problem, padded).objective > cost_of(problem, lean).objective
    found = tidied(problem, padded)
    assert found.servings == lean.servings
    assert found.batches == lean.batches
    cost = cost_of(problem, found).objective
    assert cost == pytest.approx(cost_of(problem, lean).objective, abs=1e-6)
    assert tidied(problem, found) == found


def test_some_of_these_kitchens_can_and_some_cannot() -> None:
    """The tests above see both answers, visits that cost, budgets, stock and several shop days."""
    problems = [_problem(seed) for seed in SEEDS]
    served = [drawn_servings(problem, seed) for seed, problem in enumerate(problems)]
    can = [
        carried_out(problem, servings) is not None
        for problem, servings in zip(problems, served, strict=True)
        if servings is not None
    ]
    assert len(can) > 40
    assert 10 < sum(can) < len(can) - 5
    assert any(problem.visit_cost > 0 for problem in problems)
    assert any(problem.budget is not None for problem in problems)
    assert any(s.stock_index is not None for problem in problems for s in problem.supplies)
    assert any(len({s.shop_day for s in problem.supplies}) > 2 for problem in problems)


@pytest.mark.parametrize("nth", range(0, 30, 2))
def test_the_other_ways_to_choose_packs_cost_the_same(
    monkeypatch: pytest.MonkeyPatch, nth: int
) -> None:
    """HiGHS food by food, and visits by walking, end where the tables and the sets of visits do."""
    seed = LEAN[nth]
    problem = _problem(seed)
    servings = drawn_servings(problem, seed)
    assert servings is not None
    found = carried_out(problem, servings)
    assert found is not None
    monkeypatch.setattr(packs_module, "_MOST_COMBINATIONS", 0)
    monkeypatch.setattr(tidy_module, "_FEW_VISITS", 0)
    cheapest_basket.cache_clear()
    other = tidied(problem, Decisions(found.batches, servings, {}))
    cheapest_basket.cache_clear()
    cost = cost_of(problem, found).objective
    assert cost_of(problem, other).objective == pytest.approx(cost, abs=1e-6)


def _two_days(**keys: object) -> Problem:
    """Return greens that keep two days, cooked on days 1 and 4, in packs of 100 g and 300 g."""
    dish = recipe("greens", {"greens": 100}, yield_servings=1)
    dish["batch"] = {"step": "half", "most_per_cook_day": 9}
    packs = [pack("greens", 100, "1.00"), pack("greens", 300, "2.50", "market")]
    shelf = [food("greens", storage="fridge", keeps_days=2)]
    settings: dict[str, object] = {
        "days": 4, "meals": ["lunch"], "cook_days": [{"day": 1}, {"day": 4}], "carry_days": 7,
        "clients": [client(portions={"step": 0.25, "smallest": 0.25, "largest": 2})],
    }  # fmt: skip
    return build_problem(catalog(shelf, packs, [dish]), scenario(**{**settings, **keys}))


def test_packs_that_spoil_between_cook_days_are_bought_for_each() -> None:
    """By hand: 100 g on day 1 and 200 g on day 4 cannot share a pack; 1.00 and 2.00."""
    problem = _two_days(waste_weight=0)
    lunch = {(i, 0): 0.25 for i in range(3)} | {(3, 0): 2.0}
    option = [slot.options for slot in problem.slots]
    last = next(j for j, found in enumerate(option[3]) if found.cook == 1)
    servings = {key: amount for key, amount in lunch.items() if key[0] < 3} | {(3, last): 2.0}
    found = carried_out(problem, servings)
    assert found is not None
    assert sum(found.batches.values()) == 3.0
    assert cost_of(problem, found).grocery == pytest.approx(3.0)


def test_a_step_more_is_needed_for_a_crumb_but_not_for_dust() -> None:
    """Servings a solver's dust above a whole number of steps make no further step."""
    problem = _two_days()
    assert fewest_batches(problem, Decisions({}, {(0, 0): 1.0 + 1e-9}, {})) == {0: 1.0}
    assert fewest_batches(problem, Decisions({}, {(0, 0): 1.01}, {})) == {0: 1.5}
    assert fewest_batches(problem, Decisions({0: 3.0}, {(0, 0): 0.0}, {})) == {}


def test_a_free_pack_that_nobody_needs_goes_too() -> None:
    """A pack for nothing costs nothing more, and is left in the shop all the same."""
    shelf = [food("oats")]
    offers = [pack("oats", 500, "0.00"), pack("oats", 100, "1.00", "market")]
    problem = build_problem(catalog(shelf, offers, [recipe("porridge", {"oats": 100})]), scenario())
    assert [offer.price_minor for offer in problem.offers["oats"]] == [100, 0]
    week = Decisions({0: 1.0}, {(0, 0): 1.0}, {(0, 0): 2.0, (0, 1): 7.0})
    assert tidied(problem, week).packs == {(0, 1): 1.0}
