"""Sources: where food comes from, and what of it each cook day may use."""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import dataclass

from planopt.catalog.records import Catalog
from planopt.problem.dishes import Dish
from planopt.problem.shared import shared_of
from planopt.problem.supplies import PackOffer, Supply, stock_of, supplies_of
from planopt.scenario.records import Scenario


def food_sources(
    catalog: Catalog, scenario: Scenario
) -> tuple[dict[str, tuple[PackOffer, ...]], dict[str, tuple[Supply, ...]]]:
    """Return, for each food, the packs of the scenario's sellers, and where its grams come from."""
    shared = shared_of(catalog)
    on_hand = stock_of(scenario)
    offers: dict[str, tuple[PackOffer, ...]] = {}
    supplies: dict[str, tuple[Supply, ...]] = {}
    for food_id, food in catalog.foods.items():
        offers[food_id] = shared.offers(food_id, scenario)
        rows = supplies_of(food, scenario, shared.quantities, on_hand.get(food_id, ()))
        supplies[food_id] = tuple(
            supply for supply in rows if supply.stock_index is not None or offers[food_id]
        )
    return offers, supplies


@dataclass(frozen=True)
class Sources:
    """Where food comes from: packs, supplies, foods of the tap, and what each cook day may use."""

    offers: dict[str, tuple[PackOffer, ...]]
    supplies: dict[str, tuple[Supply, ...]]
    tap: frozenset[str]
    usable: tuple[frozenset[str], ...]


def sources_of(catalog: Catalog, scenario: Scenario) -> Sources:
    """Return where the food of a scenario comes from."""
    offers, supplies = food_sources(catalog, scenario)
    tap = frozenset(food_id for food_id, food in catalog.foods.items() if food.storage == "tap")
    usable: dict[int, set[str]] = {cook.day: set(tap) for cook in scenario.cook_days}
    for food_id, rows in supplies.items():
        for day in {day for supply in rows for day in supply.cook_days}:
            usable[day].add(food_id)
    days = tuple(frozenset(usable[cook.day]) for cook in scenario.cook_days)
    return Sources(offers, supplies, tap, days)


def foods_in_play(dishes: Iterable[Dish], sources: Sources, scenario: Scenario) -> tuple[str, ...]:
    """Return the foods of these dishes, and those that are on hand or bought already, sorted."""
    used = {food_id for dish in dishes for food_id in dish.foods()}
    stocked = {
        food_id
        for food_id, rows in sources.supplies.items()
        if any(supply.stock_index is not None for supply in rows)
    }
    bought = {
        food_id
        for food_id, offers in sources.offers.items()
        if any(offer.pack_id == row.pack for offer in offers for row in scenario.by_hand.bought)
    }
    return tuple(sorted((used | stocked | bought) - sources.tap))
