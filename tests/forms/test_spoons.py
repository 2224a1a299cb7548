"""Amounts a person can measure, by unit system, against published factors.

Sources: US customary cup, tablespoon and teaspoon from 231 cubic inches to the gallon, ounce from
the international pound of 1959, both exact; metric spoons of 15 and 5 ml from 21 CFR
101.9(b)(5)(viii). The figures are those of `published/data/unit_conversions.csv`. What a spoon set
holds, and how finely a scale or a jug is read, is common practice, no source.
"""

from __future__ import annotations

import re
from decimal import Decimal
from fractions import Fraction

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from planopt.catalog.records import Catalog, Line
from planopt.plan.records import BatchLine
from planopt.report.words.kitchen import kitchen_amount
from planopt.report.words.locale import Display, Units, showing
from planopt.report.words.spoons import metric_volume, spoons_text, us_mass, us_volume
from published.test_units import factor
from report_samples import sample_catalog

CUP, TBSP, TSP = (
    factor(unit, "us_customary") for unit in ("cup", "tablespoon", "teaspoon")
)  # fmt: skip
OUNCE, POUND = factor("ounce", "avoirdupois"), factor("pound", "avoirdupois")
METRIC = {
    "tbsp": factor("tablespoon", "fda_label"),
    "tsp": factor("teaspoon", "fda_label"),
    "ml": Fraction(1),
    "l": Fraction(1000),
}
US = {"cup": CUP, "cups": CUP, "tbsp": TBSP, "tsp": TSP}


def measured(text: str, sizes: dict[str, Fraction]) -> Fraction:
    """Return the volume or mass that a text of amounts and units stands for."""
    total = Fraction(0)
    for part in text.partition(" (")[0].split(" + "):
        *amounts, unit = part.split()
        total += sum(Fraction(amount) for amount in amounts) * sizes[unit]
    return total


@given(ml=st.floats(0.7, 5000))
@settings(max_examples=40, deadline=None)
def test_us_cups_and_spoons_hold_the_volume(ml: float) -> None:
    """Cups and spoons sum to the volume within 2 %, or an eighth of a teaspoon of small ones."""
    text = us_volume(ml)
    assert abs(measured(text, US) - Fraction(ml)) <= max(Fraction(ml) / 50, TSP / 8), text


@given(ml=st.floats(0.7, 5000))
@settings(max_examples=40, deadline=None)
def test_metric_spoons_and_jugs_hold_the_volume(ml: float) -> None:
    """Spoons are as near as US ones; a jug is read to 5 ml, to 10 ml from half a litre on."""
    text = metric_volume(ml)
    step = Fraction(5) if ml >= 500 else Fraction(5, 2) if ml >= 60 else Fraction(5, 8)
    assert abs(measured(text, METRIC) - Fraction(ml)) <= max(Fraction(ml) / 50, step), text
    if "(" in text:
        said = Fraction(text.partition(" (")[2].removesuffix(" ml)"))
        assert abs(said - measured(text, METRIC)) <= Fraction(1, 20)


@given(tsp=st.floats(0.125, 2000))
@settings(max_examples=40, deadline=None)
def test_only_spoons_and_cups_that_a_cook_has_are_named(tsp: float) -> None:
    """Parts are eighths to three quarters of a teaspoon, quarters and thirds of a cup."""
    for part in spoons_text(tsp).split(" + "):
        *amounts, unit = part.split()
        fractions = {amount for amount in amounts if "/" in amount}
        allowed = {
            "tsp": {"1/8", "1/4", "1/2", "3/4"},
            "tbsp": {"1/2"},
        }.get(unit, {"1/4", "1/3", "1/2", "2/3", "3/4"})
        assert fractions <= allowed
        assert len(amounts) <= 2


