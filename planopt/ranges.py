"""The range of every number that people write, each with its reason.

Records annotate their fields with these, so that readers refuse what lies outside, `planopt schema`
tells editors, and a fault says why. What is too large for one field alone and depends on others
(grams of an amount, a visit beside the prices) is checked where both are known.

The ranges are wide: they keep out slips of a decimal point, units mistaken and numbers that no
arithmetic holds exactly, not odd kitchens. Where a reason names no source it is common practice.
"""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass
from decimal import Decimal

from annotated_types import Ge, GroupedMetadata, Gt, Le, Lt

Number = int | float | Decimal


@dataclass(frozen=True)
class Range(GroupedMetadata):
    """Least and most of a number, and why; `above` and `below` leave out the least and the most."""

    least: Number
    most: Number
    why: str
    above: bool = False
    below: bool = False

    def __iter__(self) -> Iterator[object]:
        """Yield the two limits as pydantic knows them."""
        yield Gt(self.least) if self.above else Ge(self.least)
        yield Lt(self.most) if self.below else Le(self.most)

    def words(self) -> str:
        """Return the range as words, such as `from 0 to 366`."""
        if self.above:
            return f"above {_plain(self.least)} and {'below' if self.below else 'up to'} " + _plain(
                self.most
            )
        return f"from {_plain(self.least)} to {'below ' * self.below}{_plain(self.most)}"

    def holds(self, value: Number) -> bool:
        """Tell whether a number lies in the range."""
        least_held = value > self.least if self.above else value >= self.least
        return least_held and (value < self.most if self.below else value <= self.most)


def _plain(number: Number) -> str:
    """Return a number without an exponent, with no more digits than it needs."""
    return format(Decimal(repr(number)) if isinstance(number, float) else Decimal(number), "f")


# ------------------------------------------------------------------ days and times

DAY = Range(1, 62, "a plan has at most 62 days, two months")
PREP_DAY = Range(-6, 62, "food is bought and cooked at most a week before the first day")
NOT_AGAIN_DAYS = Range(1, 366, "who may have a dish again on the next day has no such rule, and "
                       "nobody remembers a dish for more than a year")  # fmt: skip
COOKED_DAY = Range(-3650, 62, "nobody eats what was cooked ten years before the first day")
CARRY_DAYS = Range(0, 366, "nobody counts on a leftover a year after the plan")
KEEPS_DAYS = Range(0, 3650, "ten years are as good as for ever, for which the cell is left empty")
DISH_DAYS = Range(0, 366, "no published figure keeps a cooked dish for a year in the fridge")
FREEZER_MONTHS = Range(0, 60, "no published figure keeps a dish frozen for five years")
THAWED_DAYS = Range(1, 31, "no published figure keeps a thawed dish for a month")
MINUTES_OF_A_BATCH = Range(0, 1440, "what is cooked on a day is ready within a day, 1440 minutes")
OVEN_MINUTES = Range(
    0,
    1440,
    "an oven that is used runs for some time, and at most a day of 1440 minutes",
    above=True,
)
RING_MINUTES_OF_A_BATCH = Range(0, 5760, "a day has 1440 minutes, and a batch has at most 4 rings")
REST_MINUTES = Range(0, 240, "no published rest after cooking is longer than some hours")
HANDS_MINUTES_OF_A_DAY = Range(0, 28800, "20 cooks of 1440 minutes are the most that one day has")
OVEN_MINUTES_OF_A_DAY = Range(0, 28800, "20 ovens of 1440 minutes are the most that one day has")
RING_MINUTES_OF_A_DAY = Range(0, 144000, "100 rings of 1440 minutes are the most one day has")
OVEN_CHANGE_MINUTES = Range(0, 120, "an oven reaches its temperature within two hours")
WASHING_UP_MINUTES = Range(0, 240, "nobody washes up after one dish for four hours")
CLEAN_DOWN_MINUTES = Range(
    1, 120, "cleaning takes a minute at least, and who cleans for hours cooks on another day"
)
AGE_YEARS = Range(0, 120, "ages are told in years up to 120, which stands for no end")

# ------------------------------------------------------------------ amounts of food

