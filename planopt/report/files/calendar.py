"""A plan as an iCalendar file (RFC 5545): cook days, shop visits, thawing, meals.

Times are floating local times (RFC 5545, 3.3.5, form 1): a kitchen, its shops and its clients are
in one place, and a cook day starts by the clock on the wall whatever zone a device is set to. What
has a day and no time of day is an all-day event that keeps no time blocked.
"""

from __future__ import annotations

from collections import defaultdict
from collections.abc import Sequence
from datetime import UTC, date, datetime, time, timedelta
from uuid import NAMESPACE_URL, uuid5

from icalendar import Alarm, Calendar, Event

from planopt.catalog.records import Catalog
from planopt.cookday.records import Container, CookDaySchedule
from planopt.plan.records import Plan
from planopt.report.analysis import tables
from planopt.report.words.columns import screen_text
from planopt.report.words.contact import CLEAN_DOWN, reason_lines
from planopt.report.words.locale import clock_text
from planopt.report.words.plain import day_text, dish_words, money_code, number, plain, plural
from planopt.scenario.records import Scenario

# Early on the day before eating: large pieces need most of a day in the fridge. Common practice, no
# source. The trigger counts from the start of an all-day event, midnight (RFC 5545, 3.8.6.3).
_THAW_REMINDER = timedelta(hours=8)


def _uid(plan: Plan, *item: object) -> str:
    """Return the same id for the same item of the same week, also when it is planned again."""
    words = (plan.scenario_name, plan.start_date.isoformat(), *map(str, item))
    return str(uuid5(NAMESPACE_URL, "planopt:" + "|".join(words)))


def calendar_event(
    plan: Plan, kind: str, summary: str, lines: Sequence[str], *item: object
) -> Event:
    """Return an event of a plan without its time; its id is that of the item."""
    event = Event()
    event.add("uid", _uid(plan, kind, *item))
    # The plan carries no time of its making, and equal plans give equal files.
    event.add("dtstamp", datetime.combine(plan.start_date, time(0), UTC))
    event.add("summary", screen_text(summary))
    event.add("description", "\n".join(screen_text(line) for line in lines))
    event.add("categories", [kind])
    return event


def all_day(event: Event, day: date) -> Event:
    """Return an event that is on a day and blocks no time of it."""
    event.add("dtstart", day)
    event.add("dtend", day + timedelta(days=1))
    event.add("transp", "TRANSPARENT")
    return event


def reminding(event: Event, words: str) -> Event:
    """Return an all-day event with a reminder on its morning."""
    alarm = Alarm()
    alarm.add("action", "DISPLAY")
    alarm.add("description", words)
    alarm.add("trigger", _THAW_REMINDER)
    event.add_component(alarm)
    return event


def empty_calendar(name: str) -> Calendar:
    """Return a calendar of this name without events."""
    calendar = Calendar()
    calendar.add("prodid", "-//planopt//week//EN")
    calendar.add("version", "2.0")
    calendar.add("calscale", "GREGORIAN")
    calendar.add("name", screen_text(name))
    return calendar


def calendar_words(calendar: Calendar, plan: Plan) -> str:
    """Return a calendar as text; one that would be empty says so on the first day.

    A calendar has to hold at least one component (RFC 5545, 3.6).
    """
    if not calendar.subcomponents:
        event = calendar_event(plan, "Meals", "No meals from this kitchen", [], "none")
        calendar.add_component(all_day(event, plan.start_date))
    text: bytes = calendar.to_ical()
    return text.decode("utf-8")


def _cook_days(
    plan: Plan, catalog: Catalog, scenario: Scenario, schedules: Sequence[CookDaySchedule]
) -> list[Event]:
    events = []
    for day in schedules:
        told = []
        for dish in day.dishes:
            begin = day.starts_at + timedelta(minutes=dish.start_minute)
            name = dish_words(catalog, dish.recipe_id, dish.recipe_name, dish.version)
            text = (
                f"{clock_text(begin.time())} {name}, {plural(dish.batches, 'batch')}, "
                f"{plural(dish.servings, 'serving')}"
            )
            told.append((dish.start_minute, text))
        for clean in day.clean_downs:
            at = day.starts_at + timedelta(minutes=clean.start_minute)
            why = reason_lines(day, clean, catalog, scenario, numbered=False)
            text = f"{clock_text(at.time())} {CLEAN_DOWN.capitalize()}: {'; '.join(why)}"
            told.append((clean.start_minute, text))
        lines = [text for _, text in sorted(told, key=lambda one: one[0])]
        summary = f"Cook {plural(len(day.dishes), 'dish')}"
        event = calendar_event(plan, "Cooking", summary, lines, day.cook_date)
        event.add("dtstart", day.starts_at)
        # An end must be later than the start (RFC 5545, 3.8.2.2).
        event.add("dtend", max(day.ends_at, day.starts_at + timedelta(minutes=1)))
        events.append(event)
    return events


