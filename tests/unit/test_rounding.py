"""Exact numbers, their rounding, and when an amount meets a window."""

from __future__ import annotations

from decimal import Decimal
from fractions import Fraction
from math import inf, nan

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from planopt.tolerances import WINDOW_SHARE, meets
from planopt.units import exact, percent_up, round_down, round_half_up, round_up


@pytest.mark.parametrize("value", [0.1, np.float64(0.1), Decimal("0.1"), Fraction(1, 10)])
def test_a_number_is_what_it_reads(value: float) -> None:
    """A tenth is a tenth, whether a float or not, and whoever made it."""
    assert exact(value) == Fraction(1, 10)
    assert exact(3) == 3


@given(st.floats(-1e9, 1e9), st.integers(0, 4))
def test_rounding_goes_to_its_side_by_less_than_a_step(value: float, digits: int) -> None:
    """Down is never above, up never below, and half up is one of the two."""
    down, up, half = (r(value, digits) for r in (round_down, round_up, round_half_up))
    step = Fraction(1, 10**digits)
    assert Fraction(down) <= exact(value) <= Fraction(up)
    assert Fraction(up) - Fraction(down) in (0, step)
    assert half in (down, up)


def test_a_gap_claims_no_more_than_is_proven_and_dust_is_no_gap() -> None:
    """0.04001 is 4.1 %; what is left of 1 - 0.95 in floats is 5.0 %."""
    assert percent_up(0.04001) == Decimal("4.1")
    assert percent_up(1 - 0.95) == Decimal("5.0")
    assert percent_up(Decimal("0.050001"), 2) == Decimal("5.01")
    assert percent_up(0) == 0


def test_an_amount_meets_a_window_but_for_dust() -> None:
    """Both sides with the same room, none of it for real misses; an open side is never passed."""
    assert meets(1000 * (1 - WINDOW_SHARE / 2), 1000, 2000)
    assert not meets(1000 * (1 - WINDOW_SHARE * 2), 1000, 2000)
    assert meets(2000 * (1 + WINDOW_SHARE / 2), 1000, 2000)
    assert not meets(2000 * (1 + WINDOW_SHARE * 2), 1000, 2000)
    assert meets(1e9, 1000, inf)
    assert meets(0.0, nan, nan)
