"""Parts of a plan on 80 columns: a client's week, the groceries, the cook days, the labels."""

from __future__ import annotations

from collections import defaultdict
from collections.abc import Sequence
from decimal import Decimal
from fractions import Fraction
from typing import Any

from planopt.catalog.records import Catalog
from planopt.cookday.records import CleanDown, Container, CookDaySchedule
from planopt.plan.records import Batch, Plan
from planopt.plan.split import by_weights
from planopt.report.analysis import tables
from planopt.report.analysis.labels import Label, contains_words, date_words, labels_of
from planopt.report.analysis.worktables import clock_words, where_words, work_rows
from planopt.report.markdown.cooksheets import CHOSEN_WORDS, portions_of, storage_words, time_words
from planopt.report.words.columns import WIDTH, fit_table, fit_tables, screen_width, wrap
from planopt.report.words.contact import (
    NO_PROMISE,
    apart_lines,
    clean_minutes_words,
    reason_lines,
)
from planopt.report.words.kitchen import cooking_order, kitchen_amount
from planopt.report.words.locale import decimal_text
from planopt.report.words.plain import (
    day_text,
    dish_words,
    fahrenheit,
    food_name,
    money,
    number,
    plain,
    plural,
    short_day,
    span_text,
)
from planopt.report.words.steps import dish_steps
from planopt.scenario.records import Client, Scenario
from planopt.units import exact, round_half_up


def _title(text: str) -> str:
    lines = wrap(text, WIDTH)
    return "\n".join([*lines, "-" * max(map(screen_width, lines))])


def _block(text: str, indent: str = "") -> str:
    return "\n".join(indent + line for line in wrap(text, WIDTH - len(indent)))


def _with_version(row: dict[str, Any]) -> str:
    return f"{row['dish']}, {row['version']}" if row["version"] else str(row["dish"])


def client_screen(
    plan: Plan, catalog: Catalog, scenario: Scenario, client_id: str | None = None
) -> str:
    """Return what each client, or the one asked for, eats day by day."""
    menu = tables.records(tables.menu(plan, catalog, scenario))
    blocks = []
    for client in scenario.clients:
        if client_id not in (None, client.client_id):
            continue
        mine = [row for row in menu if row["client_id"] == client.client_id]
        days = [
            (day, _day_rows([row for row in mine if row["day"] == day], scenario, client, day))
            for day in range(1, scenario.days + 1)
        ]
        headers = ("Meal", "Dish", "Servings", "kcal", "Protein g", "From")
        tables_of_days = fit_tables(
            headers, [rows for _, rows in days], flexible=1, right=(2, 3, 4), whole=True
        )
        blocks.append(_title(f"{client.name}, {span_text(plan)}"))
        for (day, rows), table in zip(days, tables_of_days, strict=True):
            text = table if rows else "Away all day."
            blocks.append(f"{day_text(scenario.date_of(day))}\n{text}")
    return "\n\n".join(blocks)


def _day_rows(
    today: Sequence[dict[str, Any]], scenario: Scenario, client: Client, day: int
) -> list[tuple[str, ...]]:
    """Return the rows of a client's day, meals away among them; none where all of it is away.

    Figures are rounded so that they add up to the day.
    """
    eaten = scenario.meals_of(client, day)
    wanted = client.meals if client.meals is not None else scenario.meals
    if not today and not eaten:
        return []
    columns = [
        _adding_up([row[nutrient] for row in today], digits)
        for nutrient, digits in (("energy_kcal", 0), ("protein_g", 1))
    ]
    texts = list(zip(*columns, strict=True))
    rows = []
    for meal in (*scenario.meals, *{row["meal"]: 0 for row in today if row["meal"] not in eaten}):
        mine = [
            (plain(meal), _with_version(row), number(row["servings"], 2), *texts[n], row["stored"])
            for n, row in enumerate(today)
            if row["meal"] == meal
        ]
        if not mine and meal in wanted:
            mine = [(plain(meal), "-" if meal in eaten else "(away)", "", "", "", "")]
        rows += mine
    return [*rows, ("day", "", "", *texts[-1], "")]


