"""Build the problem: sorted index sets and coefficients, no solver and no files."""

from __future__ import annotations

from dataclasses import dataclass, replace
from functools import cached_property

from planopt.catalog.records import Catalog
from planopt.problem.dishes import Dish
from planopt.problem.shared import shared_of
from planopt.problem.soft import SoftLimit, soft_limits
from planopt.problem.supplies import PackOffer, Supply, supplies_of, value_per_g
from planopt.scenario.records import Client, CookDay, Scenario
from planopt.scenario.references import guarded
from planopt.scenario.windows import day_windows


@dataclass(frozen=True)
class Option:
    """A dish that a meal may take from a cook day. `dish` and `cook` are positions."""

    dish: int
    cook: int


@dataclass(frozen=True)
class Slot:
    """One meal of one client on one day, and what it may be."""

    client: int
    day: int
    meal: str
    options: tuple[Option, ...]


@dataclass(frozen=True)
class DayGroup:
    """Days of one client that are interchangeable: same meals, same options, same windows.

    `slots` holds, for each day, the positions of its slots in the order of the day's meals.
    """

    client: int
    days: tuple[int, ...]
    slots: tuple[tuple[int, ...], ...]
    windows: dict[str, tuple[float, float]]


@dataclass(frozen=True)
class Problem:
    """Everything the model needs, in deterministic order.

    Units: grams, minutes, servings, batches; money in minor units of the scenario's currency.
    """

    scenario: Scenario
    clients: tuple[Client, ...]
    cook_days: tuple[CookDay, ...]
    dishes: tuple[Dish, ...]
    cookings: tuple[Option, ...]
    slots: tuple[Slot, ...]
    groups: tuple[DayGroup, ...]
    foods: tuple[str, ...]
    supplies: tuple[Supply, ...]
    offers: dict[str, tuple[PackOffer, ...]]
    value_minor_per_g: dict[str, float]
    soft_limits: tuple[SoftLimit, ...] = ()

    @cached_property
    def slots_of_client(self) -> tuple[tuple[int, ...], ...]:
        """Return, for each client, the positions of their slots."""
        table: list[list[int]] = [[] for _ in self.clients]
        for index, slot in enumerate(self.slots):
            table[slot.client].append(index)
        return tuple(tuple(row) for row in table)

    @cached_property
    def recipe_ids(self) -> tuple[str, ...]:
        """Return the ids of the recipes in play, sorted."""
        return tuple(sorted({dish.recipe_id for dish in self.dishes}))


def may_eat(client: Client, dish: Dish) -> bool:
    """Tell whether a dish avoids all that a client must not eat."""
    return (
        dish.recipe_id not in client.excluded_recipes
        and not dish.barred_by(client.allergens)
        and not set(dish.grams) & set(client.excluded_foods)
    )


def reaches(cook: CookDay, day: int, meal: str, dish: Dish, meals: tuple[str, ...]) -> bool:
    """Tell whether a dish of a cook day is ready, and keeps, for a meal of a day."""
    age = day - cook.day
    if age < 0:
        return False
    if age == 0:
        if cook.ready_for == "next_day":
            return False
        if cook.ready_for is not None and meals.index(meal) < meals.index(cook.ready_for):
            return False
    return age <= max(dish.fridge_days, dish.freezer_days)


def food_sources(
    catalog: Catalog, scenario: Scenario
) -> tuple[dict[str, tuple[PackOffer, ...]], dict[str, tuple[Supply, ...]]]:
    """Return, for each food, the packs of the scenario's sellers, and where its grams come from."""
    shared = shared_of(catalog)
    offers: dict[str, tuple[PackOffer, ...]] = {}
    supplies: dict[str, tuple[Supply, ...]] = {}
    for food_id, food in catalog.foods.items():
        offers[food_id] = shared.offers(food_id, scenario)
        supplies[food_id] = tuple(
            supply
            for supply in supplies_of(food, scenario, shared.quantities)
            if supply.stock_index is not None or offers[food_id]
        )
    return offers, supplies


