"""Containers: each portion of a plan as boxes, parts that are kept apart in boxes of their own."""

from __future__ import annotations

from collections import defaultdict
from collections.abc import Sequence
from dataclasses import dataclass
from datetime import date, timedelta
from fractions import Fraction
from math import fsum
from typing import Literal

from planopt.catalog.parts import MAIN, boxes_of_parts
from planopt.catalog.records import NOT_KNOWN, Catalog
from planopt.catalog.safety import thawed_days
from planopt.cookday.records import Container, CookDaySchedule
from planopt.plan.records import Batch, BatchLine, Plan, Portion, ReadyBatch
from planopt.scenario.records import Scenario
from planopt.units import exact


def containers_of(
    plan: Plan,
    catalog: Catalog,
    scenario: Scenario,
    schedules: Sequence[CookDaySchedule] = (),
) -> tuple[Container, ...]:
    """Return the boxes of all portions, in the order of packing: cook day, client, day, meal.

    The boxes of a portion are as its recipe has them, that of the main part first. Parts are kept
    as the portion is: the plan counts the days of the whole dish, so what belongs to a frozen
    portion is frozen with it.
    Servings that nobody eats are in no box. A box claims to be made apart from an allergen only if
    its client excludes it and a timetable that is given keeps it from the dish.

    Raises:
        ValueError: the plan has a portion of a dish that it does not cook.
    """
    batches = {(b.recipe_id, b.version, b.cook_day): b for b in plan.sources}
    names = {client.client_id: client.name for client in scenario.clients}
    excluded = {client.client_id: client.allergens for client in scenario.clients}
    apart = {
        (dish.recipe_id, dish.version, day.cook_day): dish.made_apart_from
        for day in schedules
        for dish in day.dishes
    }
    boxes: list[Container] = []
    contents: dict[tuple[str, str, int], tuple[_Part, ...]] = {}
    for portion in _in_order(plan, scenario):
        dish = (portion.recipe_id, portion.version, portion.cook_day)
        batch = batches.get(dish)
        if batch is None:
            raise ValueError(
                f"{portion.client_id} eats {portion.recipe_id} {portion.version} of cook day "
                f"{portion.cook_day}, which the plan does not cook"
            )
        if dish not in contents:
            contents[dish] = _parts(batch, catalog)
        name = names.get(portion.client_id, portion.client_id)
        kept = set(apart.get(dish, ())).intersection(excluded.get(portion.client_id, ()))
        use_by = eat_by(portion, batch, catalog)
        boxes += [
            box.model_copy(update={"made_apart_from": tuple(sorted(kept))}) if kept else box
            for box in _boxes(portion, batch, contents[dish], name, len(boxes) + 1, use_by)
        ]
    return tuple(boxes)


def _in_order(plan: Plan, scenario: Scenario) -> list[Portion]:
    """Return the portions by cook day, then client, day and meal as the scenario has them."""
    clients = {client.client_id: n for n, client in enumerate(scenario.clients)}
    meals = {meal: n for n, meal in enumerate(scenario.meals)}

    def key(portion: Portion) -> tuple[int, int, str, int, int, str, str]:
        return (
            portion.cook_day,
            clients.get(portion.client_id, len(clients)),
            portion.client_id,
            portion.day,
            meals.get(portion.meal, len(meals)),
            portion.recipe_id,
            portion.version,
        )

    return sorted(plan.portions, key=key)


@dataclass(frozen=True)
class _Part:
    """All that was cooked of what shares a box: edible grams before cooking, what they bring."""

    name: str
    beside: tuple[str, ...]
    serve: Literal["reheated", "cold", "either"]
    grams: Fraction
    nutrients: dict[str, float]
    allergens: tuple[str, ...]
    not_known: tuple[str, ...]


def eat_by(portion: Portion, batch: Batch, catalog: Catalog) -> date:
    """Return the last day for a portion: of cooked food in the fridge, or of thawed food."""
    if portion.thaw_on is None:
        last = batch.use_by_fridge
    else:
        last = portion.thaw_on + timedelta(days=days_once_thawed(batch, catalog))
    return min(last, batch.keeps_until) if isinstance(batch, ReadyBatch) else last


