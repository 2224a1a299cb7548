"""Purchases and stock: what was available, what the batches took, and what is left."""

from __future__ import annotations

from collections import defaultdict
from collections.abc import Iterator
from dataclasses import dataclass
from datetime import date
from fractions import Fraction

from planopt.audit.books import Books, later
from planopt.audit.findings import (
    MILLIONTH,
    Finding,
    exact,
    grams_tolerance,
    rounded_minor,
    same_grams,
    show,
    unequal,
)
from planopt.catalog.records import Pack
from planopt.plan.records import FoodUse, Purchase

SupplyKey = tuple[str, str]  # food, supply text


@dataclass(frozen=True)
class Supply:
    """Edible grams of one food that can be used from a shop day on, up to a date."""

    grams: Fraction
    from_day: int | None
    usable_until: date | None

    def usable_on(self, day: int, on: date | None) -> bool:
        """Tell whether the supply may go into a batch of that cook day."""
        bought = self.from_day is None or self.from_day <= day
        return bought and (self.usable_until is None or (on or date.max) <= self.usable_until)


def supplies_of(books: Books) -> dict[SupplyKey, Supply]:
    """Return every supply that the purchases and the scenario's stock make."""
    bought: dict[tuple[str, int], Fraction] = defaultdict(Fraction)
    for row in books.plan.purchases:
        pack = books.catalog.packs.get(row.pack_id)
        grams = None if pack is None else books.pack_grams(pack)
        if pack is not None and grams is not None:
            bought[pack.food_id, row.shop_day] += grams * exact(row.count)
    supplies: dict[SupplyKey, Supply] = {}
    for (food_id, shop_day), grams in bought.items():
        food = books.catalog.foods[food_id]
        limits = [days for days in (food.keeps_days, food.opened_keeps_days) if days is not None]
        until = later(books.date_of(shop_day), min(limits)) if limits else None
        supplies[food_id, f"shop day {shop_day}"] = Supply(grams, shop_day, until)
    for index, entry in enumerate(books.scenario.stock):
        edible = books.conversions.edible_grams(entry.food, entry.amount, entry.unit)
        if edible is not None:
            supplies[entry.food, f"stock {index}"] = Supply(edible, None, entry.use_by)
    return supplies


def left_of(supply: Supply, row: FoodUse) -> Fraction:
    """Return the grams left, never below nothing."""
    used = sum(map(exact, row.used_g.values()), Fraction(0))
    return max(Fraction(0), supply.grams - used)


def spoils(books: Books, supply: Supply) -> bool:
    """Tell whether a leftover of the supply is wasted rather than carried into later weeks."""
    if supply.usable_until is None:
        return False
    carried_from = later(books.end_date, books.scenario.carry_days)
    return supply.usable_until < (carried_from or date.max)


def _fates(books: Books, supply: Supply, left: Fraction) -> tuple[str, ...]:
    """Return the fates that the plan may state; two for a trace within the mass tolerance."""
    fate = "wasted" if spoils(books, supply) else "carried"
    if left <= MILLIONTH:
        return ("nothing left",)
    return ("nothing left", fate) if left <= grams_tolerance(supply.grams) else (fate,)


def check_supplies(books: Books) -> Iterator[Finding]:
    """Check the purchases, then the account of every food."""
    for purchase in books.plan.purchases:
        yield from _check_purchase(books, purchase)
    for index, entry in enumerate(books.scenario.stock):
        if books.conversions.edible_grams(entry.food, entry.amount, entry.unit) is None:
            where = f"stock {index} of {entry.food}"
            yield Finding("conversion", where, "grams from the catalog", "no way to convert")
    supplies = supplies_of(books)
    rows = {(row.food_id, row.supply) for row in books.plan.food_uses}
    for key in supplies.keys() - rows:
        if not books.is_tap(key[0]):
            yield Finding("supply-row", " from ".join(key), "a food use", "none")
    for row in books.plan.food_uses:
        supply = supplies.get((row.food_id, row.supply))
        if supply is None:
            where = f"{row.food_id} from {row.supply}"
            yield Finding("supply-row", where, "a purchase or stock of that food", "none")
        else:
            yield from _check_use(books, supply, row)
    yield from _check_balance(books)


