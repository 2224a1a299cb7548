"""The three documents under audit, with look-ups that answer None for whatever is unknown."""

from __future__ import annotations

from collections import defaultdict
from datetime import date, timedelta
from fractions import Fraction
from functools import cache, cached_property

from planopt.audit.conversions import Conversions
from planopt.audit.dishes import Dish, make_dish
from planopt.audit.findings import exact
from planopt.audit.handling import days_kept
from planopt.catalog.records import Catalog, Pack
from planopt.plan.records import Plan, Portion
from planopt.scenario.ready import ReadyPortions
from planopt.scenario.records import Client, CookDay, Scenario, Window
from planopt.units import minor_digits

BatchKey = tuple[str, str, int]  # recipe, version, cook day


def later(start: date | None, days: int) -> date | None:
    """Return a date `days` after `start`, or None if no calendar reaches that far."""
    if start is None:
        return None
    try:
        return start + timedelta(days=days)
    except OverflowError:
        return None


class Books:
    """Plan, catalog and scenario, and what follows from the last two alone."""

    def __init__(self, plan: Plan, catalog: Catalog, scenario: Scenario) -> None:
        self.plan = plan
        self.catalog = catalog
        self.scenario = scenario
        self.conversions = Conversions(catalog)
        self.minor_per_unit: int = 10 ** minor_digits(scenario.currency)
        self.clients: dict[str, Client] = {one.client_id: one for one in scenario.clients}
        self.cook_days: dict[int, CookDay] = {one.day: one for one in scenario.cook_days}
        self.ready: dict[BatchKey, ReadyPortions] = {
            (one.recipe, one.version, (one.cooked_on - scenario.start_date).days + 1): one
            for one in scenario.ready_portions
        }
        self.dish = cache(self._dish)
        self.value_per_gram = cache(self._value_per_gram)

    def date_of(self, day: int) -> date | None:
        """Return the date of a day number, day 1 being the start."""
        return later(self.scenario.start_date, day - 1)

    @staticmethod
    def kind_of_day(client: Client, day: int) -> dict[str, Window]:
        """Return the windows of the kind of day that a client's day is, if it is of any."""
        kinds = [name for name, days in client.pattern_days.items() if day in days]
        pairs = [pair for name in kinds for pair in client.day_patterns.get(name, {}).items()]
        return dict(pairs)

    def is_tap(self, food_id: str) -> bool:
        """Tell whether a food comes free from the tap."""
        food = self.catalog.foods.get(food_id)
        return food is not None and food.storage == "tap"

    def recipe_allowed(self, recipe_id: str) -> bool:
        """Tell whether the scenario lets the kitchen use a recipe."""
        choice = self.scenario.recipes
        wanted = not choice.include or recipe_id in choice.include
        return wanted and recipe_id not in choice.exclude

    def pack_allowed(self, pack: Pack) -> bool:
        """Tell whether the scenario lets the kitchen buy a pack."""
        sellers = self.scenario.sellers
        seller_open = sellers is None or pack.seller_id in sellers
        return seller_open and pack.currency == self.scenario.currency

    def pack_grams(self, pack: Pack) -> Fraction | None:
        """Return the edible grams of one pack."""
        return self.conversions.edible_grams(pack.food_id, pack.size, pack.unit)

    def keeping(self, dish: Dish) -> tuple[int, int | None] | None:
        """Return days in the fridge and days in the freezer (None = it may not be frozen)."""
        shortest = self.scenario.keeping_rule == "shortest"
        return days_kept(self.catalog, dish, shortest, self.scenario.use_freezer)

    @cached_property
    def end_date(self) -> date | None:
        """The date of the last day."""
        return self.date_of(self.scenario.days)

    @cached_property
    def eaten_of_batch(self) -> dict[BatchKey, Fraction]:
        """Servings that the portions take of each dish and cook day."""
        taken: dict[BatchKey, Fraction] = defaultdict(Fraction)
        for row in self.plan.portions:
            taken[row.recipe_id, row.version, row.cook_day] += exact(row.servings)
        return taken

    @cached_property
    def packs_of(self) -> dict[str, list[Pack]]:
        """The packs that the catalog lists for each food."""
        listed: dict[str, list[Pack]] = defaultdict(list)
        for pack in self.catalog.packs.values():
            listed[pack.food_id].append(pack)
        return listed

    @cached_property
    def portions_of(self) -> dict[tuple[str, int, str], list[Portion]]:
        """The portions of each client, day and meal."""
        served: dict[tuple[str, int, str], list[Portion]] = defaultdict(list)
        for row in self.plan.portions:
            served[row.client_id, row.day, row.meal].append(row)
        return served

    def _dish(self, recipe_id: str, version: str) -> Dish | None:
        """Return the dish, or None if the recipe or the version is unknown."""
        recipe = self.catalog.recipes.get(recipe_id)
        if recipe is None:
            return None
        return make_dish(self.catalog, self.conversions, recipe, version)

    def _value_per_gram(self, food_id: str) -> Fraction:
        """Return minor units per edible gram at the cheapest pack the scenario allows."""
        if self.is_tap(food_id):
            return Fraction(0)
        prices = []
        for pack in self.packs_of.get(food_id, ()):
            if self.pack_allowed(pack):
                grams = self.pack_grams(pack)
                if grams:
                    prices.append(exact(pack.price) * self.minor_per_unit / grams)
        return min(prices, default=Fraction(0))
