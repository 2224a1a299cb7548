"""Elastic limits, all menus and the LP's clash, against answers by hand and by other ways."""

from __future__ import annotations

from math import inf
from typing import Any

import pytest

from model.chosen import Chosen
from model.small import EXACT, catalog, client, food, pack, random_kitchen, recipe, scenario
from planopt.model.daymenus import supports_menus
from planopt.problem.build import Problem, build_problem
from planopt.problem.decisions import cost_of
from planopt.problem.limits import Limit, LimitKey, limits_of
from planopt.scenario.records import Scenario
from planopt.solve.heuristics.fullmaster import AllMenus, every_menu
from planopt.solve.highs.daymodel import search_plain
from planopt.solve.limits.deletionfilter import LpCore
from planopt.solve.limits.elastic import ElasticModel, Give
from solve.smallweeks import least_cost, menus_of, week


def _asked(**keys: Any) -> Scenario:
    """Return a scenario of one lunch."""
    return scenario(**{"days": 1, "cook_days": [{"day": 1}], **keys})


def _kitchen(**keys: Any) -> Problem:
    """Return a kitchen of one lunch: stew (500 kcal, 20 g, 1.00) or soup (200 kcal, 30 g, 3.00)."""
    recipes = [
        recipe("soup", {"fish": 100}, yield_servings=1),
        recipe("stew", {"beans": 100}, yield_servings=1),
    ]
    foods = [food("beans", kcal=500, protein=20), food("fish", kcal=200, protein=30)]
    packs = [pack("beans", 100, "1.00"), pack("fish", 100, "3.00")]
    return build_problem(catalog(foods, packs, recipes), _asked(**keys))


def _ana(**windows: Any) -> dict[str, Any]:
    return client("ana", medically_supervised=True, windows_per_day=windows)


def _give(limit: Limit, most: float = inf) -> Give:
    return Give(((limit, 1.0),), most)


def _limit(keys: dict[str, Any], key: LimitKey) -> Limit:
    return next(limit for limit in limits_of(_asked(**keys)) if limit.key == key)


PROTEIN = LimitKey("window", "ana", "protein_g", 1, "min")
ENERGY = LimitKey("window", "ana", "energy_kcal", 1, "min")


def test_a_limit_gives_as_little_as_it_must() -> None:
    """At least 400 kcal and 25 g: the stew lacks 5 g, the soup 200 kcal."""
    keys = {"clients": [_ana(energy_kcal={"min": 400}, protein_g={"min": 25})]}
    problem = _kitchen(**keys)
    for key, least in ((PROTEIN, 5.0), (ENERGY, 200.0)):
        given = ElasticModel(problem, [_give(_limit(keys, key))]).least(EXACT)
        assert given.amounts == (pytest.approx(least),)
        assert given.bound == pytest.approx(least)
        assert given.optimal


def test_a_limit_gives_no_more_than_it_may() -> None:
    """With at most 4 g to give there is no lunch, and that is proven."""
    keys = {"clients": [_ana(energy_kcal={"min": 400}, protein_g={"min": 25})]}
    problem = _kitchen(**keys)
    given = ElasticModel(problem, [_give(_limit(keys, PROTEIN), most=4.0)]).least(EXACT)
    assert given.infeasible
    assert given.amounts is None


def test_what_was_given_can_be_held_while_another_gives() -> None:
    """Energy first gives nothing and is held, so protein has to give its 5 g."""
    keys = {"clients": [_ana(energy_kcal={"min": 400}, protein_g={"min": 25})]}
    problem = _kitchen(**keys)
    model = ElasticModel(problem, [_give(_limit(keys, ENERGY)), _give(_limit(keys, PROTEIN))])
    assert model.least(EXACT, {0: 1.0}).total == pytest.approx(0.0, abs=1e-6)
    model.hold({0: 1.0}, 0.0)
    assert model.least(EXACT, {1: 1.0}).total == pytest.approx(5.0)


def test_the_lp_tells_which_limits_clash() -> None:
    """A budget of 0.50 buys half a stew; the window of protein up to 90 g plays no part."""
    windows = {"energy_kcal": {"min": 400}, "protein_g": {"max": 90}}
    keys = {"clients": [_ana(**windows)], "budget": "0.50"}
    problem, limits = _kitchen(**keys), limits_of(_asked(**keys))
    core = LpCore(problem, [(limit,) for limit in limits], EXACT).core(lambda: False)
    assert core is not None
    assert [limits[n].key.kind for n in core] == ["budget"]


def test_the_lp_has_no_clash_where_a_week_exists() -> None:
    """None is the answer, not an empty set."""
    keys = {"clients": [_ana(energy_kcal={"min": 400})], "budget": "1.00"}
    problem, limits = _kitchen(**keys), limits_of(_asked(**keys))
    assert LpCore(problem, [(limit,) for limit in limits], EXACT).core(lambda: False) is None


@pytest.mark.parametrize("seed", range(6))
def test_all_menus_are_all_and_their_week_is_the_cheapest(seed: int) -> None:
    """Against plain enumeration of the days, and the optimum of the day-by-day model."""
    problem = week(seed)
    menus = every_menu(problem, 10_000)
    assert menus is not None
    expected = {menu for group in menus_of(seed) for menu in group}
    assert set(menus) == expected
    assert len(menus) == len(expected)
    model = AllMenus(problem, menus, strengthen=True)
    least = least_cost(seed)
    if model.empty:
        assert least is None
    else:
        found = model.solve(EXACT, cost_weight=1.0)
        assert found.outcome.infeasible == (least is None)
        assert (found.decisions is None) == (least is None)
        if found.decisions is not None:
            objective = cost_of(problem, found.decisions).objective
            assert objective == pytest.approx(least, abs=1e-6)


def test_too_many_menus_are_not_listed() -> None:
    """Above the number allowed there is no list rather than a part of one."""
    problem = next(
        p
        for p in (random_kitchen(seed).problem for seed in range(20))
        if supports_menus(p) and len(every_menu(p, 10_000) or ()) > 3
    )
    assert every_menu(problem, 3) is None


@pytest.mark.parametrize("nth", [0, 1])
def test_a_search_begins_from_a_week_given(nth: int) -> None:
    """The plain search, given the optimum of another run, ends at the same cost."""
    problem = week(Chosen(lambda seed: least_cost(seed) is not None)[nth])
    first = search_plain(problem, EXACT)
    assert first.decisions is not None
    again = search_plain(problem, EXACT, None, first.decisions)
    assert again.decisions is not None
    objective = cost_of(problem, first.decisions).objective
    assert cost_of(problem, again.decisions).objective == pytest.approx(objective, abs=1e-6)
