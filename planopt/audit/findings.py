"""What the audit reports, and the tolerances within which two numbers count as the same."""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass
from decimal import Decimal
from fractions import Fraction
from functools import lru_cache
from math import floor

MILLIONTH = Fraction(1, 10**6)
GRAMS_TOLERANCE = Fraction(1, 10**4)


@dataclass(frozen=True, order=True)
class Finding:
    """One disagreement between a plan and what its catalogs, scenario and decisions give."""

    rule: str
    where: str
    expected: str
    found: str

    def text(self) -> str:
        """Return the finding as one line."""
        return f"[{self.rule}] {self.where}: expected {self.expected}, found {self.found}"


def exact(number: float | Decimal | Fraction) -> Fraction:
    """Return the decimal text of a number as a fraction, so that 0.1 is one tenth."""
    return number if isinstance(number, Fraction) else _read(number)


@lru_cache(maxsize=2**15, typed=True)
def _read(number: float | Decimal) -> Fraction:
    return Fraction(str(number))


def slack(bound: Fraction) -> Fraction:
    """Return how far past a bound a value may lie before it breaks the bound."""
    return MILLIONTH * max(Fraction(1), abs(bound))


def below(value: Fraction, least: Fraction) -> bool:
    """Tell whether `value` breaks the lower bound."""
    return value < least - slack(least)


def above(value: Fraction, most: Fraction) -> bool:
    """Tell whether `value` breaks the upper bound."""
    return value > most + slack(most)


def same_amount(expected: Fraction, found: Fraction) -> bool:
    """Tell whether two servings, batches or nutrient amounts agree."""
    return abs(expected - found) <= slack(expected)


def grams_tolerance(grams: Fraction) -> Fraction:
    """Return how far apart two masses near `grams` may be."""
    return GRAMS_TOLERANCE + MILLIONTH * abs(grams)


def same_grams(expected: Fraction, found: Fraction) -> bool:
    """Tell whether two masses agree."""
    return abs(expected - found) <= grams_tolerance(expected)


def is_multiple(value: Fraction, step: Fraction) -> bool:
    """Tell whether `value` is a whole number of steps, within a millionth of a step."""
    steps = value / step
    return abs(steps - round(steps)) <= MILLIONTH


def rounded_minor(minor: Fraction) -> tuple[int, ...]:
    """Return the minor units that `minor` rounds to, half up.

    Two answers only within a millionth of a minor unit of a half, where a writer that computes
    in binary floating point cannot tell the sides apart; exact halves go up.
    """
    half = Fraction(1, 2)
    if (minor + half).denominator == 1:
        return (int(minor + half),)
    return tuple(sorted({floor(minor - MILLIONTH + half), floor(minor + MILLIONTH + half)}))


def show(value: object) -> str:
    """Return a value as a finding prints it."""
    if value is None:
        return "nothing"
    if isinstance(value, Fraction):
        return f"{float(value):.10g}"
    return str(value)


def unequal(rule: str, where: str, expected: object, found: object) -> Iterator[Finding]:
    """Yield a finding unless both values are equal."""
    if expected != found:
        yield Finding(rule, where, show(expected), show(found))
