"""The cook-day sheets of report.md, and the storage and thaw notes."""

from __future__ import annotations

from collections import defaultdict
from collections.abc import Callable, Sequence
from datetime import date

from planopt.catalog.records import Catalog, Recipe
from planopt.cookday.containers import days_once_thawed
from planopt.cookday.records import CleanDown, CookDaySchedule, DishWork
from planopt.plan.records import Batch, Plan, Portion
from planopt.report.analysis.tables import ready, records
from planopt.report.analysis.worktables import clock_words, work_rows
from planopt.report.markdown.marks import md, md_block, table
from planopt.report.words.contact import (
    CLEAN_DOWN,
    NO_PROMISE,
    apart_lines,
    clean_minutes_words,
    reason_lines,
)
from planopt.report.words.keeping import REHEAT_C, is_dry
from planopt.report.words.kitchen import (
    cooking_order,
    hands_on_minutes,
    hob_minutes,
    kitchen_amount,
    oven_minutes,
)
from planopt.report.words.plain import (
    day_text,
    dish_words,
    fahrenheit,
    food_name,
    number,
    plain,
    plural,
    sentence_case,
)
from planopt.report.words.steps import dish_steps
from planopt.scenario.records import CookDay, Scenario

CHOSEN_WORDS = {"as written": "", "alternative": "swapped in", "optional": "optional, left in"}
_IN_ORDER = "Dishes are in the order of their timetable."
_LONGEST_FIRST = "Dishes that look after themselves longest come first."


def portions_of(plan: Plan, batch: Batch) -> list[Portion]:
    """Return the portions eaten of a batch."""
    return [
        p
        for p in plan.portions
        if (p.recipe_id, p.version, p.cook_day)
        == (batch.recipe_id, batch.version, batch.cook_day)
    ]  # fmt: skip


def _limit(used: float, limit: float | None) -> str:
    text = f"{number(used)} min"
    return f"{text} of {number(limit)} allowed" if limit is not None else text


def _day_times(catalog: Catalog, cook: CookDay | None, day_batches: list[Batch]) -> str:
    pairs = [
        (catalog.recipes[b.recipe_id], b.batches)
        for b in day_batches
        if b.recipe_id in catalog.recipes
    ]
    hands = sum(hands_on_minutes(recipe, count) for recipe, count in pairs)
    oven = sum(oven_minutes(recipe, count) for recipe, count in pairs)
    hob = sum(hob_minutes(recipe, count) for recipe, count in pairs)
    rows = [
        ("Hands-on", _limit(hands, cook.hands_on_minutes if cook else None)),
        ("Oven", _limit(oven, cook.oven_minutes if cook else None)),
        ("Hob, all rings", _limit(hob, cook.hob_minutes if cook else None)),
    ]
    return table(("Time", "Minutes"), rows)


def _quantities(catalog: Catalog, recipe: Recipe | None, batch: Batch) -> str:
    apart = len({line.part for line in batch.lines}) > 1
    rows = []
    for line in sorted(batch.lines, key=lambda line: line.line):
        kitchen = kitchen_amount(catalog, recipe, line, batch.batches) if recipe else ""
        digits = 0 if line.grams >= 20 else 1
        row = [
            md(food_name(catalog, line.food_id)),
            f"{number(line.grams, digits)} g",
            md(kitchen),
            CHOSEN_WORDS[line.chosen],
        ]
        rows.append([*row, md(plain(line.part))] if apart else row)
    headers = ["Food", "Edible weight", "Kitchen units", "Note"]
    return table([*headers, "Part"] if apart else headers, rows, right=(1,))


def time_words(recipe: Recipe, batches: float) -> list[str]:
    """Return the times of one dish on one cook day in words."""
    minutes, equipment = recipe.minutes, recipe.equipment
    lines = [f"hands-on {number(hands_on_minutes(recipe, batches))} min"]
    if minutes.unattended:
        lines.append(f"unattended {number(minutes.unattended)} min")
    if equipment.oven:
        in_all = "" if batches == 1 else f", {number(oven_minutes(recipe, batches))} min in all"
        lines.append(
            f"oven at {fahrenheit(equipment.oven.temperature_c)}, "
            f"{number(equipment.oven.minutes)} min a batch{in_all}"
        )
    if equipment.hob_minutes:
        lines.append(f"hob {number(hob_minutes(recipe, batches))} ring-minutes")
    if equipment.blender_minutes:
        lines.append(f"blender {number(equipment.blender_minutes * batches)} min")
    return lines


