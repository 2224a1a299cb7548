"""Records of a scenario: one kitchen, its clients, and one planning week.

Days are numbered from 1 = `start_date`; a cook or shop day may be 0 or less (the eve).
Every field has its unit in its name or its description, and a default where a sound one exists.
"""

from __future__ import annotations

from collections.abc import Iterator
from datetime import date, timedelta
from decimal import Decimal
from typing import Annotated, Literal

from pydantic import Field, field_validator

from planopt import ranges
from planopt.catalog.records import CurrencyCode, Id, Record, Unit
from planopt.scenario.byhand import ByHand
from planopt.scenario.changes import AwayChange, PriceChange, WindowChange
from planopt.scenario.labelsheet import LabelSheet
from planopt.scenario.ready import ReadyPortions
from planopt.scenario.samedish import SameDish
from planopt.scenario.workplace import Appliances, WorkPrices

Day = Annotated[int, ranges.DAY]
PrepDay = Annotated[int, ranges.PREP_DAY]
Meals = Annotated[int, ranges.MEALS_COUNTED]
Clock = Annotated[str, Field(pattern=r"^([01][0-9]|2[0-3]):[0-5][0-9]$")]
# Written as `15%`: of the day's window of the same nutrient.
Share = Annotated[str, Field(pattern=r"^(1?[0-9]?[0-9]|200)(\.[0-9]+)?%$")]


class Window(Record):
    """Least and most of a nutrient, in the nutrient's own unit; either side may be open."""

    min: Annotated[float | None, ranges.NUTRIENT_WINDOW] = None
    max: Annotated[float | None, ranges.NUTRIENT_WINDOW] = None


class MealWindow(Record):
    """Least and most of a nutrient in one meal: an amount, or a share of the day's window (`15%`).

    A least share is of the day's least, a most share of the day's most.
    """

    min: Annotated[float, ranges.NUTRIENT_WINDOW] | Share | None = None
    max: Annotated[float, ranges.NUTRIENT_WINDOW] | Share | None = None


class PlateWindow(Record):
    """Least and most grams of a meal: foods as they go into the pot, edible parts, with water."""

    min: Annotated[float | None, ranges.PLATE_GRAMS] = None
    max: Annotated[float | None, ranges.PLATE_GRAMS] = None


# By meal and nutrient.
MealWindows = dict[Id, dict[str, MealWindow]]


class ServingWindow(Record):
    """Least and most servings of one recipe over the whole plan, for one client."""

    min: Annotated[float, ranges.SERVINGS_OF_PLAN] = 0
    max: Annotated[float | None, ranges.SERVINGS_OF_PLAN] = None


class Portions(Record):
    """Portion sizes a client may be given, in servings of the recipe."""

    step: Annotated[float, ranges.PORTION_STEP] | Literal["any"] = 0.5
    smallest: Annotated[float, ranges.SMALLEST_PORTION] = 0.5
    largest: Annotated[float, ranges.LARGEST_PORTION] = 2.0


class Away(Record):
    """Days and single meals for which a client needs no food."""

    days: tuple[Day, ...] = ()
    meals: dict[Day, tuple[Id, ...]] = {}


