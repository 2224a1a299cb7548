"""plan.xlsx opened again by another library: sheets, kinds of cells, money, and no formula."""

from __future__ import annotations

import io
import re
import zipfile
from datetime import date, datetime
from decimal import Decimal
from typing import Any

import openpyxl
import pandas as pd
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from forms.renamed import renamed
from planopt.catalog.records import Catalog
from planopt.cookday.containers import containers_of
from planopt.cookday.schedule import schedule_cook_days
from planopt.plan.records import Plan
from planopt.report.analysis.shares import cost_shares
from planopt.report.files.workbook import workbook_bytes
from planopt.report.words.plain import FORMULA_STARTS
from planopt.scenario.records import Scenario
from report_samples import sample_catalog, sample_plan, sample_scenario

SHEETS = [
    "Week", "Summary", "Menu", "Groceries", "Shop visits", "Batches", "Schedule", "Containers",
    "Leftovers", "Who pays", "On hand", "Days", "Week windows", "Long",
]  # fmt: skip


def _bytes(plan: Plan, catalog: Catalog, scenario: Scenario) -> bytes:
    schedules = schedule_cook_days(plan, catalog, scenario)
    return workbook_bytes(
        plan, catalog, scenario, schedules, containers_of(plan, catalog, scenario)
    )


def _open(content: bytes) -> Any:
    return openpyxl.load_workbook(io.BytesIO(content))


def _sample() -> Any:
    return _open(_bytes(sample_plan(), sample_catalog(), sample_scenario()))


def _column(sheet: Any, header: str) -> list[Any]:
    place = [cell.value for cell in sheet[1]].index(header) + 1
    return [sheet.cell(row, place) for row in range(2, sheet.max_row + 1)]


def test_every_table_has_its_sheet_with_a_header_that_stays() -> None:
    """Sheets stand in reading order; each header is bold, frozen and filterable."""
    book = _sample()
    assert book.sheetnames == SHEETS
    for sheet in book:
        assert sheet.freeze_panes == ("C2" if sheet.title == "Week" else "A2")
        assert all(cell.font.bold and cell.value for cell in sheet[1]), sheet.title
        assert all(7 <= d.width <= 91 for d in sheet.column_dimensions.values())
    assert book["Menu"].auto_filter.ref == "A1:Q8"


def test_money_is_a_number_with_the_decimals_of_its_currency() -> None:
    """Prices are numbers that equal those of plan.json to the cent, and so does their sum."""
    plan = sample_plan()
    cells = _column(_sample()["Groceries"], "Price, USD")
    assert [cell.number_format for cell in cells] == ["#,##0.00"] * 2
    shown = [Decimal(f"{cell.value:.2f}") for cell in cells]
    assert sorted(shown) == sorted(p.price for p in plan.purchases)
    assert sum(shown) == plan.solution.grocery_cost
    summary = {row[0].value: row[1].value for row in _sample()["Summary"].iter_rows()}
    assert summary["All counted: bill and weighed waste, USD"] == 17.55
    assert summary["No compliant week can cost less than, USD"] == 16.8
    assert summary["Bill: groceries and visits, USD"] == 17.1


@pytest.mark.parametrize(("currency", "places"), [("JPY", "#,##0"), ("KWD", "#,##0.000")])
def test_other_currencies_have_their_own_decimals(currency: str, places: str) -> None:
    """ISO 4217: the yen has no minor unit, the Kuwaiti dinar a thousandth."""
    sample = sample_plan()
    # Whole amounts, which every currency can pay.
    bought = [p.model_copy(update={"price": round(p.price, 0)}) for p in sample.purchases]
    paid = sample.solution.model_copy(
        update={"grocery_cost": sum(p.price for p in bought), "visit_cost": Decimal(0)}
    )
    plan = sample.model_copy(
        update={"currency": currency, "purchases": tuple(bought), "solution": paid}
    )
    book = _open(_bytes(plan, sample_catalog(), sample_scenario()))
    assert {c.number_format for c in _column(book["Groceries"], f"Price, {currency}")} == {places}


