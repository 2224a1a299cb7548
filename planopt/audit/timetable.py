"""Timetables of cook days: nobody and nothing in two places at once, and no work left out.

Reads the timetable, the plan, the catalog and the scenario; shares nothing with the scheduler.
"""

from __future__ import annotations

from collections import Counter, defaultdict
from collections.abc import Iterable, Iterator, Sequence
from datetime import datetime, time, timedelta
from fractions import Fraction

from planopt.audit.contact import check_contact
from planopt.audit.findings import (
    Finding,
    above,
    exact,
    same_amount,
    same_grams,
    show,
    unequal,
)
from planopt.catalog.records import Catalog, Recipe
from planopt.cookday.records import CleanDown, CookDaySchedule, OvenRun, Task
from planopt.plan.records import Batch, Plan
from planopt.scenario.records import CookDay, Scenario

_HANDS_ON = ("prepare", "portion")


def check_timetables(
    schedules: Sequence[CookDaySchedule], plan: Plan, catalog: Catalog, scenario: Scenario
) -> list[Finding]:
    """Return every disagreement found; an empty list means that the timetables can be cooked by.

    How long cooked food waits for its portioning is compared, not judged: it is a figure of the
    timetable, for the reports to warn of.
    """
    cooked = {batch.cook_day for batch in plan.batches}
    times = Counter(schedule.cook_day for schedule in schedules)
    findings = [
        Finding("timetable", f"cook day {day}", f"{int(day in cooked)} timetables", str(times[day]))
        for day in sorted(cooked | times.keys())
        if times[day] != int(day in cooked)
    ]
    cooks = {cook.day: cook for cook in scenario.cook_days}
    for schedule in schedules:
        batches = [batch for batch in plan.batches if batch.cook_day == schedule.cook_day]
        cook = cooks.get(schedule.cook_day)
        if batches and cook is not None:
            findings += _check_head(schedule, cook, batches[0], scenario)
            findings += _check_dishes(schedule, batches, catalog)
            findings += _check_hands_and_rings(schedule)
            findings += _check_ovens(schedule)
            findings += _check_sums(schedule)
            findings += check_contact(schedule, plan, catalog, scenario)
    return findings


def _check_head(
    schedule: CookDaySchedule, cook: CookDay, batch: Batch, scenario: Scenario
) -> Iterator[Finding]:
    kitchen = scenario.appliances
    starts = datetime.combine(batch.cook_date, time.fromisoformat(cook.starts_at))
    stated = (
        ("cook_date", batch.cook_date, schedule.cook_date),
        ("starts_at", starts, schedule.starts_at),
        (
            "ends_at",
            starts + timedelta(minutes=schedule.makespan_minutes),
            schedule.ends_at,
        ),
        ("cooks", cook.cooks, schedule.cooks),
        ("ovens", kitchen.ovens, schedule.ovens),
        ("oven_batches", kitchen.oven_batches, schedule.oven_batches),
        ("oven_change_minutes", kitchen.oven_change_minutes, schedule.oven_change_minutes),
        ("hob_rings", kitchen.hob_rings, schedule.hob_rings),
    )
    for field, expected, found in stated:
        yield from unequal("timetable-head", f"{_day(schedule)}, {field}", expected, found)


def _day(schedule: CookDaySchedule) -> str:
    return f"cook day {schedule.cook_day}"


