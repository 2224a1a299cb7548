"""A page for one client: what to eat and when, how to heat it, what to thaw, own numbers.

It names no other client, no price and no note of the coach, so that it can be handed over.
"""

from __future__ import annotations

from collections import defaultdict
from collections.abc import Sequence
from typing import Any

from markupsafe import Markup

from planopt.catalog.records import Catalog
from planopt.cookday.records import Container
from planopt.plan.cautions import STANDING
from planopt.plan.records import Plan
from planopt.report.analysis import tables
from planopt.report.analysis.labels import contains_words
from planopt.report.analysis.worktables import allergen_names, food_names
from planopt.report.page.parts import amount, anchor, cautions_about, window_words
from planopt.report.page.templating import page_footer, policy, rendered, source
from planopt.report.words.keeping import place_of, serve_words
from planopt.report.words.locale import weekday_text
from planopt.report.words.plain import (
    dish_words,
    plain,
    plural,
    sentence_case,
    short_day,
    span_words,
    unbroken,
)
from planopt.scenario.records import Client, Scenario

Row = dict[str, Any]
Key = tuple[int, str, str, str, int]


def own_boxes(containers: Sequence[Container], client_id: str) -> dict[Key, list[Container]]:
    """Return the boxes of one client by day, meal and dish, in the order of their numbers."""
    found: dict[Key, list[Container]] = defaultdict(list)
    for box in containers:
        if box.client_id == client_id:
            found[box.day, box.meal, box.recipe_id, box.version, box.cook_day].append(box)
    return found


def box_words(boxes: Sequence[Container]) -> str:
    """Return the numbers of boxes, for example `boxes 4, 5`."""
    numbers = ", ".join(str(box.number) for box in boxes)
    return f"{'boxes' if len(boxes) > 1 else 'box'} {numbers}"


def how_words(catalog: Catalog, boxes: Sequence[Container]) -> str:
    """Return where the boxes of a meal are, how each is eaten, and by when."""
    told = []
    for box in boxes:
        place = place_of(catalog, box)
        where = "thawed in the fridge" if place == "freezer" else f"from the {place}"
        part = "" if box.parts_of_portion == 1 else f"{plain(box.part)} part (box {box.number}): "
        told.append(f"{part}{where}, {serve_words(box, place)}")
    same = len({words.partition(": ")[2] or words for words in told}) == 1
    first = told[0].partition(": ")[2] or told[0]
    return f"{first if same else '; '.join(told)}. Eat by {short_day(boxes[0].use_by)}"


def _dish_row(catalog: Catalog, row: Row, boxes: Sequence[Container]) -> Row:
    contains = how = ""
    if boxes:
        held = [sentence_case(one) for one in allergen_names(catalog, boxes[0].allergens_of_dish)]
        contains = contains_words(held, food_names(catalog, boxes[0].foods_not_known))
        how = how_words(catalog, boxes)
    return {
        "meal": plain(row["meal"]).capitalize(),
        "dish": f"{row['dish']}, {row['version']}" if row["version"] else row["dish"],
        "servings": unbroken(plural(row["servings"], "serving")),
        "boxes": box_words(boxes) if boxes else "",
        "how": f"{how[:1].upper()}{how[1:]}",
        "contains": contains,
        "macros": [amount(row[n]) for n in tables.MACROS],
    }


def thaw_lines(catalog: Catalog, boxes: Sequence[Container]) -> list[Row]:
    """Return, by day, which of these boxes to move from the freezer to the fridge."""
    found: dict[Any, list[Container]] = defaultdict(list)
    for box in boxes:
        if box.thaw_on is not None:
            found[box.thaw_on].append(box)
    return [
        {
            "date": day,
            "day": short_day(day),
            "boxes": [
                {
                    "number": str(box.number),
                    "dish": dish_words(catalog, box.recipe_id, box.recipe_name, box.version),
                    "for": f"{plain(box.meal)} on {short_day(box.date)}",
                    "eat_by": short_day(box.use_by),
                }
                for box in found[day]
            ],
        }
        for day in sorted(found)
    ]


