"""Meals that no dish can serve, and why: none suits or keeps, food lacks, none fits, had lately."""

from __future__ import annotations

from dataclasses import dataclass
from typing import Literal

from planopt.catalog.records import Catalog
from planopt.problem.build import Problem
from planopt.problem.candidates import outlines_of
from planopt.problem.dishes import Dish
from planopt.problem.offering import may_eat
from planopt.problem.past import had_lately
from planopt.problem.reach import reaches
from planopt.problem.sources import food_sources
from planopt.scenario.records import Scenario

Cause = Literal["none suits", "none keeps", "food is lacking", "none fits", "had lately"]


@dataclass(frozen=True)
class Unserved:
    """One meal of a client that has no dish on some days.

    Where food is lacking, `nearest` is the recipe whose best version lacks the fewest foods, and
    `lacking` are these foods, neither sold to this kitchen nor on hand when it is cooked.
    """

    client_id: str
    meal: str
    days: tuple[int, ...]
    cause: Cause
    nearest: str | None = None
    lacking: tuple[str, ...] = ()


def unserved_meals(catalog: Catalog, scenario: Scenario, problem: Problem) -> list[Unserved]:
    """Return the meals of a scenario's problem without any dish, by clients, days and meals."""
    empty = [slot for slot in problem.bounding.slots if not slot.options]
    if not empty:
        return []
    _, supplies = food_sources(catalog, scenario)
    dishes = outlines_of(catalog, scenario)

    def there(food_id: str | None, cook_day: int) -> bool:
        if food_id is None or catalog.foods[food_id].storage == "tap":
            return True
        return any(cook_day in supply.cook_days for supply in supplies[food_id])

    def lacking(dish: Dish, cook_day: int) -> tuple[str, ...]:
        missing = {food_id for food_id in dish.grams if not there(food_id, cook_day)}
        for line in dish.loose:
            if not any(there(one.food_id, cook_day) for one in line):
                missing.add(line[0].food_id or "")
        return tuple(sorted(missing))

    days: dict[tuple[str, str, Cause, str | None, tuple[str, ...]], list[int]] = {}
    for slot in empty:
        client = scenario.clients[slot.client]
        suiting = [d for d in dishes if slot.meal in d.meals and may_eat(client, d)]
        ready = [
            (dish, cook.day)
            for dish in suiting
            for cook in scenario.cook_days
            if reaches(cook, slot.day, slot.meal, dish, scenario.meals)
        ]
        cause: Cause = "food is lacking" if ready else "none keeps" if suiting else "none suits"
        gaps = [(lacking(dish, day), dish.recipe_id) for dish, day in ready]
        least, nearest = min(gaps, key=lambda gap: (len(gap[0]), gap[1]), default=((), None))
        barred = had_lately(scenario, client, slot.day)
        if ready and all(dish.recipe_id in barred for dish, _ in ready):
            cause, nearest, least = "had lately", None, ()
        if cause == "food is lacking" and not least:
            # The food is there: no portion is of a size that the meal may have.
            cause, nearest = "none fits", None
        key = (client.client_id, slot.meal, cause, nearest, least)
        days.setdefault(key, []).append(slot.day)
    return [
        Unserved(client_id, meal, tuple(on), cause, nearest, least)
        for (client_id, meal, cause, nearest, least), on in days.items()
    ]
