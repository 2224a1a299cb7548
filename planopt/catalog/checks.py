"""Checks across the records of a catalog: references, units, safety, plausibility.

Each check is a plain function of the catalog and of the positions of its records. The catalog may
be incomplete when rows are at fault; checks then pass over what they cannot judge.
"""

from __future__ import annotations

from collections.abc import Callable, Iterator

from planopt.catalog.nearwords import recipe_meals
from planopt.catalog.numberchecks import NUMBER_CHECKS
from planopt.catalog.positions import Positions
from planopt.catalog.prices import history_rows
from planopt.catalog.quantities import Quantities, UnitUnknown
from planopt.catalog.records import GROUP_UNIT, Catalog, ReferenceIntake
from planopt.catalog.safetychecks import SAFETY_CHECKS
from planopt.catalog.textchecks import recipe_texts
from planopt.faults import Fault, nearest
from planopt.reading.files import Place
from planopt.units import ML_PER_UNIT, minor_digits, to_minor

Check = Callable[[Catalog, Positions], Iterator[Fault]]

CUP_TOLERANCE = 0.05
# Tables give spoon weights to 0.1 g, which is more than 5% of a light teaspoon.
SPOON_ROUNDING_G = 0.1
SMALLEST_STEP = {"whole": 1.0, "half": 0.5, "any": 0.0}

KEY_FIELDS: dict[str, tuple[str, ...]] = {
    "nutrients": ("nutrient_id",),
    "allergens": ("allergen_id",),
    "foods": ("food_id",),
    "measures": ("food_id", "unit", "state"),
    "yields": ("food_id", "state"),
    "sellers": ("seller_id",),
    "packs": ("pack_id",),
    "storage_limits": ("kind",),
    "safe_temperatures": ("class",),
    "safety_groups": ("group",),
    "reference_intakes": ("nutrient_id", "sex", "age_from", "age_to", "kind"),
    "price_history": ("pack_id", "price_date"),
    "recipes": ("file name",),
}
_SINGULAR = {
    "foods": "food",
    "sellers": "seller",
    "allergens": "allergen",
    "nutrients": "nutrient",
    "storage_limits": "keeping kind",
    "safe_temperatures": "temperature class",
    "safety_groups": "safety group",
}


def duplicate_ids(catalog: Catalog, at: Positions) -> Iterator[Fault]:
    """Two rows of one table must not have the same id."""
    for table, rows in at.rows.items():
        first: dict[str, int] = {}
        for key, line in rows:
            if key in first:
                yield Place(at.files[table], line).fault(
                    "/".join(KEY_FIELDS[table]),
                    key,
                    f"line {first[key]} has it already",
                    "remove one row or give it another id",
                    "duplicate_id",
                )
            first.setdefault(key, line)


def _unknown(at: Positions, table: str, place: Place, field: str, word: str) -> Iterator[Fault]:
    known = at.known(table)
    if known is None or word in known:
        return
    what = _SINGULAR[table]
    yield place.fault(
        field,
        word,
        f"the catalog has no such {what}",
        nearest(word, known),
        "unknown_" + what.replace(" ", "_"),
    )


def unknown_references(catalog: Catalog, at: Positions) -> Iterator[Fault]:
    """Every id that a table or a recipe names must exist."""
    for food in catalog.foods.values():
        place = at.row("foods", food.food_id)
        if food.safe_temperature is not None:
            yield from _unknown(
                at, "safe_temperatures", place, "safe_temperature", food.safe_temperature
            )
    for measure in catalog.measures:
        place = at.row("measures", measure.food_id, measure.unit, measure.state)
        yield from _unknown(at, "foods", place, "food_id", measure.food_id)
    for factor in catalog.yields:
        place = at.row("yields", factor.food_id, factor.state)
        yield from _unknown(at, "foods", place, "food_id", factor.food_id)
    for pack in catalog.packs.values():
        place = at.row("packs", pack.pack_id)
        yield from _unknown(at, "foods", place, "food_id", pack.food_id)
        yield from _unknown(at, "sellers", place, "seller_id", pack.seller_id)
    for row in catalog.reference_intakes:
        yield from _unknown(at, "nutrients", _place_of(row, at), "nutrient_id", row.nutrient_id)
    for recipe in catalog.recipes.values():
        place = at.recipe(recipe.recipe_id, "keeps", "kind")
        yield from _unknown(at, "storage_limits", place, "keeps.kind", recipe.keeps.kind)
        for index, line in enumerate(recipe.lines):
            place = at.recipe(recipe.recipe_id, "lines", index, "food")
            yield from _unknown(at, "foods", place, f"lines[{index}].food", line.food)
            for nth, other in enumerate(line.alternatives):
                place = at.recipe(recipe.recipe_id, "lines", index, "alternatives", nth, "food")
                field = f"lines[{index}].alternatives[{nth}].food"
                yield from _unknown(at, "foods", place, field, other.food)


