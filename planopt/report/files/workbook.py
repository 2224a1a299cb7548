"""A plan as a spreadsheet workbook (Office Open XML): a sheet for each table.

Numbers are numbers, dates are dates, and every text is written as text, so that no name can act as
a formula. Spreadsheet programs show numbers in the form of their own user's locale.
"""

from __future__ import annotations

import io
import re
from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from datetime import UTC, date, datetime, time
from decimal import Decimal
from typing import Any

import pandas as pd
import xlsxwriter

from planopt.catalog.records import Catalog
from planopt.cookday.records import Container, CookDaySchedule
from planopt.plan.records import Plan
from planopt.report.analysis import tables, worktables
from planopt.report.analysis.longtable import long_table, measure_decimals
from planopt.report.files.sheetheads import (
    DECIMALS,
    decimals_of,
    head,
    names_first,
    number_format,
)
from planopt.report.files.weeksheet import GridRow, grid_dates, grid_rows
from planopt.report.words.locale import NEUTRAL, showing
from planopt.report.words.plain import (
    FORMULA_STARTS,
    cost_rows,
    day_text,
    headline,
    span_text,
    status_sentence,
)
from planopt.scenario.records import Scenario
from planopt.units import minor_digits

_NARROWEST, _WIDEST, _DAY_WIDTH = 7, 44, 24
# Digits kept of a measured number, as in the CSV files; the rest is dust of the solver.
_DIGITS = 4
# The longest text that a cell can hold, by the file format.
_MOST_CHARACTERS = 32_767

_LINE_BREAKS = re.compile(r"[\r\n]+")

_Formats = dict[str, Any]


def _formats(book: Any, currency: str) -> _Formats:
    digits = minor_digits(currency)
    looks: dict[str, dict[str, object]] = {
        "header": {"bold": True, "bottom": 1, "text_wrap": True},
        "header_date": {"bold": True, "bottom": 1, "num_format": "ddd yyyy-mm-dd", "align": "left"},
        "text": {"text_wrap": True},
        # Keeps the text a text when somebody edits the cell.
        "quoted": {"text_wrap": True, "quote_prefix": True},
        "money": {"num_format": "#,##0" + (f".{'0' * digits}" if digits else "")},
        "date": {"num_format": "ddd yyyy-mm-dd", "align": "left"},
        "clock": {"num_format": "ddd hh:mm", "align": "left"},
        **{f"number{n}": {"num_format": number_format(n)} for n in (None, 0, 1, 2, 3, 4)},
    }
    return {name: book.add_format({"valign": "top", **look}) for name, look in looks.items()}


def _write(
    sheet: Any, row: int, column: int, value: object, formats: _Formats, decimals: int | None = None
) -> int:
    """Write a value as what it is and return the characters that it takes."""
    if value is None or value != value:
        sheet.write_blank(row, column, None, formats["text"])
        return 0
    if isinstance(value, bool):
        return _write(sheet, row, column, "yes" if value else "no", formats)
    if isinstance(value, Decimal):
        # The nearest binary number shows all decimals of any sum below ten million million.
        sheet.write_number(row, column, float(value), formats["money"])
        return len(f"{value:,}")
    if isinstance(value, datetime):
        sheet.write_datetime(row, column, value, formats["clock"])
        return len("Mon 00:00")
    if isinstance(value, date):
        sheet.write_datetime(row, column, datetime.combine(value, time(0)), formats["date"])
        return len("Mon 2027-01-04")
    if isinstance(value, int | float):
        sheet.write_number(row, column, round(value, _DIGITS), formats[f"number{decimals}"])
        return len(f"{round(value, 2):,}")
    text = "; ".join(value) if isinstance(value, tuple) else str(value)
    text = _LINE_BREAKS.sub(" ", text)[:_MOST_CHARACTERS]
    look = formats["quoted" if text.startswith(FORMULA_STARTS) else "text"]
    sheet.write_string(row, column, text, look)
    return len(text)


@dataclass(frozen=True)
class _Book:
    """The workbook being written, and what its sheets share."""

    book: Any
    formats: _Formats
    currency: str
    measures: Mapping[str, int]

    def table(self, title: str, table: pd.DataFrame) -> None:
        """Add the sheet of a table: names before ids, a head that stays and filters."""
        sheet = self.book.add_worksheet(title)
        names = names_first([str(name) for name in table.columns])
        widths = []
        for column, name in enumerate(names):
            text = head(name, self.currency)
            sheet.write_string(0, column, text, self.formats["header"])
            # Words of a header may stand below each other.
            widths.append(max(map(len, text.split())) + 2)
        rows = tables.records(table)
        for place, record in enumerate(rows, start=1):
            for column, name in enumerate(names):
                decimals = decimals_of(name, record, self.measures)
                used = _write(sheet, place, column, record[name], self.formats, decimals)
                widths[column] = max(widths[column], used + 2)
        for column, width in enumerate(widths):
            sheet.set_column(column, column, min(max(width, _NARROWEST), _WIDEST))
        sheet.freeze_panes(1, 0)
        if rows:
            sheet.autofilter(0, 0, len(rows), len(names) - 1)
        _for_printing(sheet)

    def week(self, plan: Plan, catalog: Catalog, scenario: Scenario) -> None:
        """Add the grid of the week: a column for each day, a row for each meal of a client."""
        sheet = self.book.add_worksheet("Week")
        for column, text in enumerate(("Client", "Meal")):
            sheet.write_string(0, column, text, self.formats["header"])
        dates = grid_dates(scenario)
        for column, day in enumerate(dates, start=2):
            midnight = datetime.combine(day, time(0))
            sheet.write_datetime(0, column, midnight, self.formats["header_date"])
        rows = grid_rows(plan, catalog, scenario)
        for place, row in enumerate(rows, start=1):
            decimals = DECIMALS.get(row.nutrient_id)
            for column, cell in enumerate((row.client, row.name, *row.cells)):
                _write(sheet, place, column, cell, self.formats, decimals)
        sheet.set_column(0, 1, max(_NARROWEST, min(_DAY_WIDTH, _longest(rows) + 2)))
        sheet.set_column(2, 1 + len(dates), _DAY_WIDTH)
        sheet.freeze_panes(1, 2)
        _for_printing(sheet)


