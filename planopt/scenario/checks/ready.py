"""Checks of ready portions: the dish exists, they were cooked before this week, each once."""

from __future__ import annotations

from collections.abc import Iterator

from planopt.catalog.records import Recipe
from planopt.faults import Fault, nearest
from planopt.scenario.checks.subject import Check, Checking, Path, listed_twice
from planopt.scenario.ready import ReadyPortions
from planopt.units import minor_digits


def ready_portions(c: Checking) -> Iterator[Fault]:
    """Every entry of ready portions names what there is, once, and how much of it."""
    seen: set[tuple[object, ...]] = set()
    clients = [client.client_id for client in c.scenario.clients]
    for index, entry in enumerate(c.scenario.ready_portions):
        path: Path = ("ready_portions", index)
        yield from c.unknown("recipes", (*path, "recipe"), entry.recipe)
        yield from _amount(c, path, entry)
        yield from _dates(c, path, entry)
        for place, who in enumerate(entry.clients):
            if who not in clients:
                why = "the scenario has no such client"
                mend = nearest(who, clients)
                yield c.fault((*path, "clients", place), who, why, mend, "unknown_client")
        key = (entry.recipe, entry.version, entry.cooked_on)
        yield from listed_twice(c, path, seen, key)
        recipe = c.catalog.recipes.get(entry.recipe)
        if recipe is not None and c.complete:
            yield from _of_recipe(c, path, entry, recipe)


def _amount(c: Checking, path: Path, entry: ReadyPortions) -> Iterator[Fault]:
    if (entry.servings is None) == (entry.grams is None):
        yield c.fault(
            path,
            entry.recipe,
            "ready portions are told in servings or in grams",
            "write one of servings and grams",
            "servings_or_grams",
        )
    digits = minor_digits(c.scenario.currency)
    if entry.price != round(entry.price, digits):
        yield c.fault(
            (*path, "price"),
            str(entry.price),
            f"{c.scenario.currency} has {digits} decimals",
            "round the price",
            "money_decimals",
        )


def _dates(c: Checking, path: Path, entry: ReadyPortions) -> Iterator[Fault]:
    first = min(1, *(cook.day for cook in c.scenario.cook_days))
    if c.scenario.day_number(entry.cooked_on) >= first:
        yield c.fault(
            (*path, "cooked_on"),
            str(entry.cooked_on),
            f"ready portions are older than the cook days, of which the first is "
            f"{c.scenario.date_of(first)}",
            "write the date of their label; what this week cooks is planned, or goes to by_hand",
            "ready_too_young",
        )
    if entry.use_by < entry.cooked_on:
        yield c.fault(
            (*path, "use_by"),
            str(entry.use_by),
            f"that is before they were cooked, {entry.cooked_on}",
            "write the date of their label",
            "range_reversed",
        )


def _of_recipe(c: Checking, path: Path, entry: ReadyPortions, recipe: Recipe) -> Iterator[Fault]:
    lines = recipe.lines
    known = {"base"} | {
        f"{index}={other.food}" for index, line in enumerate(lines) for other in line.alternatives
    }
    known |= {f"{index}-" for index, line in enumerate(lines) if line.optional}
    words = entry.version.split("+")
    places = [word.partition("=")[0].removesuffix("-") for word in words]
    whole = len(set(places)) == len(places) and (len(words) == 1 or "base" not in words)
    if not (set(words) <= known and whole and _in_order(words, places)):
        yield c.fault(
            (*path, "version"),
            entry.version,
            f"{entry.recipe} has no such version",
            "copy the version of the plan that cooked it, or leave it out: as the recipe says",
            "unknown_version",
        )
    if entry.kept == "freezer" and recipe.keeps.freezer_months == 0:
        yield c.fault(
            (*path, "kept"),
            entry.kept,
            f"{entry.recipe} is not to be frozen",
            "write kept: fridge, or leave the entry out",
            "ready_not_frozen",
        )


def _in_order(words: list[str], places: list[str]) -> bool:
    return words == ["base"] or places == sorted(places, key=int)


def ready_in_vain(c: Checking) -> Iterator[Fault]:
    """Warn of ready portions that are past their use-by before the week begins."""
    for index, entry in enumerate(c.scenario.ready_portions):
        if entry.use_by < c.scenario.start_date:
            yield c.fault(
                ("ready_portions", index, "use_by"),
                str(entry.use_by),
                f"the plan begins on {c.scenario.start_date}: nobody gets these any more",
                "throw them away and take the entry out, or correct the date",
                "ready_in_vain",
            )


READY_CHECKS: tuple[Check, ...] = (ready_portions,)
READY_WARNINGS: tuple[Check, ...] = (ready_in_vain,)
