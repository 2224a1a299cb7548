"""Packing: what goes into which box, pot by pot, and what to move from freezer to fridge when."""

from __future__ import annotations

from collections import defaultdict
from collections.abc import Sequence
from datetime import date
from typing import Any

from planopt.catalog.records import Catalog
from planopt.cookday.records import Container, CookDaySchedule
from planopt.plan.records import Plan
from planopt.report.page.parts import anchor, cautions_about
from planopt.report.words.keeping import place_of
from planopt.report.words.plain import (
    dish_words,
    number,
    plain,
    plural,
    short_day,
    unbroken,
)

Row = dict[str, Any]
Key = tuple[int, str, str]


def box_row(catalog: Catalog, box: Container) -> Row:
    """Return a container in words."""
    place = place_of(catalog, box).capitalize()
    kept = f"{place}, use by {short_day(box.use_by)}"
    if box.thaw_on is not None:
        kept = f"{place}, thaw on {short_day(box.thaw_on)}, eat by {short_day(box.use_by)}"
    return {
        "id": f"box-{box.number}",
        "number": str(box.number),
        "client": box.client_name,
        "day": short_day(box.date),
        "meal": plain(box.meal),
        "servings": unbroken(plural(box.servings, "serving")),
        "percent": unbroken(f"{number(100 * box.share_of_part, 1)} %"),
        # Read by the script of the page, in every locale.
        "share": f"{box.share_of_part:.6f}",
        "kept": kept,
        "use_by": short_day(box.use_by),
    }


def _pots(catalog: Catalog, boxes: Sequence[Container], mark: str) -> list[Row]:
    """Return the boxes of one dish by the pot they are filled from, the main one first."""
    by_part: dict[str, list[Container]] = defaultdict(list)
    for box in boxes:
        by_part[box.part].append(box)
    pots = []
    for part, mine in by_part.items():
        groups: dict[str, list[Row]] = defaultdict(list)
        for box in mine:
            row = box_row(catalog, box)
            groups[row["kept"]].append(row)
        pots.append(
            {
                "id": anchor("pot", mark, part),
                "list": anchor("packed", mark, part),
                "part": "" if mine[0].parts_of_portion == 1 else f"{plain(part)} part",
                "groups": [
                    {"kept": f"{kept[:1].upper()}{kept[1:]}", "boxes": rows}
                    for kept, rows in groups.items()
                ],
                "count": plural(len(mine), "box"),
            }
        )
    return pots


def pack_anchor(cook_day: int, place: int) -> str:
    """Return the id of a dish in the view of packing."""
    return anchor("pack", cook_day, place + 1)


def packing(
    plan: Plan,
    catalog: Catalog,
    schedules: Sequence[CookDaySchedule],
    containers: Sequence[Container],
) -> Row:
    """Return what the view of packing shows."""
    boxes: dict[Key, list[Container]] = defaultdict(list)
    for box in containers:
        boxes[box.cook_day, box.recipe_id, box.version].append(box)
    days = []
    for day in schedules:
        dishes = []
        for place, work in enumerate(day.dishes):
            mine = boxes.get((day.cook_day, work.recipe_id, work.version), [])
            if not mine:
                continue
            mark = pack_anchor(day.cook_day, place)
            name = dish_words(catalog, work.recipe_id, work.recipe_name, work.version)
            dishes.append(
                {
                    "anchor": mark,
                    "cook": anchor("dish", day.cook_day, place + 1),
                    "number": place + 1,
                    "name": name,
                    "count": unbroken(plural(len(mine), "box")),
                    "pots": _pots(catalog, mine, mark),
                }
            )
        mark = anchor("packing", day.cook_day)
        days.append({"anchor": mark, "day": short_day(day.cook_date), "dishes": dishes})
    packed = [box for box in containers if not box.ready]
    return {
        "days": days,
        "count": plural(len(packed), "box"),
        "rows": _counts(catalog, packed),
        "ready": _ready(catalog, [box for box in containers if box.ready]),
        "thaw": thawing(catalog, containers),
        "cautions": cautions_about(plan, ["Storage", "Cooling"]),
    }


def _ready(catalog: Catalog, boxes: Sequence[Container]) -> list[Row]:
    """Return boxes of earlier weeks, of which only the label is new."""
    rows = []
    for box in boxes:
        dish = dish_words(catalog, box.recipe_id, box.recipe_name, box.version)
        part = "" if box.parts_of_portion == 1 else f", {plain(box.part)} part"
        rows.append({**box_row(catalog, box), "dish": f"{dish}{part}"})
    return rows


def _counts(catalog: Catalog, containers: Sequence[Container]) -> list[Row]:
    """Return how many boxes to have ready, by cook day and where they are kept."""
    counts: dict[tuple[date, str], list[int]] = defaultdict(lambda: [0, 0])
    for box in containers:
        counts[box.cooked_on, place_of(catalog, box)][box.part != "main"] += 1
    return [
        {
            "cooked": short_day(day),
            "stored": place,
            "main": str(main),
            "apart": str(apart),
            "all": str(main + apart),
        }
        for (day, place), (main, apart) in sorted(counts.items())
    ]


def thawing(catalog: Catalog, containers: Sequence[Container]) -> list[Row]:
    """Return, by day, which boxes to move from the freezer to the fridge."""
    found: dict[date, list[Row]] = defaultdict(list)
    for box in containers:
        if box.thaw_on is not None:
            dish = dish_words(catalog, box.recipe_id, box.recipe_name, box.version)
            part = "" if box.parts_of_portion == 1 else f", {plain(box.part)} part"
            row = box_row(catalog, box)
            found[box.thaw_on].append({**row, "id": f"thaw-{box.number}", "dish": f"{dish}{part}"})
    return [{"day": short_day(day), "boxes": found[day]} for day in sorted(found)]
