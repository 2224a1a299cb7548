"""A plan as files, written whole or not at all."""

from __future__ import annotations

import csv
import io
import os
import re
from collections.abc import Sequence
from datetime import date, datetime
from decimal import Decimal
from pathlib import Path
from typing import Any

import pandas as pd
from pydantic import BaseModel

from planopt.catalog.records import Catalog, Recipe
from planopt.cookday.containers import containers_of
from planopt.cookday.records import Container, CookDaySchedule
from planopt.cookday.schedule import schedule_cook_days
from planopt.folders import (
    bad_folder,
    fill,
    folder_beside,
    refuse_current,
    refuse_unwritable,
    settle,
)
from planopt.plan.file import PLAN_FILE
from planopt.plan.records import Plan
from planopt.report.analysis import tables, worktables
from planopt.report.files.calendar import calendar_text
from planopt.report.files.clients import client_files
from planopt.report.files.pdf import CLIENTS_FOLDER, LABELS_HTML, PDF_FILES, REPORT_HTML
from planopt.report.files.workbook import workbook_bytes
from planopt.report.markdown.document import report_markdown
from planopt.report.page.html import labels_html, report_html
from planopt.report.words.locale import NEUTRAL, Display, showing
from planopt.report.words.plain import FORMULA_STARTS, money, number
from planopt.scenario.records import Scenario

REPORT_FILE = "report.md"
WORKBOOK_FILE = "plan.xlsx"
CALENDAR_FILE = "week.ics"
CSV_FILES = (
    "groceries.csv",
    "menu.csv",
    "batches.csv",
    "schedule.csv",
    "containers.csv",
    "leftovers.csv",
    "split.csv",
)
PLAN_FILES = frozenset(
    {
        PLAN_FILE, REPORT_FILE, REPORT_HTML, LABELS_HTML, WORKBOOK_FILE, CALENDAR_FILE, *CSV_FILES,
        CLIENTS_FOLDER,
    }
)  # fmt: skip
# What a new plan replaces: also pages printed from an earlier one, which would be out of date.
OWNED_FILES = PLAN_FILES | frozenset(PDF_FILES)
SCHEMA_DIALECT = "https://json-schema.org/draft/2020-12/schema"

_LINE_BREAKS = re.compile(r"[\r\n]+")
_CSV_DIGITS = 4
# Tells spreadsheet programs that a text is UTF-8 (The Unicode Standard, 23.8).
_MARK = "\ufeff"


def _csv_cell(value: object, currency: str) -> str:
    if isinstance(value, Decimal):
        return money(value, currency)
    if isinstance(value, float):
        return "" if value != value else number(value, _CSV_DIGITS)
    if isinstance(value, datetime):
        return value.isoformat(timespec="minutes")
    if isinstance(value, date):
        return value.isoformat()
    if value is None:
        return ""
    if isinstance(value, int):
        return str(value)
    text = "; ".join(value) if isinstance(value, tuple) else str(value)
    guarded = f"'{text}" if text.startswith(FORMULA_STARTS) else text
    # A line break inside a name would start a new row, and with it a new, unguarded cell.
    return _LINE_BREAKS.sub(" ", guarded)


def csv_text(frame: pd.DataFrame, currency: str) -> str:
    """Return a table as CSV for programs of any locale: ISO 8601 dates, a decimal point.

    No text cell can act as a formula: one that starts like a formula gets an apostrophe in front,
    which spreadsheet programs read as the mark of a text. Numbers below zero keep their bare minus.
    """
    out = io.StringIO()
    writer = csv.writer(out, lineterminator="\n")
    writer.writerow(frame.columns)
    with showing(NEUTRAL):
        for row in tables.records(frame):
            writer.writerow([_csv_cell(value, currency) for value in row.values()])
    return out.getvalue()


def plan_json(plan: Plan) -> str:
    """Return the text of plan.json."""
    return plan.model_dump_json(indent=2, by_alias=True) + "\n"


def csv_texts(
    plan: Plan,
    catalog: Catalog,
    scenario: Scenario,
    schedules: Sequence[CookDaySchedule],
    boxes: Sequence[Container],
) -> dict[str, str]:
    """Return the text of every CSV file by its name; the same for every display.

    A byte order mark is no part of the text.
    """
    with showing(NEUTRAL):
        frames = {
            "groceries.csv": tables.groceries(plan, catalog).assign(currency=plan.currency),
            "menu.csv": tables.spelled(tables.menu(plan, catalog, scenario)),
            "batches.csv": tables.spelled(tables.batches(plan, catalog)),
            "schedule.csv": worktables.schedule(schedules, catalog, scenario),
            "containers.csv": tables.spelled(worktables.containers(boxes, catalog)),
            "leftovers.csv": tables.leftovers(plan).assign(currency=plan.currency),
            "split.csv": tables.split(plan, scenario).assign(currency=plan.currency),
        }
    return {name: csv_text(frame, plan.currency) for name, frame in frames.items()}


