"""Household and metric units, exact money, and rounding.

Sources: US customary volumes from 231 cubic inches to the gallon, avoirdupois masses from the
international pound of 1959; both exact. See tests/published for the checks.
"""

from __future__ import annotations

from decimal import ROUND_CEILING, ROUND_FLOOR, ROUND_HALF_UP, Decimal
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


def exact(value: float | Decimal | Fraction) -> Fraction:
    """Return a number as it reads: of a float the shortest decimal that it stands for."""
    return Fraction(float.__repr__(value) if isinstance(value, float) else value)


def exact_decimal(value: Fraction | Decimal | float) -> Decimal:
    """Return a number as it reads as a Decimal, a fraction to 28 digits."""
    if isinstance(value, Fraction):
        return Decimal(value.numerator) / Decimal(value.denominator)
    return Decimal(float.__repr__(value)) if isinstance(value, float) else Decimal(value)


def _rounded(value: Fraction | Decimal | float, digits: int, rounding: str) -> Decimal:
    return exact_decimal(value).quantize(Decimal(1).scaleb(-digits), rounding=rounding)


def round_half_up(value: Fraction | Decimal | float, digits: int = 0) -> Decimal:
    """Round half away from zero, as food labels and tills do; Python's `round` does not."""
    return _rounded(value, digits, ROUND_HALF_UP)


def round_up(value: Fraction | Decimal | float, digits: int = 0) -> Decimal:
    """Round up, so that no more is claimed than is so."""
    return _rounded(value, digits, ROUND_CEILING)


def round_down(value: Fraction | Decimal | float, digits: int = 0) -> Decimal:
    """Round down, as proven lower limits are."""
    return _rounded(value, digits, ROUND_FLOOR)


def percent_up(share: Decimal | float, digits: int = 1) -> Decimal:
    """Return a share in percent, rounded up; dust of a float does not count."""
    return round_up(round_half_up(exact_decimal(share) * 100, 9), digits)