def _adding_up(amounts: Sequence[float], digits: int) -> list[str]:
    """Return amounts rounded so that they add up to their rounded sum, and that sum."""
    total = round_half_up(sum(map(exact, amounts), Fraction(0)), digits)
    units = by_weights(int(total.scaleb(digits)), [exact(a) for a in amounts]) if amounts else []
    rounded = [Decimal(one).scaleb(-digits) for one in units]
    return [decimal_text(one, fewest=digits) for one in (*rounded, total)]


def groceries_screen(plan: Plan, catalog: Catalog, scenario: Scenario) -> str:
    """Return the shopping list by visit, and what is on hand already."""
    lines = tables.records(tables.groceries(plan, catalog))
    blocks = []
    for visit in tables.records(tables.seller_totals(plan, catalog)):
        rows = [
            (row["aisle"], row["pack"], row["food"], money(row["price"], plan.currency))
            for row in lines
            if (row["shop_day"], row["seller_id"]) == (visit["shop_day"], visit["seller_id"])
        ]
        rows.append(("", "", "Total", money(visit["total"], plan.currency)))
        blocks.append(_title(f"{visit['seller']}, {day_text(visit['shop_date'])}"))
        headers = ("Aisle", "Take", "Food", plan.currency)
        blocks.append(fit_table(headers, rows, flexible=2, right=(3,), whole=True))
    total = sum((p.price for p in plan.purchases), Decimal(0))
    blocks.append(f"All sellers: {money(total, plan.currency)} {plan.currency}")
    stock = [
        (
            row["food"],
            number(row["available_g"]),
            number(row["used_g"]),
            day_text(row["use_by"]) if row["use_by"] else "-",
        )
        for row in tables.records(tables.on_hand(plan, catalog, scenario))
    ]
    if stock:
        blocks.append(_title("Already on hand, in edible grams"))
        headers = ("Food", "On hand", "Used", "Use by")
        blocks.append(fit_table(headers, stock, flexible=0, right=(1, 2), whole=True))
    return "\n\n".join(blocks)


def _timetable(day: CookDaySchedule, names: Sequence[str]) -> str:
    rows = []
    for task in work_rows(day):
        if isinstance(task, CleanDown):
            rows.append(
                (
                    clock_words(day, task.start_minute),
                    clock_words(day, task.end_minute),
                    "clean",
                    "Clean down, see below",
                    f"cook {task.cook}",
                )
            )
            continue
        where = where_words(task)
        if task.temperature_c is not None:
            where += f", {fahrenheit(task.temperature_c)}"
        rows.append(
            (
                clock_words(day, task.start_minute),
                clock_words(day, task.end_minute),
                task.kind,
                f"{task.dish + 1}. {names[task.dish]}",
                where,
            )
        )
    headers = ("From", "To", "Task", "Dish", "With")
    return fit_table(headers, rows, flexible=3, right=(), whole=True)


def _clean_downs(day: CookDaySchedule, catalog: Catalog, scenario: Scenario) -> list[str]:
    lines = [
        _block(
            f"Clean down at {clock_words(day, clean.start_minute)}: "
            f"{'; '.join(reason_lines(day, clean, catalog, scenario))}."
        )
        for clean in day.clean_downs
    ]
    kept = any(dish.made_apart_from for dish in day.dishes)
    return [*lines, *([_block(NO_PROMISE)] if lines or kept else [])]


