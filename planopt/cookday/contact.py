"""What work leaves on the work surface, what other work has to be kept from, and who needs it.

One surface is shared by all hands-on work of a cook day: boards, knives, bowls and hands of all
cooks. Preparing a dish leaves on it the allergens of its foods, and raw animal food if it handles
any; portioning leaves the allergens. A clean-down takes all of it away again. Dishes for a client
with allergen exclusions keep from those allergens; food that is not cooked any more keeps from raw
animal food. Uncovered dishes in an oven leave their allergens to whatever is in it with them.
"""

from __future__ import annotations

from collections.abc import Iterable, Sequence
from dataclasses import dataclass
from itertools import product

from planopt.catalog.records import NOT_KNOWN, Catalog, Food, Recipe
from planopt.cookday.records import RAW, CleanDown, CleanReason, Task
from planopt.plan.records import Batch, Plan
from planopt.scenario.records import Scenario

_NONE: frozenset[str] = frozenset()
_HANDS_ON = ("prepare", "portion")


@dataclass(frozen=True)
class Contact:
    """What one dish brings to the surface and the oven, and what has to be kept from it.

    `holds` are allergens. `avoids` are allergens that those who eat the dish exclude.
    `ready_to_eat` tells whether its preparing has food in hand that is not cooked afterwards.
    """

    holds: frozenset[str] = _NONE
    avoids: frozenset[str] = _NONE
    handles_raw: bool = False
    ready_to_eat: bool = False
    covered: bool = False

    def leaves(self, kind: str) -> frozenset[str]:
        """Return what a stretch of this dish leaves where it is done."""
        if kind == "prepare":
            return self.holds | {RAW} if self.handles_raw else self.holds
        if kind == "portion" or (kind == "oven" and not self.covered):
            return self.holds
        return _NONE

    @property
    def spoils_itself(self) -> bool:
        """Tell whether its preparing leaves something that its portioning must be kept from."""
        return bool(self.leaves("prepare") & self.keeps_from("portion"))

    def keeps_from(self, kind: str) -> frozenset[str]:
        """Return what must not be where a stretch of this dish is done."""
        if kind == "portion" or (kind == "prepare" and self.ready_to_eat):
            return self.avoids | {RAW}
        return self.avoids if kind in ("prepare", "oven") else _NONE


def is_raw_animal(catalog: Catalog, food: Food) -> bool:
    """Tell whether a food is raw meat, poultry, fish, shellfish or egg, by its row or its group."""
    group = catalog.safety_groups.get(food.safety_group)
    classes = {food.safe_temperature, None if group is None else group.temperature_class}
    return food.state == "raw" and bool(classes - {None, "", "reheating"})


def allergens_in(catalog: Catalog, food: Food) -> frozenset[str]:
    """Return the allergens that a food must be taken to hold: all, where they are not known."""
    known = frozenset(food.allergens)
    return known - {NOT_KNOWN} | frozenset(catalog.allergens) if NOT_KNOWN in known else known


def raw_foods(batch: Batch, catalog: Catalog) -> tuple[str, ...]:
    """Return the raw animal foods of a batch, the heaviest first."""
    grams: dict[str, float] = {}
    for line in batch.lines:
        food = catalog.foods.get(line.food_id)
        if food is not None and is_raw_animal(catalog, food):
            grams[line.food_id] = grams.get(line.food_id, 0.0) + line.grams
    return tuple(sorted(grams, key=lambda food_id: (-grams[food_id], food_id)))


def eaten_ready(batch: Batch, recipe: Recipe) -> bool:
    """Tell whether preparing a dish has food in hand that is not cooked afterwards.

    A recipe does not say it line by line, so the sound side is taken: a dish without heat, one that
    is served cold, and one with a part that is kept apart until eating.
    """
    heats = recipe.equipment.oven is not None or recipe.equipment.hob_minutes > 0
    apart = any(line.part != "main" for line in batch.lines)
    return not heats or recipe.keeps.serve == "cold" or apart


def eaters_of(batch: Batch, plan: Plan) -> tuple[str, ...]:
    """Return the clients who eat of a batch, in order of their ids."""
    dish = (batch.recipe_id, batch.version, batch.cook_day)
    return tuple(
        sorted({p.client_id for p in plan.portions if (p.recipe_id, p.version, p.cook_day) == dish})
    )


def avoiding(batch: Batch, plan: Plan, scenario: Scenario) -> dict[str, tuple[str, ...]]:
    """Return the clients with allergen exclusions who eat of a batch, and what they exclude."""
    eaters = eaters_of(batch, plan)
    return {
        client.client_id: tuple(sorted(set(client.allergens)))
        for client in sorted(scenario.clients, key=lambda client: client.client_id)
        if client.client_id in eaters and client.allergens
    }


