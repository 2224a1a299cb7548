"""Label rounding: amounts as a United States nutrition label declares them.

Source of the bands: 21 CFR 101.9(c)(1), (2), (6) and (7), and FDA, A Food Labeling Guide,
Appendix H. Halves go up, as is usual on labels.
"""

from __future__ import annotations

from decimal import Decimal

from planopt.report.words.locale import decimal_text
from planopt.units import round_half_up

# Upper end of a band, exclusive, and the step in it; step 0 declares zero. 50 kcal is 50 in both.
_ENERGY = ((Decimal(5), Decimal(0)), (Decimal(50), Decimal(5)), (None, Decimal(10)))
_FAT = ((Decimal("0.5"), Decimal(0)), (Decimal(5), Decimal("0.5")), (None, Decimal(1)))
_LESS_THAN_1_G = frozenset({"carbohydrate_g", "fibre_g", "sugars_g", "protein_g"})
_FATS = frozenset({"fat_g", "saturated_fat_g"})


def to_step(amount: Decimal, step: Decimal) -> Decimal:
    """Return an amount rounded to whole steps, halves up."""
    return round_half_up(amount / step) * step


def _banded(amount: Decimal, bands: tuple[tuple[Decimal | None, Decimal], ...]) -> Decimal:
    for top, step in bands:
        if top is None or amount < top:
            return to_step(amount, step) if step else Decimal(0)
    raise AssertionError("the last band is open")


def declared(nutrient_id: str, amount: float) -> str:
    """Return an amount as a label declares it, without its unit, for example `230` or `under 1`.

    Energy: below 5 kcal zero, up to and including 50 to the nearest 5, above to the nearest 10.
    Fat: below 0.5 g zero, below 5 g to the nearest 0.5, above to the nearest 1. Carbohydrate,
    fibre, sugars and protein: below 0.5 g zero, below 1 g `under 1`, above to the nearest 1.

    Raises:
        KeyError: the rules here do not cover this nutrient.
    """
    # Solver-free sums still carry float dust; it must not push an amount over a band's edge.
    exact = round_half_up(amount, 6)
    if nutrient_id == "energy_kcal":
        found = _banded(exact, _ENERGY)
    elif nutrient_id in _FATS:
        found = _banded(exact, _FAT)
    elif nutrient_id in _LESS_THAN_1_G:
        if Decimal("0.5") <= exact < 1:
            return "under 1"
        found = Decimal(0) if exact < 1 else to_step(exact, Decimal(1))
    else:
        raise KeyError(nutrient_id)
    return decimal_text(found)
