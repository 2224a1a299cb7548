"""Checks of what foods ask of dishes: allergens, safety groups, temperatures, keeping.

Nothing here may fail open: a cell that is empty or wrong must not make a food look harmless.
"""

from __future__ import annotations

from collections.abc import Iterator
from math import inf

from planopt.catalog.choices import hottest_with
from planopt.catalog.foodwords import hint_in, words_of
from planopt.catalog.positions import Positions
from planopt.catalog.records import NONE, NOT_KNOWN, Catalog, Food, Line, Recipe, SafetyGroup
from planopt.catalog.safety import kind_for, temperature_for
from planopt.faults import Fault, nearest

# 145 F is 62.8 C and 160 F is 71.1 C; recipes may round down by this much.
TEMPERATURE_ROUNDING_C = 0.2
RAW_WORDS = frozenset({"raw", "uncooked", "unprepared"})


def reserved_allergens(catalog: Catalog, at: Positions) -> Iterator[Fault]:
    """No allergen has an id that cells use for `no allergen` or `not known`."""
    for allergen_id in sorted({NONE, NOT_KNOWN} & set(catalog.allergens)):
        yield at.row("allergens", allergen_id).fault(
            "allergen_id",
            allergen_id,
            "this word has a meaning of its own in foods.csv",
            "choose another id",
            "allergen_reserved",
        )


def food_allergens(catalog: Catalog, at: Positions) -> Iterator[Fault]:
    """Every allergen of a food exists, and `none` stands alone."""
    known = at.known("allergens")
    for food in catalog.foods.values():
        place = at.row("foods", food.food_id)
        for allergen in food.allergens:
            if allergen == NONE:
                yield place.fault(
                    "allergens",
                    "|".join(food.allergens),
                    "none says that the food has no allergen, and others stand beside it",
                    "leave out none, or the others",
                    "none_not_alone",
                )
            elif allergen != NOT_KNOWN and known is not None and allergen not in known:
                # Who wrote "no" or "NONE" meant none; it is not for us to guess so.
                mend = nearest(allergen.casefold(), {*known, NONE})
                yield place.fault(
                    "allergens",
                    allergen,
                    "the catalog has no such allergen",
                    mend,
                    "unknown_allergen",
                )


def group_references(catalog: Catalog, at: Positions) -> Iterator[Fault]:
    """Foods name groups that exist; groups name classes and kinds that exist."""
    groups = at.known("safety_groups")
    for food in catalog.foods.values():
        if groups is not None and food.safety_group not in {*groups, NONE}:
            yield at.row("foods", food.food_id).fault(
                "safety_group",
                food.safety_group,
                "the catalog has no such safety group",
                nearest(food.safety_group, {*groups, NONE}),
                "unknown_safety_group",
            )
    classes, kinds = at.known("safe_temperatures"), at.known("storage_limits")
    for group in catalog.safety_groups.values():
        place = at.row("safety_groups", group.group_id)
        name = group.temperature_class
        if name is not None and classes is not None and name not in classes:
            yield place.fault(
                "temperature_class",
                name,
                "the catalog has no such temperature class",
                nearest(name, classes),
                "unknown_temperature_class",
            )
        if name is None and group.group_id in catalog.safe_temperatures:
            yield place.fault(
                "temperature_class",
                "",
                f"safe_temperatures.csv has a class {group.group_id}, and raw foods of this group"
                " would not have to reach it",
                f"write {group.group_id}",
                "group_without_class",
            )
        for kind in group.kinds:
            if kinds is not None and kind not in kinds:
                yield place.fault(
                    "kinds",
                    kind,
                    "the catalog has no such keeping kind",
                    nearest(kind, kinds),
                    "unknown_keeping_kind",
                )


