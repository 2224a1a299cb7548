"""week.ics against RFC 5545, read by an independent parser."""

from __future__ import annotations

import re
from datetime import date, datetime, timedelta
from typing import Any

import pytest
import vobject
from hypothesis import given, settings
from hypothesis import strategies as st
from icalendar import Calendar

from forms.renamed import renamed
from planopt.catalog.records import Catalog
from planopt.cookday.containers import containers_of
from planopt.cookday.schedule import schedule_cook_days
from planopt.plan.records import Plan
from planopt.report.files.calendar import calendar_text
from planopt.report.files.clients import client_calendar
from planopt.report.files.folder import plan_contents
from planopt.report.words.locale import Display, showing
from planopt.scenario.records import Scenario
from report_samples import sample_catalog, sample_plan, sample_scenario


def _text(plan: Plan, catalog: Catalog, scenario: Scenario) -> str:
    schedules = schedule_cook_days(plan, catalog, scenario)
    boxes = containers_of(plan, catalog, scenario, schedules)
    return calendar_text(plan, catalog, scenario, schedules, boxes)


def _sample() -> str:
    return _text(sample_plan(), sample_catalog(), sample_scenario())


def _events(text: str) -> list[Any]:
    return list(vobject.readOne(text).vevent_list)


def _of(kind: str, text: str) -> list[Any]:
    return [event for event in _events(text) if event.categories.value == [kind]]


def test_an_independent_parser_accepts_it() -> None:
    """Every component has what its kind needs: vobject validates the whole calendar."""
    calendar = vobject.readOne(_sample())
    assert calendar.validate(raiseException=True)
    assert calendar.version.value == "2.0"
    assert calendar.prodid.value == "-//planopt//week//EN"


def test_cook_days_have_the_times_of_their_timetable() -> None:
    """A cook day is from the start to the end of its timetable, in floating local time.

    RFC 5545, 3.3.5, form 1: a local time has neither Z nor TZID.
    """
    (day,) = schedule_cook_days(sample_plan(), sample_catalog(), sample_scenario())
    (event,) = _of("Cooking", _sample())
    assert (event.dtstart.value, event.dtend.value) == (day.starts_at, day.ends_at)
    assert event.dtstart.value == datetime(2027, 1, 3, 9)
    assert event.summary.value == "Cook 2 dishes"
    assert "Fish and potato bake, with haddock fillet" in event.description.value
    assert "1.5 batches, 6 servings" in event.description.value
    assert "TZID" not in _sample()


def test_shop_visits_are_whole_days_with_their_lists() -> None:
    """Each visit has its lines and its money, and blocks no time (RFC 5545, 3.8.2.7)."""
    first, second = _of("Shopping", _sample())
    assert first.summary.value == "Shop at Corner barrow: 1 line, 2.40 USD"
    assert second.summary.value == "Shop at Quayside stall: 1 line, 12.70 USD"
    assert second.description.value == "2 x 500 g Haddock fillet"
    for event in (first, second):
        assert event.dtstart.value == date(2027, 1, 3)
        assert event.dtend.value == date(2027, 1, 4)
        assert event.transp.value == "TRANSPARENT"


def test_thawing_has_a_reminder_on_its_day() -> None:
    """What must thaw is on the day before it is eaten, with an alarm at eight (RFC 5545, 3.6.6)."""
    (event,) = _of("Thawing", _sample())
    assert event.dtstart.value == date(2027, 1, 4)
    thawing = [
        box for box in containers_of(sample_plan(), sample_catalog(), sample_scenario())
        if box.thaw_on is not None
    ]  # fmt: skip
    assert event.summary.value == f"Move {len(thawing)} boxes from freezer to fridge"
    told = re.findall(r"^Box (\d+): Fish and potato bake", event.description.value, re.MULTILINE)
    assert [int(number) for number in told] == [box.number for box in thawing]
    assert event.valarm.action.value == "DISPLAY"
    assert event.valarm.trigger.value == timedelta(hours=8)
    assert event.valarm.description.value == event.summary.value
    assert "for Ana, dinner tomorrow" in event.description.value


def test_every_client_has_an_event_for_each_day_of_eating() -> None:
    """Meals stand in the order of the day, with servings, energy and where they are kept."""
    events = _of("Meals", _sample())
    assert [(e.dtstart.value.day, e.summary.value) for e in events] == [
        (4, "Ana: lunch, dinner"),
        (5, "Ana: lunch, dinner"),
        (4, "Ben: lunch, dinner"),
        (5, "Ben: dinner"),
    ]
    assert events[0].description.value.splitlines() == [
        "Lunch: Plain mash, 1 serving, 308 kcal, from the fridge",
        "Dinner: Fish and potato bake, with haddock fillet and parsley, 1.5 servings, "
        "240 kcal, from the fridge",
    ]
    assert "from the freezer" in events[1].description.value


def test_lines_end_with_cr_lf_and_are_folded() -> None:
    """RFC 5545, 3.1: CR LF after every line, and no line above 75 octets without it."""
    text = _text(*renamed("Späte Kräuter-Brötchen 🍲 " * 9))
    assert text.endswith("\r\n")
    lines = text.split("\r\n")
    assert not any("\r" in line or "\n" in line for line in lines)
    assert max(len(line.encode()) for line in lines) <= 75
    assert any(line.startswith(" ") for line in lines)