def _check_dishes(
    schedule: CookDaySchedule, batches: Sequence[Batch], catalog: Catalog
) -> Iterator[Finding]:
    where = _day(schedule)
    rows = Counter((dish.recipe_id, dish.version) for dish in schedule.dishes)
    by_key = {(batch.recipe_id, batch.version): batch for batch in batches}
    for key in sorted(rows.keys() | by_key.keys()):
        if rows[key] != int(key in by_key):
            place = f"{where}, {' '.join(key)}"
            yield Finding("dish-row", place, f"{int(key in by_key)} rows", f"{rows[key]} rows")
    of_dish: dict[int, list[Task]] = defaultdict(list)
    for task in schedule.tasks:
        of_dish[task.dish].append(task)
        if not 0 <= task.dish < len(schedule.dishes):
            yield Finding("dish-row", where, "tasks of its dishes", f"dish {task.dish}")
    for n, dish in enumerate(schedule.dishes):
        batch = by_key.get((dish.recipe_id, dish.version))
        recipe = catalog.recipes.get(dish.recipe_id)
        if batch is None or recipe is None:
            continue
        place = f"{where}, {dish.recipe_id} {dish.version}"
        grams = sum((exact(line.grams) for line in batch.lines), Fraction(0))
        for field, same, expected, found in (
            ("batches", same_amount, exact(batch.batches), dish.batches),
            ("servings", same_amount, exact(batch.servings), dish.servings),
            ("grams", same_grams, grams, dish.grams),
        ):
            if not same(expected, exact(found)):
                yield Finding("dish-facts", f"{place}, {field}", show(expected), show(found))
        yield from unequal("dish-facts", f"{place}, name", batch.recipe_name, dish.recipe_name)
        yield from _check_work(place, recipe, batch, of_dish[n])
        yield from _check_order(place, recipe, of_dish[n])
        yield from _check_dish_times(schedule, n, of_dish[n])


def _minutes(tasks: Iterable[Task]) -> int:
    return sum(task.end_minute - task.start_minute for task in tasks)


def _kind(tasks: Sequence[Task], *kinds: str) -> list[Task]:
    return [task for task in tasks if task.kind in kinds]


def _check_work(place: str, recipe: Recipe, batch: Batch, tasks: list[Task]) -> Iterator[Finding]:
    """Check that a dish has all the minutes, batches and heat of its recipe."""
    count = exact(batch.batches)
    extra = max(Fraction(0), count - 1)
    hands_on = exact(recipe.minutes.hands_on)
    hands_on += exact(recipe.minutes.hands_on_per_extra_batch) * extra
    found = _minutes(_kind(tasks, *_HANDS_ON))
    if not hands_on <= found < hands_on + 1:
        wanted = f"{show(hands_on)} minutes, rounded up"
        yield Finding("hands-on-work", place, wanted, show(found))
    hob = _kind(tasks, "hob")
    rings = sum((t.end_minute - t.start_minute) * len(t.rings) for t in hob)
    least = exact(recipe.equipment.hob_minutes) * count
    if rings < least or (rings and not least):
        yield Finding("hob-work", place, f"{show(least)} ring-minutes", show(rings))
    oven = recipe.equipment.oven
    loads = _kind(tasks, "oven")
    inside = sum((exact(task.batches) for task in loads), Fraction(0))
    if not same_amount(count if oven else Fraction(0), inside):
        wanted = f"{show(batch.batches if oven else 0)} batches in the oven"
        yield Finding("oven-work", place, wanted, show(inside))
    for task in loads:
        if oven is None:
            continue
        if task.temperature_c != oven.temperature_c:
            wanted = f"{show(oven.temperature_c)} C"
            yield Finding("oven-work", place, wanted, f"{show(task.temperature_c)} C")
        minutes = task.end_minute - task.start_minute
        if not exact(oven.minutes) <= minutes < exact(oven.minutes) + 1:
            wanted = f"{show(oven.minutes)} minutes, rounded up"
            yield Finding("oven-work", place, wanted, show(minutes))
    whole = sum((exact(line.grams) for line in batch.lines), Fraction(0))
    for task in tasks:
        share = exact(task.batches) / count
        if not same_grams(whole * share, exact(task.grams)):
            yield Finding("task-grams", place, show(whole * share), show(task.grams))
        if task.kind != "oven" and not same_amount(count, exact(task.batches)):
            yield Finding("task-batches", place, show(batch.batches), show(task.batches))


