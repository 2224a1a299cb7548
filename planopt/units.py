"""Household and metric units, exact money, and rounding.

Sources: US customary volumes from 231 cubic inches to the gallon, avoirdupois masses from the
international pound of 1959; both exact. See tests/published for the checks.
"""

from __future__ import annotations

from decimal import ROUND_HALF_UP, Decimal
from fractions import Fraction

from planopt.currencies import MINOR_DIGITS

GRAMS_PER_UNIT: dict[str, Fraction] = {
    "g": Fraction(1),
    "kg": Fraction(1000),
    "oz": Fraction("28.349523125"),
    "lb": Fraction("453.59237"),
}
ML_PER_UNIT: dict[str, Fraction] = {
    "ml": Fraction(1),
    "l": Fraction(1000),
    "cup": Fraction("236.5882365"),
    "tbsp": Fraction("236.5882365") / 16,
    "tsp": Fraction("236.5882365") / 48,
}
SPOONS_PER_CUP: dict[str, int] = {"cup": 1, "tbsp": 16, "tsp": 48}
PIECE_UNITS: tuple[str, ...] = ("each", "slice", "clove")
ALL_UNITS: tuple[str, ...] = (*GRAMS_PER_UNIT, *ML_PER_UNIT, *PIECE_UNITS)


def minor_digits(currency: str) -> int:
    """Return the number of decimals of an ISO 4217 currency code.

    Raises:
        KeyError: there is no such currency; readers refuse it before.
    """
    return MINOR_DIGITS[currency]


def to_minor(amount: Decimal, currency: str) -> int:
    """Return `amount` in integer minor units (cents).

    Raises:
        ValueError: the amount has more decimals than the currency.
    """
    scaled = amount.scaleb(minor_digits(currency))
    if scaled != scaled.to_integral_value():
        raise ValueError(f"{amount} has more than {minor_digits(currency)} decimals")
    return int(scaled)


def from_minor(minor: int, currency: str) -> Decimal:
    """Return integer minor units as an exact amount of the currency."""
    return Decimal(minor).scaleb(-minor_digits(currency))


def money_text(minor: int, currency: str) -> str:
    """Return minor units as text, for example `12.40 USD`."""
    return f"{from_minor(minor, currency):.{minor_digits(currency)}f} {currency}"


def round_half_up(value: Fraction | Decimal | float, digits: int = 0) -> Decimal:
    """Round half away from zero, as food labels and tills do; Python's `round` does not."""
    if isinstance(value, Fraction):
        value = Decimal(value.numerator) / Decimal(value.denominator)
    elif isinstance(value, float):
        value = Decimal(repr(value))
    return value.quantize(Decimal(1).scaleb(-digits), rounding=ROUND_HALF_UP)