EDIBLE_SHARE = Range(
    0.01,
    1,
    "a gram as purchased holds at most a gram of food, and hardly less than 0.01",
)
DENSITY = Range(
    0.03, 3, "foods weigh between puffed grain and salt, in grams in a millilitre",
    below=True,
)  # fmt: skip
MEASURE_GRAMS = Range(
    0.01, 20000, "a spoon or a piece of food weighs from a pinch to a large pumpkin"
)
YIELD = Range(0.02, 50, "cooking and draining change a weight fifty-fold at most")
PACK_SIZE = Range(
    Decimal("0.001"), 100000, "packs hold from a gram in kilograms to 100 kg in grams"
)
LINE_AMOUNT = Range(
    Decimal("0.001"), 100000, "a batch takes from a gram in kilograms to 100 kg in grams"
)
STOCK_AMOUNT = Range(
    Decimal("0.001"),
    10**9,
    "scales show no less than a thousandth, and no kitchen has 1,000,000,000 of a unit on hand",
)
PACK_GRAMS = Range(0.01, 1000000, "packs hold from a pinch to a tonne of edible food")
LINE_GRAMS = Range(0.001, 100000, "a batch takes from a trace to 100 kg of a food")
STOCK_GRAMS = Range(0, 1000000, "a kitchen has at most a tonne of edible food of one entry on hand")
RATIO = Range(0.01, 100, "a food stands in for a hundredth to a hundred times its weight")
NUTRIENT_OF_FOOD = Range(
    0,
    100000000,
    "100 g of food weigh 100,000,000 ug, and less than nothing is in no food; an empty cell says "
    "unknown",
)
ENERGY_PART = Range(
    0, 100, "factors are kcal in a gram, up to 9.4, and amounts are grams in 100 g of food"
)
NUTRIENT_WINDOW = Range(0, 10**10, "nobody eats 10,000,000,000 ug, ten kilograms, of a nutrient")
NUTRIENT_MOVE = Range(
    -(10**10), 10**10, "nobody eats 10,000,000,000 ug, ten kilograms, of a nutrient"
)
PLATE_GRAMS = Range(0, 20000, "nobody eats 20 kg of food in a meal")
REFERENCE_AMOUNT = Range(
    0, 10000000, "published amounts are above 0, and below ten grams of what is counted in ug",
    above=True,
)  # fmt: skip

# ------------------------------------------------------------------ temperatures

# FDA Food Code 3-401.11 begins at 130 F, held for 112 minutes.
SAFE_C = Range(
    54, 120, "published least temperatures inside begin at 54.4 C, and what holds water gets no "
    "hotter than 120 C"
)  # fmt: skip
SAFE_F = Range(
    129, 248, "published least temperatures inside begin at 130 F, and what holds water gets no "
    "hotter than 248 F"
)  # fmt: skip
STEP_C = Range(
    30, 120, "below 30 C nothing is warmed, and what holds water gets no hotter than 120 C; "
    "degrees are in Celsius"
)  # fmt: skip
OVEN_C = Range(30, 300, "kitchen ovens heat from 30 C to 300 C; this is in Celsius")

# ------------------------------------------------------------------ servings and counts

YIELD_SERVINGS = Range(0.1, 1000, "a batch feeds from a taste to a thousand people")
MOST_BATCHES = Range(0.01, 1000, "no kitchen cooks more than 1000 batches of a dish on a day")
PORTION_STEP = Range(
    0.05, 100, "portions are weighed to a twentieth of a serving at best; write `any` "
    "for amounts between"
)  # fmt: skip
SMALLEST_PORTION = Range(0, 100, "nobody eats more than 100 servings of a dish in a meal")
LARGEST_PORTION = Range(
    0.01, 100, "a hundredth of a serving is no portion, and nobody eats more than 100 "
    "servings of a dish in a meal"
)  # fmt: skip
CHANGE_PRICE = Range(
    0, 10000, "a change that costs nothing is no reason to keep a plate, and one that costs ten "
    "thousand is made only where nothing else complies"
)  # fmt: skip
BATCHES_COOKED = Range(
    0, 1000, "a pot that was never cooked is left out, and no kitchen of one cook makes a "
    "thousand batches of a dish in a day", above=True
)  # fmt: skip
PACKS_BOUGHT = Range(
    0, 10000, "a pack that was never bought is left out, and ten thousand of one kind fill no "
    "kitchen", above=True
)  # fmt: skip
SERVINGS_OF_PLAN = Range(0, 100000, "nobody eats more than 100,000 servings of a recipe in a plan")
SERVINGS_READY = Range(
    0, 1000, "boxes with nothing in them are left out, and no freezer of one kitchen holds a "
    "thousand servings of a dish", above=True
)  # fmt: skip
GRAMS_READY = Range(
    0, 1000000, "boxes with nothing in them are left out, and no freezer of one kitchen holds a "
    "ton of a dish", above=True
)  # fmt: skip
SEEN_PRICE = Range(0, 1000000, "no plate costs more than 1,000,000 of any currency")
READY_PRICE = Range(0, 1000000, "no serving costs more than 1,000,000 of any currency")
MEALS_COUNTED = Range(0, 1000, "a plan has fewer than 1000 meals of a client")
MEALS_REPEATED = Range(1, 1000, "a plan has fewer than 1000 meals of a client, and who may repeat "
                       "no recipe has each once")  # fmt: skip
