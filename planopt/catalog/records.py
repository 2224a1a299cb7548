"""Records of the catalogs: what exists to be bought, cooked and eaten.

Every record is frozen and refuses unknown keys. Nutrients are per 100 g of edible food.
"""

from __future__ import annotations

from collections.abc import Iterable
from datetime import date
from decimal import Decimal
from typing import Annotated, Any, Literal

from pydantic import AfterValidator, BaseModel, ConfigDict, Field, field_validator
from pydantic_core import PydanticCustomError

from planopt import ranges
from planopt.currencies import MINOR_DIGITS

Id = Annotated[str, Field(pattern=r"^[a-z][a-z0-9_]*$", max_length=60)]


def _known_currency(code: str) -> str:
    if code not in MINOR_DIGITS:
        raise PydanticCustomError("unknown_currency", "ISO 4217 has no such currency in use")
    return code


CurrencyCode = Annotated[str, Field(pattern=r"^[A-Z]{3}$"), AfterValidator(_known_currency)]
Unit = Literal["g", "kg", "ml", "l", "oz", "lb", "cup", "tbsp", "tsp", "each", "slice", "clove"]
EnergyPart = Literal["protein", "fat", "carbohydrate", "alcohol", "organic_acids"]
FoodState = Literal["raw", "cooked", "drained", "ready"]

NONE = "none"
# The grams of a food group are called by its name with this, as nutrients are.
GROUP_UNIT = "_g"
# A dish counts as one of a food group with so many grams of it in a serving: the smallest helping
# that is called one, of nuts or dry lentils. Common practice, no source.
GROUP_MEAL_G = 25.0
# Among the allergens of a food: it may hold any. An empty cell means this, never that it has none.
NOT_KNOWN = "not_known"


class Record(BaseModel):
    """Base of all records: frozen, unknown keys refused, no NaN."""

    model_config = ConfigDict(
        extra="forbid", frozen=True, allow_inf_nan=False, str_strip_whitespace=True
    )


class Nutrient(Record):
    """What windows may name: a column of the food table, or the grams of a group of foods."""

    nutrient_id: Id
    name: str
    unit: str
    decimals: Annotated[int, ranges.DECIMALS_SHOWN]


class Allergen(Record):
    """An allergen group of the US or the EU list.

    A food whose name has one of the `hint_words` is asked about this allergen; `not_words` are
    phrases that only look like one.
    """

    allergen_id: Id
    name: str
    us_number: Annotated[int | None, ranges.LIST_NUMBER] = None
    eu_number: Annotated[int | None, ranges.LIST_NUMBER] = None
    note: str = ""
    hint_words: tuple[str, ...] = ()
    not_words: tuple[str, ...] = ()


class Food(Record):
    """A food as bought; `nutrients` maps nutrient id to amount per 100 g edible, or None.

    `allergens` is empty where the catalog says that there are none, and holds `NOT_KNOWN` where it
    does not say. `safety_group` is a group of the catalog or `none`. `energy_from` has published
    factors in kcal per g of a macronutrient, and grams of alcohol and organic acids per 100 g.
    `groups` are words of the catalog's own, such as vegetables.
    """

    food_id: Id
    name: str = Field(min_length=1)
    sr28_ndb_no: Annotated[str, Field(pattern=r"^\d{5}$")] | None = None
    sr28_description: str = ""
    nutrients: dict[str, Annotated[float | None, ranges.NUTRIENT_OF_FOOD]]
    state: FoodState
    edible_share: Annotated[float, ranges.EDIBLE_SHARE]
    density_g_per_ml: Annotated[float | None, ranges.DENSITY] = None
    allergens: tuple[str, ...] = (NOT_KNOWN,)
    aisle: str
    storage: Literal["shelf", "fridge", "freezer", "tap"]
    keeps_days: Annotated[int | None, ranges.KEEPS_DAYS] = None
    opened_keeps_days: Annotated[int | None, ranges.KEEPS_DAYS] = None
    safe_temperature: str | None = None
    safety_group: str = Field(min_length=1)
    energy_from: dict[EnergyPart, Annotated[float, ranges.ENERGY_PART]] = Field(
        default={}, description="what gives the energy where 4, 9 and 4 kcal in a gram do not"
    )
    groups: tuple[Id, ...] = Field(
        default=(), description="words of your own, such as vegetables or fish"
    )

    @field_validator("energy_from", mode="before")
    @classmethod
    def _pairs(cls, value: Any) -> Any:
        if not isinstance(value, tuple):
            return value
        pairs = [tuple(piece.strip() for piece in part.split(":")) for part in value]
        if any(len(pair) != 2 for pair in pairs) or len({pair[0] for pair in pairs}) < len(pairs):
            raise PydanticCustomError(
                "not_a_pair", "the parts are not pairs, or one is there twice"
            )
        return dict(pairs)

    @field_validator("allergens", mode="before")
    @classmethod
    def _none_is_none(cls, value: Any) -> Any:
        return () if value in ((NONE,), [NONE]) else value

    def amount(self, name: str) -> float | None:
        """Return how much 100 g edible have of a nutrient or a group (`fish_g`); None: unknown."""
        if name in self.nutrients:
            return self.nutrients[name]
        group = name.removesuffix(GROUP_UNIT)
        return (100.0 if group in self.groups else 0.0) if group != name else None

    @property
    def allergens_known(self) -> bool:
        """Tell whether the catalog says which allergens this food has."""
        return NOT_KNOWN not in self.allergens

    def barred_by(self, excluded: Iterable[str]) -> tuple[str, ...]:
        """Return which excluded allergens this food has, or may have where that is not known."""
        return tuple(a for a in excluded if a in self.allergens or not self.allergens_known)


