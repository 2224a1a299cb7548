"""Packs of one food, reckoned by hand: what baskets cost, which one is cheapest, and the budget."""

from __future__ import annotations

import pytest

from model.small import catalog, food, pack, recipe, scenario
from planopt.problem.build import build_problem
from planopt.problem.decisions import Decisions
from planopt.solve.heuristics.tidy import _Shopping, carried_out, tidied
from planopt.solve.highs.packs import (
    Basket,
    FoodSource,
    PackKind,
    basket_of,
    cheapest_basket,
    without_needless,
)

SMALL, LARGE = PackKind(0, 100.0, 100.0, False), PackKind(1, 240.0, 190.0, False)
HAND, SHOP = 0, 1


def shelves(
    *, stock_g: float = 0.0, stock_spoils: bool = True, spoils: bool = True
) -> tuple[FoodSource, ...]:
    """Return food on hand and a shop day with two packs, for one cook day."""
    return (
        FoodSource(HAND, (0,), stock_spoils, stock_g, ()),
        FoodSource(SHOP, (0,), spoils, 0.0, (SMALL, LARGE)),
    )


@pytest.mark.parametrize(
    ("stock_spoils", "spoils", "waste_g"),
    [(True, True, 120), (True, False, 0), (False, True, 120), (False, False, 0)],
)
def test_a_basket_costs_its_packs_and_what_spoils(
    stock_spoils: bool, spoils: bool, waste_g: float
) -> None:
    """100 g on hand go first; of a large pack 120 g are left, at half a cent a gram."""
    rows = shelves(stock_g=100, stock_spoils=stock_spoils, spoils=spoils)
    basket = basket_of(rows, (220.0,), 0.5, {(SHOP, 1): 1.0})
    assert basket == Basket((((SHOP, 1), 1.0),), 190.0, 190.0 + waste_g / 2)


def test_food_on_hand_that_nobody_uses_spoils_too() -> None:
    """Nothing is cooked: all that is on hand is wasted if it spoils, and nothing is bought."""
    assert cheapest_basket(shelves(stock_g=80), (0.0,), 0.5) == Basket((), 0.0, 40.0)
    lasting = shelves(stock_g=80, stock_spoils=False)
    assert cheapest_basket(lasting, (0.0,), 0.5) == Basket((), 0.0, 0.0)


def test_a_gram_short_is_no_basket() -> None:
    """Packs that do not cover the need are none; a millionth of a gram is dust."""
    assert basket_of(shelves(), (241.0,), 0.5, {(SHOP, 1): 1.0}) is None
    assert basket_of(shelves(), (240.0 + 1e-7,), 0.5, {(SHOP, 1): 1.0}) is not None
    assert cheapest_basket((FoodSource(HAND, (0,), True, 50.0, ()),), (60.0,), 0.5) is None


def test_what_spoils_is_weighed_against_the_price() -> None:
    """For 110 g: two small packs, 2.00 and 90 g over, or a large one, 1.90 and 130 g over."""
    two_small, one_large = {(SHOP, 0): 2.0}, {(SHOP, 1): 1.0}
    for spoils, cheapest in ((True, two_small), (False, one_large)):
        found = cheapest_basket(shelves(spoils=spoils), (110.0,), 0.5)
        assert found is not None
        assert dict(found.packs) == cheapest


def test_needless_packs_go_the_dearest_first() -> None:
    """110 g: of two small packs and a large one, the large one goes, then none."""
    rows = shelves()
    basket = basket_of(rows, (110.0,), 0.5, {(SHOP, 0): 2.0, (SHOP, 1): 1.0})
    assert basket is not None
    assert dict(without_needless(rows, (110.0,), 0.5, basket).packs) == {(SHOP, 0): 2.0}


@pytest.mark.parametrize(("budget", "possible"), [("0.99", False), ("1.00", True), (None, True)])
def test_portions_beyond_the_budget_are_not_carried_out(budget: str | None, possible: bool) -> None:
    """A can costs 1.00, whatever is served from it."""
    table = catalog([food("beans")], [pack("beans", 240, "1.00")], [recipe("stew", {"beans": 220})])
    problem = build_problem(table, scenario(budget=budget))
    found = carried_out(problem, {(0, 0): 1.0})
    assert (found is not None) == possible
    assert found is None or found.packs == {(0, 0): 1.0}


def test_a_week_is_never_tidied_into_a_dearer_one(monkeypatch: pytest.MonkeyPatch) -> None:
    """Whoever chooses the packs may be out of time; the week at hand stays then."""
    table = catalog([food("beans")], [pack("beans", 240, "1.00")], [recipe("stew", {"beans": 220})])
    problem = build_problem(table, scenario())
    week = Decisions({0: 1.0}, {(0, 0): 1.0}, {(0, 0): 1.0})
    monkeypatch.setattr(_Shopping, "cheapest", lambda _: {(0, 0): 2.0})
    assert tidied(problem, week) == week


def test_a_week_is_never_tidied_over_its_budget(monkeypatch: pytest.MonkeyPatch) -> None:
    """220 g for 1.10 leave nothing to spoil and are cheaper all counted; the budget is 1.05."""
    packs = [pack("beans", 220, "1.10"), pack("beans", 240, "1.00")]
    table = catalog([food("beans", keeps_days=0)], packs, [recipe("stew", {"beans": 220})])
    for budget, kept in (("1.05", 1), ("1.10", 0)):
        week = scenario(budget=budget, waste_weight=5, carry_days=7)
        problem = build_problem(table, week)
        assert [offer.edible_g for offer in problem.offers["beans"]] == [220, 240]
        monkeypatch.setattr(_Shopping, "cheapest", lambda _: {(0, 0): 1.0})
        found = tidied(problem, Decisions({0: 1.0}, {(0, 0): 1.0}, {(0, 1): 1.0}))
        assert found.packs == {(0, kept): 1.0}
