"""Dishes: the versions of a recipe that a choice of alternatives and optional lines makes."""

from __future__ import annotations

from collections.abc import Iterable, Sequence
from dataclasses import dataclass, field, replace
from fractions import Fraction
from functools import cached_property
from itertools import product
from math import prod

from planopt.catalog.parts import boxes_of_parts
from planopt.catalog.quantities import Quantities
from planopt.catalog.records import NOT_KNOWN, Catalog, Recipe
from planopt.catalog.safety import binding_kinds
from planopt.scenario.mealwindows import PLATE
from planopt.scenario.records import Scenario

DAYS_PER_MONTH = 30
OUTLINE = "any"


@dataclass(frozen=True)
class LineOption:
    """What one line of a recipe may be: a food, or nothing (`food_id` None) if it is left out.

    `grams` are edible grams per batch, `nutrients` are per serving. `word` is what a version that
    chooses it is called by; what the recipe says first has none. `part` is what it is packed with.
    """

    word: str
    food_id: str | None
    grams: float
    nutrients: dict[str, float] = field(compare=False)
    allergens: frozenset[str]
    part: str = field(default="main", compare=False)

    def amount(self, name: str, yield_servings: float) -> float:
        """Return a nutrient, or the grams (`plate_g`), that it brings to a serving."""
        return self.grams / yield_servings if name == PLATE else self.nutrients[name]


