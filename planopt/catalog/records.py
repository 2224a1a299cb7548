"""Records of the catalogs: what exists to be bought, cooked and eaten.

Every record is frozen and refuses unknown keys. Nutrients are per 100 g of edible food.
"""

from __future__ import annotations

from datetime import date
from decimal import Decimal
from typing import Annotated, Literal

from pydantic import BaseModel, ConfigDict, Field

Id = Annotated[str, Field(pattern=r"^[a-z][a-z0-9_]*$", max_length=60)]
CurrencyCode = Annotated[str, Field(pattern=r"^[A-Z]{3}$")]
Unit = Literal["g", "kg", "ml", "l", "oz", "lb", "cup", "tbsp", "tsp", "each", "slice", "clove"]
FoodState = Literal["raw", "cooked", "drained", "ready"]


class Record(BaseModel):
    """Base of all records: frozen, unknown keys refused, no NaN."""

    model_config = ConfigDict(
        extra="forbid", frozen=True, allow_inf_nan=False, str_strip_whitespace=True
    )


class Nutrient(Record):
    """A column of the food table that windows may name."""

    nutrient_id: Id
    name: str
    unit: str
    decimals: int = Field(ge=0, le=4)


class Allergen(Record):
    """An allergen group of the US or the EU list."""

    allergen_id: Id
    name: str
    us_number: int | None = None
    eu_number: int | None = None
    note: str = ""


class Food(Record):
    """A food as bought; `nutrients` maps nutrient id to amount per 100 g edible, or None."""

    food_id: Id
    name: str = Field(min_length=1)
    sr28_ndb_no: Annotated[str, Field(pattern=r"^\d{5}$")] | None = None
    sr28_description: str = ""
    nutrients: dict[str, float | None]
    state: FoodState
    edible_share: float = Field(gt=0, le=1)
    density_g_per_ml: float | None = Field(default=None, gt=0, lt=3)
    allergens: tuple[str, ...] = ()
    aisle: str
    storage: Literal["shelf", "fridge", "freezer", "tap"]
    keeps_days: int | None = Field(default=None, ge=0)
    opened_keeps_days: int | None = Field(default=None, ge=0)
    safe_temperature: str | None = None


class Measure(Record):
    """Grams of edible food in one household unit, in a state (None = the food's own)."""

    food_id: Id
    unit: Literal["cup", "tbsp", "tsp", "each", "slice", "clove"]
    state: FoodState | None = None
    grams: float = Field(gt=0)
    source: str = Field(min_length=1)


class YieldFactor(Record):
    """Grams in `state` per gram of the catalog food."""

    food_id: Id
    state: FoodState
    grams_per_g: float = Field(gt=0)
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
    size: Decimal = Field(gt=0)
    unit: Literal["g", "kg", "ml", "l", "oz", "lb", "each"]
    price: Decimal = Field(ge=0)
    currency: CurrencyCode
    price_date: date


class StorageLimit(Record):
    """How long a kind of dish keeps; 0 months = freezing not advised."""

    kind: Id
    covers: str
    fridge_days_shortest: int = Field(ge=0)
    fridge_days_longest: int = Field(ge=0)
    freezer_months_shortest: float = Field(ge=0)
    freezer_months_longest: float = Field(ge=0)
    source: str = Field(min_length=1)


class SafeTemperature(Record):
    """Least internal temperature of a class of animal food."""

    class_id: Id = Field(alias="class")
    covers: str
    internal_c: float
    internal_f: float
    rest_minutes: float = Field(ge=0)
    source: str = Field(min_length=1)


class ReferenceIntake(Record):
    """A published amount a day of one nutrient for a group of people, in the nutrient's unit.

    RDA and AI are least amounts of an average day; UL and CDRR are most amounts.
    """

    nutrient_id: Id
    sex: Literal["female", "male"]
    age_from: int = Field(ge=0, le=120)
    age_to: int = Field(ge=0, le=120)
    kind: Literal["RDA", "AI", "UL", "CDRR"]
    amount: float = Field(gt=0)
    source: str = Field(min_length=1)


class Alternative(Record):
    """A food that may stand in for a line's food: `ratio` grams per gram replaced."""

    food: Id
    ratio: float = Field(default=1.0, gt=0)


class Line(Record):
    """One ingredient of one batch."""

    food: Id
    amount: Decimal = Field(gt=0)
    unit: Unit
    state: FoodState | None = None
    optional: bool = False
    part: Id = "main"
    alternatives: tuple[Alternative, ...] = Field(default=(), max_length=3)


class BatchRule(Record):
    """Steps in which a recipe may be cooked, and the most batches on one cook day."""

    step: Literal["whole", "half", "any"] = "whole"
    most_per_cook_day: float = Field(default=4, gt=0)


class Minutes(Record):
    """Time for one batch; an extra batch on the same day adds `hands_on_per_extra_batch`."""

    hands_on: float = Field(ge=0)
    hands_on_per_extra_batch: float = Field(ge=0)
    unattended: float = Field(default=0, ge=0)


class Oven(Record):
    """Oven use of one batch."""

    temperature_c: float = Field(gt=0, le=300)
    minutes: float = Field(gt=0)


class Equipment(Record):
    """Equipment one batch takes."""

    hob_minutes: float = Field(default=0, ge=0)
    oven: Oven | None = None
    blender_minutes: float = Field(default=0, ge=0)


class Keeps(Record):
    """How the finished dish keeps and is served."""

    kind: Id
    fridge_days: int = Field(ge=0)
    freezer_months: float = Field(default=0, ge=0)
    serve: Literal["reheated", "cold", "either"]


class Step(Record):
    """One instruction, with the internal temperature to reach where it matters."""

    do: str = Field(min_length=3)
    until_internal_c: float | None = None


class Recipe(Record):
    """A recipe; quantities are for one batch of `yield_servings` servings."""

    recipe_id: Id
    name: str = Field(min_length=1)
    meals: tuple[Id, ...] = Field(min_length=1)
    yield_servings: float = Field(gt=0)
    batch: BatchRule = BatchRule()
    minutes: Minutes
    equipment: Equipment = Equipment()
    keeps: Keeps
    lines: tuple[Line, ...] = Field(min_length=1)
    steps: tuple[Step, ...] = ()


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
    reference_intakes: tuple[ReferenceIntake, ...] = ()
