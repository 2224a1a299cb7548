"""Cooking yields against what USDA SR28 raw and cooked rows imply.

Grains and pulses: (100 - water raw) / (100 - water cooked), no solids lost. Meat and fish: protein
raw / protein cooked, no protein lost. Both are plausibility bands of +-10%, not standards; no
figure of a published yield table (USDA Agriculture Handbook 102) could be seen.
"""

from __future__ import annotations

import re

import pytest

from published.catalogtables import catalog_rows, foods, sr28
from published.dietproblems import rows_of

BAND = 0.10
BY_BALANCE = [row for row in catalog_rows("yields") if "balance" in row["source"]]
DRAINED = [row for row in catalog_rows("yields") if "balance" not in row["source"]]


def pair_of(row: dict[str, str]) -> list[str]:
    """Return the NDB numbers, raw and cooked, that a yield names."""
    return re.findall(r"\b\d{5}\b", row["source"])


def derived(row: dict[str, str]) -> float:
    """Return the yield that the named SR28 rows imply by the named method."""
    raw, cooked = (sr28()[number] for number in pair_of(row))
    if "dry-matter balance" in row["source"]:
        return (100 - float(raw["water_g"])) / (100 - float(cooked["water_g"]))
    return float(raw["protein_g"]) / float(cooked["protein_g"])


@pytest.mark.parametrize("row", BY_BALANCE, ids=lambda row: row["food_id"])
def test_yield_follows_from_sr28(row: dict[str, str]) -> None:
    """USDA SR28 raw and cooked pairs: each yield is the derived figure, to its two decimals."""
    assert float(row["grams_per_g"]) == pytest.approx(derived(row), abs=0.006)


@pytest.mark.parametrize("row", rows_of("cooking_yields_derived.csv"), ids=lambda r: r["source"])
def test_yields_lie_in_the_published_band(row: dict[str, str]) -> None:
    """Yields derived from SR28 raw and cooked pairs: ours for the same pair is within +-10%."""
    pair = re.findall(r"\d{5}", row["source"])
    published = float(row["yield_cooked_over_raw"])
    for ours in BY_BALANCE:
        if pair_of(ours) == pair:
            assert float(ours["grams_per_g"]) == pytest.approx(published, rel=BAND)


def test_published_band_covers_the_main_staples() -> None:
    """Yields derived from SR28: enough of the derived table is in use for the band to mean much."""
    ours = {tuple(pair_of(row)) for row in BY_BALANCE}
    theirs = {
        tuple(re.findall(r"\d{5}", row["source"])) for row in rows_of("cooking_yields_derived.csv")
    }
    assert len(ours & theirs) >= 12


def test_yields_are_of_the_food_they_stand_for() -> None:
    """USDA SR28: the raw row of a yield is the food's own row, unless a stand-in is named."""
    for row in BY_BALANCE:
        own = foods()[row["food_id"]]["sr28_ndb_no"]
        assert pair_of(row)[0] == own or "stand-in" in row["source"], row["food_id"]


def test_grains_gain_and_meat_loses() -> None:
    """USDA SR28: dry grains and pulses at least double, meat and fish lose up to half."""
    for row in BY_BALANCE:
        grams = float(row["grams_per_g"])
        if "dry-matter" in row["source"]:
            assert 2.0 <= grams <= 4.5, row["food_id"]
        else:
            assert 0.5 <= grams < 1.0, row["food_id"]


@pytest.mark.parametrize("row", DRAINED, ids=lambda row: row["food_id"])
def test_drained_share_follows_from_sr28_portions(row: dict[str, str]) -> None:
    """USDA SR28 portions: drained over filled can of the named rows, to two decimals."""
    drained, full = (float(g) for g in re.findall(r"\((\d+) g", row["source"]))
    listed = {float(p["grams"]) for p in rows_of("sr28_portions_excerpt.csv")}
    assert {drained, full} <= listed
    assert float(row["grams_per_g"]) == pytest.approx(drained / full, abs=0.006)
