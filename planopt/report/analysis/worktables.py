"""The work of a plan as neutral tables: the timetable of the cook days, and the containers."""

from __future__ import annotations

from collections.abc import Sequence
from datetime import timedelta
from math import nan

import pandas as pd

from planopt.catalog.records import Catalog
from planopt.cookday.records import CleanDown, Container, CookDaySchedule, Task
from planopt.report.analysis.tables import MACROS, frame
from planopt.report.words.contact import reason_lines
from planopt.report.words.locale import clock_text
from planopt.report.words.plain import dish_words, food_name, plain, sentence_case, version_words
from planopt.scenario.records import Scenario


def where_words(task: Task) -> str:
    """Return which cook, rings or oven a task holds, for example `rings 1, 2`."""
    if task.cook is not None:
        return f"cook {task.cook}"
    if task.oven is not None:
        return f"oven {task.oven}"
    if task.rings:
        numbers = ", ".join(str(ring) for ring in task.rings)
        return f"ring{'s' if len(task.rings) > 1 else ''} {numbers}"
    return ""


def clock_words(day: CookDaySchedule, minute: int) -> str:
    """Return the time of day of a minute of a cook day, and the day when it is a later one."""
    at = day.starts_at + timedelta(minutes=minute)
    days = (at.date() - day.starts_at.date()).days
    text = clock_text(at.time())
    return f"{text} next day" if days == 1 else f"{text} after {days} days" if days else text


def work_rows(day: CookDaySchedule) -> list[Task | CleanDown]:
    """Return the tasks and clean-downs of a day in the order of their start, cleaning first."""
    rows: list[Task | CleanDown] = [*day.clean_downs, *day.tasks]
    return sorted(rows, key=lambda row: row.start_minute)


def schedule(
    schedules: Sequence[CookDaySchedule], catalog: Catalog, scenario: Scenario | None = None
) -> pd.DataFrame:
    """Return the timetable, a row for each task and each clean-down.

    `starts` and `ends` are local times of day. `why` says what a clean-down is for, with clients by
    name where the scenario is given.
    """
    rows = []
    for day in schedules:
        for task in work_rows(day):
            if isinstance(task, CleanDown):
                why = reason_lines(day, task, catalog, scenario, numbered=False)
                rows.append(
                    (
                        day.cook_day, day.cook_date,
                        day.starts_at + timedelta(minutes=task.start_minute),
                        day.starts_at + timedelta(minutes=task.end_minute),
                        "clean", "", "", nan, f"cook {task.cook}", nan, nan, "; ".join(why),
                    )
                )  # fmt: skip
                continue
            dish = day.dishes[task.dish]
            rows.append(
                (
                    day.cook_day, day.cook_date,
                    day.starts_at + timedelta(minutes=task.start_minute),
                    day.starts_at + timedelta(minutes=task.end_minute),
                    task.kind, dish.recipe_id,
                    dish_words(catalog, dish.recipe_id, dish.recipe_name, dish.version),
                    task.batches, where_words(task),
                    nan if task.temperature_c is None else task.temperature_c, task.grams, "",
                )
            )  # fmt: skip
    return frame(
        ("cook_day", "cook_date", "starts", "ends", "task", "recipe_id", "dish", "batches",
         "where", "temperature_c", "grams", "why"),
        rows,
        whole=("cook_day",),
        real=("batches", "temperature_c", "grams"),
    )  # fmt: skip


def containers(boxes: Sequence[Container], catalog: Catalog) -> pd.DataFrame:
    """Return a row for each box.

    `allergens` is a tuple of names, of the whole dish; `allergens_not_known` one of foods. Of a
    frozen box `use_by` counts from thawing.
    """
    return frame(
        ("number", "cooked_on", "client_id", "client", "date", "meal", "recipe_id", "dish",
         "version", "part", "serve", "servings", "grams", "stored", "freeze_by", "thaw_on",
         "use_by", *MACROS, "allergens", "allergens_not_known",
         "made_apart_from"),
        [
            (
                box.number, box.cooked_on, box.client_id, box.client_name, box.date, box.meal,
                box.recipe_id, box.recipe_name,
                version_words(catalog, catalog.recipes.get(box.recipe_id), box.version),
                plain(box.part), box.serve, box.servings, box.grams, box.stored, box.freeze_by,
                box.thaw_on, box.use_by, *(box.nutrients.get(n, nan) for n in MACROS),
                allergen_names(catalog, box.allergens_of_dish),
                food_names(catalog, box.foods_not_known),
                allergen_names(catalog, box.made_apart_from),
            )
            for box in boxes
        ],
        whole=("number",),
        real=("servings", "grams", *MACROS),
    )  # fmt: skip


def allergen_names(catalog: Catalog, allergen_ids: Sequence[str]) -> tuple[str, ...]:
    """Return the names of allergen groups, or their ids as words where the catalog lacks them."""
    return tuple(
        catalog.allergens[a].name if a in catalog.allergens else plain(a) for a in allergen_ids
    )


def food_names(catalog: Catalog, food_ids: Sequence[str]) -> tuple[str, ...]:
    """Return the names of foods as they stand within a sentence."""
    return tuple(sentence_case(food_name(catalog, food_id)) for food_id in food_ids)
