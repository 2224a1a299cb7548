"""What the foods of a dish ask of it, whatever its recipe says: how long it keeps, how hot it gets.

The stricter of recipe and foods holds.
"""

from __future__ import annotations

from collections.abc import Iterable

from planopt.catalog.records import NONE, Catalog, Food, Recipe, SafeTemperature


def kind_for(catalog: Catalog, food: Food, own_kind: str) -> str:
    """Return the keeping kind that limits a dish because it holds a food.

    `own_kind` is the dish's own; it counts where the food's group allows for it.
    """
    if food.safety_group == NONE:
        return own_kind
    kinds = catalog.safety_groups[food.safety_group].kinds
    return own_kind if own_kind in kinds else kinds[0]


def binding_kinds(catalog: Catalog, recipe: Recipe, food_ids: Iterable[str]) -> tuple[str, ...]:
    """Return the keeping kinds that limit a dish of these foods: its own first, then others."""
    own = recipe.keeps.kind
    asked = {kind_for(catalog, catalog.foods[food_id], own) for food_id in food_ids}
    return (own, *sorted(asked - {own}))


def thawed_days(catalog: Catalog, recipe: Recipe, food_ids: Iterable[str], fridge_days: int) -> int:
    """Return within how many days of leaving the freezer a dish is eaten, thawing included.

    The freezer stops the clock and does not turn it back (FDA Food Code 3-501.17 as adopted in
    North Carolina's sheet on date marking), so that a thawed dish keeps no longer than a fresh one.
    """
    limits = [catalog.storage_limits.get(k) for k in binding_kinds(catalog, recipe, food_ids)]
    return min([fridge_days, *(one.thawed_days for one in limits if one is not None)])


def temperature_for(catalog: Catalog, food: Food) -> SafeTemperature | None:
    """Return the least temperature that a food must reach inside; None = eaten as it is bought.

    The hotter of the class in the food's row and, for a raw food, that of its group.
    """
    names = [food.safe_temperature]
    group = catalog.safety_groups.get(food.safety_group)
    if food.state == "raw" and group is not None:
        names.append(group.temperature_class)
    classes = [cls for cls in catalog.safe_temperatures.values() if cls.class_id in names]
    return max(classes, key=lambda cls: cls.internal_c, default=None)
