"""What each plate may have, whatever is settled by hand, and the names of those dishes."""

from __future__ import annotations

from collections.abc import Mapping

from planopt.catalog.dishtext import dish_name
from planopt.plan.records import Plan
from planopt.plan.reread import versions_in
from planopt.problem.build import build_problem
from planopt.report.words.plain import dish_words, plain
from planopt.scenario.byhand import ByHand
from planopt.scenario.reading.load import Kitchen

BASE = "base"

Plate = tuple[str, int, str]
# Plate -> recipes that it may have, each with the version by which it is named there.
Choices = Mapping[Plate, Mapping[str, str]]


def choices_of(plan: Plan, kitchen: Kitchen) -> Choices:
    """Return which recipes each plate may have; as written where that version may be there."""
    free = kitchen.scenario.model_copy(update={"by_hand": ByHand()})
    problem = build_problem(kitchen.catalog, free, versions_in(plan))
    found: dict[Plate, dict[str, str]] = {}
    for slot in problem.slots:
        plate = (problem.clients[slot.client].client_id, slot.day, slot.meal)
        versions = sorted(problem.dishes[option.dish].key for option in slot.options)
        mine = found.setdefault(plate, {})
        for recipe, version in versions:
            if recipe not in mine or version == BASE:
                mine[recipe] = version
    return found


def dish_names(plan: Plan, kitchen: Kitchen, choices: Choices, client_id: str) -> dict[str, str]:
    """Return the names of the dishes that a client has or may have, in the order of the names."""
    versions: dict[str, str] = {}
    for (who, _, _), mine in choices.items():
        if who == client_id:
            versions |= mine
    versions |= {p.recipe_id: p.version for p in plan.portions if p.client_id == client_id}
    names = {recipe: _name(kitchen, recipe, version) for recipe, version in versions.items()}
    return dict(sorted(names.items(), key=lambda pair: pair[1].lower()))


def _name(kitchen: Kitchen, recipe_id: str, version: str) -> str:
    recipe = kitchen.catalog.recipes.get(recipe_id)
    name = plain(recipe_id) if recipe is None else dish_name(recipe, version, kitchen.catalog)
    return dish_words(kitchen.catalog, recipe_id, name, version)


def any_name(kitchen: Kitchen, recipe_id: str) -> str:
    """Return the name of a dish as its recipe is written, whoever has it."""
    return _name(kitchen, recipe_id, BASE)
