"""The cook-day sheets: timeline, order of work, ovens, quantities, steps and washing-up."""

from __future__ import annotations

from collections import defaultdict
from collections.abc import Sequence
from datetime import datetime, timedelta
from typing import Any

from planopt.catalog.records import Catalog
from planopt.cookday.records import CleanDown, Container, CookDaySchedule, Task
from planopt.plan.records import Batch, Plan
from planopt.report.analysis.worktables import work_rows
from planopt.report.markdown.cooksheets import CHOSEN_WORDS, portions_of, storage_words, time_words
from planopt.report.page.packing import pack_anchor
from planopt.report.page.parts import anchor, cautions_about
from planopt.report.page.timeline import NARROW, WIDE, cook_day_timeline
from planopt.report.words.contact import (
    CLEAN_DOWN,
    NO_PROMISE,
    apart_lines,
    clean_minutes_words,
    reason_lines,
)
from planopt.report.words.kitchen import kitchen_amount
from planopt.report.words.locale import clock_text
from planopt.report.words.plain import (
    dish_words,
    fahrenheit,
    food_name,
    number,
    plain,
    plural,
    short_day,
    unbroken,
)
from planopt.report.words.steps import dish_steps
from planopt.scenario.records import Scenario

Row = dict[str, Any]
Key = tuple[str, str, int]

_WORK_WORDS = {
    "prepare": "Prepare",
    "hob": "On the hob:",
    "oven": "In the oven:",
    "rest": "Leave alone:",
    "portion": "Portion and cool",
}


def _clock(schedule: CookDaySchedule, minute: int) -> str:
    at: datetime = schedule.starts_at + timedelta(minutes=minute)
    days = (at.date() - schedule.starts_at.date()).days
    text = clock_text(at.time())
    return f"{text} next day" if days == 1 else f"{text} after {days} days" if days else text


def _place(schedule: CookDaySchedule, task: Task) -> str:
    if task.oven is not None and task.temperature_c is not None:
        oven = f"oven {task.oven}, " if schedule.ovens > 1 else ""
        return f"{oven}{fahrenheit(task.temperature_c)}"
    if task.rings:
        return plural(len(task.rings), "ring")
    if task.cook is not None and schedule.cooks > 1:
        return f"cook {task.cook}"
    return ""


def _task_rows(
    schedule: CookDaySchedule, names: list[str], catalog: Catalog, scenario: Scenario
) -> list[Row]:
    rows = []
    for n, task in enumerate(work_rows(schedule)):
        row: Row = {
            "id": anchor("task", schedule.cook_day, n),
            "start": _clock(schedule, task.start_minute),
            "end": _clock(schedule, task.end_minute),
            "clean": "",
        }
        if isinstance(task, CleanDown):
            why = "; ".join(reason_lines(schedule, task, catalog, scenario))
            row["dishes"] = {reason.for_dish for reason in task.reasons}
            by = f", cook {task.cook}" if schedule.cooks > 1 else ""
            row |= {"clean": f"{CLEAN_DOWN.capitalize()}{by}", "why": why}
        else:
            row |= {
                "number": task.dish + 1,
                "dish": names[task.dish],
                "work": _WORK_WORDS[task.kind],
                "place": _place(schedule, task),
                "hands": task.kind in ("prepare", "portion"),
            }
        rows.append(row)
    return rows


def _oven_rows(schedule: CookDaySchedule, names: list[str]) -> list[Row]:
    return [
        {
            "oven": str(run.oven),
            "temperature": fahrenheit(run.temperature_c),
            "start": _clock(schedule, run.start_minute),
            "end": _clock(schedule, run.end_minute),
            "dishes": [
                {
                    "number": schedule.tasks[place].dish + 1,
                    "dish": names[schedule.tasks[place].dish],
                    "batches": plural(schedule.tasks[place].batches, "batch"),
                    "start": _clock(schedule, schedule.tasks[place].start_minute),
                    "end": _clock(schedule, schedule.tasks[place].end_minute),
                }
                for place in run.tasks
            ],
        }
        for run in schedule.oven_runs
    ]


def _measure(text: str) -> str:
    """Return a measure that is broken only between two measures: `1/4 cup + 1 tbsp`."""
    return " + ".join(unbroken(part) for part in text.split(" + "))


def _quantities(catalog: Catalog, batch: Batch) -> list[Row]:
    recipe = catalog.recipes.get(batch.recipe_id)
    return [
        {
            "food": food_name(catalog, line.food_id),
            "grams": unbroken(f"{number(line.grams, 0 if line.grams >= 20 else 1)} g"),
            "kitchen": _measure(kitchen_amount(catalog, recipe, line, batch.batches))
            if recipe
            else "",
            "note": CHOSEN_WORDS[line.chosen],
            "part": plain(line.part) if line.part != "main" else "",
        }
        for line in sorted(batch.lines, key=lambda line: line.line)
    ]