@given(minor=st.integers(0, 10**14))
@settings(max_examples=100, deadline=None)
def test_the_nearest_binary_number_shows_every_cent(minor: int) -> None:
    """An amount of 13 digits before the point shows as it is in plan.json."""
    amount = Decimal(minor).scaleb(-2)
    assert f"{float(amount):.2f}" == f"{amount:.2f}"


def test_dates_are_dates_and_times_are_times() -> None:
    """Dates carry a date format, times of the timetable one of day, hour and minute."""
    book = _sample()
    day = _column(book["Menu"], "Date")[0]
    assert (day.value.date(), day.is_date) == (date(2027, 1, 4), True)
    assert day.number_format == "ddd yyyy-mm-dd"
    start = _column(book["Schedule"], "Starts")[0]
    assert start.value == datetime(2027, 1, 3, 9)
    assert start.number_format == "ddd hh:mm"
    thaws = [cell.value for cell in _column(book["Menu"], "Thaw on")]
    assert {value for value in thaws if value} == {datetime(2027, 1, 4)}
    assert None in thaws


def test_amounts_are_numbers_and_open_windows_are_empty() -> None:
    """Servings and nutrients are numbers; a side of a window that is open has an empty cell."""
    book = _sample()
    assert [c.value for c in _column(book["Menu"], "Servings")] == [1, 1.5, 1, 1, 2, 1.5, 1.5]
    assert {c.value for c in _column(book["Days"], "Most")} == {900, 450, None}
    assert {c.value for c in _column(book["Week windows"], "Most")} == {None}
    assert {c.value for c in _column(book["Days"], "Met")} <= {"yes", "no", None}


@pytest.mark.parametrize(
    "name",
    ["=1+1", "+1", "-1+cmd", "@sum", "\t=1", "\r=1", "=HYPERLINK(1)", "https://example.org/", "007",
     "<b>&\"'", "_x0041_", "\uff1d1+1"],
)  # fmt: skip
def test_every_name_stays_a_text(name: str) -> None:
    """No name becomes a formula, a link, a number or a date; it is read back on one line."""
    book = _open(content := _bytes(*renamed(name)))
    written = re.sub(r"[\r\n]+", " ", name)
    shown = 0
    for sheet in book:
        for cell in (cell for row in sheet.iter_rows() for cell in row):
            assert cell.data_type in ("s", "n", "d"), cell
            assert cell.hyperlink is None
            shown += cell.value == written
            if cell.value == written and written.startswith(FORMULA_STARTS):
                assert cell.quotePrefix, "would become a formula when edited"
    assert shown > 30
    with zipfile.ZipFile(io.BytesIO(content)) as parts:
        for part in parts.namelist():
            if part.startswith("xl/worksheets/"):
                assert not re.search(rb"<f[ >/]|hyperlink", parts.read(part))


@given(name=st.text(st.characters(codec="utf-8", exclude_categories=("Cs",)), min_size=1))
@settings(max_examples=6, deadline=None)
def test_any_name_leaves_the_file_readable(name: str) -> None:
    """Control characters, line breaks and odd scripts never break the file."""
    book = _open(_bytes(*renamed(name)))
    assert book.sheetnames == SHEETS


def test_the_first_sheet_is_the_week_as_a_grid() -> None:
    """A column for each date, a row for each meal of a client, and what a day holds as numbers."""
    plan = sample_plan()
    sheet = _sample()["Week"]
    heads = [cell.value for cell in sheet[1]]
    assert heads == ["Client", "Meal", datetime(2027, 1, 4), datetime(2027, 1, 5)]
    rows = {(row[0].value, row[1].value): row for row in sheet.iter_rows(min_row=2)}
    bake = "Fish and potato bake, with haddock fillet and parsley"
    assert rows["Ana", "Dinner"][2].value == f"{bake} (1.5 servings)"
    assert rows["Ana", "Dinner"][3].value == f"{bake} (1 serving, from the freezer)"
    assert rows["Ben", "Lunch"][3].value == "away"
    energy = rows["Ana", "Energy, kcal"]
    assert [cell.number_format for cell in energy[2:]] == ["#,##0"] * 2
    eaten = sum(p.nutrients["energy_kcal"] for p in plan.portions if p.client_id == "ana")
    assert sum(cell.value for cell in energy[2:]) == pytest.approx(eaten)