@given(grams=st.floats(5, 20000))
@settings(deadline=None)
def test_pounds_and_ounces_weigh_the_same(grams: float) -> None:
    """A scale reads eighths below 2 oz, quarters below 8 oz, halves above."""
    text = us_mass(grams)
    found = re.fullmatch(r"(?:(\d+) lb)?\s?(?:(\d+)?\s?(\d/\d)? oz)?", text)
    assert found is not None, text
    pounds, whole, part = (Fraction(group or 0) for group in found.groups())
    step = Fraction(1, 8) if grams < 2 * OUNCE else Fraction(1, 4) if grams < 8 * OUNCE else 1 / 2
    weighed = pounds * POUND + (whole + part) * OUNCE
    assert abs(float(weighed) - grams) <= float(step * OUNCE) / 2 + 1e-9, text


@pytest.mark.parametrize(
    ("ml", "us", "metric"),
    [
        (float(CUP), "1 cup", "235 ml"),
        (float(CUP * 3 / 2), "1 1/2 cups", "355 ml"),
        (float(TBSP * 3), "3 tbsp", "3 tbsp (45 ml)"),
        (float(TSP / 2), "1/2 tsp", "1/2 tsp (2.5 ml)"),
        (1250, "5 1/4 cups", "1.25 l"),
    ],
)
def test_familiar_volumes(ml: float, us: str, metric: str) -> None:
    """Whole and simple amounts read as a cook says them."""
    assert (us_volume(ml), metric_volume(ml)) == (us, metric)


@pytest.mark.parametrize(
    ("grams", "text"),
    [(float(POUND), "1 lb"), (float(POUND * 3 / 2), "1 lb 8 oz"), (float(OUNCE), "1 oz"),
     (1.0, "0.04 oz")],
)  # fmt: skip
def test_familiar_masses(grams: float, text: str) -> None:
    """A pound is a pound; what is below any kitchen scale keeps its decimals."""
    assert us_mass(grams) == text


def _amount(
    catalog: Catalog, units: Units, amount: str, unit: str, grams: float, state: str | None = None
) -> str:
    line = Line.model_validate({"food": "potato", "amount": amount, "unit": unit, "state": state})
    recipe = catalog.recipes["mash"].model_copy(update={"lines": (line,)})
    used = BatchLine(line=0, food_id="potato", grams=grams, part="main", chosen="as written")
    with showing(Display(units=units)):
        return kitchen_amount(catalog, recipe, used, 2)


@pytest.mark.parametrize(
    ("unit", "recipe", "metric", "us"),
    [
        ("g", "", "", "1 oz"),
        ("oz", "30 oz", "", "1 lb 14 oz"),
        ("ml", "30 ml", "2 tbsp (30 ml)", "2 tbsp"),
        ("tbsp", "1 3/4 cups + 2 tbsp", "445 ml", "1 3/4 cups + 2 tbsp"),
        ("each", "30 pieces", "30 pieces", "30 pieces"),
    ],
)
def test_a_line_is_shown_in_the_units_asked_for(
    unit: str, recipe: str, metric: str, us: str
) -> None:
    """Two batches of 15 of each unit; pieces are the same everywhere, grams say grams."""
    catalog = sample_catalog()
    shown = [_amount(catalog, system, "15", unit, 30.0) for system in ("recipe", "metric", "us")]
    assert shown == [recipe, metric, us]


def test_a_cooked_weight_shows_in_every_system() -> None:
    """Grams weighed cooked differ from the edible grams beside them, so they are not left out."""
    catalog = sample_catalog()
    shown = [
        _amount(catalog, units, "150", "g", 100.0, "cooked") for units in ("recipe", "metric", "us")
    ]
    assert shown == ["300 g cooked", "300 g cooked", "10 1/2 oz cooked"]


def test_us_kitchens_pour_what_has_a_density() -> None:
    """A weighed food with a known density goes into spoons, a solid stays on the scale."""
    catalog = sample_catalog()
    oil = catalog.foods["potato"].model_copy(update={"density_g_per_ml": 0.913})
    poured = catalog.model_copy(update={"foods": {**catalog.foods, "potato": oil}})
    grams = float(Decimal("13.5") * 2)
    assert _amount(poured, "us", "13.5", "g", grams) == "2 tbsp"
    assert _amount(catalog, "us", "13.5", "g", grams) == "1 oz"
    assert _amount(poured, "metric", "13.5", "g", grams) == ""
