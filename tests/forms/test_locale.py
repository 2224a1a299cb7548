"""Numbers, money, dates and times in the form of a locale, and where no locale reaches.

The expected forms are those of the Unicode Common Locale Data Repository (CLDR) for each locale,
written from memory of its charts; decimals of currencies are those of ISO 4217.
"""

from __future__ import annotations

import csv
import io
from datetime import date, time
from decimal import Decimal
from functools import cache
from html.parser import HTMLParser

import pytest
from babel.numbers import get_group_symbol
from hypothesis import given, settings
from hypothesis import strategies as st

from planopt.faults import BadOption
from planopt.report.files.folder import plan_contents
from planopt.report.markdown.document import report_markdown
from planopt.report.terminal.summary import summary_text
from planopt.report.words.locale import (
    NEUTRAL,
    Display,
    clock_text,
    date_text,
    decimal_text,
    money_text,
    money_with_currency,
    showing,
    weekday_text,
)
from planopt.report.words.plain import fahrenheit, money, number
from report_samples import sample_catalog, sample_plan, sample_scenario

GERMAN = Display("de_DE")


@cache
def _contents(display: Display) -> dict[str, str | bytes]:
    return plan_contents(sample_plan(), sample_catalog(), sample_scenario(), display)


@pytest.mark.parametrize(
    ("locale", "shown"),
    [
        (None, "1234.5"),
        ("en_US", "1,234.5"),
        ("de_DE", "1.234,5"),
        # The group mark of Switzerland has changed with the edition of CLDR that Babel brings.
        ("de-CH", f"1{get_group_symbol('de_CH')}234.5"),
        ("fr_FR", "1\N{NARROW NO-BREAK SPACE}234,5"),
        ("hi_IN", "1,234.5"),
    ],
)
def test_numbers_have_the_marks_of_the_locale(locale: str | None, shown: str) -> None:
    """Decimal mark and groups are the locale's; without one there is a point and no group."""
    with showing(Display(locale)):
        assert number(1234.5, 2) == shown


@pytest.mark.parametrize(
    ("locale", "currency", "shown"),
    [
        (None, "USD", "1234.50 USD"),
        ("en_US", "USD", "$1,234.50"),
        ("en_GB", "EUR", "€1,234.50"),
        ("de_DE", "EUR", "1.234,50\N{NO-BREAK SPACE}€"),
        ("ja_JP", "JPY", "\N{FULLWIDTH YEN SIGN}1,234"),
        ("en_US", "KWD", "KWD\N{NO-BREAK SPACE}1,234.500"),
    ],
)
def test_money_has_the_form_of_the_locale(locale: str | None, currency: str, shown: str) -> None:
    """Sign and place of the currency are the locale's, the decimals those of the currency."""
    amount = Decimal(1234) if currency == "JPY" else Decimal("1234.50")
    with showing(Display(locale)):
        assert money_with_currency(amount, currency) == shown


@given(
    minor=st.integers(-(10**14), 10**14),
    currency=st.sampled_from(("USD", "JPY", "KWD")),
    locale=st.sampled_from(("en_US", "de_DE", "fr_FR", "pt_BR", "sv_SE")),
)
@settings(deadline=None)
def test_no_locale_loses_or_rounds_a_cent(minor: int, currency: str, locale: str) -> None:
    """The digits shown are those of the amount, whatever stands between them."""
    with showing(NEUTRAL):
        digits = {"USD": 2, "JPY": 0, "KWD": 3}[currency]
        amount = Decimal(minor).scaleb(-digits)
        plain = money_text(amount, currency)
    assert Decimal(plain) == amount
    with showing(Display(locale)):
        for text in (money(amount, currency), money_with_currency(amount, currency)):
            assert "".join(c for c in text if c.isdigit()) == plain.replace(".", "").lstrip("-")


@pytest.mark.parametrize(
    ("locale", "day", "clock"),
    [
        (None, "Mon 2027-01-04", "14:05"),
        ("en_US", "Mon, Jan 4, 2027", "2:05\N{NARROW NO-BREAK SPACE}PM"),
        ("en_GB", "Mon, 4 Jan 2027", "14:05"),
        ("de_DE", "Mo., 4. Jan. 2027", "14:05"),
        ("fr_FR", "lun. 4 janv. 2027", "14:05"),
    ],
)
def test_dates_name_the_month_and_times_follow_the_locale(
    locale: str | None, day: str, clock: str
) -> None:
    """No date of a locale can be read with day and month swapped: the month is a word."""
    with showing(Display(locale)):
        assert date_text(date(2027, 1, 4)) == day
        assert clock_text(time(14, 5)) == clock
        assert day.startswith(weekday_text(date(2027, 1, 4)))


def test_a_zero_has_no_sign_and_no_needless_digits() -> None:
    """Rounding dust below zero leaves no minus, in any form."""
    for display in (NEUTRAL, GERMAN):
        with showing(display):
            assert (decimal_text(Decimal("-0.00")), number(-0.2)) == ("0", "0")


