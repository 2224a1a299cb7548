"""How a report shows numbers, money, dates and kitchen amounts: by locale and unit system.

A `Display` holds within a `with showing(display):` block, as a decimal context does, so that every
report made inside it reads alike. Outside such a block dates are ISO 8601 and decimals have a
point. Forms come from the Unicode Common Locale Data Repository through Babel; words stay English.
What programs read (CSS, JSON, CSV) is not written with these functions, or within `NEUTRAL`.
"""

from __future__ import annotations

import re
from collections.abc import Iterator
from contextlib import contextmanager
from contextvars import ContextVar
from dataclasses import dataclass
from datetime import date, time
from decimal import Decimal

from babel.dates import format_skeleton, format_time
from babel.numbers import format_decimal, parse_pattern

from planopt.faults import BadOption, nearest
from planopt.locales import UNITS as UNITS
from planopt.locales import Units as Units
from planopt.locales import known_locale
from planopt.scenario.labelsheet import LabelSheet
from planopt.units import minor_digits

_WEEKDAYS = ("Mon", "Tue", "Wed", "Thu", "Fri", "Sat", "Sun")
# The month as a word: 4/1 and 1/4 would be mistaken for each other, also on a use-by date.
_DATE_SKELETON = "yMMMEd"
_SHORT_SKELETON = "MMMEd"
_MONTHS = (
    "Jan", "Feb", "Mar", "Apr", "May", "Jun", "Jul", "Aug", "Sep", "Oct", "Nov", "Dec",
)  # fmt: skip
_LETTER_BEFORE_DIGIT = re.compile(r"(?<=[A-Za-z])(?=\d)")


@dataclass(frozen=True)
class Display:
    """How a reader wants to see amounts.

    `locale` is a CLDR locale such as `de_DE`, or None for ISO 8601 dates and a decimal point.
    `units` is `recipe` for amounts in the units that the recipe is written in, else the unit
    system of the kitchen. With `byte_order_mark` CSV files begin with one, as some spreadsheet
    programs want. `label_sheet` is for scenarios that have none of their own. `also` is what else a
    plan's record is to tell of how it was shown.

    Raises:
        BadOption: the locale or the unit system is unknown.
    """

    locale: str | None = None
    units: Units = "recipe"
    byte_order_mark: bool = False
    label_sheet: LabelSheet | None = None
    also: tuple[tuple[str, str], ...] = ()

    def __post_init__(self) -> None:
        if self.locale is not None:
            known_locale(self.locale)
        if self.units not in UNITS:
            raise BadOption(f"{self.units!r} is no unit system; {nearest(self.units, UNITS)}")

    def as_told(self) -> dict[str, str]:
        """Return what differs from the usual way of showing, by name."""
        told = {} if self.locale is None else {"locale": self.locale}
        if self.units != "recipe":
            told["units"] = self.units
        if self.byte_order_mark:
            told["byte_order_mark"] = "yes"
        if self.label_sheet is not None:
            told["label_sheet"] = self.label_sheet.model_dump_json(exclude_defaults=True)
        return {**told, **dict(self.also)}


NEUTRAL = Display()
_current: ContextVar[Display] = ContextVar("planopt_display", default=NEUTRAL)


@contextmanager
def showing(display: Display) -> Iterator[Display]:
    """Show amounts within this block as `display` says."""
    token = _current.set(display)
    try:
        yield display
    finally:
        _current.reset(token)


def units_shown() -> Units:
    """Return the unit system in force."""
    return _current.get().units


def decimal_text(value: Decimal, fewest: int = 0) -> str:
    """Return a rounded number with all its digits after the point, at least `fewest` of them."""
    whole, _, after = f"{value or abs(value):f}".partition(".")
    after = after.rstrip("0").ljust(fewest, "0")
    text = f"{whole}.{after}" if after else whole
    locale = _current.get().locale
    if locale is None:
        return text
    pattern = "#,##0" + (f".{'0' * len(after)}" if after else "")
    return format_decimal(Decimal(text), format=pattern, locale=known_locale(locale))


def money_text(amount: Decimal, currency: str) -> str:
    """Return an amount with exactly the decimals of its currency, without the code."""
    digits = minor_digits(currency)
    return decimal_text(amount.quantize(Decimal(1).scaleb(-digits)), fewest=digits)


def money_with_currency(amount: Decimal, currency: str) -> str:
    """Return an amount with its currency: `12.40 USD`, or in the form of the locale."""
    locale = _current.get().locale
    if locale is None:
        return f"{money_text(amount, currency)} {currency}"
    known = known_locale(locale)
    pattern = parse_pattern(known.currency_formats["standard"].pattern)
    digits = minor_digits(currency)
    pattern.frac_prec = (digits, digits)
    exact = amount.quantize(Decimal(1).scaleb(-digits))
    text = str(pattern.apply(exact, known, currency=currency, currency_digits=False))
    # The rule of CLDR for a code beside a digit, which Babel leaves out: KWD 12.400.
    return _LETTER_BEFORE_DIGIT.sub("\N{NO-BREAK SPACE}", text)


def date_text(day: date) -> str:
    """Return a date with its weekday: `Mon 2027-01-04`, or in the form of the locale."""
    locale = _current.get().locale
    if locale is None:
        return f"{_WEEKDAYS[day.weekday()]} {day.isoformat()}"
    return format_skeleton(_DATE_SKELETON, day, locale=known_locale(locale))


def short_date_text(day: date) -> str:
    """Return a date of this week or the next: `Sun 29 Nov`, or in the form of the locale.

    Its spaces do not break, so that no line ends between a weekday and its date.
    """
    locale = _current.get().locale
    if locale is None:
        text = f"{_WEEKDAYS[day.weekday()]} {day.day} {_MONTHS[day.month - 1]}"
    else:
        text = format_skeleton(_SHORT_SKELETON, day, locale=known_locale(locale))
    return text.replace(" ", "\N{NO-BREAK SPACE}")


def clock_text(at: time) -> str:
    """Return a time of day: `09:00`, or in the form of the locale."""
    locale = _current.get().locale
    return (
        f"{at:%H:%M}" if locale is None else format_time(at, "short", locale=known_locale(locale))
    )


def weekday_text(day: date) -> str:
    """Return the short name of a day's weekday: `Mon`, or in the form of the locale."""
    locale = _current.get().locale
    if locale is None:
        return _WEEKDAYS[day.weekday()]
    return format_skeleton("E", day, locale=known_locale(locale))