def _check_order(place: str, recipe: Recipe, tasks: list[Task]) -> Iterator[Finding]:
    """Check that preparing comes first, then hob, oven, rest and portioning."""
    for kind, before in (
        ("hob", ()),
        ("oven", ("prepare", "hob")),
        ("rest", ("prepare", "hob", "oven")),
        ("portion", ("prepare", "hob", "oven", "rest")),
    ):
        ready = max((task.end_minute for task in _kind(tasks, *before)), default=0)
        begun = min((task.start_minute for task in _kind(tasks, "prepare")), default=0)
        for task in _kind(tasks, kind):
            early = task.start_minute < max(ready, begun)
            if early or (kind == "rest" and task.start_minute > ready):
                wanted = f"{'at' if kind == 'rest' else 'not before'} {max(ready, begun)}"
                yield Finding("order", f"{place}, {kind}", wanted, show(task.start_minute))
    prepared = max((task.end_minute for task in _kind(tasks, "prepare")), default=0)
    for task in _kind(tasks, "hob"):
        if task.end_minute < prepared:
            yield Finding(
                "order", f"{place}, hob", f"on until {prepared} or later", show(task.end_minute)
            )
    alone = _kind(tasks, "hob", "oven", "rest")
    until = max((task.end_minute for task in alone), default=prepared)
    if until - prepared < exact(recipe.minutes.unattended):
        wanted = f"{show(recipe.minutes.unattended)} minutes after the preparing"
        yield Finding("unattended", place, wanted, show(until - prepared))


def _check_dish_times(schedule: CookDaySchedule, n: int, tasks: list[Task]) -> Iterator[Finding]:
    dish = schedule.dishes[n]
    place = f"{_day(schedule)}, {dish.recipe_id} {dish.version}"
    hands = _kind(tasks, *_HANDS_ON)
    portions = _kind(tasks, "portion")
    done = max((t.end_minute for t in tasks if t.kind != "portion"), default=0)
    packed = max((t.end_minute for t in hands), default=done)
    stated = (
        ("hands_on_minutes", _minutes(hands), dish.hands_on_minutes),
        ("start_minute", min((t.start_minute for t in tasks), default=0), dish.start_minute),
        ("packed_minute", packed, dish.packed_minute),
        ("ready_minute", max((t.end_minute for t in tasks), default=0), dish.ready_minute),
        ("wait_minutes", packed - done if portions else 0, dish.wait_minutes),
    )
    for field, expected, found in stated:
        yield from unequal("dish-times", f"{place}, {field}", expected, found)


def _holds(task: Task) -> str:
    rings = ", ".join(map(str, task.rings)) or "nothing"
    oven = f"oven {show(task.oven)} at {show(task.temperature_c)}"
    return f"cook {show(task.cook)}, rings {rings}, {oven}"


def _check_hands_and_rings(schedule: CookDaySchedule) -> Iterator[Finding]:
    """Check that no cook and no ring is held by two tasks at once, and that all of them exist."""
    held: dict[tuple[str, int], list[Task | CleanDown]] = defaultdict(list)
    for clean in schedule.clean_downs:
        held["cook", clean.cook].append(clean)
    for task in schedule.tasks:
        where = f"{_day(schedule)}, {task.kind} from {task.start_minute}"
        if task.start_minute < 0 or task.end_minute <= task.start_minute:
            yield Finding("task-time", where, "a start before its end", show(task.end_minute))
        bakes = task.kind == "oven"
        wanted = (task.kind in _HANDS_ON, task.kind == "hob", bakes, bakes)
        heat = task.temperature_c is not None
        found = (task.cook is not None, bool(task.rings), task.oven is not None, heat)
        if wanted != found or len(set(task.rings)) != len(task.rings):
            yield Finding("task-holds", where, f"what {task.kind} needs", _holds(task))
        if task.cook is not None:
            held["cook", task.cook].append(task)
        for ring in set(task.rings):
            held["ring", ring].append(task)
    most = {"cook": schedule.cooks, "ring": schedule.hob_rings}
    for (what, number), tasks in sorted(held.items()):
        where = f"{_day(schedule)}, {what} {number}"
        if not 1 <= number <= most[what]:
            yield Finding("capacity", where, f"1 to {most[what]}", show(number))
        free_from = 0
        for held_for in sorted(tasks, key=lambda one: (one.start_minute, one.end_minute)):
            if held_for.start_minute < free_from:
                wanted_text = f"free from {free_from}"
                yield Finding("over-booked", where, wanted_text, f"{held_for.start_minute}")
            free_from = max(free_from, held_for.end_minute)


