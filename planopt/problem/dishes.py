"""Dishes: the versions of a recipe that a choice of alternatives and optional lines makes."""

from __future__ import annotations

from collections.abc import Iterable, Iterator
from dataclasses import dataclass
from fractions import Fraction
from itertools import product

from planopt.catalog.quantities import Quantities
from planopt.catalog.records import NOT_KNOWN, Catalog, Recipe
from planopt.catalog.safety import binding_kinds
from planopt.scenario.records import Scenario

DAYS_PER_MONTH = 30


@dataclass(frozen=True)
class Dish:
    """One version of one recipe, as numbers.

    `grams` is edible grams per batch by food; `nutrients` is per serving by nutrient id.
    `allergens` has `NOT_KNOWN` where those of one of its foods are not known.
    `batch_step` is in batches, None = any amount.
    """

    recipe_id: str
    version: str
    meals: tuple[str, ...]
    grams: dict[str, float]
    nutrients: dict[str, float]
    allergens: frozenset[str]
    yield_servings: float
    batch_step: float | None
    most_per_cook_day: float
    hands_on: float
    hands_on_extra: float
    oven_minutes: float
    hob_minutes: float
    fridge_days: int
    freezer_days: int

    def barred_by(self, excluded: Iterable[str]) -> tuple[str, ...]:
        """Return which excluded allergens this dish has, or may have where they are not known."""
        unknown = NOT_KNOWN in self.allergens
        return tuple(a for a in excluded if unknown or a in self.allergens)

    @property
    def key(self) -> tuple[str, str]:
        """Return recipe id and version, which together are unique."""
        return (self.recipe_id, self.version)


_STEPS = {"whole": 1.0, "half": 0.5, "any": None}


def keeping_days(
    recipe: Recipe, catalog: Catalog, scenario: Scenario, food_ids: Iterable[str]
) -> tuple[int, int]:
    """Return days a dish keeps in the fridge and in the freezer (0 = not frozen).

    The strictest holds of the recipe's own limit, its kind's published limit and those that the
    foods in the dish bring.
    """
    fridge, months = recipe.keeps.fridge_days, recipe.keeps.freezer_months
    for kind in binding_kinds(catalog, recipe, food_ids):
        limit = catalog.storage_limits[kind]
        if scenario.keeping_rule == "shortest":
            fridge = min(fridge, limit.fridge_days_shortest)
            months = min(months, limit.freezer_months_shortest)
        else:
            fridge = min(fridge, limit.fridge_days_longest)
            months = min(months, limit.freezer_months_longest)
    # Thawing takes a day in the fridge, and the freezer gives none back.
    frozen = months if scenario.use_freezer and fridge >= 1 else 0.0
    return fridge, int(DAYS_PER_MONTH * Fraction(repr(frozen)))


def _line_choices(recipe: Recipe) -> Iterator[tuple[tuple[str, str | None, float], ...]]:
    """Yield, line by line, (word of the version, food or None if left out, ratio)."""
    choices = []
    for index, line in enumerate(recipe.lines):
        options: list[tuple[str, str | None, float]] = [("", line.food, 1.0)]
        options += [(f"{index}={alt.food}", alt.food, alt.ratio) for alt in line.alternatives]
        if line.optional:
            options.append((f"{index}-", None, 0.0))
        choices.append(options)
    yield from product(*choices)


def dishes_of(
    recipe: Recipe, catalog: Catalog, scenario: Scenario, quantities: Quantities
) -> list[Dish]:
    """Return every version of a recipe, `base` first."""
    line_g = [
        quantities.line_grams(line.food, line.amount, line.unit, line.state)
        for line in recipe.lines
    ]
    oven = recipe.equipment.oven
    dishes = []
    for chosen in _line_choices(recipe):
        grams: dict[str, float] = {}
        for (_, food_id, ratio), base_g in zip(chosen, line_g, strict=True):
            if food_id is not None:
                grams[food_id] = grams.get(food_id, 0.0) + base_g * ratio
        nutrients = {
            nutrient_id: sum(
                g / 100.0 * (catalog.foods[food_id].nutrients[nutrient_id] or 0.0)
                for food_id, g in grams.items()
            )
            / recipe.yield_servings
            for nutrient_id in catalog.nutrients
        }
        fridge_days, freezer_days = keeping_days(recipe, catalog, scenario, grams)
        allergens = frozenset(a for food_id in grams for a in catalog.foods[food_id].allergens)
        dishes.append(
            Dish(
                recipe_id=recipe.recipe_id,
                version="+".join(word for word, _, _ in chosen if word) or "base",
                meals=recipe.meals,
                grams=grams,
                nutrients=nutrients,
                allergens=allergens,
                yield_servings=recipe.yield_servings,
                batch_step=_STEPS[recipe.batch.step],
                most_per_cook_day=recipe.batch.most_per_cook_day,
                hands_on=recipe.minutes.hands_on,
                hands_on_extra=recipe.minutes.hands_on_per_extra_batch,
                oven_minutes=oven.minutes if oven else 0.0,
                hob_minutes=recipe.equipment.hob_minutes,
                fridge_days=fridge_days,
                freezer_days=freezer_days,
            )
        )
    return dishes