def _dish_block(
    plan: Plan, catalog: Catalog, batch: Batch, place: int, apart: Sequence[str]
) -> list[str]:
    recipe = catalog.recipes.get(batch.recipe_id)
    name = dish_words(catalog, batch.recipe_id, batch.recipe_name, batch.version)
    portions = portions_of(plan, batch)
    frozen = sum(p.servings for p in portions if p.stored == "freezer")
    rows = []
    for line in sorted(batch.lines, key=lambda line: line.line):
        note = [CHOSEN_WORDS[line.chosen]] if CHOSEN_WORDS[line.chosen] else []
        if line.part != "main":
            note.append(plain(line.part))
        rows.append(
            (
                f"{number(line.grams, 0 if line.grams >= 20 else 1)} g",
                kitchen_amount(catalog, recipe, line, batch.batches) if recipe else "",
                ", ".join([food_name(catalog, line.food_id), *note]),
            )
        )
    blocks = [
        _block(f"{place}. {name}: {plural(batch.batches, 'batch')}, "
               f"{plural(batch.servings, 'serving')}"),
        *([_block(" ".join(apart))] if apart else []),
        fit_table(("Edible", "Measure", "Food"), rows, flexible=2, right=(0,), whole=True),
    ]  # fmt: skip
    if recipe is not None:
        blocks.append(_block(f"Time: {'; '.join(time_words(recipe, batch.batches))}."))
        steps = [
            f"{n}. {step.do}"
            + (
                f" Inside at least {fahrenheit(step.until_internal_c)}."
                if step.until_internal_c is not None
                else ""
            )
            for n, step in enumerate(dish_steps(plan, catalog, recipe, batch), start=1)
        ]
        blocks.append("\n".join(_block(step) for step in steps))
    blocks.append(_block(storage_words(catalog, batch, frozen)))
    return blocks


def cook_screen(
    plan: Plan, catalog: Catalog, scenario: Scenario, schedules: Sequence[CookDaySchedule]
) -> str:
    """Return each cook day: its timetable, then what goes into each dish and how it is made.

    A day without a timetable, because the catalog lacks its recipes, has its dishes alone.
    """
    timetables = {day.cook_day: day for day in schedules}
    by_day: dict[int, list[Batch]] = defaultdict(list)
    for batch in plan.batches:
        by_day[batch.cook_day].append(batch)
    blocks = []
    for cook_day, batches in sorted(by_day.items()):
        blocks.append(_title(f"Cook on {day_text(batches[0].cook_date)}"))
        day = timetables.get(cook_day)
        ordered = cooking_order(catalog, batches)
        apart: dict[tuple[str, str], list[str]] = {}
        if day is not None:
            place = {(d.recipe_id, d.version): n for n, d in enumerate(day.dishes)}
            ordered.sort(key=lambda b: place.get((b.recipe_id, b.version), len(place)))
            names = [dish_words(catalog, d.recipe_id, d.recipe_name, d.version) for d in day.dishes]
            blocks += [
                _block(
                    f"From {clock_words(day, 0)} to {clock_words(day, day.makespan_minutes)}, "
                    f"{number(day.makespan_minutes)} min; no order of this work takes less than "
                    f"{number(day.lower_bound_minutes)} min. Hands-on work: "
                    f"{number(day.hands_on_minutes)} min; besides, {clean_minutes_words(day)}."
                ),
                _timetable(day, names),
                *_clean_downs(day, catalog, scenario),
            ]
            apart = {
                (d.recipe_id, d.version): apart_lines(d, catalog, scenario) for d in day.dishes
            }
        for n, batch in enumerate(ordered, start=1):
            kept = apart.get((batch.recipe_id, batch.version), [])
            blocks += _dish_block(plan, catalog, batch, n, kept)
    return "\n\n".join(blocks)


def _label(label: Label) -> str:
    box = label.container
    lines = [
        f"{label.who}, {short_day(box.date)}, {plain(box.meal)}: {label.portion}",
        ", ".join(f"{word} {date}" for word, date in date_words(box)),
        label.keep,
        f"{label.energy_kcal} kcal, protein {label.protein_g} g, fat {label.fat_g} g, "
        f"carbohydrate {label.carbohydrate_g} g",
        contains_words(label.allergens, label.not_known),
        *filter(None, [label.apart]),
    ]
    head = f"{box.number}. {label.dish}{f': {label.part}' if label.part else ''}"
    return "\n".join([_block(head), *(_block(line, indent="   ") for line in lines)])


def labels_screen(
    boxes: Sequence[Container],
    catalog: Catalog,
    scenario: Scenario,
    client_id: str | None = None,
) -> str:
    """Return the labels of all boxes, or of one client's; figures rounded as labels are."""
    labels = labels_of(boxes, catalog, scenario.label_sheet)
    mine = [one for one in labels if client_id in (None, one.container.client_id)]
    mine.sort(key=lambda one: one.container.number)
    return "\n\n".join(_label(label) for label in mine)