def test_every_event_has_an_id_of_its_own_and_a_stamp() -> None:
    """RFC 5545, 3.6.1: UID and DTSTAMP are required; 3.8.7.2: DTSTAMP is in UTC."""
    text = _sample()
    uids = re.findall(r"^UID:([0-9a-f-]{36})\r$", text, re.MULTILINE)
    assert len(set(uids)) == len(uids) == len(_events(text)) == text.count("BEGIN:VEVENT")
    stamps = set(re.findall(r"^DTSTAMP:(.*)\r$", text, re.MULTILINE))
    assert stamps == {"20270104T000000Z"}


def test_ids_stay_when_the_week_is_planned_again() -> None:
    """Another solve of the same week replaces its events; another week has others."""
    plan = sample_plan()
    again = plan.model_copy(
        update={"solution": plan.solution.model_copy(update={"solve_seconds": 1.0})}
    )
    other = plan.model_copy(update={"scenario_name": "Next week"})

    def uids(one: Plan) -> list[str]:
        text = _text(one, sample_catalog(), sample_scenario())
        return [event.uid.value for event in _events(text)]

    assert uids(again) == uids(plan)
    assert not set(uids(other)) & set(uids(plan))


def test_equal_plans_give_equal_text_and_no_clock() -> None:
    """The file says nothing about when it was made."""
    assert _sample() == _sample()


def test_a_cook_day_without_work_still_ends_after_it_starts() -> None:
    """RFC 5545, 3.8.2.2: DTEND must be later than DTSTART."""
    plan, catalog, scenario = sample_plan(), sample_catalog(), sample_scenario()
    (day,) = schedule_cook_days(plan, catalog, scenario)
    idle = day.model_copy(update={"ends_at": day.starts_at, "makespan_minutes": 0})
    (event,) = _of("Cooking", calendar_text(plan, catalog, scenario, (idle,), ()))
    assert event.dtend.value > event.dtstart.value


def test_a_week_without_meals_is_still_a_calendar() -> None:
    """RFC 5545, 3.6: a calendar holds at least one component, also of a client who is away."""
    plan = sample_plan()
    empty = plan.model_copy(update={"portions": (), "batches": (), "purchases": ()})
    catalog, scenario = sample_catalog(), sample_scenario()
    own = client_calendar(empty, catalog, scenario, scenario.clients[0], ())
    for text in (calendar_text(empty, catalog, scenario, (), ()), own):
        (event,) = Calendar.from_ical(text).walk("VEVENT")
        assert str(event["summary"]) == "No meals from this kitchen"
        assert event.start == plan.start_date


def test_the_library_that_writes_calendars_finds_no_error_in_any() -> None:
    """Every calendar of a plan is read again by icalendar; no property of it is faulty."""
    contents = plan_contents(sample_plan(), sample_catalog(), sample_scenario())
    names = {"week.ics": "Two days of fish", "clients/ana.ics": "Ana", "clients/ben.ics": "Ben"}
    assert {name for name in contents if name.endswith(".ics")} == set(names)
    for file, name in names.items():
        calendar = Calendar.from_ical(str(contents[file]))
        assert str(calendar["name"]) == name, file
        for part in calendar.walk():
            assert part.errors == [], (file, part)
            assert set(part.required) <= set(map(str.upper, part)), (file, part)


@pytest.mark.parametrize(
    "name",
    [
        "a,b;c\\d",
        "BEGIN:VEVENT",
        "x\r\nEND:VCALENDAR",
        "a\nb",
        "\x1b[2J\x00",
        '"quoted":=1',
        "<b>&",
    ],
)
def test_no_name_can_add_a_line_or_a_component(name: str) -> None:
    """RFC 5545, 3.3.11: separators are escaped; control characters and line breaks are dropped."""
    plain = _sample()
    text = _text(*renamed(name))
    for part in ("BEGIN:VEVENT", "END:VCALENDAR", "BEGIN:VALARM"):
        assert len(re.findall(rf"^{part}\r$", text, re.MULTILINE)) == len(
            re.findall(rf"^{part}\r$", plain, re.MULTILINE)
        )
    shown = "".join(" " if c < " " else c for c in name)
    (first, *_) = _of("Meals", text)
    assert first.summary.value == " ".join(f"{shown}: lunch, dinner".split())
    assert not re.search(r"[\x00-\x08\x0b\x0c\x0e-\x1f\x7f]", text)


@given(name=st.text(st.characters(codec="utf-8"), min_size=1, max_size=100))
@settings(max_examples=10, deadline=None)
def test_any_name_leaves_the_calendar_readable(name: str) -> None:
    """Whatever a client or a dish is called, the parser finds all events."""
    assert len(_events(_text(*renamed(name)))) == len(_events(_sample()))


def test_times_and_money_follow_the_locale_shown() -> None:
    """Words for people have the locale's form; properties for programs do not change."""
    with showing(Display("de_DE")):
        german = _sample()
    assert _of("Shopping", german)[0].summary.value == (
        "Shop at Corner barrow: 1 line, 2,40\N{NO-BREAK SPACE}$"
    ).replace("\N{NO-BREAK SPACE}", " ")
    dated = re.compile(r"^(?:DT\w+|UID|TRIGGER).*$", re.MULTILINE)
    assert dated.findall(german) == dated.findall(_sample())