def _numbers(plan: Plan, catalog: Catalog, scenario: Scenario, client: Client) -> list[Row]:
    """Return the client's own averages a day beside the window of most days."""
    rows = [
        row
        for row in tables.records(tables.day_totals(plan, catalog, scenario))
        if row["client_id"] == client.client_id
    ]
    found = []
    others = [one for one in catalog.amounts if one not in tables.MACROS]
    for nutrient_id in [one for one in tables.MACROS if one in catalog.nutrients] + others:
        mine = [row for row in rows if row["nutrient_id"] == nutrient_id]
        windowed = [row for row in mine if row["met"] is not None]
        if not mine or not (windowed or nutrient_id in tables.MACROS):
            continue
        nutrient = catalog.amounts[nutrient_id]
        digits = nutrient.decimals
        window = (windowed or mine)[0]
        mean = sum(row["amount"] for row in mine) / len(mine)
        found.append(
            {
                "nutrient": nutrient.name,
                "mean": unbroken(f"{amount(mean, digits)} {nutrient.unit}"),
                "window": window_words(window["min"], window["max"], digits),
            }
        )
    return found


def client_days(
    plan: Plan, catalog: Catalog, scenario: Scenario, client: Client,
    containers: Sequence[Container],
) -> list[Row]:  # fmt: skip
    """Return what a client eats day by day, with boxes and how to eat them."""
    boxes = own_boxes(containers, client.client_id)
    portions = [
        p for p in tables.portions_in_order(plan, scenario) if p.client_id == client.client_id
    ]
    menu = [
        row
        for row in tables.records(tables.menu(plan, catalog, scenario))
        if row["client_id"] == client.client_id
    ]
    days = []
    for day in tables.eating_days(scenario, client):
        today = [(p, row) for p, row in zip(portions, menu, strict=True) if p.day == day]
        away = [
            plain(meal)
            for meal in (client.meals if client.meals is not None else scenario.meals)
            if meal not in scenario.meals_of(client, day)
        ]
        days.append(
            {
                "date": scenario.date_of(day),
                "day": short_day(scenario.date_of(day)),
                "short": weekday_text(scenario.date_of(day)),
                "anchor": anchor("day", day),
                "away": ", ".join(away),
                "meals": [
                    _dish_row(
                        catalog, row,
                        boxes.get((p.day, p.meal, p.recipe_id, p.version, p.cook_day), []),
                    )
                    for p, row in today
                ],
                "sums": [amount(sum(row[n] for _, row in today)) for n in tables.MACROS],
            }
        )  # fmt: skip
    return days


def alone(plan: Plan, scenario: Scenario, client: Client) -> tuple[Plan, Scenario]:
    """Return plan and scenario as if there were this one client; nothing else can be told then."""
    portions = tuple(p for p in plan.portions if p.client_id == client.client_id)
    return (
        plan.model_copy(update={"portions": portions, "cautions": STANDING}),
        scenario.model_copy(update={"clients": (client,), "note": ""}),
    )


def client_html(
    plan: Plan, catalog: Catalog, scenario: Scenario, client: Client,
    containers: Sequence[Container], mark: str,
) -> str:  # fmt: skip
    """Return the page of one client; `containers` may hold those of others.

    `mark` is that of the whole plan (`page.parts.plan_mark`).
    """
    mine = [box for box in containers if box.client_id == client.client_id]
    own, only = alone(plan, scenario, client)
    context: dict[str, Any] = {
        "policy": policy(),
        "css": Markup(source("client.css")),
        "footer": page_footer(client.name, mark),
        "name": client.name,
        "span": span_words(plan),
        "days": client_days(own, catalog, only, client, mine),
        "thaw": thaw_lines(catalog, mine),
        "numbers": _numbers(own, catalog, only, client),
        "cautions": cautions_about(own, ["Storage", "Reheating", "Allergens"]),
        "mark": mark[:4],
    }
    return rendered("client.html", context)