def _check_purchase(books: Books, row: Purchase) -> Iterator[Finding]:
    where = f"purchase of {row.pack_id} on shop day {row.shop_day}"
    if row.shop_day not in books.scenario.shopping_days():
        yield Finding("shop-day", where, "a shop day of the scenario", show(row.shop_day))
    shop_date = books.date_of(row.shop_day)
    yield from unequal("purchase-facts", f"{where}, shop_date", shop_date, row.shop_date)
    count = exact(row.count)
    pack = books.catalog.packs.get(row.pack_id)
    if count <= 0 or (count.denominator != 1 and (pack is None or pack.sold != "any")):
        yield Finding("pack-count", where, "a whole number of 1 or more", show(row.count))
    if pack is None:
        yield Finding("unknown-id", where, "a pack of the catalog", row.pack_id)
        return
    if not books.pack_allowed(pack):
        wanted = f"a seller the scenario allows, in {books.scenario.currency}"
        yield Finding("pack-allowed", where, wanted, f"{pack.seller_id}, {pack.currency}")
    if books.is_tap(pack.food_id):
        yield Finding("pack-allowed", where, "tap water not bought", pack.food_id)
    food = books.catalog.foods.get(pack.food_id)
    stated = (
        ("seller_id", pack.seller_id, row.seller_id),
        ("food_id", pack.food_id, row.food_id),
        ("food_name", None if food is None else food.name, row.food_name),
        ("sold", pack.sold, row.sold),
        ("size", exact(pack.size), exact(row.size)),
        ("unit", pack.unit, row.unit),
        ("price_each", exact(pack.price), exact(row.price_each)),
    )
    for field, expected, found in stated:
        yield from unequal("purchase-facts", f"{where}, {field}", expected, found)
    yield from _check_amounts(books, pack, row, where)


def _check_amounts(books: Books, pack: Pack, row: Purchase, where: str) -> Iterator[Finding]:
    price = exact(pack.price) * exact(row.count) * books.minor_per_unit
    if exact(row.price) * books.minor_per_unit not in rounded_minor(price):
        yield Finding("price", where, show(price / books.minor_per_unit), show(row.price))
    grams = books.pack_grams(pack)
    if grams is None:
        yield Finding("conversion", where, "grams from the catalog", "no way to convert")
    elif not same_grams(grams * exact(row.count), exact(row.edible_g)):
        expected = show(grams * exact(row.count))
        yield Finding("purchase-facts", f"{where}, edible_g", expected, show(row.edible_g))


def _check_use(books: Books, supply: Supply, row: FoodUse) -> Iterator[Finding]:
    where = f"{row.food_id} from {row.supply}"
    food = books.catalog.foods.get(row.food_id)
    name = None if food is None else food.name
    yield from unequal("leftover", f"{where}, food_name", name, row.food_name)
    for day, grams in row.used_g.items():
        if day not in books.cook_days:
            yield Finding("cook-day", where, "use on a cook day of the scenario", f"day {day}")
        if grams < 0:
            yield Finding("supply-use", where, "0 g or more", f"{grams} g on day {day}")
        elif grams > 0 and not supply.usable_on(day, books.date_of(day)):
            span = f"use from day {show(supply.from_day)} up to {show(supply.usable_until)}"
            yield Finding("supply-usable", where, span, f"{grams} g on day {day}")
    used = sum(map(exact, row.used_g.values()), Fraction(0))
    if used > supply.grams + grams_tolerance(supply.grams):
        most = f"at most {show(supply.grams)} g used"
        yield Finding("supply-overused", where, most, show(used))
    left = left_of(supply, row)
    masses = (("available_g", supply.grams, row.available_g), ("left_g", left, row.left_g))
    for field, expected, found in masses:
        if not same_grams(expected, exact(found)):
            yield Finding("leftover", f"{where}, {field}", show(expected), show(found))
    until = supply.usable_until
    yield from unequal("leftover", f"{where}, usable_until", until, row.usable_until)
    fates = _fates(books, supply, left)
    if row.fate not in fates:
        yield Finding("leftover", f"{where}, fate", " or ".join(fates), row.fate)
    value = left * books.value_per_gram(row.food_id)
    if exact(row.left_value) * books.minor_per_unit not in rounded_minor(value):
        expected_value = show(value / books.minor_per_unit)
        yield Finding("leftover", f"{where}, left_value", expected_value, show(row.left_value))


def _check_balance(books: Books) -> Iterator[Finding]:
    """Compare what the batches need with what the supplies gave, food by food and day by day."""
    needed: dict[tuple[str, int], Fraction] = defaultdict(Fraction)
    for batch in books.plan.batches:
        dish = books.dish(batch.recipe_id, batch.version)
        for item in dish.items if dish is not None else ():
            grams = (item.grams or Fraction(0)) * exact(batch.batches)
            needed[item.food_id, batch.cook_day] += grams
    given: dict[tuple[str, int], Fraction] = defaultdict(Fraction)
    for row in books.plan.food_uses:
        for day, used in row.used_g.items():
            given[row.food_id, day] += exact(used)
    for food_id, day in sorted(needed.keys() | given.keys()):
        if books.is_tap(food_id):
            continue
        expected, found = needed[food_id, day], given[food_id, day]
        if not same_grams(expected, found):
            where = f"{food_id} on cook day {day}"
            yield Finding("supply-balance", where, f"{show(expected)} g", f"{show(found)} g")