class Client(Record):
    """One person who eats from this kitchen."""

    client_id: Id = Field(alias="id")
    name: str = Field(min_length=1)
    household: Id | None = Field(
        default=None, description="the kitchen to eat from; default: as `kitchen` says"
    )
    meals: tuple[Id, ...] | None = Field(
        default=None, description="meals eaten each day; default: the scenario's meals"
    )
    windows_per_day: dict[str, Window] = {}
    windows_on_days: dict[Day, dict[str, Window]] = Field(
        default={}, description="replaces windows_per_day, nutrient by nutrient, on that day"
    )
    day_patterns: dict[Id, dict[str, Window]] = Field(
        default={},
        description="kinds of days, such as training: replace windows_per_day on their days",
    )
    pattern_days: dict[Id, tuple[Day, ...]] = Field(
        default={}, description="the days of the plan that are of each kind"
    )
    windows_per_week: dict[str, Window] = Field(
        default={}, description="totals over all planned days"
    )
    windows_per_meal: MealWindows = Field(
        default={}, description="replaces the scenario's, meal by meal and nutrient by nutrient"
    )
    windows_per_meal_on_days: dict[Day, MealWindows] = Field(
        default={}, description="the same for single days"
    )
    plate_g: PlateWindow | None = Field(
        default=None, description="grams of every meal; default: the scenario's"
    )
    allergens: tuple[str, ...] = Field(default=(), description="hard; never relaxed")
    excluded_foods: tuple[Id, ...] = Field(default=(), description="hard; never relaxed")
    excluded_recipes: tuple[Id, ...] = ()
    dislikes: dict[Id, Meals] = Field(
        default={}, description="food -> most meals in the plan that may contain it"
    )
    wants: dict[Id, Meals] = Field(
        default={}, description="food -> least meals in the plan that contain it"
    )
    most_meals_of: dict[Id, Meals] = Field(
        default={}, description="group of recipes -> most meals in the plan with one of them"
    )
    least_meals_of: dict[Id, Meals] = Field(
        default={}, description="group of recipes -> least meals in the plan with one of them"
    )
    most_meals_with: dict[Id, Meals] = Field(
        default={}, description="group of foods -> most meals in the plan with 25 g a serving of it"
    )
    least_meals_with: dict[Id, Meals] = Field(
        default={}, description="group of foods -> least meals with 25 g a serving of it"
    )
    recipe_servings: dict[Id, ServingWindow] = {}
    away: Away = Away()
    portions: Portions = Portions()
    most_repeats: Annotated[int | None, ranges.MEALS_REPEATED] = Field(
        default=4, description="most meals of one recipe in the plan"
    )
    least_different_recipes: Annotated[int, ranges.RECIPES_COUNTED] = 0
    most_different_recipes: Annotated[int | None, ranges.RECIPES_AT_MOST] = None
    days_between: Annotated[int | None, ranges.DAYS_BETWEEN] = Field(
        default=None,
        description="least days between two days with the same dish; default: the scenario's",
    )
    days_between_of: dict[Id, Annotated[int, ranges.DAYS_BETWEEN]] = Field(
        default={}, description="recipe -> days between, beside the scenario's; 0 for none"
    )
    ratings: dict[Id, Annotated[Decimal, ranges.RATING]] = Field(
        default={},
        description="recipe -> money that a meal of it is worth more (or less, below 0) than one "
        "of a recipe without a rating; no part of the bill",
    )
    not_again_days: Annotated[int | None, ranges.NOT_AGAIN_DAYS] = Field(
        default=None, description="as the scenario's, of this client; default: the scenario's"
    )
    eaten_before: dict[Id, date] = Field(
        default={}, description="recipe -> last date it was eaten, beside those of past plans"
    )
    sex: Literal["female", "male"] | None = Field(
        default=None, description="for published reference intakes; default: the widest range"
    )
    age_years: Annotated[int | None, ranges.AGE_YEARS] = Field(
        default=None, description="for published reference intakes, as `sex`"
    )
    nutrient_guard: Literal["caution", "limit", "off"] = Field(
        default="caution",
        description="nutrients outside published reference intakes are told, or may not be, "
        "or are not looked at",
    )
    guarded_nutrients: tuple[Id, ...] = Field(
        default=(),
        description="nutrients that `nutrient_guard: limit` limits; default: all of the table",
    )
    nutrient_price: Annotated[Decimal | None, ranges.NUTRIENT_PRICE] = Field(
        default=None,
        description="with `nutrient_guard: limit`: averages may be outside, and each tenth of a "
        "reference amount that is missed costs this much; default: they may not be outside",
    )
    cautions: tuple[Annotated[str, Field(min_length=1)], ...] = Field(
        default=(), description="told in every plan report, such as those of `planopt targets`"
    )
    medically_supervised: bool = Field(
        default=False, description="a clinician supervises days of less than 800 kcal"
    )

    def meals_counted(self) -> Iterator[tuple[str, str, bool, int]]:
        """Yield what meals are counted of: its kind, which, whether a least is asked, how many."""
        for kind, most, least in (
            ("food", self.dislikes, self.wants),
            ("group", self.most_meals_of, self.least_meals_of),
            ("food group", self.most_meals_with, self.least_meals_with),
        ):
            yield from ((kind, what, False, meals) for what, meals in most.items())
            yield from ((kind, what, True, meals) for what, meals in least.items())

    def pattern_windows(self, day: int) -> dict[str, Window]:
        """Return the windows of the kind of day that a day is."""
        found: dict[str, Window] = {}
        for name, days in self.pattern_days.items():
            if day in days:
                found |= self.day_patterns.get(name, {})
        return found