def test_names_stand_before_ids_and_units_in_heads() -> None:
    """Ids and numbers of days come last; what is measured says in what."""
    for sheet in _sample():
        heads = [str(cell.value) for cell in sheet[1]]
        last = [
            head for head in heads if head.endswith(" id") or re.fullmatch(r"(\w+ )?[Dd]ay", head)
        ]
        assert heads[len(heads) - len(last) :] == last, sheet.title
        assert not {"Grams", "Temperature", "Energy", "Protein"} & set(heads), sheet.title
    menu = [cell.value for cell in _sample()["Menu"][1]]
    assert menu[:6] == ["Client", "Date", "Meal", "Dish", "Version", "Servings"]
    assert {"Energy, kcal", "Protein, g", "Cooked on"} <= set(menu)


def test_amounts_have_the_decimals_of_their_nutrient() -> None:
    """Energy is shown whole, protein with one decimal, in every sheet; the value keeps more."""
    book = _sample()
    for sheet in ("Days", "Long"):
        head = "Nutrient" if sheet == "Days" else "Measure"
        pairs = zip(_column(book[sheet], head), _column(book[sheet], "Amount"), strict=True)
        shown = {name.value: cell.number_format for name, cell in pairs}
        assert (shown["Energy"], shown["Protein"]) == ("#,##0", "#,##0.0"), sheet
    assert shown["Groceries"] == "#,##0.00"


def test_the_last_sheet_is_ready_for_pivots() -> None:
    """One amount a row, each cell filled; sums by client and measure are those of the plan."""
    plan = sample_plan()
    sheet = _sample().worksheets[-1]
    assert sheet.title == "Long"
    heads, *rows = [list(row) for row in sheet.iter_rows(values_only=True)]
    assert all(value is not None for row in rows for value in row)
    assert all(isinstance(row[heads.index("Date")], datetime) for row in rows)
    table = pd.DataFrame(rows, columns=heads)
    sums = table.pivot_table("Amount", index="Client", columns="Measure", aggfunc="sum")
    for client_id, name in (("ana", "Ana"), ("ben", "Ben")):
        mine = [p for p in plan.portions if p.client_id == client_id]
        assert sums.loc[name, "Servings"] == sum(p.servings for p in mine)
        kcal = sum(p.nutrients["energy_kcal"] for p in mine)
        assert sums.loc[name, "Energy"] == pytest.approx(kcal)
    eaten = cost_shares(plan)
    spent = sum(eaten[eaten["goes_to"] == "eaten"]["cost"])
    assert sums["Groceries"].sum() == pytest.approx(float(spent))


def test_leftovers_say_in_words_where_they_are_from() -> None:
    """Not `stock 0` nor `shop day 0`: on hand, or the date of buying."""
    told = {cell.value for cell in _column(_sample()["Leftovers"], "Supply")}
    assert told <= {"on hand", "bought Sun 2027-01-03"}
    assert "bought Sun 2027-01-03" in told


def test_equal_plans_give_equal_bytes() -> None:
    """Nothing of the clock or of the order of sets gets into the file."""
    parts = sample_plan(), sample_catalog(), sample_scenario()
    assert _bytes(*parts) == _bytes(*parts)
    with zipfile.ZipFile(io.BytesIO(_bytes(*parts))) as content:
        assert b"2027-01-04T00:00:00Z" in content.read("docProps/core.xml")
        assert {info.date_time[0] for info in content.infolist()} == {1980}


def test_sheets_print_on_one_page_width_with_their_header() -> None:
    """Printed, every page is as wide as the table and repeats the header."""
    for sheet in _sample():
        assert sheet.page_setup.orientation == "landscape"
        assert sheet.page_setup.fitToHeight == 0
        assert sheet.print_title_rows == "$1:$1"