def test_a_display_ends_with_its_block_also_after_an_error() -> None:
    """Blocks nest, and an error inside one leaves no trace."""
    with showing(GERMAN):
        with showing(NEUTRAL):
            assert number(1.5, 1) == "1.5"
        with pytest.raises(ZeroDivisionError), showing(Display("en_US")):
            _ = 1 / 0
        assert number(1.5, 1) == "1,5"
    assert number(1.5, 1) == "1.5"


@pytest.mark.parametrize(
    ("name", "hint"),
    [("de_DEE", "did you mean 'de_"), ("", "write one such as"), ("../x", "write one such as")],
)
def test_an_unknown_locale_is_refused_with_a_hint(name: str, hint: str) -> None:
    """A locale that CLDR lacks is named, with one to use instead."""
    with pytest.raises(BadOption, match="is no locale") as caught:
        Display(name)
    assert hint in str(caught.value)


def test_an_unknown_unit_system_is_refused() -> None:
    """Unit systems are few and named."""
    with pytest.raises(BadOption, match="'usa' is no unit system; did you mean 'us'"):
        Display(units="usa")  # type: ignore[arg-type]


def test_fahrenheit_comes_first_in_us_units() -> None:
    """Both scales always show; the one of the kitchen's dial stands first."""
    with showing(Display(units="us")):
        assert fahrenheit(74) == "165 F (74 C)"
    with showing(Display(units="metric")):
        assert fahrenheit(74) == "74 C (165 F)"


def test_reports_for_people_follow_the_locale() -> None:
    """report.md, the summary and the calendar show a decimal comma and German dates."""
    contents = _contents(GERMAN)
    with showing(GERMAN):
        summary = summary_text(sample_plan(), sample_catalog(), sample_scenario())
    for text in (str(contents["report.md"]), summary):
        assert "15,10" in text
        assert "15.10" not in text
        assert "So., 3. Jan. 2027" in text
        assert "2027-01-03" not in text
    assert "12,70" in str(contents["week.ics"]).replace("\\,", ",")


def test_files_for_programs_are_the_same_in_every_locale() -> None:
    """plan.json, the CSV files and the workbook do not change with the reader."""
    neutral = _contents(NEUTRAL)
    german = _contents(Display("de_DE", "us"))
    same = {name for name in neutral if neutral[name] == german[name]}
    assert {name for name in neutral if name.endswith((".json", ".csv", ".xlsx"))} <= same
    assert not {"report.md", "week.ics"} & same


def test_csv_files_keep_the_point_within_a_german_report() -> None:
    """A program reads 12.70 and an ISO date, also when it is asked for inside a locale."""
    text = str(_contents(GERMAN)["groceries.csv"])
    rows = list(csv.DictReader(io.StringIO(text)))
    assert sorted(row["price"] for row in rows) == ["12.70", "2.40"]
    assert {row["shop_date"] for row in rows} == {"2027-01-03"}


def test_a_date_that_starts_with_a_number_starts_no_list_in_markdown() -> None:
    """Hungarian dates begin with the year and a full stop, as an item of a list would."""
    with showing(Display("hu_HU")):
        report = report_markdown(sample_plan(), sample_catalog(), sample_scenario())
    assert report.splitlines()[2].startswith("2027\\. jan.")


class _Skeleton(HTMLParser):
    """Keeps what of a page is not for reading: tags, lengths, styles, scripts, ids."""

    def __init__(self) -> None:
        super().__init__()
        self.kept: list[object] = []
        self._raw = False

    def handle_starttag(self, tag: str, attrs: list[tuple[str, str | None]]) -> None:
        """Keep a tag with its attributes, save those that are read aloud."""
        spoken = ("aria-label", "title", "alt", "content")
        # A label is set smaller where its words are longer, in whatever locale.
        kept = [
            (name, (value or "").removesuffix(" tight").removesuffix(" dense"))
            for name, value in attrs
            if name not in spoken
        ]
        self.kept.append((tag, kept))
        self._raw = tag in ("style", "script")

    def handle_endtag(self, tag: str) -> None:
        """Leave a style or script."""
        self._raw = False

    def handle_data(self, data: str) -> None:
        """Keep the text of styles and scripts."""
        if self._raw:
            self.kept.append(data)


@pytest.mark.parametrize("page", ["report.html", "labels.html"])
def test_a_locale_changes_words_and_no_length(page: str) -> None:
    """A decimal comma in a style or a figure would break the page; only what is read changes."""
    skeletons = []
    for display in (NEUTRAL, GERMAN):
        reader = _Skeleton()
        text = str(_contents(display)[page])
        reader.feed(text)
        skeletons.append(reader.kept)
        assert ("Mo.,\N{NO-BREAK SPACE}4.\N{NO-BREAK SPACE}Jan." in text) == (display is GERMAN)
    assert skeletons[0] == skeletons[1]
    assert len(skeletons[0]) > 30