class CookDay(Record):
    """A day on which the kitchen cooks, and what it can do that day. None = no limit."""

    day: PrepDay
    ready_for: Id | Literal["next_day"] | None = Field(
        default=None,
        description="first meal of that same day that can use the food; default: the first meal",
    )
    hands_on_minutes: Annotated[float | None, ranges.HANDS_MINUTES_OF_A_DAY] = None
    oven_minutes: Annotated[float | None, ranges.OVEN_MINUTES_OF_A_DAY] = None
    hob_minutes: Annotated[float | None, ranges.RING_MINUTES_OF_A_DAY] = Field(
        default=None, description="ring-minutes, all rings"
    )
    most_recipes: Annotated[int | None, ranges.RECIPES_OF_A_DAY] = None
    starts_at: Clock = Field(default="09:00", description="local time at which cooking starts")
    cooks: Annotated[int, ranges.COOKS] = Field(
        default=1, description="pairs of hands, for the timetable"
    )


class Stock(Record):
    """Food on hand, as purchased (`amount` in `unit`), usable up to and including `use_by`."""

    food: Id
    amount: Annotated[Decimal, ranges.STOCK_AMOUNT]
    unit: Unit
    use_by: date | None = None


class StockFile(Record):
    """A file of food on hand, such as `planopt carry` writes; scenarios name it."""

    note: str = ""
    stock: tuple[Stock, ...] = ()


class RecipeChoice(Record):
    """Which recipes of the catalog may be used; both empty = all."""

    include: tuple[Id, ...] = ()
    exclude: tuple[Id, ...] = ()


class Household(Record):
    """A kitchen for some of the clients; whatever is left out is as the scenario says."""

    household_id: Id = Field(alias="id")
    name: str = Field(default="", description="for reports; default: the id")
    cook_days: tuple[CookDay, ...] | None = Field(default=None, min_length=1)
    shop_days: tuple[PrepDay, ...] | None = None
    sellers: tuple[Id, ...] | None = None
    visit_cost: Annotated[Decimal | None, ranges.VISIT_COST] = None
    budget: Annotated[Decimal | None, ranges.BUDGET] = None
    recipes: RecipeChoice | None = None
    stock: tuple[Stock, ...] | None = None


class Variant(Record):
    """Named changes to a scenario, made together, for `planopt whatif`."""

    name: str = Field(min_length=1)
    budget: Annotated[Decimal | None, ranges.BUDGET] = Field(default=None, description="new budget")
    prices: tuple[PriceChange, ...] = ()
    unavailable: tuple[Id, ...] = Field(default=(), description="foods that no shop has")
    recipes_in: tuple[Id, ...] = ()
    recipes_out: tuple[Id, ...] = ()
    windows: tuple[WindowChange, ...] = ()
    clients_added: tuple[Client, ...] = ()
    clients_alike: tuple[Id, ...] = Field(
        default=(), description="one more client like each of these"
    )
    away: tuple[AwayChange, ...] = ()
    cook_days: tuple[CookDay, ...] = Field(
        default=(), description="added, or in place of the cook day of that day"
    )
    cook_days_out: tuple[PrepDay, ...] = ()
    stock: tuple[Stock, ...] = Field(
        default=(), description="in place of all stock of the same foods"
    )
    stock_gone: tuple[Id, ...] = Field(default=(), description="foods no longer on hand")
    by_hand: ByHand = Field(
        default=ByHand(), description="beside, or in place of, what the scenario settles by hand"
    )
    meal_defaults: Literal["on", "off"] | None = Field(
        default=None, description="the usual sizes of meals, on or off"
    )
    work_prices: WorkPrices | None = Field(
        default=None, description="those that are named replace the scenario's"
    )