def raw_states(catalog: Catalog, at: Positions) -> Iterator[Fault]:
    """A food of a group that must be heated is raw where its description says so."""
    for food in catalog.foods.values():
        group = catalog.safety_groups.get(food.safety_group)
        if group is None or group.temperature_class is None or food.state == "raw":
            continue
        told = RAW_WORDS & {*words_of(food.sr28_description), *words_of(food.name)}
        if told:
            yield at.row("foods", food.food_id).fault(
                "state",
                food.state,
                f"its name or description says {sorted(told)[0]}, and raw {group.group_id} must be"
                " heated",
                "write raw, or correct the description",
                "state_not_raw",
            )


def hinted_groups(catalog: Catalog, at: Positions) -> Iterator[Fault]:
    """A food whose name suggests a group that must be heated is not in a milder one."""
    for food, group, hint in suggested_groups(catalog):
        if group.temperature_class is not None:
            yield _hinted(food, group, hint, at)


def milder_groups(catalog: Catalog, at: Positions) -> Iterator[Fault]:
    """Yield warnings: a food's name belongs to another group, whose dishes keep less long."""
    for food, group, hint in suggested_groups(catalog):
        if group.temperature_class is None:
            yield _hinted(food, group, hint, at)


def suggested_groups(catalog: Catalog) -> Iterator[tuple[Food, SafetyGroup, str]]:
    """Yield foods whose names belong to a group that asks more than that of their row."""
    for food in catalog.foods.values():
        own = catalog.safety_groups.get(food.safety_group)
        if own is None and food.safety_group != NONE:
            continue
        groups = sorted(catalog.safety_groups.values(), key=lambda one: -_class_c(catalog, one))
        for group in groups:  # the hottest first, so that minced chicken is told to be poultry
            if group == own or not _asks_more(catalog, group, own, food):
                continue
            hint = hint_in(food, group)
            if hint is not None:
                yield food, group, hint
                break


def _hinted(food: Food, group: SafetyGroup, hint: str, at: Positions) -> Fault:
    return at.row("foods", food.food_id).fault(
        "safety_group",
        food.safety_group,
        f"its name has the word {hint!r}, and {group.group_id} asks more of a dish",
        f"write {group.group_id}, or add its name to the not_words of {group.group_id} in"
        " safety_groups.csv",
        "safety_group_hinted",
    )


def _asks_more(catalog: Catalog, group: SafetyGroup, own: SafetyGroup | None, food: Food) -> bool:
    """Tell whether a group wants more heat, or less time, than the one in the food's row."""
    if food.state == "raw" and _class_c(catalog, group) > _class_c(catalog, own):
        return True
    asked = catalog.storage_limits.get(group.kinds[0])
    had = catalog.storage_limits.get(own.kinds[0]) if own is not None else None
    if asked is None or (own is not None and had is None):
        return False
    return had is None or (
        asked.fridge_days_shortest < had.fridge_days_shortest
        or asked.fridge_days_longest < had.fridge_days_longest
    )


def _class_c(catalog: Catalog, group: SafetyGroup | None) -> float:
    cls = catalog.safe_temperatures.get((group and group.temperature_class) or "")
    return cls.internal_c if cls is not None else 0.0


def safe_temperatures(catalog: Catalog, at: Positions) -> Iterator[Fault]:
    """A recipe with raw animal food heats it to the least temperature of its class."""
    for recipe in catalog.recipes.values():
        heated = any(step.until_internal_c is not None for step in recipe.steps)
        told: set[str] = set()
        for index, line in enumerate(recipe.lines):
            for food in _offered(catalog, line):
                cls = temperature_for(catalog, food)
                if cls is None or food.food_id in told:
                    continue
                hottest = hottest_with(recipe, index, food.food_id)
                if hottest is None or hottest + TEMPERATURE_ROUNDING_C < cls.internal_c:
                    told.add(food.food_id)
                    none_has = (
                        "a version of the dish with it has no step with"
                        if heated
                        else "no step has"
                    )
                    reached = (
                        f"{none_has} until_internal_c"
                        if hottest is None
                        else (f"the hottest step reaches {hottest:g} C")
                    )
                    yield at.recipe(recipe.recipe_id, "lines", index, "food").fault(
                        f"lines[{index}].food",
                        food.food_id,
                        f"{cls.class_id} must reach {cls.internal_c:g} C inside and {reached}",
                        f"add until_internal_c: {cls.internal_c:g} or more to the step that"
                        " cooks it",
                        "internal_temperature_low",
                    )


