"""Cross-contact in words: why a clean-down is there, and for whom a dish is kept from what."""

from __future__ import annotations

from collections import defaultdict
from collections.abc import Sequence

from planopt.catalog.records import Catalog
from planopt.cookday.records import RAW, CleanDown, CookDaySchedule, DishWork
from planopt.report.words.plain import (
    and_words,
    dish_words,
    food_name,
    plain,
    plural,
    sentence_case,
)
from planopt.scenario.records import Scenario

CLEAN_DOWN = "clean down"
NO_PROMISE = (
    "The order of work and the clean-downs lower the risk of contact; they cannot rule out traces. "
    "Where an allergy calls for more, and in a food business, local rules come first."
)


def allergen_words(catalog: Catalog, allergen_ids: Sequence[str]) -> str:
    """Return allergens as a list inside a sentence."""
    names = [
        sentence_case(catalog.allergens[one].name) if one in catalog.allergens else plain(one)
        for one in allergen_ids
    ]
    return and_words(names)


def _client_names(scenario: Scenario | None) -> dict[str, str]:
    clients = scenario.clients if scenario is not None else ()
    return {client.client_id: client.name for client in clients}


def _short_name(catalog: Catalog, food_id: str) -> str:
    """Return a food's name without what sets it apart from its relatives."""
    return sentence_case(food_name(catalog, food_id).partition(",")[0])


def reason_lines(
    day: CookDaySchedule,
    clean: CleanDown,
    catalog: Catalog,
    scenario: Scenario | None = None,
    *,
    numbered: bool = True,
) -> list[str]:
    """Return why a clean-down is there, a line for each pair of dishes that it parts.

    Dishes are told by their numbers in the timetable, or else by their names.
    """

    def called(place: int) -> str:
        dish = day.dishes[place]
        name = dish_words(catalog, dish.recipe_id, dish.recipe_name, dish.version)
        return f"dish {place + 1}" if numbered else name

    pairs: dict[tuple[int, int], list[str]] = defaultdict(list)
    for reason in clean.reasons:
        pairs[reason.from_dish, reason.for_dish].append(reason.what)
    names = _client_names(scenario)
    lines = []
    for (before, after), things in pairs.items():
        if RAW in things:
            food = _short_name(catalog, day.dishes[before].raw_foods[0])
            lines.append(
                f"raw {food} before ({called(before)}), ready-to-eat work after ({called(after)})"
            )
        if allergens := [one for one in things if one != RAW]:
            shun = day.dishes[after].avoided_by
            told = [
                f"{names.get(who, who)}, who avoids "
                f"{allergen_words(catalog, [one for one in allergens if one in some])}"
                for who, some in shun.items()
                if set(some) & set(allergens)
            ]
            what = allergen_words(catalog, allergens)
            lines.append(
                f"{called(before)} holds {what}; {called(after)} is for {', and for '.join(told)}"
            )
    return lines


def clean_minutes_words(day: CookDaySchedule) -> str:
    """Return how many minutes of the day go into clean-downs, or that none does."""
    if not day.clean_downs:
        return "no clean-down is needed in this order"
    return f"{plural(len(day.clean_downs), 'clean-down')}, {day.clean_minutes} min"


def apart_lines(dish: DishWork, catalog: Catalog, scenario: Scenario) -> list[str]:
    """Return what a cook has to mind with a dish: whom it is for, and raw beside ready food."""
    names = _client_names(scenario)
    lines = []
    for client_id, allergens in dish.avoided_by.items():
        kept = [one for one in allergens if one in dish.made_apart_from]
        if not kept:
            continue
        what = allergen_words(catalog, kept)
        lines.append(f"For {names.get(client_id, client_id)}, who avoids {what}.")
    if lines:
        text = "Start with a clean board, knife and pot"
        recipe = catalog.recipes.get(dish.recipe_id)
        if recipe is not None and recipe.equipment.oven is not None:
            text += "; never in an oven load with an uncovered dish that holds any of these"
        lines.append(f"{text}.")
    if dish.raw_foods and dish.ready_to_eat:
        raw = and_words([_short_name(catalog, one) for one in dish.raw_foods])
        lines.append(
            f"Raw {raw}: first prepare what is not cooked afterwards, or use another board for it."
        )
    return lines


def made_apart_words(catalog: Catalog, allergen_ids: Sequence[str]) -> str:
    """Return the line of a label on what its dish was made apart from, or nothing."""
    if not allergen_ids:
        return ""
    return f"Made apart from: {allergen_words(catalog, allergen_ids)}; traces not ruled out"
