"""What a random week means, worked out from its data with arithmetic of its own.

Nothing of planopt is used here. Masses are whole hundredths of a gram, money is cents, servings
and nutrients are exact fractions.
"""

from __future__ import annotations

from dataclasses import dataclass, field, replace
from datetime import date, timedelta
from fractions import Fraction
from itertools import product
from typing import Any

from published.randomweeks import DAYS, KINDS, MEALS, Week


@dataclass(frozen=True)
class Dish:
    """One version of a recipe: per batch grams, per serving nutrients."""

    recipe: str
    meals: tuple[str, ...]
    cg: dict[str, int]
    nutrients: dict[str, Fraction]
    allergens: frozenset[str]
    servings: int
    step: Fraction
    most: Fraction
    hands_on: int
    hands_on_extra: int
    hob: int
    fridge_days: int
    freezer_days: int
    plate_g: Fraction
    smallest: Fraction
    boxes: int
    # Of portions that are ready: who may have them (none = all), cents a serving, last date.
    ready: bool = False
    foods: frozenset[str] = frozenset()
    eaters: tuple[str, ...] = ()
    cents: Fraction = Fraction(0)
    last_day: int = 0


@dataclass(frozen=True)
class Source:
    """A purchase day or a stock entry of one food: which cook days it reaches, if waste counts."""

    food: str
    shop_day: int | None
    stock_cg: int
    cook_days: tuple[int, ...]
    wasted: bool


@dataclass(frozen=True)
class Pack:
    """A pack for sale."""

    food: str
    seller: str
    cents: int
    edible_cg: int


