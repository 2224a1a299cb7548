"""Household units against published factors.

Sources: US customary volumes from 231 cubic inches to the gallon and the international pound of
1959 (exact); 21 CFR 101.9(b)(5)(viii) for label units; the two cups differ by 1.4%, and planopt
uses the customary one. Ties of rounding: 21 CFR 101.9(c).
"""

from __future__ import annotations

from decimal import Decimal
from fractions import Fraction

import pytest

from planopt.catalog.quantities import Quantities
from planopt.units import GRAMS_PER_UNIT, ML_PER_UNIT, SPOONS_PER_CUP, round_half_up
from published.catalogtables import catalog_rows, foods, shipped
from published.dietproblems import rows_of

OUR_UNITS = {"cup": "cup", "tablespoon": "tbsp", "teaspoon": "tsp", "ounce": "oz", "pound": "lb"}
CUBIC_INCH_ML = Fraction("16.387064")


def factor(unit: str, system: str) -> Fraction:
    """Return the published millilitres or grams of a unit."""
    return next(
        Fraction(row["value"])
        for row in rows_of("unit_conversions.csv")
        if (row["unit"], row["system"]) == (unit, system)
    )


@pytest.mark.parametrize("unit", ["cup", "tablespoon", "teaspoon"])
def test_volumes_are_the_exact_customary_ones(unit: str) -> None:
    """US customary volumes: cup, tablespoon and teaspoon are exact to the last digit."""
    assert ML_PER_UNIT[OUR_UNITS[unit]] == factor(unit, "us_customary")


@pytest.mark.parametrize("unit", ["ounce", "pound"])
def test_masses_are_the_exact_avoirdupois_ones(unit: str) -> None:
    """International pound of 1959: ounce and pound are exact to the last digit."""
    assert GRAMS_PER_UNIT[OUR_UNITS[unit]] == factor(unit, "avoirdupois")


def test_cup_follows_from_the_gallon_and_the_inch() -> None:
    """US customary: 16 cups make a gallon of 231 cubic inches of 2.54 cm."""
    assert 16 * ML_PER_UNIT["cup"] == 231 * CUBIC_INCH_ML == factor("gallon", "us_customary")


def test_cup_identities_hold_exactly() -> None:
    """US customary, 21 CFR 101.9: 1 cup = 8 fl oz = 16 tbsp = 48 tsp, and 16 oz = 1 lb."""
    assert ML_PER_UNIT["cup"] == 16 * ML_PER_UNIT["tbsp"] == 48 * ML_PER_UNIT["tsp"]
    assert ML_PER_UNIT["cup"] == 8 * factor("fluid_ounce", "us_customary")
    assert SPOONS_PER_CUP == {"cup": 1, "tbsp": 16, "tsp": 48}
    assert GRAMS_PER_UNIT["lb"] == 16 * GRAMS_PER_UNIT["oz"]
    label = {unit: factor(unit, "fda_label") for unit in ("cup", "tablespoon", "teaspoon")}
    assert label["cup"] == 16 * label["tablespoon"] == 48 * label["teaspoon"]


def test_cup_is_not_the_label_cup() -> None:
    """21 CFR 101.9(b)(5)(viii): the label's 240 ml cup and 28 g ounce are other units than ours."""
    share = factor("cup", "fda_label") / ML_PER_UNIT["cup"] - 1
    assert float(share) == pytest.approx(0.014, abs=0.0005)
    assert 16 * factor("ounce", "fda_label") == 448
    assert GRAMS_PER_UNIT["oz"] != factor("ounce", "fda_label")


def test_metric_units_are_powers_of_ten() -> None:
    """SI: kilogram and litre are a thousand grams and millilitres."""
    assert (GRAMS_PER_UNIT["kg"], ML_PER_UNIT["l"]) == (1000, 1000)


@pytest.mark.parametrize(("unit", "system"), [("ounce", "avoirdupois"), ("pound", "avoirdupois")])
def test_recipe_lines_use_the_published_mass(unit: str, system: str) -> None:
    """International pound of 1959: a recipe line in ounces or pounds weighs the published grams."""
    grams = Quantities(shipped()).line_grams("carrot", Decimal(3), OUR_UNITS[unit])
    assert grams == float(3 * factor(unit, system))


def test_a_liquid_cup_weighs_its_published_volume() -> None:
    """US customary: a litre of water in cups and the same in millilitres differ below 0.01%."""
    quantities = Quantities(shipped())
    cups = Decimal(1000) / Decimal("236.5882365")
    by_cup = quantities.line_grams("water", cups, "cup")
    assert by_cup == pytest.approx(quantities.line_grams("water", Decimal(1000), "ml"), rel=1e-4)


def test_spoons_of_one_food_agree_with_its_cup() -> None:
    """US customary: spoons scaled from a cup weigh 1/16 or 1/48 of it, others nearly so."""
    # SR28 weighs some spoons apart from cups (packed, chopped, heaped), so only roughly alike.
    measures = {
        (row["food_id"], row["unit"]): row for row in catalog_rows("measures") if not row["state"]
    }
    for (food, unit), row in measures.items():
        cup = measures.get((food, "cup"))
        if unit not in ("tbsp", "tsp") or cup is None:
            continue
        ratio = float(row["grams"]) * SPOONS_PER_CUP[unit] / float(cup["grams"])
        if "scaled" in row["source"] and row["source"].split(",")[0] == cup["source"].split(",")[0]:
            # The scaled weight is written to 0.01 g.
            slack = 0.006 * SPOONS_PER_CUP[unit] / float(cup["grams"])
            assert ratio == pytest.approx(1, abs=slack), (food, unit)
        else:
            assert 0.7 <= ratio <= 1.9, (food, unit, ratio)


def test_densities_agree_with_the_cups_of_the_food_table() -> None:
    """USDA SR28: a food's density in g/ml is its published cup weight over 236.5882365 ml, +-5%."""
    cups = {
        row["food_id"]: float(row["grams"])
        for row in catalog_rows("measures")
        if row["unit"] == "cup" and not row["state"] and row["source"].startswith("SR28")
    }
    checked = 0
    for food_id, food in foods().items():
        if food["density_g_per_ml"] and food_id in cups:
            expected = cups[food_id] / 236.5882365
            assert float(food["density_g_per_ml"]) == pytest.approx(expected, rel=0.05), food_id
            checked += 1
    assert checked >= 10


# Increments at these amounts by 21 CFR 101.9(c); the declared values are worked examples.
INCREMENTS = {
    ("energy", "47.5"): 5,
    ("energy", "55.0"): 10,
    ("total_fat", "5.5"): 1,
    ("sodium", "145.0"): 10,
    ("total_carbohydrate", "36.5"): 1,
    ("protein", "24.5"): 1,
}


@pytest.mark.parametrize(("nutrient", "amount"), INCREMENTS)
def test_ties_round_half_up(nutrient: str, amount: str) -> None:
    """21 CFR 101.9(c): amounts halfway between two increments are declared as the higher."""
    declared = next(
        row["declared"]
        for row in rows_of("label_rounding_examples.csv")
        if (row["nutrient"], row["amount"]) == (nutrient, amount)
    )
    step = INCREMENTS[nutrient, amount]
    assert round_half_up(Fraction(amount) / step) * step == int(declared.split()[0])
