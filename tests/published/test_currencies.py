"""Digits of currencies against ISO 4217 and, by another route, the Unicode locale data.

Sources: ISO 4217 list one as published on 2026-01-01 (`data/iso4217_list_one.csv`, copied); the
Unicode Common Locale Data Repository as Babel ships it, which says how a currency is *used*.
"""

from __future__ import annotations

from decimal import Decimal

import pytest
from babel.core import get_global
from babel.numbers import get_currency_precision, get_territory_currencies

from planopt.currencies import MINOR_DIGITS
from planopt.units import from_minor, minor_digits, money_text, to_minor
from published.dietproblems import rows_of

LISTED = {row["code"]: row["minor_digits"] for row in rows_of("iso4217_list_one.csv")}
# Coins of these are out of use in their countries, so the locale data show none; prices may.
UNUSED = {
    "AFN", "ALL", "COP", "HUF", "IDR", "IQD", "IRR", "KPW", "LAK", "LBP", "MGA", "MMK", "PKR",
    "RSD", "SOS", "SYP", "TZS", "YER",
}  # fmt: skip
# Left ISO 4217 when Bulgaria took the euro on 2026-01-01; older locale data still have it.
GONE = {"BGN"}


def test_every_currency_of_the_list_has_its_digits() -> None:
    """All that ISO lists with a minor unit, and nothing else."""
    assert len(LISTED) > 170
    digits = {code: int(text) for code, text in LISTED.items() if text}
    assert digits == MINOR_DIGITS


def test_the_locale_data_differ_only_where_coins_are_out_of_use() -> None:
    """Whoever made that table wrote the same digits, but for coins that nobody takes any more."""
    differ = {
        code for code, digits in MINOR_DIGITS.items() if get_currency_precision(code) != digits
    }
    assert all(get_currency_precision(code) == 0 for code in differ)
    assert differ <= UNUSED
    assert {"JPY", "XOF", "JOD", "KWD", "TND", "ISK"} & differ == set()


def test_no_country_is_left_without_its_money() -> None:
    """What the locale data call the tender of any territory today is known."""
    tender = {
        code
        for territory in get_global("territory_currencies")
        for code in get_territory_currencies(territory)
    }
    assert len(tender) > 140
    assert tender - set(MINOR_DIGITS) <= GONE


@pytest.mark.parametrize(
    ("code", "digits", "text"),
    [("JOD", 3, "1.250 JOD"), ("XOF", 0, "1250 XOF"), ("USD", 2, "12.50 USD"),
     ("OMR", 3, "1.250 OMR"), ("UGX", 0, "1250 UGX"), ("CLF", 4, "0.1250 CLF")],
)  # fmt: skip
def test_minor_units_become_amounts_and_back(code: str, digits: int, text: str) -> None:
    """1250 of the smallest unit, in each kind of currency."""
    assert minor_digits(code) == digits
    assert money_text(1250, code) == text
    assert to_minor(from_minor(1250, code), code) == 1250
    with pytest.raises(ValueError, match="decimals"):
        to_minor(Decimal(1).scaleb(-digits - 1), code)


def test_what_is_no_currency_has_no_digits() -> None:
    """Neither a slip of the keyboard nor gold is taken for money of two digits."""
    for code in ("UDS", "XAU", "XXX", "ABC"):
        with pytest.raises(KeyError):
            minor_digits(code)