@dataclass
class Facts:
    """Dishes, sources and packs of a week."""

    week: Week
    cook_days: tuple[int, ...] = ()
    dishes: list[Dish] = field(default_factory=list)
    sources: dict[str, list[Source]] = field(default_factory=dict)
    packs: dict[str, list[Pack]] = field(default_factory=dict)

    def __post_init__(self) -> None:
        """Work everything out."""
        week = self.week
        self.cook_days = tuple(cook["day"] for cook in week.scenario["cook_days"])
        for recipe in week.recipes:
            self.dishes += _versions(week, recipe)
        self.dishes += [
            _ready_dish(week, entry) for entry in week.scenario.get("ready_portions", ())
        ]
        for food, row in week.foods.items():
            self.packs[food] = [
                Pack(
                    food,
                    pack["seller_id"],
                    pack["cents"],
                    _whole(Fraction(row["edible_share"]) * pack["size"] * 100),
                )
                for pack in week.packs
                if pack["food_id"] == food
            ]
            self.sources[food] = self._sources(food)

    def value(self, food: str) -> Fraction:
        """Return the cents that a hundredth of a gram is worth."""
        return min(Fraction(pack.cents, pack.edible_cg) for pack in self.packs[food])

    def serving_value(self, dish: Dish) -> Fraction:
        """Return the cents that a serving of a dish is worth."""
        return sum((cg * self.value(f) for f, cg in dish.cg.items()), Fraction(0)) / dish.servings

    def meal_holds(self, client: dict[str, Any], day: int, meal: str, plate: Any) -> bool:
        """Tell whether the dishes of a plate, with their sizes, are within the meal's windows."""
        if any(size < min(dish.smallest, self._largest(client)) for dish, size in plate):
            return False
        return all(
            low <= sum(size * self.amount(dish, name) for dish, size in plate) <= high
            for name, (low, high) in self.meal_windows(client, day, meal).items()
        )

    @staticmethod
    def _largest(client: dict[str, Any]) -> Fraction:
        return Fraction(str(client["portions"]["largest"]))

    @staticmethod
    def amount(dish: Dish, name: str) -> Fraction:
        """Return a nutrient, or the grams, of a serving."""
        return dish.plate_g if name == "plate_g" else dish.nutrients.get(name, Fraction(0))

    def meal_windows(
        self, client: dict[str, Any], day: int, meal: str
    ) -> dict[str, tuple[Fraction, Fraction]]:
        """Return least and most of a meal; 10**9 stands for no limit."""
        scenario = self.week.scenario
        written: dict[str, dict[str, Any]] = {}
        for where in (scenario, client):
            if "plate_g" in where:
                written["plate_g"] = where["plate_g"]
            written |= where.get("windows_per_meal", {}).get(meal, {})
        written |= client.get("windows_per_meal_on_days", {}).get(day, {}).get(meal, {})
        of_day = self.windows(client, day)
        found = {}
        for name, window in written.items():
            whole = of_day.get(name, (Fraction(0), Fraction(10**9)))
            sides = [Fraction(0), Fraction(10**9)]
            for n, side in enumerate(("min", "max")):
                value = window.get(side)
                if isinstance(value, str):
                    if whole[n] < 10**9:
                        sides[n] = Fraction(whole[n]) * Fraction(value.rstrip("%")) / 100
                elif value is not None:
                    sides[n] = Fraction(value)
            found[name] = (sides[0], sides[1])
        return found

    def work_cents(self, dish: Dish) -> tuple[Fraction, Fraction, Fraction]:
        """Return the cents of cooking a dish at all, of a further batch, and of a portion."""
        prices = self.week.scenario.get("work_prices", {})
        minute = Fraction(prices.get("cook_hour", 0)) * 100 / 60
        washing = Fraction(str(prices.get("washing_up_minutes", 0)))
        box = Fraction(prices.get("box", 0)) * 100
        if dish.ready:
            return Fraction(0), Fraction(0), Fraction(0)
        return minute * (dish.hands_on + washing), minute * dish.hands_on_extra, box * dish.boxes

    def _sources(self, food: str) -> list[Source]:
        scenario = self.week.scenario
        start = date.fromisoformat(scenario["start_date"])
        carried = start + timedelta(days=DAYS - 1 + scenario["carry_days"])
        row = self.week.foods[food]
        lives = [row[name] for name in ("keeps_days", "opened_keeps_days") if row[name] is not None]
        found = []
        for stock in scenario.get("stock", ()):
            if stock["food"] == food:
                use_by = date.fromisoformat(stock["use_by"])
                reach = tuple(
                    day for day in self.cook_days if start + timedelta(days=day - 1) <= use_by
                )
                grams = Fraction(row["edible_share"]) * stock["amount"] * 100
                found.append(Source(food, None, _whole(grams), reach, use_by < carried))
        for shop in scenario.get("shop_days", self.cook_days):
            reach = tuple(
                day
                for day in self.cook_days
                if shop <= day and all(day - shop <= life for life in lives)
            )
            lasts = start + timedelta(days=shop - 1 + min(lives, default=9999))
            found.append(Source(food, shop, 0, reach, lasts < carried))
        return found

    def meals_of(self, client: dict[str, Any], day: int) -> list[str]:
        """Return the meals that a client eats on a day."""
        away = client.get("away", {}).get("meals", {}).get(day, ())
        return [meal for meal in MEALS if meal not in away]

    def reachable(self, client: dict[str, Any], day: int, meal: str) -> list[tuple[int, int]]:
        """Return (dish, cook) pairs that may be on a client's plate."""
        return [
            (d, k)
            for d, dish in enumerate(self.dishes)
            if meal in dish.meals and not dish.allergens & set(client.get("allergens", ()))
            if not dish.eaters or client["id"] in dish.eaters
            if not self._had_lately(client, day, dish.recipe)
            for k, cook in enumerate(self.week.scenario["cook_days"])
            if (
                k == 0 and day <= dish.last_day
                if dish.ready
                else self._ready(cook, day, meal) and self._keeps(dish, day - cook["day"])
            )
        ]

    def _had_lately(self, client: dict[str, Any], day: int, recipe: str) -> bool:
        scenario = self.week.scenario
        days = client.get("not_again_days", scenario.get("not_again_days"))
        last = client.get("eaten_before", {}).get(recipe)
        if days is None or last is None:
            return False
        on = date.fromisoformat(scenario["start_date"]) + timedelta(days=day - 1)
        return on <= date.fromisoformat(last) + timedelta(days=days)

    def seen_cents(self, recipe: str) -> Fraction:
        """Return the cents of a portion of a dish that somebody had before."""
        scenario = self.week.scenario
        seen = any(recipe in client.get("eaten_before", {}) for client in scenario["clients"])
        return Fraction(scenario.get("seen_price", 0)) * 100 * seen

    @staticmethod
    def _ready(cook: dict[str, Any], day: int, meal: str) -> bool:
        if day != cook["day"]:
            return bool(day > cook["day"])
        ready = cook.get("ready_for")
        return ready is None or (ready != "next_day" and MEALS.index(meal) >= MEALS.index(ready))

    @staticmethod
    def _keeps(dish: Dish, age: int) -> bool:
        return age <= dish.fridge_days or age <= dish.freezer_days

    def windows(self, client: dict[str, Any], day: int) -> dict[str, tuple[Fraction, Fraction]]:
        """Return least and most of each nutrient on a day; 10**9 stands for no limit.

        The energy floor is one of them: 800 kcal a full day unless supervised.
        """
        share = Fraction(len(self.meals_of(client, day)), len(MEALS))
        special = client.get("windows_on_days", {}).get(day, {})
        found = {}
        usual = dict(client["windows_per_day"])
        for name, days in client.get("pattern_days", {}).items():
            usual |= client["day_patterns"][name] if day in days else {}
        for nutrient in {**usual, **special}:
            window = special.get(nutrient) or usual[nutrient]
            scale = Fraction(1) if nutrient in special else share
            most = window.get("max")
            found[nutrient] = (
                scale * window.get("min", 0),
                10**9 if most is None else scale * most,
            )
        if not client.get("medically_supervised", False):
            low, high = found.get("energy_kcal", (0, 10**9))
            found["energy_kcal"] = (max(low, 800 * share), high)
        return found


