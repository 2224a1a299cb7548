"""Cross-contact on cook days, recomputed: what work leaves behind, and what must not meet it.

Reads timetable, boxes, plan, catalog and scenario; shares nothing with the scheduler. For each dish
it lists what preparing and portioning leave behind and must not meet. Then it asks of each stretch
of work when such a thing was last at hand, and whether anybody has cleaned since.
"""

from __future__ import annotations

from collections import defaultdict
from collections.abc import Iterator, Sequence
from dataclasses import dataclass

from planopt.audit.findings import Finding, unequal
from planopt.catalog.records import Catalog, Recipe
from planopt.cookday.records import RAW, CleanDown, Container, CookDaySchedule, Task
from planopt.plan.records import Batch, Plan
from planopt.scenario.records import Scenario

_Facts = tuple[tuple[str, ...], tuple[str, ...], bool, dict[str, tuple[str, ...]]]


@dataclass(frozen=True)
class _Dish:
    """What is known of one dish of the day, from plan, catalog and scenario alone."""

    allergens: set[str]
    raw: list[str]
    ready_to_eat: bool
    avoided_by: dict[str, tuple[str, ...]]
    covered: bool

    @property
    def avoided(self) -> set[str]:
        return {allergen for some in self.avoided_by.values() for allergen in some}

    def left(self, task: Task) -> set[str]:
        """Return what a hands-on task leaves behind."""
        raw = {RAW} if self.raw and task.kind == "prepare" else set()
        return (self.allergens | raw) if task.kind in ("prepare", "portion") else set()

    def shunned(self, task: Task) -> set[str]:
        """Return what a hands-on task must not meet."""
        cooked_after = task.kind == "prepare" and not self.ready_to_eat
        return self.avoided if cooked_after else self.avoided | {RAW}


def _dish(batch: Batch, recipe: Recipe, plan: Plan, catalog: Catalog, scenario: Scenario) -> _Dish:
    grams: dict[str, float] = defaultdict(float)
    for line in batch.lines:
        grams[line.food_id] += line.grams
    foods = {food_id: catalog.foods[food_id] for food_id in grams if food_id in catalog.foods}
    raw = []
    allergens: set[str] = set()
    for food_id, food in foods.items():
        group = catalog.safety_groups.get(food.safety_group)
        heated = [food.safe_temperature or "", (group and group.temperature_class) or ""]
        if food.state == "raw" and any(name not in ("", "reheating") for name in heated):
            raw.append(food_id)
        # Allergens that nobody knows may be any.
        allergens |= set(food.allergens if food.allergens_known else catalog.allergens)
    eat_it = {
        portion.client_id
        for portion in plan.portions
        if portion.recipe_id == batch.recipe_id
        and portion.version == batch.version
        and portion.cook_day == batch.cook_day
    }
    oven = recipe.equipment.oven
    cold = recipe.keeps.serve == "cold" or not (oven or recipe.equipment.hob_minutes)
    return _Dish(
        allergens=allergens,
        raw=sorted(raw, key=lambda food_id: (-grams[food_id], food_id)),
        ready_to_eat=cold or {line.part for line in batch.lines} != {"main"},
        avoided_by={
            client.client_id: tuple(sorted(set(client.allergens)))
            for client in scenario.clients
            if client.client_id in eat_it and client.allergens
        },
        covered=bool(oven and oven.covered),
    )


def check_contact(
    schedule: CookDaySchedule, plan: Plan, catalog: Catalog, scenario: Scenario
) -> list[Finding]:
    """Return where a day brings together what must be kept apart, or says so wrongly."""
    batches = {
        (batch.recipe_id, batch.version): batch
        for batch in plan.batches
        if batch.cook_day == schedule.cook_day
    }
    dishes: list[_Dish] = []
    findings: list[Finding] = []
    for work in schedule.dishes:
        batch = batches.get((work.recipe_id, work.version))
        recipe = catalog.recipes.get(work.recipe_id)
        if batch is None or recipe is None:
            return []  # a finding of its own; nothing can be said of such a dish
        dish = _dish(batch, recipe, plan, catalog, scenario)
        dishes.append(dish)
        stated: _Facts = (work.allergens, work.raw_foods, work.ready_to_eat, work.avoided_by)
        facts: _Facts = (
            tuple(sorted(dish.allergens)), tuple(dish.raw), dish.ready_to_eat, dish.avoided_by,
        )  # fmt: skip
        names = ("allergens", "raw_foods", "ready_to_eat", "avoided_by")
        for name, expected, found in zip(names, facts, stated, strict=True):
            where = f"{_place(schedule, len(dishes) - 1)}, {name}"
            findings += unequal("contact-facts", where, expected, found)
    if any(not 0 <= task.dish < len(dishes) for task in schedule.tasks):
        return findings
    findings += _check_cleaning(schedule, scenario)
    spoilt: dict[int, set[str]] = defaultdict(set)
    for dish_number, what, finding in (
        *_on_the_surface(schedule, dishes),
        *_in_the_oven(schedule, dishes),
    ):
        spoilt[dish_number].add(what)
        findings.append(finding)
    findings += _check_claims(schedule, dishes, spoilt)
    findings += _check_reasons(schedule, dishes)
    return findings


def _place(schedule: CookDaySchedule, dish: int) -> str:
    work = schedule.dishes[dish]
    return f"cook day {schedule.cook_day}, {work.recipe_id} {work.version}"