def contact_of(
    batch: Batch, recipe: Recipe, plan: Plan, catalog: Catalog, scenario: Scenario
) -> Contact:
    """Return what a batch holds, what must be kept from it, and how it is handled."""
    foods = [catalog.foods[line.food_id] for line in batch.lines if line.food_id in catalog.foods]
    excluded = avoiding(batch, plan, scenario).values()
    return Contact(
        holds=_NONE.union(*(allergens_in(catalog, food) for food in foods)),
        avoids=_NONE.union(*excluded),
        handles_raw=bool(raw_foods(batch, catalog)),
        ready_to_eat=eaten_ready(batch, recipe),
        covered=recipe.equipment.oven is not None and recipe.equipment.oven.covered,
    )


@dataclass(frozen=True)
class Meeting:
    """Work on one dish that leaves something, and later or simultaneous work that keeps from it."""

    what: str
    left_by: Task
    kept_from: Task

    @property
    def overlaps(self) -> bool:
        """Tell whether the two go on at the same time."""
        return self.left_by.end_minute > self.kept_from.start_minute

    def cleaned_by(self, clean: CleanDown) -> bool:
        """Tell whether a clean-down lies between the two."""
        return (
            self.left_by.end_minute <= clean.start_minute
            and clean.end_minute <= self.kept_from.start_minute
        )


def meetings(tasks: Sequence[Task], contacts: Sequence[Contact]) -> list[Meeting]:
    """Return what would meet on the surface if nobody cleaned, by time of the later work."""
    hands = [task for task in tasks if task.kind in _HANDS_ON]
    found = [
        Meeting(what, first, then)
        for first, then in product(hands, hands)
        if first is not then and first.start_minute < then.end_minute
        for what in sorted(
            contacts[first.dish].leaves(first.kind) & contacts[then.dish].keeps_from(then.kind)
        )
    ]

    def key(one: Meeting) -> tuple[int, int, int, int]:
        then, first = one.kept_from, one.left_by
        return (then.start_minute, then.dish, -first.end_minute, first.dish)

    return sorted(found, key=key)


def needed_cleans(cleans: Iterable[CleanDown], met: Sequence[Meeting]) -> tuple[CleanDown, ...]:
    """Return the clean-downs that are of use, each with its reasons.

    A reason is given once for each thing cleaned off: the last work that left it, and the first
    that keeps from it, with no other clean-down between the two.
    """
    kept = sorted(cleans, key=lambda clean: (clean.start_minute, clean.cook))
    for clean in list(kept):
        others = [one for one in kept if one is not clean]
        if all(any(map(one.cleaned_by, others)) for one in met if one.cleaned_by(clean)):
            kept = others
    return tuple(clean.model_copy(update={"reasons": _reasons(clean, kept, met)}) for clean in kept)


def _reasons(
    clean: CleanDown, cleans: Sequence[CleanDown], met: Sequence[Meeting]
) -> tuple[CleanReason, ...]:
    first: dict[str, CleanReason] = {}
    for one in met:
        if [other for other in cleans if one.cleaned_by(other)] == [clean]:
            reason = CleanReason(
                what=one.what, from_dish=one.left_by.dish, for_dish=one.kept_from.dish
            )
            first.setdefault(one.what, reason)
    return tuple(first[what] for what in sorted(first))


def kept_apart(
    dish: int,
    contact: Contact,
    tasks: Sequence[Task],
    cleans: Sequence[CleanDown],
    met: Sequence[Meeting],
    contacts: Sequence[Contact],
) -> tuple[str, ...]:
    """Return the allergens that a dish avoids and that the timetable does keep from it.

    It looks at the finished tasks, so that a label claims only what the timetable really gives.
    """
    open_to = {
        one.what
        for one in met
        if one.kept_from.dish == dish and not any(map(one.cleaned_by, cleans))
    }
    mine = [task for task in tasks if task.dish == dish]
    if not any(task.kind in _HANDS_ON for task in mine):
        # Nothing is known of when and where it is made.
        return ()
    for load, other in product(mine, tasks):
        beside = load.oven is not None and load.oven == other.oven and other.dish != dish
        if beside and load.start_minute < other.end_minute and other.start_minute < load.end_minute:
            open_to |= contacts[other.dish].leaves("oven")
    return tuple(sorted(contact.avoids - open_to - contact.holds))