def _parts(catalog: Catalog, batch: Batch) -> str:
    by_part: dict[str, list[str]] = defaultdict(list)
    for line in batch.lines:
        by_part[line.part].append(sentence_case(food_name(catalog, line.food_id)))
    if len(by_part) < 2:
        return ""
    groups = (
        f"{plain(part)} ({'; '.join(dict.fromkeys(foods))})"
        for part, foods in by_part.items()
        if part != "main"
    )
    return "Keep apart until eating: " + md(", ".join(groups)) + "."


def storage_words(
    catalog: Catalog, batch: Batch, frozen: float, day_words: Callable[[date], str] = day_text
) -> str:
    """Return where and how long a dish keeps, and how it is served; `frozen` is in servings."""
    recipe = catalog.recipes.get(batch.recipe_id)
    dry = is_dry(catalog, batch.recipe_id)
    place = "Closed in a dry cupboard" if dry else "Fridge"
    text = f"{place}: eat by {day_words(batch.use_by_fridge)}."
    if batch.use_by_freezer is not None:
        what = f"freeze {plural(frozen, 'serving')}" if frozen else "freeze"
        days = plural(days_once_thawed(batch, catalog), "day")
        text += (
            f" Freezer: {what} by {day_words(batch.cook_date)}, as soon as cold; thaw in the fridge"
            f" by {day_words(batch.use_by_freezer)} and eat within {days}."
        )
    if recipe is None:
        return text
    serve = recipe.keeps.serve
    if serve == "reheated":
        text += f" Serve reheated to {fahrenheit(REHEAT_C)}."
    elif serve == "cold":
        text += " Serve as it is." if dry else " Serve cold."
    else:
        text += f" Serve cold, or reheated to {fahrenheit(REHEAT_C)}."
    return text


def _packing(scenario: Scenario, portions: list[Portion]) -> str:
    names = {client.client_id: client.name for client in scenario.clients}
    rows = [
        (
            md(names.get(p.client_id, p.client_id)),
            day_text(p.date),
            md(plain(p.meal)),
            number(p.servings, 2),
            p.stored if p.thaw_on is None else f"freezer, thaw {day_text(p.thaw_on)}",
        )
        for p in sorted(portions, key=lambda p: (p.client_id, p.day, p.meal))
    ]
    return table(("Client", "Day", "Meal", "Servings", "Store in"), rows, right=(3,))


def _order_of_work(day: CookDaySchedule, catalog: Catalog, scenario: Scenario) -> list[str]:
    """Return the hands-on work of a day with its clean-downs, and what these are for."""
    rows = []
    for task in work_rows(day):
        times = (clock_words(day, task.start_minute), clock_words(day, task.end_minute))
        if isinstance(task, CleanDown):
            why = "; ".join(reason_lines(day, task, catalog, scenario))
            rows.append((*times, f"**{CLEAN_DOWN}**: {md(why)}"))
        elif task.cook is not None:
            dish = day.dishes[task.dish]
            name = dish_words(catalog, dish.recipe_id, dish.recipe_name, dish.version)
            rows.append((*times, f"{task.kind} {task.dish + 1}. {md(name)}"))
    blocks = [
        f"From {clock_words(day, 0)} to {clock_words(day, day.makespan_minutes)}, "
        f"{number(day.makespan_minutes)} min; {clean_minutes_words(day)}. "
        "Hands-on work in this order:",
        table(("From", "To", "Work"), rows),
    ]
    if day.clean_downs or any(dish.made_apart_from for dish in day.dishes):
        blocks.append(NO_PROMISE)
    return blocks


def _dish_sheet(
    plan: Plan,
    catalog: Catalog,
    scenario: Scenario,
    batch: Batch,
    n: int,
    work: DishWork | None,
) -> str:
    recipe = catalog.recipes.get(batch.recipe_id)
    portions = portions_of(plan, batch)
    frozen = sum(p.servings for p in portions if p.stored == "freezer")
    dish = dish_words(catalog, batch.recipe_id, batch.recipe_name, batch.version)
    spare = f", {number(batch.servings_left, 2)} to spare" if batch.servings_left > 0.005 else ""
    apart = apart_lines(work, catalog, scenario) if work is not None else []
    blocks = [
        f"#### {n}. {md(dish)}",
        f"{plural(batch.batches, 'batch')}: {plural(batch.servings, 'serving')}, "
        f"{number(batch.servings_eaten, 2)} eaten{spare}.",
        *([md(" ".join(apart))] if apart else []),
        _quantities(catalog, recipe, batch),
    ]
    if recipe is not None:
        blocks.append("Time: " + "; ".join(time_words(recipe, batch.batches)) + ".")
        steps = []
        for place, step in enumerate(dish_steps(plan, catalog, recipe, batch), start=1):
            inside = (
                f" Inside at least {fahrenheit(step.until_internal_c)}."
                if step.until_internal_c is not None
                else ""
            )
            steps.append(f"{place}. {md_block(step.do)}{inside}")
        if steps:
            blocks.append("\n".join(steps))
    if parts := _parts(catalog, batch):
        blocks.append(parts)
    blocks.append(storage_words(catalog, batch, frozen))
    if portions:
        blocks.append(_packing(scenario, portions))
    return "\n\n".join(blocks)