def days_once_thawed(batch: Batch, catalog: Catalog) -> int:
    """Return within how many days of leaving the freezer a batch is eaten; 1 if unknown."""
    recipe = catalog.recipes.get(batch.recipe_id)
    foods = {line.food_id for line in batch.lines}
    if recipe is None or not foods <= catalog.foods.keys():
        return 1
    fridge_days = (batch.use_by_fridge - batch.cook_date).days
    return thawed_days(catalog, recipe, sorted(foods), fridge_days)


def _parts(batch: Batch, catalog: Catalog) -> tuple[_Part, ...]:
    """Return what goes into each box of a portion, as all that was cooked of it."""
    lines: dict[str, list[BatchLine]] = defaultdict(list)
    for line in batch.lines:
        lines[line.part].append(line)
    recipe = catalog.recipes.get(batch.recipe_id)
    # Where there is no main part, every part is eaten as it is.
    order = sorted(lines, key=lambda name: (name != MAIN, lines[name][0].line))
    boxes = tuple((part,) for part in order) if recipe is None else boxes_of_parts(recipe, order)
    return tuple(
        _Part(
            name=box[0],
            beside=box[1:],
            serve=recipe.keeps.serve if recipe is not None and box[0] == MAIN else "cold",
            grams=sum((exact(line.grams) for line in held), Fraction(0)),
            nutrients=_nutrients(catalog, held),
            allergens=_allergens(catalog, held),
            not_known=_not_known(catalog, held),
        )
        for box in boxes
        for held in [[line for part in box for line in lines[part]]]
    )


def _boxes(
    portion: Portion,
    batch: Batch,
    parts: tuple[_Part, ...],
    client_name: str,
    number: int,
    use_by: date,
) -> list[Container]:
    share = exact(portion.servings) / exact(batch.servings)
    ready = isinstance(batch, ReadyBatch)
    of_dish = tuple(sorted({allergen for part in parts for allergen in part.allergens}))
    unknown = tuple(sorted({food_id for part in parts for food_id in part.not_known}))
    return [
        Container(
            number=number + place,
            cook_day=batch.cook_day,
            cooked_on=batch.cook_date,
            client_id=portion.client_id,
            client_name=client_name,
            day=portion.day,
            date=portion.date,
            meal=portion.meal,
            recipe_id=batch.recipe_id,
            recipe_name=batch.recipe_name,
            version=batch.version,
            part=part.name,
            parts_beside=part.beside,
            parts_of_portion=len(parts),
            serve=part.serve,
            servings=portion.servings,
            grams=round(float(share * part.grams), 6),
            share_of_part=round(float(share), 9),
            stored=portion.stored,
            freeze_by=batch.cook_date if portion.stored == "freezer" and not ready else None,
            ready=ready,
            thaw_on=portion.thaw_on,
            use_by=use_by,
            nutrients={
                nutrient_id: round(float(share) * amount, 9)
                for nutrient_id, amount in part.nutrients.items()
            },
            allergens=part.allergens,
            allergens_of_dish=of_dish,
            foods_not_known=unknown,
        )
        for place, part in enumerate(parts)
    ]


def _nutrients(catalog: Catalog, lines: list[BatchLine]) -> dict[str, float]:
    """Return what some lines bring; an unknown value counts as 0, as in the plan."""
    foods = [(line.grams, catalog.foods[line.food_id].nutrients) for line in lines]
    return {
        nutrient_id: fsum(grams / 100.0 * (values[nutrient_id] or 0.0) for grams, values in foods)
        for nutrient_id in catalog.nutrients
    }


def _allergens(catalog: Catalog, lines: list[BatchLine]) -> tuple[str, ...]:
    found = {a for line in lines for a in catalog.foods[line.food_id].allergens}
    return tuple(sorted(found - {NOT_KNOWN}))


def _not_known(catalog: Catalog, lines: list[BatchLine]) -> tuple[str, ...]:
    foods = {line.food_id for line in lines}
    return tuple(sorted(f for f in foods if not catalog.foods[f].allergens_known))
