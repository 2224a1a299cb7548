"""The CSV files for programs and spreadsheets: the timetable and the containers among them."""

from __future__ import annotations

import csv
import io

import pytest

from forms.renamed import renamed
from planopt.catalog.records import Catalog
from planopt.cookday.containers import containers_of
from planopt.cookday.schedule import schedule_cook_days
from planopt.plan.records import Plan
from planopt.report.analysis.worktables import clock_words
from planopt.report.files.folder import CSV_FILES, csv_texts
from planopt.report.words.plain import FORMULA_STARTS
from planopt.scenario.records import Scenario
from report_samples import sample_catalog, sample_plan, sample_scenario

_FORMULAS = tuple(f"{start}1+1" for start in FORMULA_STARTS)


def _texts(plan: Plan, catalog: Catalog, scenario: Scenario) -> dict[str, str]:
    schedules = schedule_cook_days(plan, catalog, scenario)
    return csv_texts(plan, catalog, scenario, schedules, containers_of(plan, catalog, scenario))


def _rows(texts: dict[str, str], name: str) -> list[dict[str, str]]:
    return list(csv.DictReader(io.StringIO(texts[name], newline="")))


def test_the_timetable_has_a_row_for_every_task() -> None:
    """Start, end, what holds it and how hot, in ISO 8601 local times."""
    parts = sample_plan(), sample_catalog(), sample_scenario()
    (day,) = schedule_cook_days(*parts)
    rows = _rows(_texts(*parts), "schedule.csv")
    assert len(rows) == len(day.tasks)
    assert rows[0]["starts"] == "2027-01-03T09:00"
    oven = [row for row in rows if row["task"] == "oven"]
    assert {(row["where"], row["temperature_c"]) for row in oven} == {("oven 1", "200")}
    assert {row["where"] for row in rows if row["task"] == "prepare"} == {"cook 1"}
    assert all(row["where"].startswith("ring") for row in rows if row["task"] == "hob")


def test_the_containers_have_a_row_for_every_box() -> None:
    """Boxes hold the servings of the portions, with dates and where they are kept."""
    parts = sample_plan(), sample_catalog(), sample_scenario()
    boxes = containers_of(*parts)
    rows = _rows(_texts(*parts), "containers.csv")
    assert [row["number"] for row in rows] == [str(box.number) for box in boxes]
    main = [row for row in rows if row["part"] == "main"]
    assert sum(float(row["servings"]) for row in main) == sum(p.servings for p in parts[0].portions)
    frozen = [row for row in rows if row["stored"] == "freezer"]
    dates = {(row["freeze_by"], row["thaw_on"], row["use_by"]) for row in frozen}
    assert dates == {("2027-01-03", "2027-01-04", "2027-01-05")}
    assert {row["freeze_by"] + row["thaw_on"] for row in rows if row["stored"] == "fridge"} == {""}


@pytest.mark.parametrize("name", _FORMULAS)
def test_no_cell_of_any_file_starts_like_a_formula(name: str) -> None:
    """In every CSV file a name that starts like a formula has an apostrophe in front.

    The signs, full-width ones included, are those of OWASP's page on CSV injection (from memory).
    """
    texts = _texts(*renamed(name))
    marked = 0
    for file in CSV_FILES:
        for row in _rows(texts, file):
            for value in row.values():
                try:
                    float(value)
                except ValueError:
                    assert not value.startswith(FORMULA_STARTS), (file, value)
                marked += value.startswith("'")
    assert marked > 20


def test_all_files_are_there() -> None:
    """The names are those of a plan folder."""
    assert tuple(_texts(sample_plan(), sample_catalog(), sample_scenario())) == CSV_FILES


def test_numbers_are_never_marked() -> None:
    """A day before the plan has a negative number, and it stays one in every file."""
    plan, catalog, scenario = sample_plan(), sample_catalog(), sample_scenario()
    early = tuple(b.model_copy(update={"cook_day": -2}) for b in plan.batches)
    portions = tuple(p.model_copy(update={"cook_day": -2}) for p in plan.portions)
    moved = plan.model_copy(update={"batches": early, "portions": portions})
    texts = _texts(moved, catalog, scenario)
    for file in ("menu.csv", "batches.csv", "schedule.csv"):
        assert {row["cook_day"] for row in _rows(texts, file)} == {"-2"}
        assert "'" not in texts[file]


def test_a_rest_into_the_next_day_says_so() -> None:
    """What ends after midnight names the day: soaked at six is not soaked this evening."""
    (day,) = schedule_cook_days(sample_plan(), sample_catalog(), sample_scenario())
    shown = [clock_words(day, minute) for minute in (0, 14 * 60 + 59, 15 * 60, 40 * 60)]
    assert shown == ["09:00", "23:59", "00:00 next day", "01:00 after 2 days"]