RECIPES_COUNTED = Range(0, 1000, "a plan has fewer than 1000 meals of a client")
DAYS_BETWEEN = Range(0, 1000, "a plan has fewer than 1000 days; 0 for none between")
DAYS_BEFORE = Range(1, 1000, "a dish comes once a day, so what is left is for a later one")
RECIPES_AT_MOST = Range(1, 1000, "who eats or cooks has at least one recipe; leave it out for any "
                        "number")  # fmt: skip
RATING = Range(-1000, 1000, "a meal is worth at most 1000 units of money more or less than another")
RECIPES_OF_A_DAY = Range(1, 1000, "who cooks on a day cooks at least one recipe; leave the day out "
                         "where nothing is cooked")  # fmt: skip
DISHES_OF_A_MEAL = Range(1, 20, "a meal has at least one dish, and nobody eats more than 20; write "
                         "`any` for no limit")  # fmt: skip
COOKS = Range(1, 20, "someone cooks, and 20 people are the most that one timetable holds")
OVENS = Range(1, 20, "timetables hold up to 20 ovens; recipes without oven use none")
OVEN_BATCHES = Range(0.25, 100, "an oven that holds no quarter of a batch bakes nothing")
HOB_RINGS = Range(1, 100, "timetables hold up to 100 rings; recipes without hob use none")
DECIMALS_SHOWN = Range(0, 4, "reports show up to 4 decimals")
LIST_NUMBER = Range(1, 99, "the lists of allergens have fewer than a hundred groups")

# ------------------------------------------------------------------ money

# Of the currencies in use the smallest are worth about a millionth of a US dollar.
PRICE = Range(
    0, 1000000000, "no pack of food costs more than 1,000,000,000 of any currency, and none less "
    "than nothing"
)  # fmt: skip
PRICE_MOVE = Range(-1000000000, 1000000000, "no price moves by more than 1,000,000,000")
PRICE_PERCENT = Range(-100, 1000, "a price that falls by 100 % is 0, and none rises eleven-fold")
VISIT_COST = Range(0, 1000000000, "no way to a shop costs more than 1,000,000,000 of any currency")
COOK_HOUR = Range(0, 1000000000, "no hour of a cook costs more than 1,000,000,000 of any currency")
BOX_PRICE = Range(0, 1000000, "no box for a meal costs more than 1,000,000 of any currency")
NUTRIENT_PRICE = Range(
    0,
    1000000000,
    "what costs nothing is no limit, and a tenth of an intake is worth less than 1,000,000,000",
    above=True,
)
BUDGET = Range(0, 100000000000, "no week of groceries costs 100,000,000,000 of any currency")
WASTE_WEIGHT = Range(0, 100, "waste that counts more than a hundredfold would be all that counts")

# ------------------------------------------------------------------ labels, in millimetres

PAGE_MM = Range(38, 1000, "a page holds a label of 38 mm at least, and printers take up to 1000 mm")
LABEL_WIDTH_MM = Range(50, 1000, "the words of a label need 50 mm across; pages have up to 1000 mm")
LABEL_HEIGHT_MM = Range(38, 1000, "the words of a label need 38 mm down; pages have up to 1000 mm")
MARGIN_MM = Range(0, 1000, "pages have up to 1000 mm")
LABEL_COLUMNS = Range(1, 20, "a page of 1000 mm holds 20 labels across")
LABEL_ROWS = Range(1, 50, "a sheet has at most 50 rows of labels")
LABELS_SKIPPED = Range(0, 999, "a sheet has at most 1000 labels")

# ------------------------------------------------------------------ the search

SECONDS = Range(0, 2592000, "a search takes some time, and nobody waits longer than 30 days",
                above=True)  # fmt: skip
SECONDS_EACH = Range(0.1, 86400, "nothing is found within a tenth of a second, and "
                     "nobody waits longer than a day")  # fmt: skip
SECONDS_OF_A_CURVE = Range(1, 86400, "a curve takes a second at least, and nobody waits longer "
                           "than a day")  # fmt: skip
GAP = Range(0, 1, "no plan costs less than nothing, so a gap is below 1 (100%)", below=True)
SPREAD = Range(0, 1, "prices that move by 0 % do not move, and by 100 % may be nothing",
               above=True, below=True)  # fmt: skip
SEED = Range(0, 2**31 - 1, "seeds of the solver have 31 bits")
THREADS = Range(1, 64, "more than 64 threads help no search")
WORK = Range(1, 10**9, "a search of 1,000,000,000 nodes takes years")
INTEGRALITY = Range(0, 0.001, "what is a thousandth off is no whole number", above=True)
FEASIBILITY = Range(0, 0.0001, "a limit that is missed by more is not met", above=True)
POINTS = Range(3, 100, "a curve needs 3 points, and pictures show up to 100")
PROCESSES = Range(1, 256, "no machine plans more than 256 kitchens at a time")