def with_mark(text: str, display: Display) -> str:
    """Return the text of a CSV file, after a byte order mark where that is asked for."""
    return f"{_MARK}{text}" if display.byte_order_mark else text


def on_sheet(scenario: Scenario, display: Display) -> Scenario:
    """Return a scenario with the label sheet of the display, unless it has one of its own."""
    if display.label_sheet is None or "label_sheet" in scenario.model_fields_set:
        return scenario
    return scenario.model_copy(update={"label_sheet": display.label_sheet})


def as_shown(plan: Plan, display: Display) -> Plan:
    """Return a plan whose record tells how it is shown; its numbers stay as they are."""
    told = display.as_told()
    return plan if told == plan.shown else plan.model_copy(update={"shown": told})


def plan_contents(
    plan: Plan, catalog: Catalog, scenario: Scenario, display: Display = NEUTRAL
) -> dict[str, str | bytes]:
    """Return what every file of a plan folder holds, by its name in the folder.

    What people read is in the form of `display`; plan.json, the CSV files but for a byte order
    mark, and the cells of the workbook are the same for every display.
    """
    scenario = on_sheet(scenario, display)
    schedules = schedule_cook_days(plan, catalog, scenario)
    boxes = containers_of(plan, catalog, scenario, schedules)
    with showing(display):
        return {
            PLAN_FILE: plan_json(plan),
            REPORT_FILE: report_markdown(plan, catalog, scenario, schedules),
            REPORT_HTML: report_html(plan, catalog, scenario, schedules, boxes),
            LABELS_HTML: labels_html(plan, catalog, scenario, boxes, schedules),
            WORKBOOK_FILE: workbook_bytes(plan, catalog, scenario, schedules, boxes),
            CALENDAR_FILE: calendar_text(plan, catalog, scenario, schedules, boxes),
            **{
                name: with_mark(text, display)
                for name, text in csv_texts(plan, catalog, scenario, schedules, boxes).items()
            },
            **client_files(plan, catalog, scenario, boxes),
        }


def check_out_dir(out_dir: Path) -> None:
    """Make sure that a plan may be written to a folder.

    Raises:
        BadInput: the folder exists and is neither empty nor an earlier plan, is in use, or cannot
            be written.
    """
    refuse_current(out_dir)
    settle(out_dir)
    try:
        taken = os.path.lexists(out_dir)
        usable = not taken or (
            out_dir.is_dir() and ((out_dir / PLAN_FILE).is_file() or not any(out_dir.iterdir()))
        )
    except OSError as error:
        why = f"it cannot be read: {error.strerror or error}"
        mend = "choose another folder with --out"
        raise bad_folder(out_dir, why, mend, "out_dir_unreadable") from error
    if not usable:
        raise bad_folder(
            out_dir,
            f"it exists, and is neither an empty folder nor an earlier plan (no {PLAN_FILE})",
            "choose another folder with --out, or move this one away",
            "out_dir_taken",
        )
    refuse_unwritable(out_dir)


def write_plan(
    plan: Plan,
    catalog: Catalog,
    scenario: Scenario,
    out_dir: Path,
    display: Display = NEUTRAL,
) -> list[Path]:
    """Write a plan's files, shown as `display` says, and return their paths.

    The folder of the clients is one of these.

    All files are written beside `out_dir` and take its place in one rename. Files of the user in
    an earlier plan's folder are kept.

    Raises:
        BadInput: `out_dir` holds something else, or the system refuses to write.
    """
    check_out_dir(out_dir)
    contents = plan_contents(as_shown(plan, display), catalog, scenario, display)
    with folder_beside(out_dir, owned=OWNED_FILES) as fresh:
        fill(fresh, contents)
    return [out_dir / name for name in dict.fromkeys(Path(name).parts[0] for name in contents)]


def _schema(record: type[BaseModel], written: bool) -> dict[str, Any]:
    mode = record.model_json_schema(mode="serialization" if written else "validation")
    return {"$schema": SCHEMA_DIALECT, **mode}


def plan_schema() -> dict[str, Any]:
    """Return the JSON Schema of plan.json."""
    return _schema(Plan, written=True)


def scenario_schema() -> dict[str, Any]:
    """Return the JSON Schema of a scenario file; its clients may stand in a roster."""
    schema = _schema(Scenario, written=False)
    schema["required"] = [name for name in schema["required"] if name != "clients"]
    schema["oneOf"] = [{"required": ["clients"]}, {"required": ["roster"]}]
    return schema


def recipe_schema() -> dict[str, Any]:
    """Return the JSON Schema of a recipe file; the recipe's id is the file's name."""
    schema = _schema(Recipe, written=False)
    del schema["properties"]["recipe_id"]
    schema["required"] = [name for name in schema["required"] if name != "recipe_id"]
    return schema