def cook_sheets(
    plan: Plan,
    catalog: Catalog,
    scenario: Scenario,
    schedules: Sequence[CookDaySchedule] = (),
) -> str:
    """Return one sheet for each cook day with something to cook.

    Where a day's timetable is given, its hands-on work comes first and the dishes in its order.
    """
    timetables = {day.cook_day: day for day in schedules}
    cooks = {cook.day: cook for cook in scenario.cook_days}
    by_day: dict[int, list[Batch]] = defaultdict(list)
    for batch in plan.batches:
        by_day[batch.cook_day].append(batch)
    blocks = [
        "## Cook days",
        f"{_IN_ORDER if schedules else _LONGEST_FIRST} Weights are edible food for all batches of "
        "the day together; times in steps are for one batch.",
    ]
    for day in sorted(by_day):
        day_batches = cooking_order(catalog, by_day[day])
        blocks.append(f"### Cook on {day_text(day_batches[0].cook_date)}")
        blocks.append(_day_times(catalog, cooks.get(day), day_batches))
        works: dict[tuple[str, str], DishWork] = {}
        if timetable := timetables.get(day):
            works = {(one.recipe_id, one.version): one for one in timetable.dishes}
            place = {key: n for n, key in enumerate(works)}
            day_batches = sorted(
                day_batches, key=lambda b: place.get((b.recipe_id, b.version), len(place))
            )
            blocks += _order_of_work(timetable, catalog, scenario)
        blocks += [
            _dish_sheet(
                plan, catalog, scenario, batch, n, works.get((batch.recipe_id, batch.version))
            )
            for n, batch in enumerate(day_batches, start=1)
        ]
    return "\n\n".join(blocks)


def _ready(plan: Plan, catalog: Catalog) -> list[str]:
    """Return what was ready before the plan, if anything was."""
    rows = [
        (
            md(row["dish"]),
            day_text(row["cooked"]),
            row["kept"],
            day_text(row["keeps_until"]),
            number(row["servings"], 2),
            number(row["eaten"], 2),
            number(row["left"], 2),
        )
        for row in records(ready(plan, catalog))
    ]
    if not rows:
        return []
    headers = ("Dish", "Cooked", "In the", "Eat by", "Servings", "Eaten", "Left")
    return ["### Ready from earlier weeks", table(headers, rows, (4, 5, 6))]


def storage_notes(plan: Plan, catalog: Catalog, scenario: Scenario) -> str:
    """Return use-by dates of all dishes, and what to move to the fridge on which day."""
    dishes = [
        (
            md(dish_words(catalog, b.recipe_id, b.recipe_name, b.version)),
            day_text(b.cook_date),
            day_text(b.use_by_fridge),
            day_text(b.use_by_freezer) if b.use_by_freezer else "do not freeze",
            number(sum(p.servings for p in portions_of(plan, b) if p.stored == "freezer"), 2),
        )
        for b in sorted(plan.batches, key=lambda b: (b.cook_day, b.recipe_name, b.version))
    ]
    names = {client.client_id: client.name for client in scenario.clients}
    thaws = [
        (
            day_text(p.thaw_on),
            md(dish_words(catalog, p.recipe_id, p.recipe_name, p.version)),
            number(p.servings, 2),
            md(names.get(p.client_id, p.client_id)),
            f"{day_text(p.date)}, {md(plain(p.meal))}",
        )
        for p in sorted(plan.portions, key=lambda p: (p.day, p.recipe_name, p.client_id, p.meal))
        if p.thaw_on is not None
    ]
    blocks = [
        "## Storage and thawing",
        table(("Dish", "Cooked", "Fridge until", "Freezer until", "Servings frozen"), dishes, (4,)),
        *_ready(plan, catalog),
        "### Move from freezer to fridge",
        table(("On", "Dish", "Servings", "For", "Eaten"), thaws, (2,)),
    ]
    return "\n\n".join(blocks)
