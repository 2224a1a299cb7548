"""Supplies: where the grams of a food can come from, when they are usable, what they are worth."""

from __future__ import annotations

from collections.abc import Iterable, Sequence
from dataclasses import dataclass
from datetime import date, timedelta

from planopt.catalog.quantities import Quantities
from planopt.catalog.records import Catalog, Food, Pack
from planopt.scenario.records import Scenario, Stock
from planopt.units import to_minor


@dataclass(frozen=True)
class PackOffer:
    """A pack that may be bought. `price_minor` is exact; `edible_g` is what it gives."""

    pack_id: str
    seller_id: str
    edible_g: float
    price_minor: int
    continuous: bool


@dataclass(frozen=True)
class Supply:
    """One source of one food.

    `shop_day` is None for stock, and `stock_index` None for purchases. `cook_days` are those that
    may use it. `wasted` tells whether what is left of it counts as waste.
    """

    food_id: str
    shop_day: int | None
    stock_index: int | None
    available_g: float
    cook_days: tuple[int, ...]
    usable_until: date | None
    wasted: bool


def usable_days(food: Food) -> int | None:
    """Return days a purchase is usable: the shorter of unopened and opened life, None = no limit.

    Cautious: a pack opened at its first use must last until its last use.
    """
    lives = [days for days in (food.keeps_days, food.opened_keeps_days) if days is not None]
    return min(lives) if lives else None


def offers_of(
    food_id: str,
    catalog: Catalog,
    scenario: Scenario,
    quantities: Quantities,
    packs: Iterable[Pack] | None = None,
) -> tuple[PackOffer, ...]:
    """Return the packs of a food that the scenario's sellers and currency allow, by id.

    `packs` are those of this food, where the caller has them at hand.
    """
    sellers = set(scenario.sellers if scenario.sellers is not None else catalog.sellers)
    return tuple(
        PackOffer(
            pack.pack_id,
            pack.seller_id,
            quantities.pack_edible_g(pack),
            to_minor(pack.price, pack.currency),
            pack.sold == "any",
        )
        for pack in (catalog.packs.values() if packs is None else packs)
        if pack.food_id == food_id
        and pack.seller_id in sellers
        and pack.currency == scenario.currency
    )


def value_per_g(offers: tuple[PackOffer, ...]) -> float:
    """Return the least price in minor units per edible gram; 0 for a food that is not sold."""
    return min((o.price_minor / o.edible_g for o in offers), default=0.0)


def stock_of(scenario: Scenario) -> dict[str, list[tuple[int, Stock]]]:
    """Return the stock entries of each food with their positions, in order."""
    found: dict[str, list[tuple[int, Stock]]] = {}
    for index, entry in enumerate(scenario.stock):
        found.setdefault(entry.food, []).append((index, entry))
    return found


def supplies_of(
    food: Food,
    scenario: Scenario,
    quantities: Quantities,
    on_hand: Sequence[tuple[int, Stock]] | None = None,
) -> tuple[Supply, ...]:
    """Return the supplies of a food: its stock entries, then its shop days.

    Where a shop visit costs nothing, a later shop day is left out when an earlier one serves every
    cook day with the same fate for what is left: buying earlier is then as good for every plan.
    `on_hand` are the stock entries of this food, where the caller has them at hand.
    """
    cook_days = tuple(cook.day for cook in scenario.cook_days)
    end = scenario.date_of(scenario.days)
    carry_until = end + timedelta(days=scenario.carry_days)
    found: list[Supply] = []
    if on_hand is None:
        on_hand = stock_of(scenario).get(food.food_id, [])
    for index, stock in on_hand:
        usable = tuple(
            day
            for day in cook_days
            if stock.use_by is None or scenario.date_of(day) <= stock.use_by
        )
        grams = quantities.stock_edible_g(stock.food, stock.amount, stock.unit)
        wasted = stock.use_by is not None and stock.use_by < carry_until
        found.append(Supply(food.food_id, None, index, grams, usable, stock.use_by, wasted))
    life = usable_days(food)
    shops: list[Supply] = []
    # Where packs are bought already, or days are over, shop days are not alike.
    settled = bool(scenario.by_hand.bought) or scenario.by_hand.from_day is not None
    for shop_day in scenario.shopping_days():
        usable = tuple(
            day for day in cook_days if shop_day <= day and (life is None or day - shop_day <= life)
        )
        until = None if life is None else scenario.date_of(shop_day) + timedelta(days=life)
        wasted = until is not None and until < carry_until
        replaced = scenario.visit_cost == 0 and any(
            set(usable) <= set(other.cook_days) and wasted == other.wasted for other in shops
        )
        if (usable and not replaced) or settled:
            shops.append(Supply(food.food_id, shop_day, None, float("inf"), usable, until, wasted))
    return (*found, *shops)
