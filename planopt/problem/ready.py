"""Ready portions as dishes: cooked earlier, with nothing to buy or to do, and only so many."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import replace
from datetime import date, timedelta

from planopt.catalog.records import Catalog
from planopt.problem.dishes import Dish, LineOption, dish_of, keeping_days
from planopt.problem.people import CookTime, cook_time_of
from planopt.problem.shared import shared_of
from planopt.scenario.ready import ReadyPortions
from planopt.scenario.records import Client, Scenario


def ready_dishes(catalog: Catalog, scenario: Scenario) -> list[Dish]:
    """Return a dish for each entry of ready portions, in their order.

    As each has a cook day of its own, most batches of that day are all that there are.
    """
    found = []
    for index, entry in enumerate(scenario.ready_portions):
        dish = version_at(catalog, scenario, entry)
        last = (last_day(catalog, scenario, entry, dish) - entry.cooked_on).days
        frozen = entry.kept == "freezer"
        found.append(
            replace(
                dish,
                grams={},
                held=dish.grams,
                ready=index,
                batch_step=None,
                most_per_cook_day=servings_ready(entry, dish) / dish.yield_servings,
                hands_on=0.0,
                hands_on_extra=0.0,
                oven_minutes=0.0,
                hob_minutes=0.0,
                fridge_days=-1 if frozen else last,
                freezer_days=last if frozen else 0,
                boxes=0,
            )
        )
    return found


def version_at(catalog: Catalog, scenario: Scenario, entry: ReadyPortions) -> Dish:
    """Return the dish that ready portions are of, as if it were cooked now."""
    recipe = catalog.recipes[entry.recipe]
    chosen = chosen_by(shared_of(catalog).lines(entry.recipe), entry.version)
    assert chosen is not None
    return dish_of(recipe, catalog, scenario, chosen)


def chosen_by(
    lines: Sequence[tuple[LineOption, ...]], version: str
) -> tuple[LineOption, ...] | None:
    """Return the options that make a version, None if there is no such version."""
    words = version.split("+") if version != "base" else []
    chosen = tuple(
        next((one for one in line if one.word and one.word in words), line[0]) for line in lines
    )
    made = [one.word for one in chosen if one.word]
    return chosen if made == words else None


def servings_ready(entry: ReadyPortions, dish: Dish) -> float:
    """Return the servings of an entry; grams are those of foods as they go into the pot."""
    if entry.servings is not None:
        return entry.servings
    assert entry.grams is not None
    return entry.grams / dish.plate_g


def last_day(catalog: Catalog, scenario: Scenario, entry: ReadyPortions, dish: Dish) -> date:
    """Return the last date to eat ready portions: as written, and as the catalog lets them keep."""
    frozen = scenario.model_copy(update={"use_freezer": True})
    recipe = catalog.recipes[entry.recipe]
    days = keeping_days(recipe, catalog, frozen, dish.contents)
    kept = days[1] if entry.kept == "freezer" else days[0]
    return min(entry.use_by, entry.cooked_on + timedelta(days=kept))


def cook_day_of(scenario: Scenario, entry: ReadyPortions) -> int:
    """Return the day number on which ready portions were cooked: below that of any cook day."""
    return scenario.day_number(entry.cooked_on)


def all_cook_times(scenario: Scenario) -> tuple[CookTime, ...]:
    """Return the cook days, and after them that of each entry of ready portions."""
    earlier = (
        CookTime(cook_day_of(scenario, entry), None, None, None, None)
        for entry in scenario.ready_portions
    )
    return (*map(cook_time_of, scenario.cook_days), *earlier)


def served_ready(scenario: Scenario, client: Client, dish: Dish) -> bool:
    """Tell whether a dish that is ready may be eaten by a client, as far as its entry says."""
    if dish.ready is None:
        return True
    named = scenario.ready_portions[dish.ready].clients
    return not named or client.client_id in named


def reached_when_ready(dish: Dish, day: int, cook_day: int) -> bool:
    """Tell whether ready portions still keep on a day of the plan."""
    return day - cook_day <= max(dish.fridge_days, dish.freezer_days)
