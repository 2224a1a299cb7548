"""Where food comes from: how long it is usable, which shop days count, what it is worth."""

from __future__ import annotations

from datetime import date
from typing import Any

import pytest

from model.small import EXACT, catalog, client, food, pack, recipe, scenario
from planopt.catalog.quantities import Quantities
from planopt.catalog.records import Food
from planopt.problem.build import build_problem
from planopt.problem.supplies import Supply, offers_of, supplies_of, usable_days, value_per_g
from planopt.solve.highs.daymodel import search_plain

# 2 March 2026 is day 1. A plan of 4 days ends on 5 March; carried is what lasts to 12 March.
FOUR_DAYS: dict[str, Any] = {"days": 4, "cook_days": [{"day": 1}, {"day": 3}]}


def _supplies(facts: dict[str, Any], **keys: Any) -> list[Supply]:
    """Return the supplies of rice with these facts, in a scenario with these keys."""
    foods = [food("rice", **facts)]
    table = catalog(foods, [pack("rice", 500, "1.00")], [recipe("pot", {"rice": 100})])
    return list(supplies_of(table.foods["rice"], scenario(**keys), Quantities(table)))


def _shops(rows: list[Supply]) -> list[tuple[int | None, tuple[int, ...], bool]]:
    return [(row.shop_day, row.cook_days, row.wasted) for row in rows if row.stock_index is None]


@pytest.mark.parametrize(
    ("unopened", "opened", "expected"),
    [(None, None, None), (7, None, 7), (None, 3, 3), (7, 3, 3), (2, 9, 2), (0, 5, 0)],
)
def test_a_purchase_is_usable_for_its_shorter_life(
    unopened: int | None, opened: int | None, expected: int | None
) -> None:
    """The shorter of unopened and opened life; no limit only when neither is known."""
    facts = food("rice", keeps_days=unopened, opened_keeps_days=opened)
    assert usable_days(Food.model_validate(facts)) == expected


def test_food_is_usable_from_its_shop_day_to_the_end_of_its_life() -> None:
    """Two days of life: bought on day 1 it serves days 1 and 3; bought on day 3, day 3 alone."""
    rows = _supplies({"keeps_days": 2}, **FOUR_DAYS)
    assert [(row.shop_day, row.cook_days) for row in rows] == [(1, (1, 3))]
    rows = _supplies({"keeps_days": 1}, **FOUR_DAYS)
    assert [(row.shop_day, row.cook_days) for row in rows] == [(1, (1,)), (3, (3,))]
    assert [row.usable_until for row in rows] == [date(2026, 3, 3), date(2026, 3, 5)]


def test_nothing_is_bought_after_it_is_needed_or_too_early() -> None:
    """A shop day that no cook day can use is left out: too late for all, or spoilt before any."""
    rows = _supplies({"keeps_days": 1}, **FOUR_DAYS, shop_days=[-1, 2, 4])
    assert [(row.shop_day, row.cook_days) for row in rows] == [(2, (3,))]


def test_a_later_shop_day_with_nothing_new_is_left_out() -> None:
    """What keeps for ever is bought first; the later days serve no more and end no better."""
    assert _shops(_supplies({}, **FOUR_DAYS)) == [(1, (1, 3), False)]


def test_a_later_shop_day_stays_when_its_leftovers_are_carried() -> None:
    """Nine days of life: from day 1 it ends on 11 March and is waste, from day 3 it carries."""
    rows = _supplies({"keeps_days": 9}, **FOUR_DAYS)
    assert _shops(rows) == [(1, (1, 3), True), (3, (3,), False)]


def test_leftovers_are_carried_from_the_very_day_that_carrying_asks_for() -> None:
    """Ten days from 2 March end on 12 March, which is carried; nine end a day short."""
    carried = [row.wasted for row in _supplies({"keeps_days": 10}, **FOUR_DAYS)]
    assert carried == [False]
    keys = {**FOUR_DAYS, "carry_days": 8}
    assert [row.wasted for row in _supplies({"keeps_days": 10}, **keys)] == [True, False]


def _stock(use_by: str | None, **keys: Any) -> Supply:
    entry = {"food": "rice", "amount": 200, "unit": "g", "use_by": use_by}
    row = _supplies({"edible_share": 0.9}, **FOUR_DAYS, stock=[entry], **keys)[0]
    assert (row.stock_index, row.shop_day, row.available_g) == (0, None, 180.0)
    return row


@pytest.mark.parametrize(
    ("use_by", "cook_days", "wasted"),
    [
        (None, (1, 3), False),
        ("2026-03-01", (), True),
        ("2026-03-02", (1,), True),
        ("2026-03-03", (1,), True),
        ("2026-03-04", (1, 3), True),
        ("2026-03-11", (1, 3), True),
        ("2026-03-12", (1, 3), False),
    ],
)
def test_stock_is_usable_up_to_and_on_its_date(
    use_by: str | None, cook_days: tuple[int, ...], wasted: bool
) -> None:
    """Stock serves cook days up to its date and is waste when that comes too soon to carry."""
    row = _stock(use_by)
    assert (row.cook_days, row.wasted) == (cook_days, wasted)


def test_spoilt_stock_is_still_on_the_books() -> None:
    """Stock that no cook day can use stays, so that its loss is counted."""
    assert _stock("2026-02-20").cook_days == ()


def _sold(*packs: dict[str, Any], **keys: Any) -> list[str]:
    table = catalog([food("rice")], packs, [recipe("pot", {"rice": 100})])
    offers = offers_of("rice", table, scenario(**keys), Quantities(table))
    return [offer.pack_id for offer in offers]


def test_only_packs_of_open_sellers_in_the_currency_are_offered() -> None:
    """A pack of another seller or in other money is not on offer, however cheap."""
    packs = [
        pack("rice", 500, "1.00"),
        pack("rice", 900, "1.00", "market"),
        pack("rice", 400, "0.10", currency="EUR"),
    ]
    assert _sold(*packs) == ["rice_500_corner", "rice_900_market"]
    assert _sold(*packs, sellers=["corner"]) == ["rice_500_corner"]


def test_a_food_is_worth_its_cheapest_gram() -> None:
    """The least price per edible gram counts, peel taken off; what is not sold is worth nothing."""
    packs = [pack("rice", 500, "1.00"), pack("rice", 1000, "1.60")]
    table = catalog([food("rice", edible_share=0.8)], packs, [recipe("pot", {"rice": 100})])
    offers = offers_of("rice", table, scenario(), Quantities(table))
    assert value_per_g(offers) == 160 / 800
    assert value_per_g(()) == 0.0


def test_the_cheapest_week_may_buy_lasting_food_on_a_later_trip() -> None:
    """Fish must be bought on day 2; rice from that same trip saves the trip of day 1, worth 5."""
    foods = [food("rice"), food("fish", keeps_days=0)]
    packs = [pack("rice", 100, "1.00"), pack("fish", 100, "1.00")]
    stew = recipe(
        "stew", {"rice": 100, "fish": 100}, yield_servings=1,
        keeps={"kind": "dishes", "fridge_days": 0, "serve": "either"},
    )  # fmt: skip
    keys: dict[str, Any] = {
        "days": 2, "cook_days": [{"day": 1}, {"day": 2}], "visit_cost": "5",
        "clients": [client(away={"days": [1]})],
    }  # fmt: skip
    problem = build_problem(catalog(foods, packs, [stew]), scenario(**keys))
    assert search_plain(problem, EXACT).bound == pytest.approx(2.0)
