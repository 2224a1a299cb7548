"""Cover tables against brute force over all combinations of packs."""

from __future__ import annotations

from itertools import pairwise, product
from math import inf
from time import process_time

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from planopt.model.covers import cover_table

EASE = settings(max_examples=120, deadline=None, derandomize=True)

# Whole grams and quarters of money, so that no sum is rounded; 1 to 3 packs of at least 40 g.
PACKS = st.lists(
    st.tuples(st.integers(40, 200), st.integers(1, 40).map(lambda n: n / 4)),
    min_size=1,
    max_size=3,
)
UP_TO_G = st.integers(0, 500)


def _least_cost(packs: list[tuple[int, float]], need_g: float) -> float:
    """Return the least cost of at least `need_g` grams, trying every combination."""
    counts = [range(int(need_g // grams) + 2) for grams, _ in packs]
    costs = (
        sum(n * cost for n, (_, cost) in zip(chosen, packs, strict=True))
        for chosen in product(*counts)
        if sum(n * grams for n, (grams, _) in zip(chosen, packs, strict=True)) >= need_g
    )
    return min(costs, default=inf)


@EASE
@given(PACKS, UP_TO_G)
def test_least_cost_is_that_of_the_best_combination(
    packs: list[tuple[int, float]], up_to_g: int
) -> None:
    """For every whole need within the table, no combination of packs is cheaper."""
    table = cover_table(packs, up_to_g)
    for need_g in range(0, up_to_g + 1, 7):
        assert table.least_cost(need_g) == _least_cost(packs, need_g)
    assert table.least_cost(up_to_g) == _least_cost(packs, up_to_g)


@EASE
@given(PACKS, UP_TO_G)
def test_a_table_has_only_efficient_combinations(
    packs: list[tuple[int, float]], up_to_g: int
) -> None:
    """Grams and cost both strictly increase from nothing bought, and reach what was asked for."""
    table = cover_table(packs, up_to_g)
    assert (table.grams[0], table.cost[0]) == (0.0, 0.0)
    for row in (table.grams, table.cost):
        assert all(a < b for a, b in pairwise(row))
    assert table.grams[-1] >= up_to_g
    assert len(table.grams) == 1 or table.grams[-2] < up_to_g


@EASE
@given(PACKS, UP_TO_G, st.integers(1, 900))
def test_a_need_beyond_the_table_is_bounded_from_below(
    packs: list[tuple[int, float]], up_to_g: int, more_g: int
) -> None:
    """Neither the last cost nor the least cost of a gram claims more than the best combination."""
    need_g = up_to_g + more_g
    assert cover_table(packs, up_to_g).least_cost(need_g) <= _least_cost(packs, need_g) + 1e-9


@EASE
@given(PACKS, UP_TO_G, st.integers(1, 900))
def test_what_is_bought_beyond_the_table_can_be_bought(
    packs: list[tuple[int, float]], up_to_g: int, more_g: int
) -> None:
    """Beyond the table, combinations reach any need, at no less than the best of all costs."""
    need_g = up_to_g + more_g
    found = cover_table(packs, up_to_g).reaching(need_g)
    assert all(a[0] < b[0] and a[1] < b[1] for a, b in pairwise(found))
    assert found[-1][0] >= need_g
    for grams, cost in found:
        assert cost >= _least_cost(packs, grams) - 1e-9


@EASE
@given(PACKS, UP_TO_G, st.integers(100, 900))
def test_a_table_cut_short_bounds_from_both_sides(
    packs: list[tuple[int, float]], short_g: int, up_to_g: int
) -> None:
    """With fewer combinations than asked for, facets and costs stay below, purchases above."""
    table = cover_table(packs, short_g)
    for need_g in range(10, short_g + up_to_g, 23):
        cost = _least_cost(packs, need_g)
        assert table.least_cost(need_g) <= cost + 1e-9
        assert table.buying(need_g) >= cost - 1e-9
        for slope, intercept in table.facets(short_g + up_to_g):
            assert slope * need_g + intercept <= cost + 1e-9


def test_forty_sizes_of_a_food_are_not_all_combined() -> None:
    """Sizes a few grams apart have a table at once; what it buys is dearer than a gram at least."""
    packs = [(500.0 * (1 + n / 97), 120.0 * (1 + n / 101)) for n in range(40)]
    began = process_time()
    table = cover_table(packs, 60_000.0)
    found = table.reaching(60_000.0)
    assert process_time() - began < 2.0
    per_g = min(cost / grams for grams, cost in packs)
    assert found[-1][0] >= 60_000.0
    assert per_g * 60_000 <= table.buying(60_000.0) <= 1.01 * per_g * 60_000


@EASE
@given(PACKS, UP_TO_G)
def test_facets_lie_below_the_cost_of_every_need(
    packs: list[tuple[int, float]], up_to_g: int
) -> None:
    """No facet is above the least cost anywhere in its range, whole or fractional grams."""
    facets = cover_table(packs, up_to_g).facets(up_to_g)
    for need_g in [0.25, 0.5, *range(1, up_to_g + 1, 3), up_to_g - 0.25, up_to_g]:
        if 0 < need_g <= up_to_g:
            cost = _least_cost(packs, need_g)
            for slope, intercept in facets:
                assert slope * need_g + intercept <= cost + 1e-9


@EASE
@given(PACKS, st.integers(1, 500))
def test_facets_touch_the_cost_somewhere(packs: list[tuple[int, float]], up_to_g: int) -> None:
    """Each facet holds with equality at some need of the table, so none is idle."""
    table = cover_table(packs, up_to_g)
    needs = [0.0, *table.grams[1:]]
    costs = [table.cost[1], *table.cost[1:]]
    for slope, intercept in table.facets(up_to_g):
        gaps = [c - slope * g - intercept for g, c in zip(needs, costs, strict=True)]
        assert min(gaps) == pytest.approx(0.0, abs=1e-9)


def test_two_packs_by_hand() -> None:
    """A can of 240 g at 1 and a crate of 500 g at 1.50: steps, hull and what lies beyond."""
    table = cover_table([(240, 1.0), (500, 1.5)], 740)
    assert table.grams == (0.0, 240.0, 500.0, 740.0)
    assert table.cost == (0.0, 1.0, 1.5, 2.5)
    needs = (0, 1, 240, 241, 500, 501, 740, 5000)
    assert [table.least_cost(g) for g in needs] == [0.0, 1.0, 1.0, 1.5, 1.5, 2.5, 2.5, 15.0]
    slopes = [slope for slope, _ in table.facets(740)]
    assert slopes == pytest.approx([0.0, 0.5 / 260, 1.0 / 240])  # through each of the steps' ends


def test_a_dominated_pack_and_a_twin_change_nothing() -> None:
    """A smaller pack for more money, or the same pack twice, leaves the table as it was."""
    plain = cover_table([(300, 1.0)], 900)
    assert cover_table([(300, 1.0), (200, 1.25), (300, 1.0)], 900) == plain


def test_a_rounding_trace_of_need_is_no_need() -> None:
    """A millionth of a gram, as binary sums leave behind, does not buy another pack."""
    table = cover_table([(100, 1.0)], 300)
    assert table.least_cost(1e-7) == 0.0
    assert table.least_cost(100.0000001) == 1.0


def test_no_packs_and_no_need_give_the_empty_table() -> None:
    """Nothing to buy or nothing to cover: only the entry for nothing, and no facets."""
    for table in (cover_table([], 100), cover_table([(100, 1.0)], 0)):
        assert table.grams == (0.0,)
        assert table.facets(100) == []


def test_food_for_free_costs_nothing() -> None:
    """A pack without a price covers any need at no cost and gives no facet that claims money."""
    table = cover_table([(100, 0.0), (300, 1.0)], 250)
    assert table.least_cost(250) == 0.0
    assert all(a < b for a, b in pairwise(table.cost))
    assert all(slope * 250 + intercept <= 0 for slope, intercept in table.facets(250))