def _dish(
    plan: Plan, catalog: Catalog, scenario: Scenario, batch: Batch, place: int,
    schedule: CookDaySchedule, boxes: int,
) -> Row:  # fmt: skip
    work = schedule.dishes[place]
    recipe = catalog.recipes.get(batch.recipe_id)
    frozen = sum(p.servings for p in portions_of(plan, batch) if p.stored == "freezer")
    steps = dish_steps(plan, catalog, recipe, batch)
    temperatures = [s.until_internal_c for s in steps if s.until_internal_c]
    spare = f", {number(batch.servings_left, 2)} to spare" if batch.servings_left > 0.005 else ""
    return {
        "number": place + 1,
        "anchor": anchor("dish", batch.cook_day, place + 1),
        "name": dish_words(catalog, batch.recipe_id, batch.recipe_name, batch.version),
        "amount": f"{plural(batch.batches, 'batch')}: {plural(batch.servings, 'serving')}{spare}",
        "from": _clock(schedule, work.start_minute),
        "packed": _clock(schedule, work.packed_minute),
        "quantities": _quantities(catalog, batch),
        "times": time_words(recipe, batch.batches) if recipe else [],
        "steps": [
            {
                "do": step.do,
                "inside": fahrenheit(step.until_internal_c) if step.until_internal_c else "",
            }
            for step in steps
        ],
        "inside": fahrenheit(max(temperatures)) if temperatures else "",
        "apart": apart_lines(work, catalog, scenario),
        "storage": storage_words(catalog, batch, frozen, short_day),
        "boxes": unbroken(plural(boxes, "box")) if boxes else "",
        "pack": pack_anchor(batch.cook_day, place),
        "cleans": [
            f"{CLEAN_DOWN.capitalize()} at {_clock(schedule, clean.start_minute)}: "
            f"{'; '.join(reason_lines(schedule, clean, catalog, scenario))}."
            for clean in schedule.clean_downs
            if any(reason.for_dish == place for reason in clean.reasons)
        ],
    }


def _numbers(places: set[int]) -> str:
    return ", ".join(str(place + 1) for place in sorted(places))


def _washing(schedule: CookDaySchedule, catalog: Catalog, boxes: int) -> list[Row]:
    """Return what a cook day leaves to wash, as far as recipes tell what they are cooked in."""
    hob = [task for task in schedule.tasks if task.kind == "hob"]
    oven = [task for task in schedule.tasks if task.kind == "oven"]
    recipes = [catalog.recipes.get(dish.recipe_id) for dish in schedule.dishes]
    blended = {n for n, one in enumerate(recipes) if one and one.equipment.blender_minutes}
    raw = {n for n, dish in enumerate(schedule.dishes) if dish.raw_foods}
    found = []
    if hob:
        pots = plural(sum(max(1, len(task.rings)) for task in hob), "pot or pan", "pots and pans")
        found.append(f"{pots} from the hob, of dishes {_numbers({task.dish for task in hob})}")
    if oven:
        trays = plural(sum(task.batches for task in oven), "batch")
        found.append(f"trays and dishes of {trays} from the oven, "
                     f"of dishes {_numbers({task.dish for task in oven})}")  # fmt: skip
    if blended:
        found.append(f"the blender, after dishes {_numbers(blended)}")
    if raw:
        found.append(f"boards, knives and bowls of raw animal food, dishes {_numbers(raw)}")
    found.append("boards, knives, bowls and spoons of the rest; the sink, hob and worktops last")
    if boxes:
        found.append(f"before packing: {plural(boxes, 'box')}, clean and dry")
    mark = anchor("wash", schedule.cook_day)
    return [{"id": f"{mark}-{n}", "what": words} for n, words in enumerate(found)]


def _day(
    plan: Plan, catalog: Catalog, scenario: Scenario, schedule: CookDaySchedule,
    boxes: dict[Key, int],
) -> Row:  # fmt: skip
    batches = {(b.recipe_id, b.version): b for b in plan.batches if b.cook_day == schedule.cook_day}
    ordered = [batches[work.recipe_id, work.version] for work in schedule.dishes]
    names = [dish_words(catalog, b.recipe_id, b.recipe_name, b.version) for b in ordered]
    mark = anchor("day", schedule.cook_day)
    late = schedule.makespan_minutes - schedule.lower_bound_minutes
    proven = (
        "no other order of this work ends earlier"
        if not late
        else f"no order can end more than {number(late)} min earlier"
    )
    return {
        "anchor": mark,
        "day": short_day(schedule.cook_date),
        "start": _clock(schedule, 0),
        "end": _clock(schedule, schedule.makespan_minutes),
        "hours": f"{schedule.makespan_minutes // 60} h {schedule.makespan_minutes % 60:02d} min",
        "proven": proven,
        "hands": number(schedule.hands_on_minutes),
        "with": ", ".join(
            [
                plural(schedule.cooks, "cook"),
                f"{plural(schedule.ovens, 'oven')} of {plural(schedule.oven_batches, 'batch')}",
                plural(schedule.hob_rings, "ring"),
            ]
        ),
        "wide": cook_day_timeline(f"{mark}-wide", schedule, names, WIDE),
        "narrow": cook_day_timeline(f"{mark}-narrow", schedule, names, NARROW),
        "tasks": _task_rows(schedule, names, catalog, scenario),
        "cleaning": clean_minutes_words(schedule),
        "cleans": bool(schedule.clean_downs),
        "no_promise": NO_PROMISE
        if schedule.clean_downs or any(work.made_apart_from for work in schedule.dishes)
        else "",
        "ovens": _oven_rows(schedule, names),
        "several_ovens": schedule.ovens > 1,
        "washing": _washing(
            schedule, catalog, sum(n for (*_, day), n in boxes.items() if day == schedule.cook_day)
        ),
        "dishes": [
            _dish(plan, catalog, scenario, batch, place, schedule,
                  boxes[batch.recipe_id, batch.version, batch.cook_day])
            for place, batch in enumerate(ordered)
        ],
    }  # fmt: skip


def cooking(
    plan: Plan,
    catalog: Catalog,
    scenario: Scenario,
    schedules: Sequence[CookDaySchedule],
    containers: Sequence[Container],
) -> Row:
    """Return what the cook-day section shows."""
    boxes: dict[Key, int] = defaultdict(int)
    for box in containers:
        boxes[box.recipe_id, box.version, box.cook_day] += 1
    return {
        "days": [_day(plan, catalog, scenario, schedule, boxes) for schedule in schedules],
        "cautions": cautions_about(plan, ["Cooling", "Reheating"]),
    }
