"""The timetable of each cook day of a plan: dishes, stretches of work, oven runs, length, bound."""

from __future__ import annotations

from collections import defaultdict
from collections.abc import Iterator, Sequence
from dataclasses import replace
from datetime import datetime, time, timedelta
from fractions import Fraction
from functools import lru_cache

from planopt.catalog.records import Catalog
from planopt.cookday.bounds import lower_bound_minutes
from planopt.cookday.contact import (
    Contact,
    Meeting,
    avoiding,
    contact_of,
    kept_apart,
    meetings,
    needed_cleans,
    raw_foods,
)
from planopt.cookday.records import CleanDown, CookDaySchedule, DishWork, OvenRun, Task, TaskKind
from planopt.cookday.timetable import Timetable, best_timetable
from planopt.cookday.work import Work, work_of
from planopt.plan.records import Batch, Plan
from planopt.scenario.records import CookDay, Scenario
from planopt.scenario.workplace import Appliances
from planopt.units import exact

_KINDS: dict[str, TaskKind] = {
    "prepare": "prepare",
    "hob": "hob",
    "oven": "oven",
    "rest": "rest",
    "portion": "portion",
}


def schedule_cook_days(
    plan: Plan, catalog: Catalog, scenario: Scenario
) -> tuple[CookDaySchedule, ...]:
    """Return the timetable of every cook day on which something is cooked, in order of the days.

    A batch whose recipe the catalog lacks is left out, as are dishes that take no time at all
    from the tasks. Equal input gives equal timetables.
    """
    cooks = {cook.day: cook for cook in scenario.cook_days}
    by_day: dict[int, list[Batch]] = defaultdict(list)
    for batch in plan.batches:
        if batch.recipe_id in catalog.recipes:
            by_day[batch.cook_day].append(batch)
    return tuple(
        _schedule(plan, batches, catalog, scenario, cooks.get(day) or CookDay(day=day))
        for day, batches in sorted(by_day.items())
    )


@lru_cache(maxsize=64)
def _timed(works: tuple[Work, ...], kitchen: Appliances, cooks: int) -> tuple[int, Timetable]:
    """Return bound and timetable, remembered: the audit and every report of a plan ask for them."""
    bound = lower_bound_minutes(works, kitchen, cooks)
    return bound, best_timetable(works, kitchen, cooks, bound)


def _schedule(
    plan: Plan, batches: list[Batch], catalog: Catalog, scenario: Scenario, cook: CookDay
) -> CookDaySchedule:
    kitchen = scenario.appliances
    works = [
        replace(
            work_of(catalog.recipes[b.recipe_id], b.batches, kitchen),
            contact=contact_of(b, catalog.recipes[b.recipe_id], plan, catalog, scenario),
        )
        for b in batches
    ]
    bound, found = _timed(tuple(works), kitchen, cook.cooks)
    order = _begun(found, len(batches))
    batches = [batches[dish] for dish in order]
    works = [works[dish] for dish in order]
    place = {dish: n for n, dish in enumerate(order)}
    tasks, cleans = _tasks(found, place, batches, works, kitchen.clean_down_minutes)
    apart = _Apart(tasks, cleans, [work.contact for work in works])
    starts_at = datetime.combine(batches[0].cook_date, time.fromisoformat(cook.starts_at))
    return CookDaySchedule(
        cook_day=cook.day,
        cook_date=batches[0].cook_date,
        starts_at=starts_at,
        ends_at=starts_at + timedelta(minutes=found.makespan),
        makespan_minutes=found.makespan,
        lower_bound_minutes=bound,
        cooks=cook.cooks,
        ovens=kitchen.ovens,
        oven_batches=kitchen.oven_batches,
        oven_change_minutes=kitchen.oven_change_minutes,
        hob_rings=kitchen.hob_rings,
        hands_on_minutes=sum(work.prepare + work.portion for work in works),
        clean_minutes=sum(c.end_minute - c.start_minute for c in apart.cleans),
        oven_batch_minutes=float(sum((work.oven * sum(work.loads) for work in works), Fraction(0))),
        ring_minutes=sum(work.rings * work.hob for work in works),
        temperature_changes=found.changes,
        dishes=tuple(
            _dish(batch, work, [task for task in tasks if task.dish == n]).model_copy(
                update={
                    "raw_foods": raw_foods(batch, catalog),
                    "avoided_by": avoiding(batch, plan, scenario),
                    "made_apart_from": apart.kept(n),
                }
            )
            for n, (batch, work) in enumerate(zip(batches, works, strict=True))
        ),
        tasks=tasks,
        oven_runs=tuple(_oven_runs(tasks)),
        clean_downs=apart.cleans,
    )


