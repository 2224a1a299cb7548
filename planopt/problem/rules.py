"""Rules: what is asked of a client's meals, written once as sums of numbers over dishes.

Every model, search and explanation walks over these rules and knows no kind of them by name:
`TALLIES` alone says what a kind counts, and `problem.limits` which kinds there are. Coefficients
are never below 0. Not here is what no such sum says: that no recipe comes twice a day, the most
repeats and the least number of recipes (`Problem.repeat_rules`), most recipes and batches of a
cook day, packs and money.
"""

from __future__ import annotations

from collections.abc import Callable, Iterable, Iterator, Mapping, Sequence
from dataclasses import dataclass, field, replace
from math import inf
from typing import Literal

from planopt.catalog.records import GROUP_MEAL_G, GROUP_UNIT
from planopt.problem.dishes import Dish, LineOption
from planopt.problem.limits import WHOLE_PLAN, Kind, Limit, LimitKey
from planopt.problem.people import Eater
from planopt.problem.tolerances import GRAMS
from planopt.scenario.records import Scenario
from planopt.scenario.windows import day_windows

Per = Literal["meal", "serving"]


@dataclass(frozen=True)
class Tally:
    """What a kind of rule counts: of a dish in a meal, or of a serving of it.

    `name` tells tallies apart: kinds of one tally count the same. With `counted` a dish counts
    or does not, 1 or 0; else it gives an amount. `words` name the rule in the model, and `noun`
    is what is counted to a reader. `perhaps` tells of an outline whether some version may count
    that no single line tells.
    """

    name: str
    per: Per
    counted: bool
    words: str
    of_dish: Callable[[Dish, str], float]
    of_line: Callable[[LineOption, str, float], float] = lambda _option, _what, _servings: 0.0
    noun: str = "{}"
    perhaps: Callable[[Dish, str], bool] = lambda _dish, _what: False


_NUTRIENT = Tally(
    "nutrient", "serving", False, "",
    lambda dish, what: dish.nutrients[what], lambda option, what, _servings: option.nutrients[what],
)  # fmt: skip
_OF_MEAL = Tally(
    "amount", "serving", False, "",
    lambda dish, what: dish.amount(what),
    lambda option, what, servings: option.amount(what, servings),
)  # fmt: skip
_FOOD = Tally(
    "food", "meal", True, "meals with",
    lambda dish, what: float(what in dish.contents),
    lambda option, what, _servings: float(option.food_id == what),
)  # fmt: skip
_GROUP = Tally(
    "group", "meal", True, "meals of",
    lambda dish, what: float(what in dish.groups), noun="recipes of the group {}",
)  # fmt: skip
_FOOD_GROUP = Tally(
    "food group", "meal", True, "meals with foods of",
    lambda dish, what: float(dish.nutrients.get(what + GROUP_UNIT, 0.0) >= GROUP_MEAL_G - GRAMS),
    noun="{}",
    perhaps=lambda dish, what: dish.most_of(what + GROUP_UNIT) >= GROUP_MEAL_G - GRAMS,
)  # fmt: skip
TALLIES: dict[Kind, Tally] = {
    "window": _NUTRIENT,
    "meal_window": _OF_MEAL,
    "reference": _NUTRIENT,
    "dislike": _FOOD,
    "want": _FOOD,
    "most_of_group": _GROUP,
    "least_of_group": _GROUP,
    "most_with": _FOOD_GROUP,
    "least_with": _FOOD_GROUP,
    "servings": Tally(
        "recipe", "serving", True, "servings of",
        lambda dish, what: float(dish.recipe_id == what),
    ),
    "repeats": Tally(
        "recipe", "meal", True, "repeats of",
        lambda dish, what: float(dish.recipe_id == what),
    ),
    # Its coefficients are the client's own, see `taste_rules`.
    "rating": Tally("rating", "meal", False, "", lambda _dish, _what: 0.0),
    "ready": Tally(
        "ready", "serving", False, "", lambda dish, what: float(str(dish.ready) == what),
    ),
}  # fmt: skip


@dataclass(frozen=True)
class LinearRule:
    """Least and most of a sum over what one client eats, in a meal, on a day or over the plan.

    `key` is the limit that it states, without a side; `what` is counted: a nutrient, a food, a
    recipe, a group. `coefficients` are by dish position, those of 0 left out; counted a meal, a
    meal counts once however many of its dishes count. Outside low and high costs `price` for each
    unit, and may not be where that is infinite. What a loose line adds is told by `of_line`.
    """

    key: LimitKey
    what: str
    client: int
    low: float = 0.0
    high: float = inf
    price: float = inf
    coefficients: Mapping[int, float] = field(default_factory=dict)

    @property
    def tally(self) -> Tally:
        """Return what is counted."""
        return TALLIES[self.key.kind]

    @property
    def per(self) -> Per:
        """Return whether meals or servings count."""
        return self.tally.per

    @property
    def counted(self) -> bool:
        """Tell whether dishes count as 1; else each gives an amount."""
        return self.tally.counted

    @property
    def column(self) -> tuple[str, str]:
        """Return what is counted of whom, so that rules that count the same share a column."""
        return (self.tally.name, self.what)

    @property
    def soft(self) -> bool:
        """Tell whether it may be missed, at its price."""
        return self.price < inf

    @property
    def words(self) -> str:
        """Return the rule in the model's words."""
        who = self.key.client
        if self.counted:
            return f"{who}: {self.tally.words} {self.what}"
        when = "whole plan" if self.key.day == WHOLE_PLAN else f"day {self.key.day}"
        meal = f" {self.key.meal}" if self.key.meal else ""
        return f"{who} {when}{meal} {self.what}"

    def of_line(self, option: LineOption, servings: float) -> float:
        """Return what an option of a loose line counts in a recipe of so many servings."""
        return self.tally.of_line(option, self.what, servings)

    def may_count(self, dish: Dish, position: int) -> bool:
        """Tell whether a dish counts, of an outline some version."""
        if position in self.coefficients or self.tally.perhaps(dish, self.what):
            return True
        servings = dish.yield_servings
        return any(self.of_line(one, servings) > 0 for line in dish.loose for one in line)

    def on(self, day: int) -> LinearRule:
        """Return the same rule of another day."""
        return replace(self, key=replace(self.key, day=day))

    def outside(self, total: float) -> float:
        """Return by how much a sum is below the least or above the most."""
        return max(0.0, self.low - total, total - self.high)