def _offered(catalog: Catalog, line: Line) -> list[Food]:
    """Return the foods of a line, alternatives included; one weighed cooked still counts as raw."""
    ids = (line.food, *(other.food for other in line.alternatives))
    return [catalog.foods[food_id] for food_id in ids if food_id in catalog.foods]


def fridge_days_of_foods(catalog: Catalog, at: Positions) -> Iterator[Fault]:
    """A recipe does not say that it keeps longer in the fridge than any version of it may."""
    for recipe in catalog.recipes.values():
        most, food_id, kind = _strictest(catalog, recipe, frozen=False)
        if recipe.keeps.fridge_days > most:
            yield at.recipe(recipe.recipe_id, "keeps", "fridge_days").fault(
                "keeps.fridge_days",
                f"{recipe.keeps.fridge_days:g}",
                f"{_of_group(catalog, food_id)} keeps at most {most:g} days in the fridge, as"
                f" {kind}",
                f"write {most:g} or less",
                "fridge_days_above_foods",
            )


def freezer_months_of_foods(catalog: Catalog, at: Positions) -> Iterator[Fault]:
    """A recipe does not say that it keeps longer in the freezer than its foods allow."""
    for recipe in catalog.recipes.values():
        months = recipe.keeps.freezer_months
        own = catalog.storage_limits.get(recipe.keeps.kind)
        most, food_id, kind = _strictest(catalog, recipe, frozen=True)
        if months > most and (own is None or months <= own.freezer_months_longest):
            yield at.recipe(recipe.recipe_id, "keeps", "freezer_months").fault(
                "keeps.freezer_months",
                f"{months:g}",
                f"{_of_group(catalog, food_id)} keeps at most {most:g} months in the freezer, as"
                f" {kind}",
                f"write {most:g} or less",
                "freezer_months_above_foods",
            )


def _of_group(catalog: Catalog, food_id: str) -> str:
    return f"{food_id} ({catalog.foods[food_id].safety_group})"


def _strictest(catalog: Catalog, recipe: Recipe, *, frozen: bool) -> tuple[float, str, str]:
    """Return the longest that any version keeps, with the food and the kind that limit it.

    A line counts by its mildest food; one that may be left out does not count. Of equal limits that
    of a food which must be heated is named.
    """
    lines = [
        max((months if frozen else days, food_id, kind) for food_id, days, months, kind in limits)
        for line in recipe.lines
        if not line.optional and (limits := _line_limits(catalog, recipe, line))
    ]

    def order(limit: tuple[float, str, str]) -> tuple[float, bool, str]:
        return limit[0], temperature_for(catalog, catalog.foods[limit[1]]) is None, limit[1]

    return min(lines, key=order, default=(inf, "", ""))


def _line_limits(
    catalog: Catalog, recipe: Recipe, line: Line
) -> list[tuple[str, float, float, str]]:
    """Return food, most days, most months and kind for each food of a line; none if unreadable.

    A food of no group sets no limit, so a line that offers one has none.
    """
    found = []
    for food in _offered(catalog, line):
        if food.safety_group == NONE or food.safety_group not in catalog.safety_groups:
            return []
        kind = kind_for(catalog, food, recipe.keeps.kind)
        limit = catalog.storage_limits.get(kind)
        if limit is None:
            return []
        found.append(
            (food.food_id, float(limit.fridge_days_longest), limit.freezer_months_longest, kind)
        )
    return found


SAFETY_CHECKS = (
    reserved_allergens,
    food_allergens,
    group_references,
    raw_states,
    hinted_groups,
    safe_temperatures,
    fridge_days_of_foods,
    freezer_months_of_foods,
)
