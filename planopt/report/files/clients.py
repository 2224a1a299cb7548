"""The folder `clients` of a plan: a page and a calendar for each client, fit to hand over."""

from __future__ import annotations

from collections.abc import Sequence

from planopt.catalog.records import Catalog
from planopt.cookday.records import Container
from planopt.plan.records import Plan
from planopt.report.files.calendar import (
    all_day,
    calendar_event,
    calendar_words,
    empty_calendar,
    reminding,
)
from planopt.report.files.pdf import CLIENTS_FOLDER
from planopt.report.page.handout import alone, client_days, client_html, thaw_lines
from planopt.report.page.parts import plan_mark
from planopt.report.words.plain import plain, plural
from planopt.scenario.records import Client, Scenario


def client_calendar(
    plan: Plan, catalog: Catalog, scenario: Scenario, client: Client,
    containers: Sequence[Container],
) -> str:  # fmt: skip
    """Return the week of one client as iCalendar text: meals and thawing, of nobody else."""
    mine = [box for box in containers if box.client_id == client.client_id]
    own, only = alone(plan, scenario, client)
    calendar = empty_calendar(client.name)
    for day in thaw_lines(catalog, mine):
        boxes = day["boxes"]
        lines = [
            f"Box {box['number']}: {box['dish']}, for {box['for']}, eat by {box['eat_by']}"
            for box in boxes
        ]
        summary = f"Move {plural(len(boxes), 'box')} from freezer to fridge"
        event = calendar_event(plan, "Thawing", summary, lines, client.client_id, day["date"])
        calendar.add_component(reminding(all_day(event, day["date"]), summary))
    for day in client_days(own, catalog, only, client, mine):
        lines = [
            f"{row['meal']}: {row['dish']}, {row['servings']}, {row['boxes']}. {row['how']}."
            for row in day["meals"]
        ]
        if lines:
            summary = ", ".join(dict.fromkeys(plain(row["meal"]) for row in day["meals"]))
            event = calendar_event(plan, "Eating", summary, lines, client.client_id, day["date"])
            calendar.add_component(all_day(event, day["date"]))
    return calendar_words(calendar, plan)


def client_files(
    plan: Plan, catalog: Catalog, scenario: Scenario, containers: Sequence[Container]
) -> dict[str, str]:
    """Return the texts of the folder `clients` by their names in the folder of the plan."""
    texts = {}
    mark = plan_mark(plan)
    for client in scenario.clients:
        name = f"{CLIENTS_FOLDER}/{client.client_id}"
        texts[f"{name}.html"] = client_html(plan, catalog, scenario, client, containers, mark)
        texts[f"{name}.ics"] = client_calendar(plan, catalog, scenario, client, containers)
    return texts
