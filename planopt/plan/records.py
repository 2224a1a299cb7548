"""Records of a finished plan, as written to `plan.json` and read back by the audit.

Money is text with the currency's decimals, masses are grams, dates are ISO 8601.
"""

from __future__ import annotations

from datetime import date as Date
from decimal import Decimal
from typing import Literal

from pydantic import Field

from planopt.catalog.records import CurrencyCode, Record
from planopt.scenario.records import Variant
from planopt.units import percent_up

FORMAT_VERSION = 1

Status = Literal["optimal", "time_limit", "work_limit", "interrupted", "undecided"]
Chosen = Literal["as written", "alternative", "optional"]
Fate = Literal["nothing left", "carried", "wasted"]


class Solution(Record):
    """How the solve ended. Money fields are in the plan's currency."""

    status: Status = Field(
        description="optimal = proven within `gap_asked`; otherwise why the search stopped"
    )
    grocery_cost: Decimal = Field(
        description="what the tills charge, without visits, exact to the minor unit"
    )
    visit_cost: Decimal = Field(description="cost of shop visits after the first")
    waste_cost: Decimal = Field(description="value of perishable food bought or cooked, not eaten")
    waste_weight: float
    missed_cost: Decimal = Field(
        default=Decimal(0), description="price of reference intakes missed, by `nutrient_price`"
    )
    taste_cost: Decimal = Field(
        default=Decimal(0),
        description="price of portions that are no favourites, by the `ratings` of clients",
    )
    work_cost: Decimal = Field(
        default=Decimal(0),
        description="price of the cook's hands-on time, washing-up and boxes, by `work_prices`",
    )
    ready_cost: Decimal = Field(
        default=Decimal(0), description="price of ready portions eaten, by their own price"
    )
    seen_cost: Decimal = Field(
        default=Decimal(0), description="price of dishes had in earlier weeks, by `seen_price`"
    )
    objective: Decimal = Field(
        description="all counted: grocery_cost + visit_cost + waste_weight x waste + missed_cost "
        "+ taste_cost + work_cost + ready_cost + seen_cost; what is bounded"
    )
    best_bound: Decimal = Field(description="proven: no compliant plan costs less, all counted")
    proven_gap: float = Field(description="(objective - best_bound) / objective, all counted")
    gap_asked: float
    solve_seconds: float
    build_seconds: float
    solver: str
    solver_status: str = Field(description="the solver's own word for how it stopped")
    bound_composition: str = Field(description="which proofs gave best_bound")
    settings: dict[str, str | float | int | bool] = Field(
        description="tolerances, seed, threads and limits in force"
    )


class BatchLine(Record):
    """One food of the batches cooked, after the choice of alternatives and optional lines."""

    line: int = Field(description="0-based line of the recipe")
    food_id: str
    grams: float = Field(description="edible grams for all the batches together")
    part: str
    chosen: Chosen


class Batch(Record):
    """Batches of one version of one recipe on one cook day."""

    cook_day: int
    cook_date: Date
    recipe_id: str
    recipe_name: str
    version: str = Field(description="`base`, or the choices that make this version")
    batches: float
    servings: float
    servings_eaten: float
    servings_left: float
    use_by_fridge: Date
    use_by_freezer: Date | None
    lines: tuple[BatchLine, ...]


class ReadyBatch(Batch):
    """Portions that were ready before the plan, from a cook day of an earlier week.

    `batches` are those that the servings make; `servings_left` are still in their boxes.
    """

    kept: Literal["fridge", "freezer"]
    keeps_until: Date = Field(description="last day to eat them, as written and as they keep")
    price: Decimal = Field(description="money a serving eaten; no part of the bill")
    clients: tuple[str, ...] = Field(default=(), description="who alone may eat them; none = all")


class Portion(Record):
    """What one client eats of one dish in one meal."""

    client_id: str
    day: int
    date: Date
    meal: str
    recipe_id: str
    recipe_name: str
    version: str
    cook_day: int
    servings: float
    stored: Literal["fridge", "freezer"]
    thaw_on: Date | None = Field(default=None, description="move to the fridge on this date")
    nutrients: dict[str, float]
    food_groups_g: dict[str, float] = Field(
        default={}, description="edible grams by group of foods, before cooking; none where 0"
    )


class Purchase(Record):
    """Packs of one kind bought on one shop day."""

    shop_day: int
    shop_date: Date
    seller_id: str
    pack_id: str
    food_id: str
    food_name: str
    sold: Literal["pack", "loose", "any"]
    count: float = Field(description="packs, or steps of loose food")
    size: Decimal
    unit: str
    price_each: Decimal
    price: Decimal
    edible_g: float = Field(description="edible grams bought on this line")


class FoodUse(Record):
    """Where the grams of one food came from and went. All masses are edible grams."""

    food_id: str
    food_name: str
    supply: str = Field(description="`shop day N` or `stock N` (0-based entry of the scenario)")
    available_g: float
    used_g: dict[int, float] = Field(description="cook day -> grams")
    left_g: float
    usable_until: Date | None = Field(description="last day the leftover is usable")
    fate: Fate
    left_value: Decimal


class NutrientNote(Record):
    """A nutrient of one client whose average, or peak day, is outside a published reference."""

    client_id: str
    nutrient_id: str
    side: Literal["below", "above"]
    kind: Literal["RDA", "AI", "UL", "CDRR"]
    reference: float = Field(description="for a full day, in the nutrient's unit")
    average: float = Field(description="of a full day; meals away count by their share")
    at_least: bool = Field(description="some food eaten does not tell it, so there is more")
    days_above: int = Field(description="days that alone are above; 0 where a least is meant")
    peak: float | None = Field(description="the highest of those days, as eaten")
    peak_day: int | None
    sex: Literal["female", "male"] | None = Field(
        description="whose reference it is; None = the widest range of adults stands in"
    )
    ages: str | None
    source: str


class Plan(Record):
    """A week: what to buy, cook and eat, what is left, and how good it is."""

    format_version: Literal[1] = 1
    planopt_version: str
    scenario_name: str
    scenario_file: str
    scenario_sha256: str
    catalog_folder: str
    catalog_sha256: str
    catalog_facts: dict[str, str] = Field(
        default={},
        description="by table and id, a hash of each recipe, food and allergen that labels tell of",
    )
    changes: Variant | None = Field(
        default=None, description="changes made to what the files say, before the plan"
    )
    currency: CurrencyCode
    start_date: Date
    days: int
    solution: Solution
    purchases: tuple[Purchase, ...]
    batches: tuple[Batch, ...]
    ready: tuple[ReadyBatch, ...] = Field(
        default=(), description="portions that were ready before the plan, eaten or not"
    )
    portions: tuple[Portion, ...]
    food_uses: tuple[FoodUse, ...]
    cautions: tuple[str, ...]
    nutrient_notes: tuple[NutrientNote, ...] = ()
    shown: dict[str, str] = Field(
        default={}, description="how the files are shown, where that is not the usual way"
    )

    @property
    def sources(self) -> tuple[Batch, ...]:
        """Return all that portions come from: what is cooked, and what was ready before."""
        return (*self.batches, *self.ready)

    def __repr__(self) -> str:
        s = self.solution
        gap = f"gap {percent_up(s.proven_gap)} %"
        days = f"days: {self.days} from {self.start_date}"
        return f"<Plan {self.scenario_name!r}: {days}, {s.objective} {self.currency}, {gap}>"

    __str__ = __repr__
