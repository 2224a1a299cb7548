"""Checks of numbers of a catalog that other numbers, or published ones, can judge.

What one field may hold at all is said by its range (`planopt.ranges`).
"""

from __future__ import annotations

from collections.abc import Iterator

from planopt import ranges
from planopt.catalog.foodwords import words_of
from planopt.catalog.positions import Positions
from planopt.catalog.quantities import Quantities, UnitUnknown
from planopt.catalog.records import Catalog, SafeTemperature
from planopt.faults import Fault

# Words of a class and the least temperature inside, FoodSafety.gov safe minimum internal
# temperatures. The hottest counts, so that ground chicken is poultry.
_PUBLISHED_C: tuple[tuple[float, frozenset[str]], ...] = (
    (73.9, frozenset({"poultry", "chicken", "turkey", "duck", "goose", "leftover", "casserole"})),
    (71.1, frozenset({"ground", "mince", "minced", "burger", "sausage", "egg"})),
    (62.8, frozenset({"meat", "beef", "pork", "lamb", "veal", "fish", "shellfish"})),
)
# 145 F is 62.8 C; tables may round down by this much.
_ROUNDING_C = 0.2
# Where it is held for minutes less heat is as safe: 70 C for two minutes is usual advice for
# poultry (from memory). More than this below what is published is another food's, or a slip.
_HELD_C = 4.0


def line_amounts(catalog: Catalog, at: Positions) -> Iterator[Fault]:
    """A batch takes no absurd weight of a food, whatever the unit."""
    quantities = Quantities(catalog)
    for recipe in catalog.recipes.values():
        for index, line in enumerate(recipe.lines):
            if line.food not in catalog.foods:
                continue
            try:
                grams = quantities.line_grams(line.food, line.amount, line.unit, line.state)
            except UnitUnknown:
                continue
            if not ranges.LINE_GRAMS.holds(grams):
                yield at.recipe(recipe.recipe_id, "lines", index, "amount").fault(
                    f"lines[{index}].amount",
                    line.amount,
                    f"this is {grams:g} g of edible food; {ranges.LINE_GRAMS.why}",
                    "correct the amount or its unit",
                    "out_of_range",
                )


def pack_amounts(catalog: Catalog, at: Positions) -> Iterator[Fault]:
    """A pack holds no absurd weight, whatever the unit."""
    quantities = Quantities(catalog)
    for pack in catalog.packs.values():
        if pack.food_id not in catalog.foods:
            continue
        try:
            grams = quantities.pack_edible_g(pack)
        except UnitUnknown:
            continue
        if not ranges.PACK_GRAMS.holds(grams):
            yield at.row("packs", pack.pack_id).fault(
                "size",
                str(pack.size),
                f"this is {grams:g} g of edible food; {ranges.PACK_GRAMS.why}",
                "correct the size or its unit",
                "out_of_range",
            )


def safe_enough(catalog: Catalog, at: Positions) -> Iterator[Fault]:
    """No class of animal food is far below the least temperature that is published for it."""
    for cls in catalog.safe_temperatures.values():
        published = _published_c(catalog, cls)
        if cls.internal_c < published - _HELD_C:
            yield _too_cool(cls, published, at)


def nearly_safe(catalog: Catalog, at: Positions) -> Iterator[Fault]:
    """Yield warnings of temperatures a little below the published: safe only if held for a time."""
    for cls in catalog.safe_temperatures.values():
        published = _published_c(catalog, cls)
        if published - _HELD_C <= cls.internal_c < published - _ROUNDING_C:
            yield _too_cool(cls, published, at)


def _published_c(catalog: Catalog, cls: SafeTemperature) -> float:
    """Return the published least temperature of a class by its words and its groups'; 0 if none."""
    texts = [cls.class_id.replace("_", " "), cls.covers]
    for group in catalog.safety_groups.values():
        if group.temperature_class == cls.class_id:
            texts += [hint for hint in group.hint_words if len(words_of(hint)) == 1]
    words = {word for text in texts for word in words_of(text)}
    return max((least for least, known in _PUBLISHED_C if words & known), default=0.0)


def _too_cool(cls: SafeTemperature, published: float, at: Positions) -> Fault:
    return at.row("safe_temperatures", cls.class_id).fault(
        "internal_c",
        f"{cls.internal_c:g}",
        f"FoodSafety.gov has {published:g} C as the least temperature inside of such food",
        f"write {published:g} or more; local rules may ask for more",
        "temperature_below_published",
    )


def prices_of_zero(catalog: Catalog, at: Positions) -> Iterator[Fault]:
    """Yield a warning for each pack that costs nothing: plans will use it wherever they can."""
    for pack in catalog.packs.values():
        if pack.price == 0:
            yield at.row("packs", pack.pack_id).fault(
                "price",
                str(pack.price),
                "the pack costs nothing, so plans take from it first",
                "write its price; food that is on hand already is stock of the scenario",
                "price_zero",
            )


NUMBER_CHECKS = (line_amounts, pack_amounts, safe_enough)
NUMBER_WARNINGS = (nearly_safe, prices_of_zero)