class Measure(Record):
    """Grams of edible food in one household unit, in a state (None = the food's own)."""

    food_id: Id
    unit: Literal["cup", "tbsp", "tsp", "each", "slice", "clove"]
    state: FoodState | None = None
    grams: Annotated[float, ranges.MEASURE_GRAMS]
    source: str = Field(min_length=1)


class YieldFactor(Record):
    """Grams in `state` per gram of the catalog food."""

    food_id: Id
    state: FoodState
    grams_per_g: Annotated[float, ranges.YIELD]
    source: str = Field(min_length=1)


class Seller(Record):
    """A shop."""

    seller_id: Id
    name: str = Field(min_length=1)
    note: str = ""


class Pack(Record):
    """What one price buys.

    `sold`: `pack` = whole packs only; `loose` = weighed in steps of `size`, the price is that of
    one step; `any` = any amount at the price of `size` (only for published diet problems).
    `size` and `unit` are as purchased, peel and can liquid included.
    """

    pack_id: Id
    food_id: Id
    seller_id: Id
    sold: Literal["pack", "loose", "any"]
    size: Annotated[Decimal, ranges.PACK_SIZE]
    unit: Literal["g", "kg", "ml", "l", "oz", "lb", "each"]
    price: Annotated[Decimal, ranges.PRICE]
    currency: CurrencyCode
    price_date: date


class PriceSeen(Record):
    """A price of a pack on another day than the one of its row in packs.csv."""

    pack_id: Id
    price_date: date
    price: Annotated[Decimal, ranges.PRICE]


class StorageLimit(Record):
    """How long a kind of dish keeps; 0 months = freezing not advised.

    `thawed_days` counts from the day on which it goes from the freezer to the fridge.
    """

    kind: Id
    covers: str
    fridge_days_shortest: Annotated[int, ranges.DISH_DAYS]
    fridge_days_longest: Annotated[int, ranges.DISH_DAYS]
    freezer_months_shortest: Annotated[float, ranges.FREEZER_MONTHS]
    freezer_months_longest: Annotated[float, ranges.FREEZER_MONTHS]
    source: str = Field(min_length=1)
    thawed_days: Annotated[int, ranges.THAWED_DAYS] = 1
    thawed_source: str = ""
    kept_in: Literal["fridge", "cupboard"] = Field(
        default="fridge", description="cupboard: dry food in a closed jar or tin"
    )


class SafeTemperature(Record):
    """Least internal temperature of a class of animal food."""

    class_id: Id = Field(alias="class")
    covers: str
    internal_c: Annotated[float, ranges.SAFE_C]
    internal_f: Annotated[float, ranges.SAFE_F]
    rest_minutes: Annotated[float, ranges.REST_MINUTES]
    source: str = Field(min_length=1)


class SafetyGroup(Record):
    """What foods of one group ask of every dish that holds them.

    `temperature_class` holds for raw foods of the group. A dish keeps as its own kind says where
    that is one of `kinds`, else no longer than the first of `kinds`. Words are those of
    `Allergen`, for foods whose row names another group.
    """

    group_id: Id = Field(alias="group")
    covers: str
    temperature_class: str | None = None
    kinds: tuple[Id, ...] = Field(min_length=1)
    hint_words: tuple[str, ...] = ()
    not_words: tuple[str, ...] = ()
    source: str = Field(min_length=1)


class ReferenceIntake(Record):
    """A published amount a day of one nutrient for a group of people, in the nutrient's unit.

    RDA and AI are least amounts of an average day; UL and CDRR are most amounts.
    """

    nutrient_id: Id
    sex: Literal["female", "male"]
    age_from: Annotated[int, ranges.AGE_YEARS]
    age_to: Annotated[int, ranges.AGE_YEARS]
    kind: Literal["RDA", "AI", "UL", "CDRR"]
    amount: Annotated[float, ranges.REFERENCE_AMOUNT]
    source: str = Field(min_length=1)


class Alternative(Record):
    """A food that may stand in for a line's food: `ratio` grams per gram replaced.

    `called` is what texts call it; empty = the name of the food up to its comma.
    """

    food: Id
    ratio: Annotated[float, ranges.RATIO] = 1.0
    called: str = ""


