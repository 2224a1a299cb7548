"""What foods ask of the dishes that hold them: how long these keep, and how hot they must get.

The audit's own reading of the catalog: it shares no code with `planopt.catalog.safety`.
"""

from __future__ import annotations

from collections.abc import Iterator
from fractions import Fraction
from math import floor

from planopt.audit.dishes import Dish
from planopt.audit.findings import Finding, exact, show
from planopt.catalog.records import Catalog, Food

NO_GROUP = "none"
UNKNOWN = "not_known"
# Tables in whole degrees Fahrenheit lose a little of a degree Celsius.
ROUNDING_C = Fraction(1, 5)
DAYS_PER_MONTH = 30


def limiting_kinds(catalog: Catalog, dish: Dish) -> set[str] | None:
    """Return every keeping kind that limits a dish; None if a group or a kind is unknown."""
    own = dish.recipe.keeps.kind
    kinds = {own}
    for food_id in dish.foods:
        food = catalog.foods.get(food_id)
        if food is None or food.safety_group == NO_GROUP:
            continue
        group = catalog.safety_groups.get(food.safety_group)
        if group is None:
            return None
        if own not in group.kinds:
            kinds.add(group.kinds[0])
    return kinds if kinds <= catalog.storage_limits.keys() else None


def days_kept(
    catalog: Catalog, dish: Dish, shortest: bool, freezer: bool
) -> tuple[int, int | None] | None:
    """Return days in the fridge and in the freezer (None = not frozen); None if unknown.

    Each is the least of what the recipe, its kind and the groups of its foods allow.
    """
    kinds = limiting_kinds(catalog, dish)
    if kinds is None:
        return None
    limits = [catalog.storage_limits[kind] for kind in kinds]
    days = [one.fridge_days_shortest if shortest else one.fridge_days_longest for one in limits]
    months = [
        one.freezer_months_shortest if shortest else one.freezer_months_longest for one in limits
    ]
    frozen = min(exact(dish.recipe.keeps.freezer_months), *map(exact, months))
    fridge_days = min(dish.recipe.keeps.fridge_days, *days)
    # what thaws for a day in the fridge must keep a day there
    frozen_days = floor(DAYS_PER_MONTH * frozen) if freezer and fridge_days > 0 else 0
    return fridge_days, frozen_days or None


def check_heated(catalog: Catalog, dish: Dish, where: str) -> Iterator[Finding]:
    """Check that a dish with raw animal food has a step that heats it enough."""
    steps = [step.until_internal_c for step in dish.steps]
    reached = max((exact(step) for step in steps if step is not None), default=None)
    for food_id in sorted(dish.foods):
        food = catalog.foods.get(food_id)
        least = None if food is None else _least_inside(catalog, food)
        if least is not None and (reached is None or reached + ROUNDING_C < least):
            found = "no step with a temperature" if reached is None else f"{show(reached)} C"
            yield Finding("raw-not-heated", where, f"{food_id} at {show(least)} C inside", found)


def _least_inside(catalog: Catalog, food: Food) -> Fraction | None:
    """Return the temperature that a food must reach, by its own class or by its group's."""
    group = catalog.safety_groups.get(food.safety_group)
    of_group = group.temperature_class if group is not None and food.state == "raw" else None
    classes = [
        catalog.safe_temperatures[name]
        for name in (food.safe_temperature, of_group)
        if name is not None and name in catalog.safe_temperatures
    ]
    return max((exact(one.internal_c) for one in classes), default=None)


def check_allergens(
    catalog: Catalog, dish: Dish, excluded: tuple[str, ...], where: str
) -> Iterator[Finding]:
    """Check that a dish has none of a client's allergens, and no food that may have one."""
    for allergen in sorted(dish.allergens & set(excluded)):
        yield Finding("allergen", where, f"no {allergen}", "a food that has it")
    if not excluded:
        return
    for food_id in sorted(dish.foods):
        food = catalog.foods.get(food_id)
        if food is not None and UNKNOWN in food.allergens:
            wanted = "foods whose allergens are known"
            yield Finding("allergen-unknown", where, wanted, food_id)
