"""Grams of lines, packs and stock, against sums done by hand."""

from __future__ import annotations

from decimal import Decimal
from pathlib import Path

import pytest

from kitchens import edited, write_catalog
from planopt.catalog.load import load_catalog
from planopt.catalog.quantities import Quantities, UnitUnknown

ML_PER_CUP = 236.5882365


@pytest.fixture
def quantities(tmp_path: Path) -> Quantities:
    """Return the quantities of the tiny catalog."""
    return Quantities(load_catalog(write_catalog(tmp_path)))


@pytest.mark.parametrize(
    ("food", "amount", "unit", "state", "grams"),
    [
        ("onion", "80", "g", None, 80),
        ("onion", "0.5", "kg", "raw", 500),
        ("onion", "1", "oz", None, 28.349523125),
        ("onion", "1", "lb", None, 453.59237),
        ("onion", "2", "each", None, 220),
        ("milk_whole", "400", "ml", None, 412),
        ("milk_whole", "0.4", "l", None, 412),
        # The cup has a measure of its own; a spoon is a share of it, not of the density.
        ("milk_whole", "1", "cup", None, 244),
        ("milk_whole", "1", "tbsp", None, 15.25),
        ("milk_whole", "3", "tsp", "ready", 15.25),
        # Water has a density only.
        ("water", "1", "cup", None, ML_PER_CUP),
        ("water", "48", "tsp", None, ML_PER_CUP),
        # Cooked cups have their own weight, and 2.8 g cooked come from 1 g raw.
        ("rice_white_long", "1", "cup", None, 185),
        ("rice_white_long", "3", "cup", "cooked", 3 * 158 / 2.8),
        ("rice_white_long", "280", "g", "cooked", 100),
    ],
)
def test_line_grams(
    quantities: Quantities, food: str, amount: str, unit: str, state: str | None, grams: float
) -> None:
    """A line's grams are those of the catalog food as its table describes it."""
    assert quantities.line_grams(food, Decimal(amount), unit, state) == pytest.approx(
        grams, rel=1e-12
    )


@pytest.mark.parametrize(
    ("food", "unit", "state", "part", "why"),
    [
        ("onion", "ml", None, "unit", "onion has no density to turn 'ml' into grams"),
        ("onion", "cup", None, "unit", "no measure tells the grams of 'cup' of onion"),
        ("onion", "clove", None, "unit", "no measure tells the grams of 'clove' of onion"),
        (
            "onion",
            "each",
            "cooked",
            "unit",
            "no measure tells the grams of 'each' of onion in the state 'cooked'",
        ),
        (
            "onion",
            "g",
            "cooked",
            "state",
            "no yield tells how much cooked food a gram of onion gives",
        ),
        ("water", "ml", "cooked", "unit", "the density of water is not that of the cooked food"),
        (
            "milk_whole",
            "cup",
            "cooked",
            "unit",
            "no measure tells the grams of 'cup' of milk_whole in the state 'cooked'",
        ),
    ],
)
def test_amounts_without_grams(
    quantities: Quantities, food: str, unit: str, state: str | None, part: str, why: str
) -> None:
    """What the catalog cannot weigh is refused with the reason, and never guessed."""
    with pytest.raises(UnitUnknown) as caught:
        quantities.line_grams(food, Decimal(1), unit, state)
    assert (caught.value.part, caught.value.why) == (part, why)
    assert caught.value.mend


def test_edible_share_counts_for_masses_and_not_for_measures(quantities: Quantities) -> None:
    """A kilogram of onions has peel; the weight of one onion in the table has none."""
    assert quantities.stock_edible_g("onion", Decimal(1), "kg") == 900
    assert quantities.stock_edible_g("onion", Decimal(2), "each") == 220
    assert quantities.stock_edible_g("milk_whole", Decimal(2), "cup") == 488


def test_pack_grams(tmp_path: Path) -> None:
    """Packs by mass, volume and piece give their edible grams."""
    files = edited("foods.csv", "ready,1,1.03", "ready,0.5,1.03")
    catalog = load_catalog(write_catalog(tmp_path, files))
    quantities = Quantities(catalog)
    grams = {pack: quantities.pack_edible_g(catalog.packs[pack]) for pack in catalog.packs}
    assert grams["oats_500g"] == 500
    assert grams["eggs_6"] == 300
    assert grams["onions_loose"] == 90
    assert grams["milk_1l"] == 515


def test_a_spoon_is_scaled_from_the_largest_measure(tmp_path: Path) -> None:
    """Where cup and tablespoon disagree slightly, a teaspoon follows the cup."""
    files = edited(
        "measures.csv", "milk_whole,cup,,244,", "milk_whole,tbsp,,15,x\nmilk_whole,cup,,244,"
    )
    quantities = Quantities(load_catalog(write_catalog(tmp_path, files)))
    assert quantities.line_grams("milk_whole", Decimal(1), "tbsp") == 15
    assert quantities.line_grams("milk_whole", Decimal(48), "tsp") == 244
