"""Misses of windows in the compiled search."""

from __future__ import annotations

from planopt.solve.annealing.basics import missed


def test_a_sum_a_hair_below_nothing_misses_no_open_window() -> None:
    """Sums go up and down by floats, so that a day without B12 may have -1e-16 of it."""
    assert missed(-1e-16, 0.0, 1.0, 100.0, 1.0) == 0.0
    assert missed(5.0, 10.0, 20.0, 100.0, 1.0) == 51.0