def _shop_visits(plan: Plan, catalog: Catalog) -> list[Event]:
    lines: dict[tuple[date, str], list[str]] = defaultdict(list)
    for row in tables.records(tables.groceries(plan, catalog)):
        lines[row["shop_date"], row["seller_id"]].append(f"{row['pack']} {row['food']}")
    events = []
    for visit in tables.records(tables.seller_totals(plan, catalog)):
        key = visit["shop_date"], visit["seller_id"]
        total = money_code(visit["total"], plan.currency)
        summary = f"Shop at {visit['seller']}: {plural(visit['lines'], 'line')}, {total}"
        events.append(all_day(calendar_event(plan, "Shopping", summary, lines[key], *key), key[0]))
    return events


def _thaws(plan: Plan, catalog: Catalog, boxes: Sequence[Container]) -> list[Event]:
    lines: dict[date, list[str]] = defaultdict(list)
    for box in boxes:
        if box.thaw_on is not None:
            name = dish_words(catalog, box.recipe_id, box.recipe_name, box.version)
            part = "" if box.parts_of_portion == 1 else f", {plain(box.part)} part"
            lines[box.thaw_on].append(
                f"Box {box.number}: {name}{part}, {plural(box.servings, 'serving')}, for "
                f"{box.client_name}, {plain(box.meal)} tomorrow, eat by {day_text(box.use_by)}"
            )
    events = []
    for day, told in sorted(lines.items()):
        summary = f"Move {plural(len(told), 'box')} from freezer to fridge"
        event = all_day(calendar_event(plan, "Thawing", summary, told, day), day)
        events.append(reminding(event, summary))
    return events


def _dish(row: dict[str, object]) -> str:
    return f"{row['dish']}, {row['version']}" if row["version"] else str(row["dish"])


def _servings(row: dict[str, object]) -> str:
    return plural(float(str(row["servings"])), "serving")


def _meals(plan: Plan, scenario: Scenario, menu: Sequence[dict[str, object]]) -> list[Event]:
    days: dict[tuple[str, int], list[dict[str, object]]] = defaultdict(list)
    for row in menu:
        days[str(row["client_id"]), int(str(row["day"]))].append(row)
    events = []
    for (client_id, day), rows in days.items():
        lines = [
            f"{plain(str(row['meal'])).capitalize()}: {_dish(row)}, {_servings(row)}, "
            f"{number(float(str(row['energy_kcal'])))} kcal, from the {row['stored']}"
            for row in rows
        ]
        meals = dict.fromkeys(plain(str(row["meal"])) for row in rows)
        summary = f"{rows[0]['client']}: {', '.join(meals)}"
        event = calendar_event(plan, "Meals", summary, lines, client_id, day)
        events.append(all_day(event, scenario.date_of(day)))
    return events


def calendar_text(
    plan: Plan,
    catalog: Catalog,
    scenario: Scenario,
    schedules: Sequence[CookDaySchedule],
    boxes: Sequence[Container],
) -> str:
    """Return the week as iCalendar text, lines folded and ended by CR LF.

    Ids are version 5 UUIDs (RFC 4122) of the scenario's name, its first day and the item, so that a
    calendar that takes in a week planned anew replaces events instead of doubling them.
    """
    calendar = empty_calendar(plan.scenario_name)
    menu = tables.records(tables.menu(plan, catalog, scenario))
    for event in (
        *_shop_visits(plan, catalog),
        *_cook_days(plan, catalog, scenario, schedules),
        *_thaws(plan, catalog, boxes),
        *_meals(plan, scenario, menu),
    ):
        calendar.add_component(event)
    return calendar_words(calendar, plan)
