"""What is kept apart on a cook day, in every form in which a cook or a client reads it."""

from __future__ import annotations

import csv
import io
import re
from functools import lru_cache

from icalendar import Calendar

from cookday.kitchens import kitchen, recipe
from planopt.catalog.records import Allergen
from planopt.cookday.containers import containers_of
from planopt.cookday.schedule import schedule_cook_days
from planopt.report.files.folder import plan_contents
from planopt.report.terminal.screens import cook_screen, labels_screen
from planopt.report.words.contact import NO_PROMISE


@lru_cache(maxsize=1)
def _forms() -> dict[str, str]:
    """Return the forms of a day: raw salmon with its own potatoes, a dish for Ida, one for Kit."""
    dishes = [
        (recipe("bake", 20, unattended=30, oven=(200, 30), foods=["salmon"], serve="cold"), 1.0),
        (recipe("pods", 10, unattended=20, oven=(200, 20)), 1.0),
        (recipe("curd", 10, foods=["cheese"]), 1.0),
    ]
    eaters = {"bake": ["kit"], "pods": ["ida"], "curd": ["ida"]}
    plan, catalog, scenario = kitchen(dishes, None, eaters)
    named = {one: Allergen(allergen_id=one, name=one.capitalize()) for one in ("fish", "milk")}
    catalog = catalog.model_copy(update={"allergens": named})
    schedules = schedule_cook_days(plan, catalog, scenario)
    boxes = containers_of(plan, catalog, scenario, schedules)
    written = plan_contents(plan, catalog, scenario)
    return {
        "screen": cook_screen(plan, catalog, scenario, schedules),
        "labels": labels_screen(boxes, catalog, scenario),
        **{name: text for name, text in written.items() if isinstance(text, str)},
    }


def _flat(name: str) -> str:
    return " ".join(_forms()[name].split())


def test_the_cook_sheet_says_why_boards_are_cleaned() -> None:
    """The row has its time; the reason names what was before and who comes after."""
    raw = r"raw salmon before \(dish (\d)\), ready-to-eat work after \(dish (\d)\)"
    for name in ("screen", "report.md", "report.html"):
        text = _flat(name)
        assert re.search(raw, text.replace("\\", "")), name
        assert " is for Ida, who avoids fish" in text, name
        assert NO_PROMISE in text, name
        assert "clean-down" in text, name
    rows = re.findall(r"^\d\d:\d\d +\d\d:\d\d +clean .*$", _forms()["screen"], re.MULTILINE)
    assert rows
    assert all("Clean down, see below" in row and "cook 1" in row for row in rows)


def test_the_sheet_of_a_dish_says_for_whom_it_is_kept_from_what() -> None:
    """Board, knife, pot and oven for those who avoid something; raw beside ready food is told."""
    for name in ("screen", "report.md", "report.html"):
        text = _flat(name)
        assert "For Ida, who avoids fish. Start with a clean board, knife and pot" in text, name
        assert "never in an oven load with an uncovered dish that holds any of these." in text
        assert "For Kit, who avoids milk." in text, name
        assert "Raw salmon: first prepare what is not cooked afterwards" in text, name


def test_labels_claim_what_their_client_excludes_and_promise_nothing_more() -> None:
    """Three boxes, three claims, and each says that traces are not ruled out."""
    for name in ("labels", "labels.html"):
        text = _flat(name)
        assert text.count("Made apart from: fish; traces not ruled out") == 2, name
        assert text.count("Made apart from: milk; traces not ruled out") == 1, name


def test_tables_and_calendar_have_the_clean_downs() -> None:
    """A row of schedule.csv, and a line of the cook day's event, each with its reason."""
    rows = list(csv.DictReader(io.StringIO(_forms()["schedule.csv"])))
    cleans = [row for row in rows if row["task"] == "clean"]
    assert cleans
    assert all(row["why"] and row["where"] == "cook 1" and not row["dish"] for row in cleans)
    assert all(not row["why"] for row in rows if row["task"] != "clean")
    assert rows == sorted(rows, key=lambda row: row["starts"])
    boxes = list(csv.DictReader(io.StringIO(_forms()["containers.csv"])))
    assert {row["client_id"]: row["made_apart_from"] for row in boxes} == {
        "ida": "Fish",
        "kit": "Milk",
    }
    event = next(
        one
        for one in Calendar.from_ical(_forms()["week.ics"]).walk("VEVENT")
        if one["categories"].to_ical() == b"Cooking"
    )
    lines = str(event["description"]).splitlines()
    told = [line for line in lines if "Clean down: " in line]
    assert len(told) == len(cleans)
    assert any("Bake holds fish" in line or "raw salmon before (Bake)" in line for line in told)
