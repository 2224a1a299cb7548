"""The groceries shared out: exact, and by whom and what they were eaten."""

from __future__ import annotations

from decimal import Decimal
from fractions import Fraction

from page.crowd import crowd_plan
from planopt.report.analysis.shares import CARRIED, EATEN, NOT_EATEN, WASTED, cost_shares
from planopt.report.analysis.tables import records
from report_samples import sample_plan


def test_the_sample_is_shared_as_worked_out_by_hand() -> None:
    """Haddock 12.70: 900 of 1000 g cooked. Potato 2.40: 337.5 and 800 of 2000 g. 5.5 of 6 eaten."""
    plan = sample_plan()
    rows = records(cost_shares(plan))
    fish = Fraction("12.70") * Fraction(9, 10) + Fraction("2.40") * Fraction("337.5") / 2000
    mash = Fraction("2.40") * 800 / 2000
    exact = {
        EATEN: fish * Fraction(11, 12) + mash,
        NOT_EATEN: fish / 12,
        WASTED: Fraction("12.70") / 10,
        CARRIED: Fraction("2.40") * Fraction("862.5") / 2000,
    }
    for kind, share in exact.items():
        told = sum((row["cost"] for row in rows if row["goes_to"] == kind), Decimal(0))
        assert abs(Fraction(told) - share) < Fraction(4, 100), kind
    assert sum(exact.values()) == Fraction("15.10")
    assert sum((row["cost"] for row in rows), Decimal(0)) == plan.solution.grocery_cost


def test_food_on_hand_costs_nothing_this_week() -> None:
    """The parsley of the sample comes from stock and has no row."""
    assert "parsley" not in {row["food_id"] for row in records(cost_shares(sample_plan()))}


def test_a_crowd_is_shared_to_the_cent() -> None:
    """Twelve clients with the shipped catalog: every portion has a row, and the sum is exact."""
    plan, _, _ = crowd_plan(12, recipes=8)
    rows = records(cost_shares(plan))
    assert sum((row["cost"] for row in rows), Decimal(0)) == plan.solution.grocery_cost
    assert sum(row["goes_to"] == EATEN for row in rows) == len(plan.portions)
