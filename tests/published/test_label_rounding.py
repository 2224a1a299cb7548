"""Amounts on labels against the bands and examples of the published rounding rules.

Source: 21 CFR 101.9(c)(1), (2), (6), (7), and FDA, A Food Labeling Guide, Appendix H
(`label_rounding.csv`; its column `status` tells how each row was checked). The examples of
`label_rounding_examples.csv` are derived from those bands, halves up.
"""

from __future__ import annotations

from fractions import Fraction

import pytest

from planopt.report.analysis.labelrules import declared
from published.dietproblems import rows_of

OURS = {
    "energy": "energy_kcal",
    "total_fat": "fat_g",
    "saturated_fat": "saturated_fat_g",
    "total_carbohydrate": "carbohydrate_g",
    "dietary_fibre": "fibre_g",
    "total_sugars": "sugars_g",
    "protein": "protein_g",
}


BANDS = rows_of("label_rounding.csv")


def published(nutrient: str, amount: Fraction) -> str:
    """Return what the published band of an amount declares, in our words."""
    for row in BANDS:
        if row["nutrient"] != nutrient:
            continue
        low, high = Fraction(row["lower"]), Fraction(row["upper"] or 10**9)
        above = amount > low or (amount == low and row["lower_inclusive"] == "1")
        below = amount < high or (amount == high and row["upper_inclusive"] == "1")
        if not (above and below):
            continue
        if row["increment"]:
            step = Fraction(row["increment"])
            found = (amount / step + Fraction(1, 2)).__floor__() * step
            return f"{float(found):g}"
        return "under 1" if row["declared_as"].startswith("less than 1 g") else "0"
    raise AssertionError(f"no band for {nutrient} {amount}")


@pytest.mark.parametrize("nutrient", OURS)
def test_every_tenth_is_declared_as_its_band_says(nutrient: str) -> None:
    """From 0 to 65 in steps of 0.05 every amount is declared as 21 CFR 101.9(c) asks."""
    wrong = [
        (amount, told, expected)
        for amount in (Fraction(n, 20) for n in range(1300))
        if (told := declared(OURS[nutrient], float(amount)))
        != (expected := published(nutrient, amount))
    ]
    assert wrong == []


@pytest.mark.parametrize(
    "row",
    [r for r in rows_of("label_rounding_examples.csv") if r["nutrient"] in OURS],
    ids=lambda row: f"{row['nutrient']} {row['amount']}",
)
def test_examples_are_declared_as_they_say(row: dict[str, str]) -> None:
    """Each example of the published rules comes out as printed."""
    word = row["declared"].split(" (")[0].split(",")[0].replace("less than 1 g", "under 1")
    assert declared(OURS[row["nutrient"]], float(row["amount"])) == word


def test_dust_of_sums_does_not_cross_a_band() -> None:
    """A sum that misses a half by float dust is declared like the half itself."""
    assert declared("protein_g", 24.499999999999996) == declared("protein_g", 24.5) == "25"


def test_a_nutrient_without_a_rule_is_refused() -> None:
    """Nothing is rounded by a rule that was made for another nutrient."""
    with pytest.raises(KeyError):
        declared("sodium_mg", 100.0)