def _versions(week: Week, recipe_id: str) -> list[Dish]:
    recipe = week.recipes[recipe_id]
    scenario = week.scenario
    choices: list[list[tuple[str, Fraction] | None]] = []
    for line in recipe["lines"]:
        amount = Fraction(line["amount"]) * 100
        options: list[tuple[str, Fraction] | None] = [(line["food"], amount)]
        for other in line.get("alternatives", ()):
            options.append((other["food"], amount * Fraction(str(other["ratio"]))))
        if line.get("optional"):
            options.append(None)
        choices.append(options)
    limits = KINDS[recipe["keeps"]["kind"]]
    nth = 0 if scenario["keeping_rule"] == "shortest" else 1
    months = min(recipe["keeps"]["freezer_months"], limits[2 + nth])
    # What keeps no day in the fridge has no day to thaw in, and is not frozen.
    thawed = min(recipe["keeps"]["fridge_days"], limits[nth])
    dishes = []
    parts = [line.get("part", "main") for line in recipe["lines"]]
    serve = recipe["keeps"]["serve"]
    for chosen in product(*choices):
        cg: dict[str, int] = {}
        had = {name for name, part in zip(parts, chosen, strict=True) if part is not None}
        # Eaten cold, all is in one box but what is named apart.
        alone = had & {*recipe.get("parts_apart", ()), *(["main"] if serve != "cold" else [])}
        boxes = len(alone) + bool(had - alone)
        for part in chosen:
            if part is not None:
                cg[part[0]] = cg.get(part[0], 0) + _whole(part[1])
        nutrients = {
            name: sum(
                (Fraction(g, 10000) * week.foods[food][name] for food, g in cg.items()),
                Fraction(0),
            )
            / recipe["yield_servings"]
            for name in ("energy_kcal", "protein_g")
        }
        for food, g in cg.items():
            for group in week.foods[food].get("groups", ()):
                each = Fraction(g, 100 * recipe["yield_servings"])
                nutrients[f"{group}_g"] = nutrients.get(f"{group}_g", Fraction(0)) + each
        allergens = {week.foods[food]["allergens"] for food in cg} - {"none"}
        dishes.append(
            Dish(
                recipe_id,
                tuple(recipe["meals"]),
                cg,
                nutrients,
                frozenset(allergens),
                recipe["yield_servings"],
                Fraction(1, 2) if recipe["batch"]["step"] == "half" else Fraction(1),
                Fraction(recipe["batch"]["most_per_cook_day"]),
                recipe["minutes"]["hands_on"],
                recipe["minutes"]["hands_on_per_extra_batch"],
                recipe["equipment"]["hob_minutes"],
                thawed,
                # -1: never frozen, so no age is young enough.
                int(30 * months) if scenario["use_freezer"] and months > 0 and thawed > 0 else -1,
                Fraction(sum(cg.values()), 100 * recipe["yield_servings"]),
                Fraction(str(recipe.get("smallest_portion", 0))),
                boxes,
            )
        )
    return dishes


def _ready_dish(week: Week, entry: dict[str, Any]) -> Dish:
    """Return portions that are ready as a dish without food, work or box, by half servings."""
    base = _versions(week, entry["recipe"])[0]
    start = date.fromisoformat(week.scenario["start_date"])
    age = 1 - (date.fromisoformat(entry["cooked_on"]) - start).days
    recipe = week.recipes[entry["recipe"]]
    limits = KINDS[recipe["keeps"]["kind"]]
    nth = 0 if week.scenario["keeping_rule"] == "shortest" else 1
    months = min(recipe["keeps"]["freezer_months"], limits[2 + nth])
    frozen = int(30 * months) if base.fridge_days > 0 else 0
    keeps = base.fridge_days if entry["kept"] == "fridge" else frozen
    written = (date.fromisoformat(entry["use_by"]) - start).days + 1
    grams = Fraction(str(entry["grams"])) / base.plate_g if "grams" in entry else None
    servings = Fraction(str(entry["servings"])) if grams is None else grams
    return replace(
        base, cg={}, foods=base.foods | set(base.cg), servings=1, step=Fraction(1, 2),
        most=servings // Fraction(1, 2) * Fraction(1, 2), hands_on=0, hands_on_extra=0, hob=0,
        boxes=0, ready=True, eaters=tuple(entry.get("clients", ())),
        cents=Fraction(entry.get("price", 0)) * 100, last_day=min(written, keeps - age + 2),
    )  # fmt: skip


def _whole(value: Fraction) -> int:
    assert value.denominator == 1, f"{value} is not a whole hundredth of a gram"
    return value.numerator
