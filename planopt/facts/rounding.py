"""Amounts of a serving as labels round them, by the rules of the United States or of the EU.

US: 21 CFR 101.9(c) and FDA, A Food Labeling Guide, Appendix H. EU: European Commission, Guidance on
tolerances for nutrient values declared on a label (December 2012), table 4, from memory.
"""

from __future__ import annotations

from decimal import Decimal
from typing import Literal

from planopt.report.analysis.labelrules import declared, to_step
from planopt.units import round_half_up

Rules = Literal["us", "eu"]
RULES: tuple[Rules, ...] = ("us", "eu")
NAMES: dict[str, str] = {
    "us": "21 CFR 101.9(c), United States",
    "eu": "European Commission guidance of December 2012",
}
_US_OTHERS = ("sodium_mg", "cholesterol_mg")
# Up to and including the first figure nothing is declared; below the second to the third, else to
# the fourth.
_EU: dict[str, tuple[str, str, str, str]] = {
    **dict.fromkeys(
        ("fat_g", "carbohydrate_g", "sugars_g", "protein_g", "fibre_g"), ("0.5", "10", "0.1", "1")
    ),
    "saturated_fat_g": ("0.1", "10", "0.1", "1"),
    # Sodium in grams: nothing to 0.005, then to 0.01, from 1 to 0.1.
    "sodium_mg": ("5", "1000", "10", "100"),
}


def rounded(nutrient_id: str, amount: float, rules: Rules) -> str:
    """Return an amount as a label has it, without its unit; "" where the rules have no line."""
    exact = round_half_up(amount, 6)
    if rules == "eu":
        return _european(nutrient_id, exact)
    if nutrient_id == "sodium_mg":
        return _plain(_sodium(exact))
    if nutrient_id == "cholesterol_mg":
        if exact < 2:
            return "0"
        return "under 5" if exact <= 5 else _plain(to_step(exact, Decimal(5)))
    try:
        return declared(nutrient_id, amount)
    except KeyError:
        return ""


def _sodium(exact: Decimal) -> Decimal:
    if exact < 5:
        return Decimal(0)
    return to_step(exact, Decimal(5 if exact <= 140 else 10))


def _european(nutrient_id: str, exact: Decimal) -> str:
    if nutrient_id == "energy_kcal":
        return _plain(to_step(exact, Decimal(1)))
    if nutrient_id not in _EU:
        return ""
    nothing, edge, fine, coarse = (Decimal(text) for text in _EU[nutrient_id])
    if exact <= nothing:
        return "0"
    return _plain(to_step(exact, fine if exact < edge else coarse))


def _plain(value: Decimal) -> str:
    text = f"{value:f}"
    return text.rstrip("0").rstrip(".") if "." in text else text