def _check_cleaning(schedule: CookDaySchedule, scenario: Scenario) -> Iterator[Finding]:
    minutes = scenario.appliances.clean_down_minutes
    where = f"cook day {schedule.cook_day}"
    for clean in schedule.clean_downs:
        place = f"{where}, clean-down at {clean.start_minute}"
        yield from unequal("clean-down", place, minutes, clean.end_minute - clean.start_minute)
        if clean.start_minute < 0:
            yield Finding("clean-down", place, "a start on the day", str(clean.start_minute))
    starts = [clean.start_minute for clean in schedule.clean_downs]
    yield from unequal("clean-down", f"{where}, order", sorted(starts), starts)
    total = minutes * len(starts)
    yield from unequal("timetable-sums", f"{where}, clean_minutes", total, schedule.clean_minutes)


def _hands(schedule: CookDaySchedule) -> list[Task]:
    return [task for task in schedule.tasks if task.kind in ("prepare", "portion")]


def _on_the_surface(
    schedule: CookDaySchedule, dishes: Sequence[_Dish]
) -> Iterator[tuple[int, str, Finding]]:
    hands = _hands(schedule)
    for task in hands:
        for what in sorted(dishes[task.dish].shunned(task)):
            before = [
                other
                for other in hands
                if other is not task
                and what in dishes[other.dish].left(other)
                and other.start_minute < task.end_minute
            ]
            if not before:
                continue
            last = max(before, key=lambda other: other.end_minute)
            cleaned = any(
                clean.start_minute >= last.end_minute and clean.end_minute <= task.start_minute
                for clean in schedule.clean_downs
            )
            if not cleaned:
                where = f"{_place(schedule, task.dish)}, {task.kind} from {task.start_minute}"
                from_name = schedule.dishes[last.dish].recipe_id
                found = f"{last.kind} of {from_name} until {last.end_minute}, and no clean-down"
                finding = Finding("contact-surface", where, f"nothing with {what} before", found)
                yield task.dish, what, finding


def _in_the_oven(
    schedule: CookDaySchedule, dishes: Sequence[_Dish]
) -> Iterator[tuple[int, str, Finding]]:
    loads = [task for task in schedule.tasks if task.oven is not None]
    for load in loads:
        for other in loads:
            together = other.oven == load.oven and max(load.start_minute, other.start_minute) < min(
                load.end_minute, other.end_minute
            )
            if not together or other.dish == load.dish or dishes[other.dish].covered:
                continue
            for what in sorted(dishes[load.dish].avoided & dishes[other.dish].allergens):
                where = f"{_place(schedule, load.dish)}, oven from {load.start_minute}"
                found = f"{schedule.dishes[other.dish].recipe_id}, uncovered"
                finding = Finding("contact-oven", where, f"nothing with {what} beside it", found)
                yield load.dish, what, finding


def _check_claims(
    schedule: CookDaySchedule, dishes: Sequence[_Dish], spoilt: dict[int, set[str]]
) -> Iterator[Finding]:
    worked_on = {task.dish for task in _hands(schedule)}
    for number, (dish, work) in enumerate(zip(dishes, schedule.dishes, strict=True)):
        kept = dish.avoided - dish.allergens - spoilt[number] if number in worked_on else set()
        where = f"{_place(schedule, number)}, made_apart_from"
        yield from unequal("contact-claim", where, tuple(sorted(kept)), work.made_apart_from)


def _check_reasons(schedule: CookDaySchedule, dishes: Sequence[_Dish]) -> Iterator[Finding]:
    """Check that each clean-down stands between two pieces of work, and names the nearest ones."""
    hands = _hands(schedule)
    for clean in schedule.clean_downs:
        others = [one for one in schedule.clean_downs if one is not clean]
        expected: list[tuple[str, int, int]] = []
        things = sorted({what for dish in dishes for what in {*dish.allergens, *dish.avoided, RAW}})
        for what in things:
            left = [
                task
                for task in hands
                if task.end_minute <= clean.start_minute and what in dishes[task.dish].left(task)
            ]
            after = [
                task
                for task in hands
                if task.start_minute >= clean.end_minute and what in dishes[task.dish].shunned(task)
            ]
            if not left or not after:
                continue
            last = min(left, key=lambda task: (-task.end_minute, task.dish))
            first = min(after, key=lambda task: (task.start_minute, task.dish))
            if not any(_between(last, one, first) for one in others):
                expected.append((what, last.dish, first.dish))
        found = [(one.what, one.from_dish, one.for_dish) for one in clean.reasons]
        where = f"cook day {schedule.cook_day}, clean-down at {clean.start_minute}"
        if not expected:
            yield Finding("clean-down-why", where, "work that it parts", "none")
        yield from unequal("clean-down-why", where, expected, found)


def _between(last: Task, clean: CleanDown, first: Task) -> bool:
    return clean.start_minute >= last.end_minute and clean.end_minute <= first.start_minute


def check_label_claims(
    boxes: Sequence[Container],
    schedules: Sequence[CookDaySchedule],
    plan: Plan,
    catalog: Catalog,
    scenario: Scenario,
) -> list[Finding]:
    """Return the boxes that claim to be made apart from what the timetable does not keep away.

    A box claims what its own client excludes, and only that.
    """
    sound: dict[tuple[int, str, str], set[str]] = {}
    for schedule in schedules:
        broken = bool(check_contact(schedule, plan, catalog, scenario))
        for dish in schedule.dishes:
            key = (schedule.cook_day, dish.recipe_id, dish.version)
            sound[key] = set() if broken else set(dish.made_apart_from)
    excluded = {client.client_id: set(client.allergens) for client in scenario.clients}
    findings = []
    for box in boxes:
        kept = sound.get((box.cook_day, box.recipe_id, box.version), set())
        allowed = kept & excluded.get(box.client_id, set())
        if not set(box.made_apart_from) <= allowed:
            expected = ", ".join(sorted(allowed)) or "no claim"
            found = ", ".join(box.made_apart_from)
            where = f"box {box.number} of {box.client_id}, {box.recipe_id}"
            findings.append(Finding("label-claim", where, expected, found))
    return findings
