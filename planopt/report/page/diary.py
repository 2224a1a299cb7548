"""What happens when: shopping, cooking and thawing of a week by date, with links to the views."""

from __future__ import annotations

from collections import defaultdict
from collections.abc import Sequence
from datetime import date
from typing import Any

from planopt.cookday.records import Container, CookDaySchedule
from planopt.report.page.parts import anchor
from planopt.report.words.plain import plural, short_day

Row = dict[str, Any]


def diary(
    visits: Sequence[Row], schedules: Sequence[CookDaySchedule], days: Sequence[Row],
    containers: Sequence[Container],
) -> list[Row]:  # fmt: skip
    """Return a row for each date on which there is something to do.

    Args:
        visits: those of the shopping list, with their `date`.
        schedules: the timetables, for their dates.
        days: what the view of cooking shows of the same days, in the same order.
        containers: all boxes, for what thaws.
    """
    found: dict[date, list[Row]] = defaultdict(list)
    for visit in visits:
        what = f"{visit['seller']}, {visit['count']}, {visit['total']}"
        found[visit["date"]].append({"do": "Shop", "what": what, "to": visit["anchor"]})
    for schedule, day in zip(schedules, days, strict=True):
        dishes = plural(len(schedule.dishes), "dish")
        what = f"{dishes}, {day['start']} to {day['end']}"
        found[schedule.cook_date].append({"do": "Cook", "what": what, "to": day["anchor"]})
        pack = anchor("packing", schedule.cook_day)
        count = sum(box.cook_day == schedule.cook_day for box in containers)
        found[schedule.cook_date].append({"do": "Pack", "what": plural(count, "box"), "to": pack})
    thaw: dict[date, list[str]] = defaultdict(list)
    for box in containers:
        if box.thaw_on is not None:
            thaw[box.thaw_on].append(str(box.number))
    for date_of, numbers in thaw.items():
        what = f"{'boxes' if len(numbers) > 1 else 'box'} {', '.join(numbers)}, freezer to fridge"
        found[date_of].append({"do": "Thaw", "what": what, "to": "thaw"})
    return [{"day": short_day(one), "lines": found[one]} for one in sorted(found)]