def food_groups(catalog: Catalog, at: Positions) -> Iterator[Fault]:
    """The grams of a food group are called like no nutrient and not like the grams of a plate."""
    taken = {*catalog.nutrients, "plate_g"}
    for food in catalog.foods.values():
        for group in food.groups:
            if group + GROUP_UNIT in taken:
                yield at.row("foods", food.food_id).fault(
                    "groups",
                    group,
                    f"windows call its grams {group}{GROUP_UNIT}, which is taken",
                    "give the group another name",
                    "food_group_taken",
                )


def _place_of(row: ReferenceIntake, at: Positions) -> Place:
    ages = (str(row.age_from), str(row.age_to))
    return at.row("reference_intakes", row.nutrient_id, row.sex, *ages, row.kind)


def reference_ages(catalog: Catalog, at: Positions) -> Iterator[Fault]:
    """A reference intake begins at an age before it ends."""
    for row in catalog.reference_intakes:
        if row.age_from > row.age_to:
            yield _place_of(row, at).fault(
                "age_from",
                row.age_from,
                f"age_from is above age_to, {row.age_to}",
                "swap or correct the two",
                "range_reversed",
            )


def wheat_is_gluten(catalog: Catalog, at: Positions) -> Iterator[Fault]:
    """A food with wheat has gluten cereals, where the catalog lists that group."""
    if "gluten_cereals" not in catalog.allergens:
        return
    for food in catalog.foods.values():
        if "wheat" in food.allergens and "gluten_cereals" not in food.allergens:
            yield at.row("foods", food.food_id).fault(
                "allergens",
                "|".join(food.allergens),
                "wheat is a gluten cereal",
                "add gluten_cereals",
                "wheat_without_gluten",
            )


def line_units(catalog: Catalog, at: Positions) -> Iterator[Fault]:
    """The amount of every recipe line can be turned into grams."""
    quantities = Quantities(catalog)
    for recipe in catalog.recipes.values():
        for index, line in enumerate(recipe.lines):
            if line.food not in catalog.foods:
                continue
            try:
                quantities.line_grams(line.food, line.amount, line.unit, line.state)
            except UnitUnknown as unknown:
                if not _tables_read(at):
                    continue
                yield at.recipe(recipe.recipe_id, "lines", index, unknown.part).fault(
                    f"lines[{index}].{unknown.part}",
                    getattr(line, unknown.part),
                    unknown.why,
                    unknown.mend,
                    "unit_unknown",
                )


def pack_sizes(catalog: Catalog, at: Positions) -> Iterator[Fault]:
    """The size of every pack can be turned into grams."""
    quantities = Quantities(catalog)
    for pack in catalog.packs.values():
        if pack.food_id not in catalog.foods:
            continue
        try:
            quantities.pack_edible_g(pack)
        except UnitUnknown as unknown:
            if _tables_read(at):
                yield at.row("packs", pack.pack_id).fault(
                    "unit", pack.unit, unknown.why, unknown.mend, "unit_unknown"
                )


def _tables_read(at: Positions) -> bool:
    return not at.unreadable & {"measures", "yields"}


def measure_states(catalog: Catalog, at: Positions) -> Iterator[Fault]:
    """A measure is not given twice, once without a state and once with the food's own."""
    without = {(row.food_id, row.unit) for row in catalog.measures if row.state is None}
    for row in catalog.measures:
        food = catalog.foods.get(row.food_id)
        if food is not None and row.state == food.state and (row.food_id, row.unit) in without:
            line = at.row("measures", row.food_id, row.unit, None).line
            yield at.row("measures", row.food_id, row.unit, row.state).fault(
                "state",
                row.state,
                f"line {line} has this measure already, as {row.state} is how the food is listed",
                "remove one row",
                "duplicate_id",
            )


def cups_and_densities(catalog: Catalog, at: Positions) -> Iterator[Fault]:
    """A cup or spoon weight agrees with the density of the food within 5%."""
    for measure in catalog.measures:
        food = catalog.foods.get(measure.food_id)
        if food is None or food.density_g_per_ml is None or measure.unit not in ML_PER_UNIT:
            continue
        if measure.state not in (None, food.state):
            continue
        expected = food.density_g_per_ml * float(ML_PER_UNIT[measure.unit])
        allowed = max(CUP_TOLERANCE * expected, SPOON_ROUNDING_G)
        if abs(measure.grams - expected) > allowed:
            yield at.row("measures", measure.food_id, measure.unit, measure.state).fault(
                "grams",
                f"{measure.grams:g}",
                f"the density {food.density_g_per_ml:g} g/ml of {food.food_id} makes this"
                f" {expected:.1f} g, more than 5% apart",
                "correct the measure or the density",
                "cup_density_disagree",
            )


def composition_sources(catalog: Catalog, at: Positions) -> Iterator[Fault]:
    """A food has its SR28 number, or says where its values are from."""
    for food in catalog.foods.values():
        if food.sr28_ndb_no is None and not food.sr28_description:
            yield at.row("foods", food.food_id).fault(
                "sr28_ndb_no",
                "",
                "the nutrient values have no source",
                "give the SR28 number, or say in sr28_description where the values are from",
                "no_source",
            )