class Line(Record):
    """One ingredient of one batch; texts refer to it by `key` and call its food `called`."""

    food: Id
    amount: Annotated[Decimal, ranges.LINE_AMOUNT]
    unit: Unit
    state: FoodState | None = None
    optional: bool = False
    part: Id = "main"
    key: Id | None = None
    called: str = ""
    alternatives: tuple[Alternative, ...] = Field(default=(), max_length=3)


class BatchRule(Record):
    """Steps in which a recipe may be cooked, and the most batches on one cook day."""

    step: Literal["whole", "half", "any"] = "whole"
    most_per_cook_day: Annotated[float, ranges.MOST_BATCHES] = 4


class Minutes(Record):
    """Time for one batch; an extra batch on the same day adds `hands_on_per_extra_batch`."""

    hands_on: Annotated[float, ranges.MINUTES_OF_A_BATCH]
    hands_on_per_extra_batch: Annotated[float, ranges.MINUTES_OF_A_BATCH]
    unattended: Annotated[float, ranges.MINUTES_OF_A_BATCH] = 0


class Oven(Record):
    """Oven use of one batch."""

    temperature_c: Annotated[float, ranges.OVEN_C]
    minutes: Annotated[float, ranges.OVEN_MINUTES]
    covered: bool = Field(
        default=False, description="under a lid or foil all the time: nothing spatters or drips"
    )


class Equipment(Record):
    """Equipment one batch takes."""

    hob_minutes: Annotated[float, ranges.RING_MINUTES_OF_A_BATCH] = 0
    oven: Oven | None = None
    blender_minutes: Annotated[float, ranges.MINUTES_OF_A_BATCH] = 0


class Keeps(Record):
    """How the finished dish keeps and is served."""

    kind: Id
    fridge_days: Annotated[int, ranges.DISH_DAYS]
    freezer_months: Annotated[float, ranges.FREEZER_MONTHS] = 0
    serve: Literal["reheated", "cold", "either"]


class Step(Record):
    """One instruction, with the internal temperature to reach where it matters.

    `only_with` and `without` name foods or keys of lines: the step is for versions with any of the
    first and none of the second.
    """

    do: str = Field(min_length=3)
    until_internal_c: Annotated[float | None, ranges.STEP_C] = None
    only_with: tuple[Id, ...] = ()
    without: tuple[Id, ...] = ()


class Recipe(Record):
    """A recipe; quantities are for one batch of `yield_servings` servings.

    The name and the steps may hold placeholders, see `planopt.catalog.dishtext`.
    """

    recipe_id: Id
    name: str = Field(min_length=1)
    meals: tuple[Id, ...] = Field(min_length=1)
    groups: tuple[Id, ...] = Field(
        default=(), description="words of your own, such as fish, that hold for every version"
    )
    yield_servings: Annotated[float, ranges.YIELD_SERVINGS]
    smallest_portion: Annotated[float, ranges.SMALLEST_PORTION] = Field(
        default=0, description="the least servings of it that make sense on a plate"
    )
    batch: BatchRule = BatchRule()
    minutes: Minutes
    equipment: Equipment = Equipment()
    keeps: Keeps
    parts_apart: tuple[str, ...] = Field(
        default=(), description="parts that need a box of their own, such as a dressing"
    )
    lines: tuple[Line, ...] = Field(min_length=1)
    steps: tuple[Step, ...] = ()


# The amounts of the catalog that was asked last: reports ask thousands of times of one.
_AMOUNTS: list[tuple[dict[str, Nutrient], dict[str, Food], dict[str, Nutrient]]] = []


class Catalog(Record):
    """All catalogs together, each table in id order."""

    nutrients: dict[str, Nutrient]
    allergens: dict[str, Allergen]
    foods: dict[str, Food]
    measures: tuple[Measure, ...]
    yields: tuple[YieldFactor, ...]
    sellers: dict[str, Seller]
    packs: dict[str, Pack]
    recipes: dict[str, Recipe]
    storage_limits: dict[str, StorageLimit]
    safe_temperatures: dict[str, SafeTemperature]
    safety_groups: dict[str, SafetyGroup]
    reference_intakes: tuple[ReferenceIntake, ...] = ()
    price_history: tuple[PriceSeen, ...] = ()

    @property
    def food_groups(self) -> tuple[str, ...]:
        """Return the groups that foods are in, sorted."""
        return tuple(sorted({group for food in self.foods.values() for group in food.groups}))

    @property
    def amounts(self) -> dict[str, Nutrient]:
        """Return all that windows may name: nutrients, then edible grams of each food group."""
        for nutrients, foods, known in _AMOUNTS:
            if nutrients is self.nutrients and foods is self.foods:
                return known
        found = dict(self.nutrients)
        for group in self.food_groups:
            name, words = group + GROUP_UNIT, group.replace("_", " ").capitalize()
            found.setdefault(name, Nutrient(nutrient_id=name, name=words, unit="g", decimals=0))
        _AMOUNTS[:] = [(self.nutrients, self.foods, found)]
        return found

    def __repr__(self) -> str:
        counts = (len(self.foods), len(self.recipes), len(self.packs))
        return "<Catalog: {} foods, {} recipes, {} packs>".format(*counts)

    __str__ = __repr__
