"""The dive: what it proves, what it switches on, and that it repeats."""

from __future__ import annotations

from dataclasses import replace
from functools import lru_cache
from math import isfinite

import pytest

from model.chosen import Chosen
from model.points import MONEY, optimum, real_optimum
from model.small import EXACT, catalog, client, food, pack, random_kitchen, recipe, scenario
from planopt.problem.build import build_problem
from planopt.solve.bounding.relaxations import WeeklyArrays, weekly_arrays
from planopt.solve.heuristics.diving import Dive, dive
from planopt.solve.highs.solver import solve_matrix
from slow import few

KITCHENS = range(30)


@lru_cache
def _dived(seed: int) -> tuple[WeeklyArrays, Dive]:
    arrays = weekly_arrays(random_kitchen(seed).problem)
    return arrays, dive(arrays, EXACT)


FEASIBLE = Chosen(lambda seed: not _dived(seed)[1].infeasible)
WHOLE = Chosen(
    lambda seed: (
        not _dived(seed)[1].infeasible and optimum(_dived(seed)[0].matrix).objective is not None
    )
)


@pytest.mark.parametrize("seed", KITCHENS)
def test_the_first_objective_is_that_of_the_relaxation(seed: int) -> None:
    """It is the linear optimum, below every plan; `infeasible` is said only without a plan."""
    arrays, found = _dived(seed)
    linear = solve_matrix(arrays.matrix.relaxed(), EXACT)
    real = real_optimum(seed)
    assert found.infeasible == linear.infeasible
    if found.infeasible:
        assert real is None
        assert (found.cookings, found.ranking) == ((), ())
    else:
        assert found.objective == pytest.approx(linear.objective, abs=MONEY)
        assert real is None or found.objective <= real + MONEY


@pytest.mark.parametrize("nth", range(20))
def test_all_cookings_are_ranked_and_some_switched_on(nth: int) -> None:
    """The ranking names each cooking once; those switched on are among them, in order."""
    arrays, found = _dived(FEASIBLE[nth])
    everything = list(range(len(arrays.started)))
    assert sorted(found.ranking) == everything
    assert list(found.cookings) == sorted(set(found.cookings))
    assert set(found.cookings) <= set(everything)


@pytest.mark.parametrize("nth", few(range(18), 2))
def test_the_cookings_found_feed_everybody_in_the_relaxation(nth: int) -> None:
    """With all others off the linear week is still feasible, wherever a whole one exists."""
    arrays, found = _dived(WHOLE[nth])
    upper = arrays.matrix.upper.copy()
    for n, column in enumerate(arrays.started):
        if n not in found.cookings:
            upper[column] = 0.0
    held = solve_matrix(replace(arrays.matrix, upper=upper).relaxed(), EXACT)
    assert held.objective is not None
    assert held.objective >= found.objective - MONEY


def test_enough_of_the_kitchens_end_in_cookings() -> None:
    """The tests above are not idle: many dives end with cookings on."""
    assert sum(bool(_dived(seed)[1].cookings) for seed in KITCHENS) >= 12


@pytest.mark.parametrize("seed", KITCHENS[::5])
def test_a_dive_repeats(seed: int) -> None:
    """The same arrays and settings give the same cookings and the same ranking."""
    arrays, found = _dived(seed)
    assert dive(arrays, EXACT) == found


def test_no_time_claims_nothing() -> None:
    """Stopped before its first optimum, a dive knows no bound and still ranks all cookings."""
    arrays, _ = _dived(28)
    found = dive(arrays, EXACT.model_copy(update={"time_limit_s": 1e-9}))
    assert not found.infeasible
    assert not isfinite(found.objective) or found.objective <= (real_optimum(28) or 0) + MONEY
    assert sorted(found.ranking) == list(range(len(arrays.started)))


def test_the_cheap_dish_is_dived_for_first() -> None:
    """Of two dishes alike but for their price, the cheap one is switched on and ranked first."""
    packs = [pack("beans", 100, "4.00"), pack("rice", 100, "1.00")]
    dishes = [recipe("dear", {"beans": 100}), recipe("cheap", {"rice": 100})]
    problem = build_problem(
        catalog([food("beans"), food("rice")], packs, dishes),
        scenario(clients=[client(medically_supervised=True)]),
    )
    cheap = next(
        n
        for n, cooking in enumerate(problem.cookings)
        if problem.dishes[cooking.dish].recipe_id == "cheap"
    )
    found = dive(weekly_arrays(problem), EXACT)
    assert found.cookings == (cheap,)
    assert found.ranking[0] == cheap