def pack_prices(catalog: Catalog, at: Positions) -> Iterator[Fault]:
    """Prices are whole minor units of their currency."""
    for pack in catalog.packs.values():
        try:
            to_minor(pack.price, pack.currency)
        except ValueError:
            yield at.row("packs", pack.pack_id).fault(
                "price",
                str(pack.price),
                f"{pack.currency} has {minor_digits(pack.currency)} decimals",
                "round the price, or give the price of a larger size",
                "money_decimals",
            )


def table_ranges(catalog: Catalog, at: Positions) -> Iterator[Fault]:
    """Shortest limits do not exceed longest ones, and C and F tell the same temperature."""
    for limit in catalog.storage_limits.values():
        for field, shortest, longest in (
            ("fridge_days_shortest", limit.fridge_days_shortest, limit.fridge_days_longest),
            (
                "freezer_months_shortest",
                limit.freezer_months_shortest,
                limit.freezer_months_longest,
            ),
        ):
            if shortest > longest:
                yield at.row("storage_limits", limit.kind).fault(
                    field,
                    f"{shortest:g}",
                    f"the shortest limit is above the longest, {longest:g}",
                    "swap or correct the two",
                    "range_reversed",
                )
    for cls in catalog.safe_temperatures.values():
        expected = cls.internal_c * 9 / 5 + 32
        if abs(expected - cls.internal_f) > 1:
            yield at.row("safe_temperatures", cls.class_id).fault(
                "internal_f",
                f"{cls.internal_f:g}",
                f"{cls.internal_c:g} C is {expected:.0f} F",
                "correct one of the two",
                "temperatures_disagree",
            )


def recipe_keeping(catalog: Catalog, at: Positions) -> Iterator[Fault]:
    """A recipe is not frozen for longer than its kind allows."""
    for recipe in catalog.recipes.values():
        limit = catalog.storage_limits.get(recipe.keeps.kind)
        if limit is not None and recipe.keeps.freezer_months > limit.freezer_months_longest:
            yield at.recipe(recipe.recipe_id, "keeps", "freezer_months").fault(
                "keeps.freezer_months",
                f"{recipe.keeps.freezer_months:g}",
                f"{limit.kind} keeps at most {limit.freezer_months_longest:g} months in the"
                " freezer",
                f"write {limit.freezer_months_longest:g} or less",
                "freezer_months_above_kind",
            )


def recipe_batches(catalog: Catalog, at: Positions) -> Iterator[Fault]:
    """At least one step of a batch may be cooked on a day."""
    for recipe in catalog.recipes.values():
        step = SMALLEST_STEP[recipe.batch.step]
        if recipe.batch.most_per_cook_day < step:
            yield at.recipe(recipe.recipe_id, "batch", "most_per_cook_day").fault(
                "batch.most_per_cook_day",
                f"{recipe.batch.most_per_cook_day:g}",
                f"the smallest amount that can be cooked is {step:g} of a batch",
                f"write {step:g} or more",
                "batch_never_cooked",
            )


def recipe_parts_apart(catalog: Catalog, at: Positions) -> Iterator[Fault]:
    """What is packed apart is a part of some line."""
    for recipe in catalog.recipes.values():
        parts = {line.part for line in recipe.lines}
        for index, part in enumerate(recipe.parts_apart):
            if part not in parts:
                yield at.recipe(recipe.recipe_id, "parts_apart", index).fault(
                    f"parts_apart[{index}]",
                    part,
                    "no line is of this part",
                    nearest(part, parts),
                    "unknown_part",
                )


def recipe_alternatives(catalog: Catalog, at: Positions) -> Iterator[Fault]:
    """The foods to choose from on a line all differ."""
    for recipe in catalog.recipes.values():
        for index, line in enumerate(recipe.lines):
            seen = {line.food}
            for nth, other in enumerate(line.alternatives):
                if other.food in seen:
                    path = ("lines", index, "alternatives", nth, "food")
                    yield at.recipe(recipe.recipe_id, *path).fault(
                        f"lines[{index}].alternatives[{nth}].food",
                        other.food,
                        "the line offers this food already",
                        "remove one of the two",
                        "alternative_repeats",
                    )
                seen.add(other.food)


CHECKS: tuple[Check, ...] = (
    duplicate_ids,
    unknown_references,
    reference_ages,
    food_groups,
    wheat_is_gluten,
    line_units,
    pack_sizes,
    measure_states,
    cups_and_densities,
    composition_sources,
    pack_prices,
    history_rows,
    table_ranges,
    recipe_keeping,
    recipe_batches,
    recipe_parts_apart,
    recipe_alternatives,
    recipe_texts,
    *SAFETY_CHECKS,
    *NUMBER_CHECKS,
    recipe_meals,
)


def check_catalog(catalog: Catalog, at: Positions) -> list[Fault]:
    """Return the faults of all checks."""
    return [fault for check in CHECKS for fault in check(catalog, at)]
