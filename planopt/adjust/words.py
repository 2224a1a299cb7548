"""Changes of a written plan in words: those of what-if, and those that need a plan at hand."""

from __future__ import annotations

import re
from collections.abc import Callable, Iterable, Iterator
from dataclasses import dataclass
from math import inf

from planopt import ranges
from planopt.faults import BadInput, Fault
from planopt.plan.records import Plan, Portion
from planopt.reading.files import Place
from planopt.scenario.byhand import (
    BoughtPacks,
    ByHand,
    CookedBatches,
    PlateRule,
    settled_together,
)
from planopt.scenario.changes import WindowChange
from planopt.scenario.checks.subject import Checking
from planopt.scenario.checks.whole import REFERRED
from planopt.scenario.reading.load import Kitchen
from planopt.scenario.records import Variant
from planopt.scenario.variants.checks import check_variant
from planopt.scenario.variants.together import both
from planopt.scenario.variants.words import WHERE, variant_of_words, with_day_numbers
from planopt.scenario.windows import written_windows

_ID = r"([a-z][a-z0-9_]*)"
_DAY = r"day (-?\d+)"
_NUMBER = r"(\d+(?:\.\d+)?)"
_OF = rf"(?: for {_ID})?"


@dataclass(frozen=True)
class _Lacking:
    """What a change speaks of and the plan does not have."""

    what: str


Found = ByHand | _Lacking


def _kept_plates(
    plan: Plan, day: str, meal: str | None, client: str | None, *, whole: bool = True
) -> Found:
    rows = [
        row
        for row in plan.portions
        if row.day == int(day) and meal in (None, row.meal) and client in (None, row.client_id)
    ]
    plates = tuple(_kept(row, row.servings if whole else None) for row in rows)
    return ByHand(plates=plates) if plates else _Lacking("plate")


def _kept_dish(plan: Plan, recipe: str, client: str | None) -> Found:
    plates = tuple(
        PlateRule(put=recipe, version=row.version, client=row.client_id, day=row.day, meal=row.meal)
        for row in plan.portions
        if row.recipe_id == recipe and client in (None, row.client_id)
    )
    return ByHand(plates=plates) if plates else _Lacking("plate")


def _bought(plan: Plan, what: str | None, day: str) -> Found:
    found = tuple(
        BoughtPacks(pack=row.pack_id, count=row.count, day=row.shop_day)
        for row in plan.purchases
        if row.shop_day == int(day) and what in (None, row.pack_id, row.food_id)
    )
    return ByHand(bought=found) if found else _Lacking("purchase")


def _cooked(plan: Plan, recipe: str | None, day: str, lost: float = 0.0) -> Found:
    found = tuple(
        CookedBatches(
            recipe=row.recipe_id,
            version=row.version,
            batches=row.batches,
            day=row.cook_day,
            lost=lost,
        )
        for row in plan.batches
        if row.cook_day == int(day) and recipe in (None, row.recipe_id)
    )
    return ByHand(cooked=found) if found else _Lacking("batch")


# The forms beside those of what-if, as the guide shows them, each with what it means for a plan.
FORMS: tuple[tuple[str, str, Callable[..., Found]], ...] = (
    (
        "keep day 2 dinner for CLIENT",
        rf"keep {_DAY} (?!for\b){_ID}{_OF}",
        lambda plan, day, meal, who: _kept_plates(plan, day, meal, who),
    ),
    (
        "keep day 2 for CLIENT",
        rf"keep {_DAY}{_OF}",
        lambda plan, day, who: _kept_plates(plan, day, None, who),
    ),
    ("keep RECIPE for CLIENT", rf"keep {_ID}{_OF}", _kept_dish),
    ("bought day 0", rf"bought {_DAY}", lambda plan, day: _bought(plan, None, day)),
    ("bought FOOD on day 0", rf"bought {_ID} on {_DAY}", _bought),
    ("cooked day 0", rf"cooked {_DAY}", lambda plan, day: _cooked(plan, None, day)),
    ("cooked RECIPE on day 0", rf"cooked {_ID} on {_DAY}", _cooked),
    (
        "lost 4 servings of RECIPE of day 0",
        rf"lost {_NUMBER} servings? of {_ID} of {_DAY}",
        lambda plan, lost, recipe, day: _cooked(plan, recipe, day, float(lost)),
    ),
)


