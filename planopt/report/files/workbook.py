"""A plan as a spreadsheet workbook (Office Open XML): a sheet for each table.

Numbers are numbers, dates are dates, and every text is written as text, so that no name can act as
a formula. Spreadsheet programs show numbers in the form of their own user's locale.
"""

from __future__ import annotations

import io
import re
from collections.abc import Sequence
from datetime import UTC, date, datetime, time
from decimal import Decimal
from typing import Any

import pandas as pd
import xlsxwriter

from planopt.catalog.records import Catalog
from planopt.cookday.records import Container, CookDaySchedule
from planopt.plan.records import Plan
from planopt.report.analysis import tables, worktables
from planopt.report.words.locale import NEUTRAL, showing
from planopt.report.words.plain import (
    FORMULA_STARTS,
    cost_rows,
    headline,
    plain,
    span_text,
    status_sentence,
)
from planopt.scenario.records import Scenario
from planopt.units import minor_digits

_NARROWEST, _WIDEST = 7, 44
# Columns with a fixed number of decimals; every other number is shown as it is.
_DECIMALS = {
    "energy_kcal": 0, "protein_g": 1, "fat_g": 1, "carbohydrate_g": 1, "edible_g": 0, "left_g": 0,
    "available_g": 0, "used_g": 0, "grams": 0, "hands_on_min": 0,
}  # fmt: skip
# Digits kept of a measured number, as in the CSV files; the rest is dust of the solver.
_DIGITS = 4
_UNITS = ("g", "kcal", "min")
_MONEY = ("price_each", "price", "total", "value", "groceries", "visits", "pays")
# The longest text that a cell can hold, by the file format.
_MOST_CHARACTERS = 32_767

_LINE_BREAKS = re.compile(r"[\r\n]+")

_Formats = dict[str, Any]


def _header(column: str, currency: str) -> str:
    stem, _, unit = column.rpartition("_")
    if column in _MONEY:
        return f"{plain(column).capitalize()}, {currency}"
    if column == "temperature_c":
        return "Temperature, C"
    if stem and unit in _UNITS:
        return f"{plain(stem).capitalize()}, {unit}"
    return plain(column).capitalize()


def _formats(book: Any, currency: str) -> _Formats:
    digits = minor_digits(currency)
    looks: dict[str, dict[str, object]] = {
        "header": {"bold": True, "bottom": 1, "text_wrap": True},
        "text": {"text_wrap": True},
        # Keeps the text a text when somebody edits the cell.
        "quoted": {"text_wrap": True, "quote_prefix": True},
        "money": {"num_format": "#,##0" + (f".{'0' * digits}" if digits else "")},
        "date": {"num_format": "ddd yyyy-mm-dd", "align": "left"},
        "clock": {"num_format": "ddd hh:mm", "align": "left"},
        "number": {},
        "number0": {"num_format": "#,##0"},
        "number1": {"num_format": "#,##0.0"},
    }
    return {name: book.add_format({"valign": "top", **look}) for name, look in looks.items()}


def _write(sheet: Any, row: int, column: int, value: object, formats: _Formats, name: str) -> int:
    """Write a value as what it is and return the characters that it takes."""
    if value is None or value != value:
        sheet.write_blank(row, column, None, formats["text"])
        return 0
    if isinstance(value, bool):
        return _write(sheet, row, column, "yes" if value else "no", formats, name)
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
        look = formats[f"number{_DECIMALS[name]}" if name in _DECIMALS else "number"]
        sheet.write_number(row, column, round(value, _DIGITS), look)
        return len(f"{round(value, 2):,}")
    text = "; ".join(value) if isinstance(value, tuple) else str(value)
    text = _LINE_BREAKS.sub(" ", text)[:_MOST_CHARACTERS]
    look = formats["quoted" if text.startswith(FORMULA_STARTS) else "text"]
    sheet.write_string(row, column, text, look)
    return len(text)


def _sheet(book: Any, title: str, table: pd.DataFrame, currency: str, formats: _Formats) -> None:
    sheet = book.add_worksheet(title)
    names = [str(name) for name in table.columns]
    widths = []
    for column, name in enumerate(names):
        text = _header(name, currency)
        sheet.write_string(0, column, text, formats["header"])
        # Words of a header may stand below each other.
        widths.append(max(map(len, text.split())) + 2)
    rows = tables.records(table)
    for place, record in enumerate(rows, start=1):
        for column, name in enumerate(names):
            used = _write(sheet, place, column, record[name], formats, name)
            widths[column] = max(widths[column], used + 2)
    for column, width in enumerate(widths):
        sheet.set_column(column, column, min(max(width, _NARROWEST), _WIDEST))
    sheet.freeze_panes(1, 0)
    if rows:
        sheet.autofilter(0, 0, len(rows), len(names) - 1)
    _for_printing(sheet)


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
        _write(sheet, place, 1, value, formats, "")
    sheet.set_column(0, 0, 28)
    sheet.set_column(1, 1, 90)
    sheet.freeze_panes(1, 0)
    _for_printing(sheet)


def workbook_bytes(
    plan: Plan,
    catalog: Catalog,
    scenario: Scenario,
    schedules: Sequence[CookDaySchedule],
    boxes: Sequence[Container],
) -> bytes:
    """Return the workbook as the bytes of an .xlsx file; equal plans give equal bytes."""
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
    with showing(NEUTRAL):
        _summary(book, plan, formats)
        for title, table in (
            ("Menu", tables.menu(plan, catalog, scenario)),
            ("Groceries", tables.groceries(plan, catalog)),
            ("Shop visits", tables.seller_totals(plan, catalog)),
            ("Batches", tables.batches(plan, catalog)),
            ("Schedule", worktables.schedule(schedules, catalog, scenario)),
            ("Containers", worktables.containers(boxes, catalog)),
            ("Leftovers", tables.leftovers(plan)),
            ("Who pays", tables.split(plan, scenario)),
            ("On hand", tables.on_hand(plan, catalog, scenario)),
            ("Days", tables.day_totals(plan, catalog, scenario)),
            ("Week", tables.week_totals(plan, catalog, scenario)),
        ):
            _sheet(book, title, table, plan.currency, formats)
    book.close()
    return out.getvalue()
