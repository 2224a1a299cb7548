"""The strengthening rows cut off no compliant integer plan: shown on small random kitchens."""

from __future__ import annotations

import pytest

from model.points import MONEY, held, optimum, some_points, whole
from model.small import EXACT, catalog, client, food, pack, random_kitchen, recipe, scenario
from planopt.model.kitchen import new_kitchen
from planopt.model.strengthen import Strengthening, pools_of
from planopt.problem.build import Problem, build_problem
from planopt.solve.highs.daymodel import PlainModel, build_plain
from planopt.solve.highs.matrix import Floats, to_matrix
from planopt.solve.highs.solver import solve_matrix
from slow import few

KITCHENS = 30
POINTS_PER_KITCHEN = 3


def _assert_kept(plain: PlainModel, strong: PlainModel, point: Floats) -> None:
    """The strengthened model has the same integer plan, at the same cost."""
    known = whole(plain.matrix, point)
    before = optimum(held(plain.matrix, known))
    after = optimum(held(strong.matrix, known))
    assert before.status == "Optimal"
    assert after.status == "Optimal", "a strengthening row cuts off this plan"
    assert after.objective == pytest.approx(before.objective, abs=MONEY)


def _both(problem: Problem) -> tuple[PlainModel, PlainModel]:
    return build_plain(problem, strengthen=False), build_plain(problem, strengthen=True)


@pytest.mark.parametrize("seed", few(range(KITCHENS), 6))
def test_strengthening_keeps_optimum_and_plans(seed: int) -> None:
    """Same optimum at gap 0; the cheapest plan and random feasible plans all stay feasible."""
    plain, strong = _both(random_kitchen(seed, one_dish=seed % 3 > 0).problem)
    tight = optimum(strong.matrix)
    points = some_points(plain, seed, POINTS_PER_KITCHEN)
    assert (tight.values is None) == (not points)
    for point in points:
        _assert_kept(plain, strong, point)
    if points:
        best = optimum(held(plain.matrix, whole(plain.matrix, points[0])))
        assert tight.objective == pytest.approx(best.objective, abs=MONEY)


def test_enough_of_the_kitchens_are_feasible_and_gain() -> None:
    """The test above is not idle: many kitchens have a plan and get rows that raise the bound."""
    feasible = gained = 0
    for seed in range(KITCHENS):
        plain, strong = _both(random_kitchen(seed, one_dish=seed % 3 > 0).problem)
        weak = solve_matrix(plain.matrix.relaxed(), EXACT)
        tight = solve_matrix(strong.matrix.relaxed(), EXACT)
        feasible += tight.status == "Optimal"
        if weak.objective is not None and tight.objective is not None:
            assert tight.objective >= weak.objective - MONEY
            gained += tight.objective > weak.objective + 0.01
    assert feasible >= 12
    assert gained >= 8


def _canned(**keys: object) -> Problem:
    """Return a kitchen that cooks at most one half batch, 110 g of beans, out of cans of 240 g."""
    tins = [pack("beans", 240, "1.00"), pack("beans", 500, "1.50", "market")]
    stew = recipe("stew", {"beans": 220}, batch={"step": "half", "most_per_cook_day": 0.5})
    return build_problem(
        catalog([food("beans")], tins, [stew]), scenario(clients=[client()], **keys)
    )


def test_a_relaxation_no_longer_buys_a_slice_of_a_can() -> None:
    """One serving takes 110 g: the plain relaxation pays 0.33 for it, the rows a whole can."""
    problem = _canned(waste_weight=0)
    plain, strong = _both(problem)
    assert solve_matrix(plain.matrix.relaxed(), EXACT).objective == pytest.approx(0.33)
    assert solve_matrix(strong.matrix.relaxed(), EXACT).objective == pytest.approx(1.0)
    assert optimum(strong.matrix).objective == pytest.approx(1.0)


def test_stock_lowers_what_must_be_bought() -> None:
    """With 120 g of beans in stock one serving costs nothing, and the rows do not claim money."""
    stock = [{"food": "beans", "amount": 120, "unit": "g"}]
    _, strong = _both(_canned(waste_weight=0, stock=stock))
    assert optimum(strong.matrix).objective == pytest.approx(0.0)


def test_pools_join_days_that_share_a_supply_and_part_those_that_do_not() -> None:
    """Food that keeps serves both cook days in one pool; food that does not makes one a day."""
    foods = [food("beans"), food("fish", keeps_days=0)]
    packs = [pack("beans", 100, "1.00"), pack("fish", 100, "1.00")]
    dish = recipe("stew", {"beans": 50, "fish": 50})
    days = {"days": 2, "cook_days": [{"day": 1}, {"day": 2}]}
    kitchen = new_kitchen(build_problem(catalog(foods, packs, [dish]), scenario(**days)))
    pools = [(pool.food_id, sorted(pool.cooks)) for pool in pools_of(kitchen.problem)]
    assert sorted(pools) == [("beans", [0, 1]), ("fish", [0]), ("fish", [1])]


def test_food_sold_in_any_amount_gets_no_rows() -> None:
    """Where any amount can be bought there is no least pack, so nothing may be claimed."""
    packs = [pack("beans", 240, "1.00", sold="any")]
    problem = build_problem(
        catalog([food("beans")], packs, [recipe("stew", {"beans": 220})]), scenario()
    )
    strengthening = Strengthening(new_kitchen(problem))
    strengthening.add()
    assert strengthening.rows == 0


def test_a_dish_that_two_days_may_cook_is_paid_for_once() -> None:
    """Half a switch on each of two cook days does not pay half of a can that serves both."""
    tins = [pack("beans", 1000, "2.00")]
    stew = recipe("stew", {"beans": 100}, batch={"step": "half", "most_per_cook_day": 1})
    days = {"days": 2, "cook_days": [{"day": 1}, {"day": 2}], "waste_weight": 0}
    eats = client(most_repeats=4)
    problem = build_problem(
        catalog([food("beans")], tins, [stew]), scenario(clients=[eats], **days)
    )
    kitchen = new_kitchen(problem)
    rows = Strengthening(kitchen)
    rows.add()
    kitchen.row(rows.made["stew"] >= 1, "the stew is made")
    relaxed = solve_matrix(to_matrix(kitchen.lp).relaxed(), EXACT)
    assert relaxed.objective == pytest.approx(2.0)
    names = {variable.name for variable in rows.switches()}
    assert names >= {rows.made["stew"].name}
