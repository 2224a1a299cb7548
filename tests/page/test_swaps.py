"""Swaps at the counter: effects worked out by hand, and nothing allowed that must not be."""

from __future__ import annotations

from decimal import Decimal
from itertools import product
from typing import Any

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from planopt.catalog.records import Allergen, Catalog, Pack
from planopt.report.analysis.swaps import cheapest_packs, counter_swaps
from planopt.report.analysis.tables import records
from planopt.scenario.records import Scenario, Window
from report_samples import START, sample_catalog, sample_plan, sample_scenario

offer = st.tuples(st.integers(1, 900), st.integers(20, 700).map(float))


@settings(max_examples=60, deadline=None)
@given(st.lists(offer, min_size=1, max_size=3), st.floats(1, 1500))
def test_cheapest_packs_against_every_combination(
    offers: list[tuple[int, float]], need_g: float
) -> None:
    """No combination of whole packs that gives enough costs less."""
    counts = [range(int(need_g / grams) + 2) for _, grams in offers]
    cheapest = min(
        sum(n * price for n, (price, _) in zip(some, offers, strict=True))
        for some in product(*counts)
        if sum(n * grams for n, (_, grams) in zip(some, offers, strict=True)) >= need_g - 1e-6
    )
    assert cheapest_packs(offers, need_g) == cheapest


def test_nothing_needed_and_nothing_sold() -> None:
    """Nothing costs nothing; what nobody sells has no price."""
    assert cheapest_packs([(500, 100.0)], 0.0) == 0
    assert cheapest_packs([], 5.0) is None


def kitchen(**cod: Any) -> tuple[Catalog, Scenario]:
    """Return the sample kitchen in which the quay also sells cod, 400 g for 4.10."""
    catalog = sample_catalog()
    pack = Pack(
        pack_id="cod_400", food_id="cod", seller_id="quay", sold="pack", size=Decimal(400),
        unit="g", price=Decimal("4.10"), currency="USD", price_date=START,
    )  # fmt: skip
    foods = {**catalog.foods, "cod": catalog.foods["cod"].model_copy(update=cod)}
    return catalog.model_copy(
        update={
            "packs": {**catalog.packs, pack.pack_id: pack},
            "foods": foods,
            "allergens": {"fish": Allergen(allergen_id="fish", name="Fish")},
        }
    ), sample_scenario()


def with_ana(scenario: Scenario, **update: object) -> Scenario:
    """Return the scenario with Ana alone, changed."""
    ana = scenario.clients[0].model_copy(update=update)
    return scenario.model_copy(update={"clients": (ana,)})


def cod_row(catalog: Catalog, scenario: Scenario) -> dict[str, Any]:
    """Return the row that takes cod again instead of the haddock chosen."""
    (row,) = records(counter_swaps(sample_plan(), catalog, scenario))
    assert (row["food_id"], row["instead_id"]) == ("haddock", "cod")
    return row


def test_effects_are_those_worked_out_by_hand() -> None:
    """900 g haddock in 2 packs (12.70) against 900 g cod in 3 packs of 400 g (12.30)."""
    row = cod_row(*kitchen())
    assert (row["food_g"], row["instead_g"]) == (900, 900)
    assert row["cost_change"] == Decimal("12.30") - Decimal("12.70")
    assert row["bought_at"] == "Quayside stall"
    # 900 g over 6 servings, 80 against 75 kcal in 100 g; protein is the same in both.
    assert row["energy_kcal_change"] == pytest.approx(9 * (80 - 75) / 6)
    assert row["protein_g_change"] == pytest.approx(0)
    assert (row["allowed"], row["why"]) == (True, "")


def test_a_seller_not_visited_that_day_sells_nothing() -> None:
    """Without a cod pack at the sellers of the day the price is not known."""
    row = cod_row(sample_catalog(), sample_scenario())
    assert (row["cost_change"], row["bought_at"]) == (None, "")


@pytest.mark.parametrize(
    ("food", "clients", "scenario", "why"),
    [
        ({"allergens": ("fish",)}, {"allergens": ("fish",)}, {},
         "brings fish, which Ana excludes"),
        ({"allergens": ("not_known",)}, {"allergens": ("milk",)}, {},
         "its allergens are not known, and Ana excludes some"),
        ({}, {"excluded_foods": ("cod",)}, {}, "Ana excludes it"),
        ({}, {"dislikes": {"cod": 0}}, {},
         "more often than Ana wishes"),
        ({}, {"wants": {"haddock": 1}}, {},
         "Ana wants haddock fillet more often"),
        ({}, {"windows_per_day": {"energy_kcal": Window(max=555)}}, {},
         "breaks the energy window of Ana"),
        ({}, {"windows_per_week": {"energy_kcal": Window(max=1020)}}, {},
         "breaks the energy window of Ana"),
        ({}, {}, {"budget": Decimal("14.69")}, "goes over the budget"),
    ],
    ids=["allergen", "unknown", "excluded", "disliked", "wanted", "day", "week", "budget"],
)  # fmt: skip
def test_what_must_not_be_is_not_allowed(
    food: dict[str, Any], clients: dict[str, Any], scenario: dict[str, Any], why: str
) -> None:
    """Exclusions, tastes, windows and the budget each forbid the swap, and say so."""
    catalog, plain = kitchen(**food)
    changed = with_ana(plain, **{"windows_per_day": {}, "windows_per_week": {}, **clients})
    row = cod_row(catalog, changed.model_copy(update=scenario))
    assert row["allowed"] is False
    assert row["why"] == why


def test_windows_at_the_border_still_hold() -> None:
    """Ana eats 548 kcal on day 1 and 11.25 more after the swap: 559.25 is kept, 559.24 is not."""
    catalog, scenario = kitchen()
    for most, allowed in ((559.25, True), (559.2, False)):
        windows = {"energy_kcal": Window(max=most)}
        row = cod_row(catalog, with_ana(scenario, windows_per_day=windows))
        assert row["allowed"] is allowed


def test_an_optional_food_may_be_left_out() -> None:
    """Parsley bought for an optional line can be left out, and its loose price is saved."""
    plan, (catalog, scenario) = sample_plan(), kitchen()
    (haddock, potato), uses = plan.purchases, plan.food_uses
    parsley = haddock.model_copy(
        update={
            "pack_id": "parsley_loose", "food_id": "parsley", "seller_id": "barrow",
            "sold": "loose", "count": 2, "size": Decimal(10), "price_each": Decimal("0.15"),
            "price": Decimal("0.30"), "edible_g": 20,
        }
    )  # fmt: skip
    bought = uses[2].model_copy(update={"supply": "shop day 0"})
    plan = plan.model_copy(
        update={"purchases": (haddock, potato, parsley), "food_uses": (*uses[:2], bought)}
    )
    rows = records(counter_swaps(plan, catalog, scenario))
    (left_out,) = [row for row in rows if row["instead_id"] == ""]
    assert (left_out["food_id"], left_out["food_g"]) == ("parsley", 15)
    assert left_out["cost_change"] == Decimal("-0.30")