class Scenario(Record):
    """A whole scenario."""

    name: str = Field(min_length=1)
    note: str = ""
    catalog: str = Field(default="../catalogs", description="folder, relative to this file")
    currency: CurrencyCode = "USD"
    start_date: date
    days: Day = 7
    meals: tuple[Id, ...] = ("breakfast", "lunch", "dinner", "snack")
    most_dishes_per_meal: Annotated[int, ranges.DISHES_OF_A_MEAL] | Literal["any"] = 1
    windows_per_meal: MealWindows = Field(default={}, description="of every client's meals")
    plate_g: PlateWindow | None = Field(default=None, description="grams of every meal")
    meal_defaults: Literal["on", "off"] = Field(
        default="on",
        description="usual sizes of breakfast, lunch, dinner and snack, where nothing is written",
    )
    cook_days: tuple[CookDay, ...] = Field(min_length=1)
    shop_days: tuple[PrepDay, ...] | None = Field(
        default=None, description="default: every cook day, before cooking"
    )
    sellers: tuple[Id, ...] | None = Field(default=None, description="default: all sellers")
    visit_cost: Annotated[Decimal, ranges.VISIT_COST] = Field(
        default=Decimal(0), description="money for each shop visit after the first"
    )
    work_prices: WorkPrices = WorkPrices()
    days_between: Annotated[int, ranges.DAYS_BETWEEN] = Field(
        default=0, description="of each client: least days between two days with the same dish"
    )
    days_between_of: dict[Id, Annotated[int, ranges.DAYS_BETWEEN]] = Field(
        default={}, description="recipe -> days between, in place of `days_between`; 0 for none"
    )
    same_dish: tuple[SameDish, ...] = Field(default=(), description="meals that share a dish")
    most_recipes: Annotated[int | None, ranges.RECIPES_AT_MOST] = Field(
        default=None, description="most different recipes cooked in the plan"
    )
    budget: Annotated[Decimal | None, ranges.BUDGET] = Field(
        default=None, description="hard limit on groceries"
    )
    waste_weight: Annotated[float, ranges.WASTE_WEIGHT] = Field(
        default=1.0, description="1 = waste counts at its value"
    )
    carry_days: Annotated[int, ranges.CARRY_DAYS] = Field(
        default=7,
        description="a leftover usable this long after the plan is carried, not wasted",
    )
    past_plans: tuple[str, ...] = Field(
        default=(), description="folders of plans of earlier weeks, relative to this file"
    )
    not_again_days: Annotated[int | None, ranges.NOT_AGAIN_DAYS] = Field(
        default=None,
        description="nobody gets a dish within so many days after they had it before this plan",
    )
    seen_price: Annotated[Decimal, ranges.SEEN_PRICE] = Field(
        default=Decimal(0),
        description="money for each portion of a dish that somebody had before this plan, in the "
        "choice of the week only",
    )
    keeping_rule: Literal["shortest", "longest"] = "shortest"
    use_freezer: bool = True
    appliances: Appliances = Appliances()
    label_sheet: LabelSheet = LabelSheet()
    recipes: RecipeChoice = RecipeChoice()
    stock: tuple[Stock, ...] = ()
    ready_portions: tuple[ReadyPortions, ...] = Field(
        default=(), description="boxes of cooked portions left over from earlier weeks"
    )
    stock_files: tuple[str, ...] = Field(
        default=(), description="files with more stock, relative to this file"
    )
    stock_folder: str | None = Field(
        default=None,
        description="folder, relative to this file, with a file of all its stock for each kitchen",
    )
    kitchen: Literal["shared", "separate"] = Field(
        default="shared",
        description="clients who name no household share one kitchen, or each has their own",
    )
    households: tuple[Household, ...] = Field(
        default=(), description="what differs from this scenario in the households of clients"
    )
    roster: str | None = Field(
        default=None, description="file of the clients (CSV or YAML), relative to this file"
    )
    clients: tuple[Client, ...] = Field(min_length=1)
    importance: tuple[str, ...] = Field(
        default=(),
        description="nutrients, the most important first, where not every window can be met; "
        "default: energy, then protein; all others come last, together",
    )
    by_hand: ByHand = Field(
        default=ByHand(), description="plates, purchases and batches that are settled by hand"
    )
    variants: tuple[Variant, ...] = Field(default=(), description="changes for `planopt whatif`")

    @field_validator("cook_days", mode="after")
    @classmethod
    def _cook_days_in_order(cls, value: tuple[CookDay, ...]) -> tuple[CookDay, ...]:
        return tuple(sorted(value, key=lambda cook: cook.day))

    def date_of(self, day: int) -> date:
        """Return the calendar date of a day number."""
        return self.start_date + timedelta(days=day - 1)

    def day_number(self, on: date) -> int:
        """Return the day number of a calendar date."""
        return (on - self.start_date).days + 1

    def shopping_days(self) -> tuple[int, ...]:
        """Return the shop days in order; by default those of cooking."""
        days = self.shop_days or tuple(cook.day for cook in self.cook_days)
        return tuple(sorted(set(days)))

    def meals_of(self, client: Client, day: int) -> tuple[str, ...]:
        """Return the meals the client eats from this kitchen on a day, in the day's order."""
        if day in client.away.days:
            return ()
        wanted = client.meals if client.meals is not None else self.meals
        skipped = client.away.meals.get(day, ())
        return tuple(meal for meal in self.meals if meal in wanted and meal not in skipped)

    def not_again_of(self, client: Client) -> int | None:
        """Return within how many days a client gets no dish again; None = no such rule."""
        own = client.not_again_days
        return own if own is not None else self.not_again_days

    def windows_of(self, client: Client, day: int) -> dict[str, Window]:
        """Return the day's windows by nutrient id, exceptions for that day applied."""
        own = client.windows_on_days.get(day, {})
        return {**client.windows_per_day, **client.pattern_windows(day), **own}