def build_problem(catalog: Catalog, scenario: Scenario) -> Problem:
    """Turn a checked catalog and scenario into a problem.

    Raises nothing on checked input; a meal without options stays, and makes the model infeasible.
    """
    scenario = guarded(catalog, scenario)
    shared = shared_of(catalog)
    offers, supplies = food_sources(catalog, scenario)
    allowed = scenario.recipes.include or tuple(catalog.recipes)
    candidates: list[Dish] = []
    for recipe_id in sorted(set(allowed) - set(scenario.recipes.exclude)):
        candidates += shared.dishes(recipe_id, scenario)
    tap = {food_id for food_id, food in catalog.foods.items() if food.storage == "tap"}
    makeable = [
        [
            all(
                food_id in tap or any(cook.day in s.cook_days for s in supplies[food_id])
                for food_id in dish.grams
            )
            for cook in scenario.cook_days
        ]
        for dish in candidates
    ]

    # Two passes: find who can eat what, then keep only dishes that somebody can.
    raw_slots: list[tuple[int, int, str, list[tuple[int, int]]]] = []
    for c, client in enumerate(scenario.clients):
        edible = [i for i, dish in enumerate(candidates) if may_eat(client, dish)]
        for day in range(1, scenario.days + 1):
            for meal in scenario.meals_of(client, day):
                found = [
                    (i, k)
                    for i in edible
                    if meal in candidates[i].meals
                    for k, cook in enumerate(scenario.cook_days)
                    if makeable[i][k] and reaches(cook, day, meal, candidates[i], scenario.meals)
                ]
                raw_slots.append((c, day, meal, found))
    kept = sorted({i for *_, found in raw_slots for i, _ in found})
    place = {i: n for n, i in enumerate(kept)}
    slots = tuple(
        Slot(c, day, meal, tuple(Option(place[i], k) for i, k in found))
        for c, day, meal, found in raw_slots
    )
    dishes = tuple(candidates[i] for i in kept)
    cookings = tuple(sorted({o for slot in slots for o in slot.options}, key=_option_key))
    used = sorted({food_id for dish in dishes for food_id in dish.grams} - tap)
    stocked = {s.food_id for rows in supplies.values() for s in rows if s.stock_index is not None}
    foods = tuple(sorted((set(used) | stocked) - tap))
    return Problem(
        scenario=scenario,
        clients=scenario.clients,
        cook_days=scenario.cook_days,
        dishes=dishes,
        cookings=cookings,
        slots=slots,
        groups=_groups(scenario, slots),
        foods=foods,
        supplies=tuple(s for food_id in foods for s in supplies[food_id]),
        offers={food_id: offers[food_id] for food_id in foods},
        value_minor_per_g={food_id: value_per_g(offers[food_id]) for food_id in foods},
        soft_limits=soft_limits(catalog, scenario),
    )


def _option_key(option: Option) -> tuple[int, int]:
    return (option.dish, option.cook)


def _groups(scenario: Scenario, slots: tuple[Slot, ...]) -> tuple[DayGroup, ...]:
    by_day: dict[tuple[int, int], list[int]] = {}
    for index, slot in enumerate(slots):
        by_day.setdefault((slot.client, slot.day), []).append(index)
    found: dict[object, list[tuple[int, tuple[int, ...]]]] = {}
    for (c, day), members in by_day.items():
        windows = day_windows(scenario, scenario.clients[c], day)
        shape = tuple((slots[i].meal, slots[i].options) for i in members)
        key = (c, shape, tuple(sorted(windows.items())))
        found.setdefault(key, []).append((day, tuple(members)))
    groups = []
    for rows in found.values():
        first = slots[rows[0][1][0]]
        groups.append(
            DayGroup(
                client=first.client,
                days=tuple(day for day, _ in rows),
                slots=tuple(members for _, members in rows),
                windows=day_windows(scenario, scenario.clients[first.client], rows[0][0]),
            )
        )
    return tuple(groups)


def restrict(problem: Problem, cookings: set[Option]) -> Problem:
    """Return the problem with only some cookings; every plan of it is a plan of the whole."""
    slots = tuple(
        replace(slot, options=tuple(o for o in slot.options if o in cookings))
        for slot in problem.slots
    )
    kept = tuple(cooking for cooking in problem.cookings if cooking in cookings)
    return replace(problem, slots=slots, cookings=kept)