@dataclass(frozen=True)
class MinuteRule:
    """Most minutes of one kind on one cook day.

    `minutes` are by dish position: once it is cooked, for each batch, for each after the first.
    """

    key: LimitKey
    cook: int
    high: float
    minutes: tuple[tuple[float, float, float], ...]

    @property
    def words(self) -> str:
        """Return the rule in the model's words."""
        return f"{MINUTES[self.key.kind].words} day {self.key.day}"

    def of(self, dish: int, batches: float) -> float:
        """Return the minutes of some batches of a dish, more than none."""
        once, each, more = self.minutes[dish]
        return once + each * batches + more * max(0.0, batches - 1.0)


@dataclass(frozen=True)
class MinuteTally:
    """A kind of minutes: what a dish takes once, for each batch, and for each after the first."""

    words: str
    of_dish: Callable[[Dish], tuple[float, float, float]]


# The compiled search knows these three alone; what it finds is held to all of them afterwards.
MINUTES: dict[Kind, MinuteTally] = {
    "hands_on_minutes": MinuteTally(
        "hands-on minutes", lambda dish: (dish.hands_on, 0.0, dish.hands_on_extra)
    ),
    "oven_minutes": MinuteTally("oven minutes", lambda dish: (0.0, dish.oven_minutes, 0.0)),
    "hob_minutes": MinuteTally("hob minutes", lambda dish: (0.0, dish.hob_minutes, 0.0)),
}


class Coefficients:
    """What each dish counts, worked out once for all rules that count the same."""

    def __init__(self, dishes: Sequence[Dish]) -> None:
        self._dishes = dishes
        self._known: dict[tuple[Kind, str], dict[int, float]] = {}

    def of(self, kind: Kind, what: str) -> dict[int, float]:
        """Return coefficients by dish position, those of 0 left out."""
        if (kind, what) not in self._known:
            count = TALLIES[kind].of_dish
            rows = ((d, count(dish, what)) for d, dish in enumerate(self._dishes))
            self._known[kind, what] = {d: value for d, value in rows if value}
        return self._known[kind, what]

    def rule(
        self,
        key: LimitKey,
        client: int,
        low: float = 0.0,
        high: float = inf,
        *,
        what: str = "",
        price: float = inf,
    ) -> LinearRule:
        """Return a rule on these dishes; `what` is counted, by default what its key names."""
        what = what or key.what
        return LinearRule(key, what, client, low, high, price, self.of(key.kind, what))


def plan_rules(
    limits: Iterable[Limit], clients: Sequence[str], table: Coefficients
) -> Iterator[LinearRule]:
    """Yield a rule for all limits over the whole plan that a tally counts, both sides in one.

    What counts dishes comes before amounts. Repeats are left out: they are of every recipe
    (`Problem.repeat_rules`).
    """
    position = {client_id: c for c, client_id in enumerate(clients)}
    bounds: dict[LimitKey, tuple[float, float]] = {}
    for limit in limits:
        key = limit.key
        if key.kind in TALLIES and key.day == WHOLE_PLAN and key.kind != "repeats":
            whole = key.of_side("")
            low, high = bounds.get(whole, (0.0, inf))
            bounds[whole] = (limit.value, high) if limit.from_below else (low, limit.value)
    for key, (low, high) in sorted(
        bounds.items(), key=lambda row: not TALLIES[row[0].kind].counted
    ):
        yield table.rule(key, position[key.client], low, high)


def taste_rules(dishes: Sequence[Dish], clients: Sequence[Eater]) -> Iterator[LinearRule]:
    """Yield what a client's ratings count for each portion, as a soft rule of the plan."""
    for c, client in enumerate(clients):
        prices = {d: client.taste(dish.recipe_id) for d, dish in enumerate(dishes)}
        prices = {d: price for d, price in prices.items() if price > 0}
        if prices:
            key = LimitKey("rating", client.client_id)
            yield LinearRule(key, "ratings", c, high=0.0, price=1.0, coefficients=prices)


def day_rules(scenario: Scenario, c: int, day: int, table: Coefficients) -> Iterator[LinearRule]:
    """Yield the windows of a client's day, the energy floor among them."""
    client = scenario.clients[c]
    for nutrient_id, (low, high) in day_windows(scenario, client, day).items():
        yield table.rule(LimitKey("window", client.client_id, nutrient_id, day), c, low, high)


def tightest_first(rules: Iterable[LinearRule]) -> tuple[LinearRule, ...]:
    """Return the rules of a day that limit anything, the relatively narrowest first."""

    def width(rule: LinearRule) -> float:
        return (rule.high - rule.low) / rule.high if 0 < rule.high < inf else 2.0

    bounding = [rule for rule in rules if rule.low > 0 or rule.high < inf]
    return tuple(sorted(bounding, key=lambda rule: (width(rule), rule.column)))