class _Apart:
    """What clean-downs are for, and what they and the order of the day keep apart."""

    def __init__(
        self, tasks: Sequence[Task], cleans: Sequence[CleanDown], contacts: Sequence[Contact]
    ) -> None:
        self.tasks, self.contacts = tasks, contacts
        self.met: list[Meeting] = meetings(tasks, contacts)
        self.cleans = needed_cleans(cleans, self.met)

    def kept(self, dish: int) -> tuple[str, ...]:
        """Return the allergens that the timetable keeps from a dish that avoids them."""
        contact = self.contacts[dish]
        return kept_apart(dish, contact, self.tasks, self.cleans, self.met, self.contacts)


def _begun(found: Timetable, count: int) -> list[int]:
    """Return the dishes in the order in which they are begun."""
    first = dict.fromkeys(range(count), 0)
    for one in reversed(found.placed):
        first[one.dish] = one.start
    return sorted(first, key=lambda dish: (first[dish], dish))


def _grams(batch: Batch) -> float:
    return float(sum((exact(line.grams) for line in batch.lines), Fraction(0)))


def _tasks(
    found: Timetable,
    place: dict[int, int],
    batches: Sequence[Batch],
    works: Sequence[Work],
    clean_minutes: int,
) -> tuple[tuple[Task, ...], list[CleanDown]]:
    placed = sorted(found.placed, key=lambda one: (one.start, place[one.dish], one.end, one.load))
    cooks = _Numbers()
    rings = _Numbers()
    tasks = []
    cleans: list[CleanDown] = []
    waiting = list(found.cleans)

    def clean_until(minute: int) -> None:
        while waiting and waiting[0] < minute:
            start = waiting.pop(0)
            (cook,) = cooks.take(start, start + clean_minutes, 1)
            cleans.append(
                CleanDown(
                    start_minute=start, end_minute=start + clean_minutes, cook=cook, reasons=()
                )
            )

    for one in placed:
        clean_until(one.start)
        n = place[one.dish]
        batch, work = batches[n], works[n]
        count = work.loads[one.load] if one.kind == "oven" else exact(batch.batches)
        share = count / exact(batch.batches)
        tasks.append(
            Task(
                dish=n,
                kind=_KINDS[one.kind],
                start_minute=one.start,
                end_minute=one.end,
                cook=cooks.take(one.start, one.end, 1)[0]
                if one.kind in ("prepare", "portion")
                else None,
                rings=rings.take(one.start, one.end, work.rings) if one.kind == "hob" else (),
                oven=None if one.oven is None else one.oven + 1,
                temperature_c=work.temperature_c if one.kind == "oven" else None,
                batches=float(count),
                grams=round(float(share * exact(_grams(batch))), 6),
            )
        )
    return tuple(tasks), cleans


class _Numbers:
    """Numbers cooks or rings. In order of start the lowest free ones never run out."""

    def __init__(self) -> None:
        self.free_from: dict[int, int] = {}

    def take(self, start: int, end: int, units: int) -> tuple[int, ...]:
        taken: list[int] = []
        number = 1
        while len(taken) < units:
            if self.free_from.get(number, 0) <= start:
                taken.append(number)
                self.free_from[number] = end
            number += 1
        return tuple(taken)


def _dish(batch: Batch, work: Work, tasks: list[Task]) -> DishWork:
    hands = [task for task in tasks if task.cook is not None]
    cooked = max((task.end_minute for task in tasks if task.kind != "portion"), default=0)
    packed = max((task.end_minute for task in hands), default=cooked)
    return DishWork(
        recipe_id=batch.recipe_id,
        recipe_name=batch.recipe_name,
        version=batch.version,
        batches=batch.batches,
        servings=batch.servings,
        grams=_grams(batch),
        hands_on_minutes=work.prepare + work.portion,
        start_minute=min((task.start_minute for task in tasks), default=0),
        packed_minute=packed,
        ready_minute=max((task.end_minute for task in tasks), default=0),
        wait_minutes=packed - cooked if work.portion else 0,
        allergens=tuple(sorted(work.contact.holds)),
        raw_foods=(),
        ready_to_eat=work.contact.ready_to_eat,
        avoided_by={},
        made_apart_from=(),
    )


def _oven_runs(tasks: Sequence[Task]) -> Iterator[OvenRun]:
    loads = [
        (task.oven, task.start_minute, n) for n, task in enumerate(tasks) if task.oven is not None
    ]
    runs: list[tuple[int, list[int]]] = []
    for oven, _, n in sorted(loads):
        last = runs[-1] if runs else None
        if last and last[0] == oven and tasks[last[1][0]].temperature_c == tasks[n].temperature_c:
            last[1].append(n)
        else:
            runs.append((oven, [n]))
    for oven, inside in runs:
        temperature = tasks[inside[0]].temperature_c
        assert temperature is not None
        yield OvenRun(
            oven=oven,
            temperature_c=temperature,
            start_minute=tasks[inside[0]].start_minute,
            end_minute=max(tasks[n].end_minute for n in inside),
            tasks=tuple(inside),
        )