def _check_ovens(schedule: CookDaySchedule) -> Iterator[Finding]:
    """Check room, temperature, heating up and changes of every oven, minute by minute."""
    loads: dict[int, list[Task]] = defaultdict(list)
    for task in schedule.tasks:
        if task.oven is not None:
            loads[task.oven].append(task)
    change = schedule.oven_change_minutes
    for oven, tasks in sorted(loads.items()):
        where = f"{_day(schedule)}, oven {oven}"
        if not 1 <= oven <= schedule.ovens:
            yield Finding("capacity", where, f"1 to {schedule.ovens}", show(oven))
        for minute in sorted({task.start_minute for task in tasks}):
            inside = [t for t in tasks if t.start_minute <= minute < t.end_minute]
            batches = sum((exact(task.batches) for task in inside), Fraction(0))
            if above(batches, exact(schedule.oven_batches)):
                most = f"at most {show(schedule.oven_batches)} batches at minute {minute}"
                yield Finding("over-booked", where, most, show(batches))
            if minute < change:
                yield Finding("oven-heats", where, f"nothing before {change}", show(minute))
        for first in tasks:
            for second in tasks:
                differ = first.temperature_c != second.temperature_c
                after = second.start_minute >= first.start_minute
                if differ and after and second.start_minute < first.end_minute + change:
                    wanted = f"{change} minutes after {first.end_minute} to change temperature"
                    yield Finding("oven-heats", where, wanted, show(second.start_minute))


def _runs(schedule: CookDaySchedule) -> list[OvenRun]:
    loads = sorted(
        (task.oven, task.start_minute, n)
        for n, task in enumerate(schedule.tasks)
        if task.oven is not None
    )
    runs: list[list[int]] = []
    for place, (oven, _, n) in enumerate(loads):
        before = schedule.tasks[loads[place - 1][2]] if place else None
        same = before is not None and before.oven == oven
        if same and before and before.temperature_c == schedule.tasks[n].temperature_c:
            runs[-1].append(n)
        else:
            runs.append([n])
    return [
        OvenRun(
            oven=schedule.tasks[run[0]].oven or 0,
            temperature_c=schedule.tasks[run[0]].temperature_c or 0.0,
            start_minute=schedule.tasks[run[0]].start_minute,
            end_minute=max(schedule.tasks[n].end_minute for n in run),
            tasks=tuple(run),
        )
        for run in runs
    ]


def _check_sums(schedule: CookDaySchedule) -> Iterator[Finding]:
    tasks = schedule.tasks
    where = _day(schedule)
    ends = max((task.end_minute for task in tasks if task.kind != "rest"), default=0)
    runs = _runs(schedule)
    hob = _kind(tasks, "hob")
    oven_minutes = sum(
        (exact(t.batches) * (t.end_minute - t.start_minute) for t in _kind(tasks, "oven")),
        Fraction(0),
    )
    stated = (
        ("makespan_minutes", ends, schedule.makespan_minutes),
        ("hands_on_minutes", _minutes(_kind(tasks, *_HANDS_ON)), schedule.hands_on_minutes),
        (
            "ring_minutes",
            sum((t.end_minute - t.start_minute) * len(t.rings) for t in hob),
            schedule.ring_minutes,
        ),
        (
            "temperature_changes",
            len(runs) - len({r.oven for r in runs}),
            schedule.temperature_changes,
        ),
        ("oven_runs", tuple(runs), schedule.oven_runs),
    )
    for field, expected, found in stated:
        yield from unequal("timetable-sums", f"{where}, {field}", expected, found)
    if not same_amount(oven_minutes, exact(schedule.oven_batch_minutes)):
        place = f"{where}, oven_batch_minutes"
        stated_minutes = show(schedule.oven_batch_minutes)
        yield Finding("timetable-sums", place, show(oven_minutes), stated_minutes)
    if schedule.lower_bound_minutes > schedule.makespan_minutes:
        bound = f"at most {schedule.makespan_minutes}"
        yield Finding("lower-bound", where, bound, show(schedule.lower_bound_minutes))
