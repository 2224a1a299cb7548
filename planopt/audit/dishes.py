"""Versions of recipes: what their text says, and what is in them."""

from __future__ import annotations

import re
from dataclasses import dataclass
from fractions import Fraction

from planopt.audit.conversions import Conversions
from planopt.audit.dishwords import spoken_name, steps_done
from planopt.audit.findings import exact
from planopt.catalog.records import Catalog, Line, Recipe, Step

_PART = re.compile(r"(?P<line>0|[1-9][0-9]{0,3})(?:=(?P<food>[a-z][a-z0-9_]*)|-)")


@dataclass(frozen=True)
class Item:
    """One food of one batch, in catalog grams; `grams` is None where no conversion exists."""

    line: int
    food_id: str
    grams: Fraction | None
    part: str
    chosen: str


@dataclass(frozen=True)
class Dish:
    """A version of a recipe; `name` and `steps` are what the recipe says for it."""

    recipe: Recipe
    version: str
    name: str
    steps: tuple[Step, ...]
    items: tuple[Item, ...]
    allergens: frozenset[str]
    nutrients_per_serving: dict[str, Fraction]
    food_groups_g: dict[str, Fraction]

    def amount(self, name: str) -> Fraction | None:
        """Return what a serving has of a nutrient, or of a food group (`fish_g`); None: neither."""
        if name in self.nutrients_per_serving:
            return self.nutrients_per_serving[name]
        return self.food_groups_g.get(name[:-2]) if name.endswith("_g") else None

    @property
    def foods(self) -> frozenset[str]:
        """The foods in this version."""
        return frozenset(item.food_id for item in self.items)


def read_choices(recipe: Recipe, version: str) -> dict[int, str | None] | None:
    """Return line -> chosen alternative (None = left out), or None if this is no version."""
    if version == "base":
        return {}
    choices: dict[int, str | None] = {}
    last = -1
    for text in version.split("+"):
        part = _PART.fullmatch(text)
        if part is None:
            return None
        index, food = int(part["line"]), part["food"]
        if index <= last or index >= len(recipe.lines):
            return None
        line = recipe.lines[index]
        offered = {alternative.food for alternative in line.alternatives} - {line.food}
        if (food is None and not line.optional) or (food is not None and food not in offered):
            return None
        choices[index] = food
        last = index
    return choices


def make_dish(
    catalog: Catalog, conversions: Conversions, recipe: Recipe, version: str
) -> Dish | None:
    """Return the version with its contents, or None if the recipe has no such version."""
    choices = read_choices(recipe, version)
    if choices is None:
        return None
    items = tuple(
        _item(conversions, index, line, choices.get(index, line.food))
        for index, line in enumerate(recipe.lines)
        if choices.get(index, line.food) is not None
    )
    known = [catalog.foods[item.food_id] for item in items if item.food_id in catalog.foods]
    allergens = frozenset(allergen for food in known for allergen in food.allergens)
    foods = {n: choices.get(n, line.food) for n, line in enumerate(recipe.lines)}
    return Dish(
        recipe=recipe,
        version=version,
        name=spoken_name(catalog, recipe, foods),
        steps=steps_done(recipe, foods),
        items=items,
        allergens=allergens,
        nutrients_per_serving=_nutrients(catalog, recipe, items),
        food_groups_g=_food_groups(catalog, recipe, items),
    )


def _item(conversions: Conversions, index: int, line: Line, food: str | None) -> Item:
    grams = conversions.line_grams(line)
    if food is None or food == line.food:
        return Item(index, line.food, grams, line.part, _kept(line))
    ratio = next(exact(other.ratio) for other in line.alternatives if other.food == food)
    return Item(index, food, None if grams is None else grams * ratio, line.part, "alternative")


def _kept(line: Line) -> str:
    return "optional" if line.optional else "as written"


def _nutrients(catalog: Catalog, recipe: Recipe, items: tuple[Item, ...]) -> dict[str, Fraction]:
    totals = dict.fromkeys(catalog.nutrients, Fraction(0))
    for item in items:
        food = catalog.foods.get(item.food_id)
        if food is None or item.grams is None:
            continue
        for nutrient in totals:
            # unknown values count as nothing; the cautions say which windows that touches
            totals[nutrient] += item.grams / 100 * exact(food.nutrients.get(nutrient) or 0)
    servings = exact(recipe.yield_servings)
    return {nutrient: total / servings for nutrient, total in totals.items()}


def _food_groups(catalog: Catalog, recipe: Recipe, items: tuple[Item, ...]) -> dict[str, Fraction]:
    """Return edible grams a serving of the foods of each group."""
    totals = {group: Fraction(0) for food in catalog.foods.values() for group in food.groups}
    for item in items:
        food = catalog.foods.get(item.food_id)
        for group in set(food.groups) if food is not None else ():
            totals[group] += item.grams or Fraction(0)
    servings = exact(recipe.yield_servings)
    return {group: total / servings for group, total in totals.items()}