def _longest(rows: Sequence[GridRow]) -> int:
    return max((len(text) for row in rows for text in (row.client, row.name)), default=0)


def _for_printing(sheet: Any) -> None:
    sheet.set_landscape()
    sheet.fit_to_pages(1, 0)
    sheet.repeat_rows(0)


def _summary(book: Any, plan: Plan, formats: _Formats) -> None:
    s = plan.solution
    sheet = book.add_worksheet("Summary")
    rows: list[tuple[str, object]] = [
        ("Plan for", plan.scenario_name),
        ("Days", span_text(plan)),
        ("In short", headline(s, plan.currency)),
        *((f"{name}, {plan.currency}", amount) for name, amount in cost_rows(s)),
        ("How it ended", status_sentence(s)),
        *((f"Caution {n}", text) for n, text in enumerate(plan.cautions, start=1)),
    ]
    sheet.write_string(0, 0, "What", formats["header"])
    sheet.write_string(0, 1, "Value", formats["header"])
    for place, (label, value) in enumerate(rows, start=1):
        sheet.write_string(place, 0, label, formats["text"])
        _write(sheet, place, 1, value, formats)
    sheet.set_column(0, 0, 28)
    sheet.set_column(1, 1, 90)
    sheet.freeze_panes(1, 0)
    _for_printing(sheet)


def _with_cook_dates(menu: pd.DataFrame, scenario: Scenario) -> pd.DataFrame:
    dates = [scenario.date_of(int(day)) for day in menu["cook_day"]]
    return menu.assign(cooked_on=pd.Series(dates, index=menu.index, dtype=object))


def _with_sources(table: pd.DataFrame, scenario: Scenario) -> pd.DataFrame:
    """Return leftovers that say where food is from in words: on hand, or when it is bought."""

    def words(supply: str) -> str:
        kind, _, number = supply.rpartition(" ")
        return (
            f"bought {day_text(scenario.date_of(int(number)))}" if kind == "shop day" else "on hand"
        )

    return table.assign(supply=table["supply"].map(words))


def workbook_bytes(
    plan: Plan,
    catalog: Catalog,
    scenario: Scenario,
    schedules: Sequence[CookDaySchedule],
    boxes: Sequence[Container],
) -> bytes:
    """Return the workbook as the bytes of an .xlsx file; equal plans give equal bytes.

    The grid of the week is first, the long table for pivots last.
    """
    out = io.BytesIO()
    book = xlsxwriter.Workbook(
        out,
        {
            "in_memory": True,
            "strings_to_formulas": False,
            "strings_to_numbers": False,
            "strings_to_urls": False,
        },
    )
    made = datetime.combine(plan.start_date, time(0), UTC)
    book.set_properties({"title": plan.scenario_name, "created": made})
    formats = _formats(book, plan.currency)
    sheets = _Book(book, formats, plan.currency, measure_decimals(catalog))
    menu = tables.spelled(tables.menu(plan, catalog, scenario))
    with showing(NEUTRAL):
        sheets.week(plan, catalog, scenario)
        _summary(book, plan, formats)
        for title, table in (
            ("Menu", _with_cook_dates(menu, scenario)),
            ("Groceries", tables.groceries(plan, catalog)),
            ("Shop visits", tables.seller_totals(plan, catalog)),
            ("Batches", tables.spelled(tables.batches(plan, catalog))),
            ("Schedule", worktables.schedule(schedules, catalog, scenario)),
            ("Containers", tables.spelled(worktables.containers(boxes, catalog))),
            ("Leftovers", _with_sources(tables.leftovers(plan), scenario)),
            ("Who pays", tables.split(plan, scenario)),
            ("On hand", tables.on_hand(plan, catalog, scenario)),
            ("Days", tables.day_totals(plan, catalog, scenario)),
            ("Week windows", tables.week_totals(plan, catalog, scenario)),
            ("Long", long_table(plan, catalog, scenario)),
        ):
            sheets.table(title, table)
    book.close()
    return out.getvalue()