@dataclass(frozen=True)
class Dish:
    """One version of one recipe, as numbers.

    `grams` is edible grams per batch by food; `nutrients` is per serving by nutrient id, grams of
    food groups (`fish_g`) among them.
    `allergens` has `NOT_KNOWN` where those of one of its foods are not known.
    `batch_step` is in batches, None = any amount. `boxes` are those of a portion.

    Of portions that are `ready` (their position in the scenario) nothing is cooked: `grams` is
    empty, and `held` is what a batch of them had. They keep to the last day that they may be eaten.

    An outline stands for all versions at once: it has what they share, and `loose` holds the
    options of each line that has several. Only relaxations know what to do with it.
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
    loose: tuple[tuple[LineOption, ...], ...] = ()
    groups: tuple[str, ...] = ()
    smallest_portion: float = 0.0
    boxes: int = 1
    ready: int | None = None
    held: dict[str, float] = field(default_factory=dict)

    @property
    def contents(self) -> dict[str, float]:
        """Return edible grams of each food that a batch has in it, cooked now or earlier."""
        return self.held or self.grams

    @cached_property
    def plate_g(self) -> float:
        """Return edible grams of a serving as they go into the pot, water included."""
        return sum(self.contents.values()) / self.yield_servings

    def amount(self, name: str) -> float:
        """Return a nutrient of a serving, or its grams (`plate_g`); of an outline what is fixed."""
        return self.plate_g if name == PLATE else self.nutrients[name]

    def most_grams(self, food_id: str) -> float:
        """Return the most grams of a food that a batch of any version has."""
        return self.grams.get(food_id, 0.0) + sum(
            max((option.grams for option in line if option.food_id == food_id), default=0.0)
            for line in self.loose
        )

    def most_of(self, name: str) -> float:
        """Return the most of a nutrient or of a food group that a serving of any version has."""
        return self.nutrients.get(name, 0.0) + sum(
            max(option.nutrients.get(name, 0.0) for option in line) for line in self.loose
        )

    def foods(self) -> set[str]:
        """Return the foods that any version has."""
        chosen = {option.food_id for line in self.loose for option in line if option.food_id}
        return {*self.grams, *chosen}

    def may_hold(self, food_id: str) -> bool:
        """Tell whether any version has a food."""
        return food_id in self.contents or food_id in self.foods()

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


def count_versions(recipe: Recipe) -> int:
    """Return how many versions a recipe has."""
    return prod(1 + len(line.alternatives) + line.optional for line in recipe.lines)


def line_options(
    recipe: Recipe, catalog: Catalog, quantities: Quantities
) -> tuple[tuple[LineOption, ...], ...]:
    """Return what each line of a recipe may be, what it says first coming first."""
    amounts = catalog.amounts

    def option(word: str, food_id: str, grams: float, part: str) -> LineOption:
        food = catalog.foods[food_id]
        nutrients = {
            nutrient_id: grams / 100.0 * (food.amount(nutrient_id) or 0.0)
            / recipe.yield_servings
            for nutrient_id in amounts
        }  # fmt: skip
        return LineOption(word, food_id, grams, nutrients, frozenset(food.allergens), part)

    found = []
    for index, line in enumerate(recipe.lines):
        base_g = quantities.line_grams(line.food, line.amount, line.unit, line.state)
        options = [option("", line.food, base_g, line.part)]
        options += [
            option(f"{index}={alt.food}", alt.food, base_g * alt.ratio, line.part)
            for alt in line.alternatives
        ]
        if line.optional:
            nothing = dict.fromkeys(amounts, 0.0)
            options.append(LineOption(f"{index}-", None, 0.0, nothing, frozenset()))
        found.append(tuple(options))
    return tuple(found)


def dish_of(
    recipe: Recipe, catalog: Catalog, scenario: Scenario, chosen: Sequence[LineOption]
) -> Dish:
    """Return the version of a recipe that has one option for each line."""
    grams: dict[str, float] = {}
    for option in chosen:
        if option.food_id is not None:
            grams[option.food_id] = grams.get(option.food_id, 0.0) + option.grams
    nutrients = {
        nutrient_id: sum(
            g / 100.0 * (catalog.foods[food_id].amount(nutrient_id) or 0.0)
            for food_id, g in grams.items()
        )
        / recipe.yield_servings
        for nutrient_id in catalog.amounts
    }
    fridge_days, freezer_days = keeping_days(recipe, catalog, scenario, grams)
    oven = recipe.equipment.oven
    parts = [option.part for option in chosen if option.food_id is not None]
    return Dish(
        recipe_id=recipe.recipe_id,
        version="+".join(option.word for option in chosen if option.word) or "base",
        meals=recipe.meals,
        grams=grams,
        nutrients=nutrients,
        allergens=frozenset(a for food_id in grams for a in catalog.foods[food_id].allergens),
        yield_servings=recipe.yield_servings,
        batch_step=_STEPS[recipe.batch.step],
        most_per_cook_day=recipe.batch.most_per_cook_day,
        hands_on=recipe.minutes.hands_on,
        hands_on_extra=recipe.minutes.hands_on_per_extra_batch,
        oven_minutes=oven.minutes if oven else 0.0,
        hob_minutes=recipe.equipment.hob_minutes,
        fridge_days=fridge_days,
        freezer_days=freezer_days,
        groups=recipe.groups,
        smallest_portion=recipe.smallest_portion,
        boxes=len(boxes_of_parts(recipe, parts)) or 1,
    )


def dishes_of(
    recipe: Recipe, catalog: Catalog, scenario: Scenario, quantities: Quantities
) -> list[Dish]:
    """Return every version of a recipe, `base` first."""
    lines = line_options(recipe, catalog, quantities)
    return [dish_of(recipe, catalog, scenario, chosen) for chosen in product(*lines)]


def outline_of(
    recipe: Recipe,
    catalog: Catalog,
    scenario: Scenario,
    lines: tuple[tuple[LineOption, ...], ...],
) -> Dish:
    """Return the outline of a recipe: a dish with what all its versions share, the rest loose.

    It keeps as long as any version may: more foods only shorten how long a dish keeps. A further
    batch takes no longer than a first one, as it may be the first one of another version. Its
    boxes are those of what all versions share.
    """
    shared = [options[0] for options in lines if len(options) == 1]
    loose = tuple(options for options in lines if len(options) > 1)
    dish = dish_of(recipe, catalog, scenario, shared)
    extra = min(dish.hands_on, dish.hands_on_extra)
    return replace(dish, version=OUTLINE, hands_on_extra=extra, loose=loose)