def changes_of_words(
    texts: Iterable[str], kitchen: Kitchen, plan: Plan, from_day: int | None = None
) -> Variant:
    """Return the changes told, and all that is over before `from_day`, as one variant.

    Raises:
        BadInput: a change is not understood, or names what neither kitchen nor plan has; all at
            once.
    """
    told = [with_day_numbers(" ".join(text.split()), kitchen.scenario) for text in texts]
    hand, others = ByHand(), []
    faults: list[Fault] = []
    for text in told:
        found = _read(text, plan)
        if found is None:
            others.append(text)
        elif isinstance(found, _Lacking):
            faults.append(_not_in_plan(text, found))
        else:
            hand = settled_together(hand, found)
    variant = Variant(name="; ".join(told) or f"from day {from_day}")
    if others:
        try:
            variant = variant_of_words(others, kitchen.catalog, kitchen.scenario)
        except BadInput as error:
            faults += [_with_our_forms(fault) for fault in error.faults]
    if faults:
        raise BadInput(faults)
    if from_day is not None:
        faults += _too_late(variant, from_day)
        hand = settled_together(over_by(plan, from_day), hand)
        variant = from_then_on(variant, kitchen, from_day)
        told.append(f"from day {from_day}")
    hand = settled_together(hand, variant.by_hand)
    variant = variant.model_copy(update={"name": "; ".join(told), "by_hand": hand})
    faults += _faults_of(variant, kitchen)
    if faults:
        raise BadInput(faults)
    return variant


def _faults_of(variant: Variant, kitchen: Kitchen) -> list[Fault]:
    place = Place(WHERE, 0)
    known = {table: frozenset(getattr(kitchen.catalog, table)) for table in REFERRED}
    checking = Checking(kitchen.scenario, kitchen.catalog, lambda _: place, known, complete=True)
    return check_variant(checking, (), variant)


def _read(text: str, plan: Plan) -> Found | None:
    for _, pattern, meaning in FORMS:
        found = re.fullmatch(pattern, text)
        if found:
            return meaning(plan, *found.groups())
    return None


def _with_our_forms(fault: Fault) -> Fault:
    if fault.code != "change_not_understood":
        return fault
    ours = "; ".join(form for form, _, _ in FORMS)
    return Fault(
        fault.file, fault.line, fault.field, fault.value, fault.why, f"{fault.mend}; {ours}",
        fault.code,
    )  # fmt: skip


def _not_in_plan(text: str, lacking: _Lacking) -> Fault:
    return Fault(
        WHERE,
        0,
        "--change",
        text,
        f"the plan has no such {lacking.what}",
        "look at `planopt show DIR` for what it has, and correct day or name",
        "not_in_plan",
    )


def _too_late(variant: Variant, from_day: int) -> Iterator[Fault]:
    for field in ("stock", "stock_gone", "cook_days_out"):
        days = [day for day in variant.cook_days_out if day < from_day]
        if getattr(variant, field) and (field != "cook_days_out" or days):
            yield Fault(
                WHERE,
                0,
                "--from",
                f"{from_day}",
                "what was on hand and cooked before that day cannot be changed any more",
                "leave this change out; of food that is gone say: no FOOD, or lost N servings",
                "change_too_late",
            )


def _kept(row: Portion, servings: float | None, cook_day: int | None = None) -> PlateRule:
    """Return the rule that keeps the dish of a portion at its meal."""
    return PlateRule(
        put=row.recipe_id,
        version=row.version,
        client=row.client_id,
        day=row.day,
        meal=row.meal,
        cook_day=cook_day,
        servings=servings,
    )


def over_by(plan: Plan, from_day: int) -> ByHand:
    """Return all that is eaten, bought and cooked before the morning of a day of the plan."""
    plates = tuple(
        _kept(row, row.servings, row.cook_day) for row in plan.portions if row.day < from_day
    )
    bought = tuple(
        BoughtPacks(pack=row.pack_id, count=row.count, day=row.shop_day)
        for row in plan.purchases
        if row.shop_day < from_day
    )
    cooked = tuple(
        CookedBatches(
            recipe=row.recipe_id, version=row.version, batches=row.batches, day=row.cook_day
        )
        for row in plan.batches
        if row.cook_day < from_day
    )
    return ByHand(plates=plates, bought=bought, cooked=cooked, from_day=from_day)


def from_then_on(variant: Variant, kitchen: Kitchen, from_day: int) -> Variant:
    """Return a variant whose windows and recipes out hold from a day on; what is over stands.

    Windows of every day move as they would; those of days that are over are set to what they were.
    """
    scenario = kitchen.scenario
    moved = {(m.client, m.nutrient) for m in variant.windows if m.day is None and not m.week}
    windows = list(variant.windows)
    for client in scenario.clients:
        for day in range(1, min(from_day, scenario.days + 1)):
            before = written_windows(scenario, client, day)
            for who, nutrient in sorted(moved):
                if who == client.client_id and scenario.meals_of(client, day):
                    low, high = before.get(nutrient, (0.0, inf))
                    high = min(high, float(ranges.NUTRIENT_WINDOW.most))
                    windows.append(
                        WindowChange(client=who, nutrient=nutrient, day=day, min=low, max=high)
                    )
    days = range(max(1, from_day), scenario.days + 1)
    out = tuple(
        PlateRule(without=recipe, day=day) for recipe in variant.recipes_out for day in days
    )
    hand = settled_together(ByHand(plates=out), variant.by_hand)
    return variant.model_copy(
        update={"windows": tuple(windows), "recipes_out": (), "by_hand": hand}
    )


def all_changes(first: Variant | None, then: Variant) -> Variant:
    """Return the changes that made a plan and those made of it now, as one variant."""
    return then if first is None else both(first, then)
