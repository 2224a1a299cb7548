"""Dominance: batch steps, packs and sets of packs that a plan could do without.

A plan may comply and be absurd all the same: 50 packs that no dish needs break no limit. With its
portions held, a plan is accused of a batch step that nobody eats from; with its batches held, of a
pack that no dish needs, and of packs of one food that others would replace for
less, visits and waste counted. Where that is too much to search, nothing is said.

Method: depth-first search over packs, cheapest gram first, cut by what the rest must cost by the
gram; what it finds is recomputed with exact fractions before anything is said.
Source: common practice, no source.
"""

from __future__ import annotations

from collections import defaultdict
from collections.abc import Iterator
from dataclasses import dataclass
from datetime import date
from fractions import Fraction
from math import ceil

from planopt.audit.books import Books, later
from planopt.audit.findings import Finding, exact, rounded_minor, show
from planopt.audit.kitchen import STEPS
from planopt.audit.supplies import Supply, spoils
from planopt.catalog.records import Pack

_TRACE_SERVINGS = Fraction(1, 1000)
_TRACE_MINOR = Fraction(1)
_MOST_NODES = 4000

Line = tuple[str, int]  # pack, shop day


def check_dominance(books: Books) -> Iterator[Finding]:
    """Check batches against what is eaten, and packs against what is cooked."""
    yield from _check_batches(books)
    baskets = _baskets(books)
    visits = {
        (books.catalog.packs[pack_id].seller_id, day)
        for lines in baskets.values()
        for pack_id, day in lines
    }
    needs = _needs(books)
    hand = books.scenario.by_hand
    bought = {row.pack for row in hand.bought}
    for food_id, lines in sorted(baskets.items()):
        # What is bought already cannot go back, nor are other packs bought on days that are over.
        if any(pack_id in bought for pack_id, _ in lines):
            continue
        store = _Store(books, food_id, needs.get(food_id, {}))
        needless = list(_check_needless(books, store, lines))
        yield from needless
        if not needless and hand.from_day is None and food_id not in hand.sold_out:
            yield from _check_cheaper(books, store, lines, visits, baskets)


def _check_batches(books: Books) -> Iterator[Finding]:
    # What is cooked already is there, whether anybody eats it or not.
    cooked = {(row.recipe, row.version, row.day) for row in books.scenario.by_hand.cooked}
    for batch in books.plan.batches:
        recipe = books.catalog.recipes.get(batch.recipe_id)
        if recipe is None:
            continue
        key = (batch.recipe_id, batch.version, batch.cook_day)
        eaten = books.eaten_of_batch.get(key, Fraction(0))
        count, yields = exact(batch.batches), exact(recipe.yield_servings)
        step = STEPS.get(recipe.batch.step)
        if step is None:
            least = eaten / yields
            needless = count - least > _TRACE_SERVINGS / yields
        else:
            least = ceil(eaten / yields / step) * step
            needless = count >= least + step
        if needless and key not in cooked:
            where = f"batch of {batch.recipe_id} {batch.version} on cook day {batch.cook_day}"
            yield Finding("needless-batch", where, f"{show(least)} for what is eaten", show(count))


def _baskets(books: Books) -> dict[str, dict[Line, Fraction]]:
    """Return the packs bought of each food by pack and shop day; unknown packs are left out."""
    baskets: dict[str, dict[Line, Fraction]] = defaultdict(dict)
    for row in books.plan.purchases:
        pack = books.catalog.packs.get(row.pack_id)
        if pack is not None and books.pack_grams(pack):
            lines = baskets[pack.food_id]
            key = (row.pack_id, row.shop_day)
            lines[key] = lines.get(key, Fraction(0)) + exact(row.count)
    return baskets


def _needs(books: Books) -> dict[str, dict[int, Fraction]]:
    """Return the grams of each food that the batches hold, by cook day."""
    needs: dict[str, dict[int, Fraction]] = defaultdict(lambda: defaultdict(Fraction))
    for batch in books.plan.batches:
        dish = books.dish(batch.recipe_id, batch.version)
        for item in dish.items if dish is not None else ():
            needs[item.food_id][batch.cook_day] += (item.grams or 0) * exact(batch.batches)
    return needs


@dataclass(frozen=True)
class _Kind:
    """A pack that could be bought on a shop day: floats for the search, which exact sums check."""

    line: Line
    seller_id: str
    grams: float
    price: float


class _Store:
    """One food: its stock, what its packs hold, and what is left of them after cooking."""

    def __init__(self, books: Books, food_id: str, needs: dict[int, Fraction]) -> None:
        self.books = books
        self.food_id = food_id
        self.needs = {day: grams for day, grams in sorted(needs.items()) if grams > 0}
        self.food = books.catalog.foods[food_id]
        self.stock = [
            Supply(grams, None, entry.use_by)
            for entry in books.scenario.stock
            if entry.food == food_id
            and (grams := books.conversions.edible_grams(food_id, entry.amount, entry.unit))
        ]

    def pack(self, line: Line) -> Pack:
        """Return the pack of a line."""
        return self.books.catalog.packs[line[0]]

    def grams(self, line: Line) -> Fraction:
        """Return the edible grams of one pack of a line."""
        return self.books.pack_grams(self.pack(line)) or Fraction(0)

    def supply(self, day: int, grams: Fraction) -> Supply:
        """Return what is bought on a shop day as a supply."""
        lives = [n for n in (self.food.keeps_days, self.food.opened_keeps_days) if n is not None]
        until = later(self.books.date_of(day), min(lives)) if lives else None
        return Supply(grams, day, until)

    def wasted(self, lines: dict[Line, Fraction]) -> Fraction | None:
        """Return grams that spoil with these packs; None where a cook day is short of food.

        What spoils first is used first, which falls short only if every way does, and spoils least.
        """
        of_day: dict[int, Fraction] = defaultdict(Fraction)
        for line, count in lines.items():
            of_day[line[1]] += self.grams(line) * count
        supplies = [*self.stock, *(self.supply(day, grams) for day, grams in of_day.items())]
        supplies.sort(key=lambda one: one.usable_until or date.max)
        left = [one.grams for one in supplies]
        for day, need in self.needs.items():
            for n, one in enumerate(supplies):
                if need > 0 and one.usable_on(day, self.books.date_of(day)):
                    taken = min(need, left[n])
                    left[n] -= taken
                    need -= taken
            if need > 0:
                return None
        spoilt = (
            grams for one, grams in zip(supplies, left, strict=True) if spoils(self.books, one)
        )
        return sum(spoilt, Fraction(0))

    def counted(self, lines: dict[Line, Fraction], others: set[tuple[str, int]]) -> Fraction | None:
        """Return what these packs cost in minor units, visits and waste counted.

        `others` are the visits made for other foods. None where they are too few.
        """
        wasted = self.wasted(lines)
        if wasted is None:
            return None
        unit = self.books.minor_per_unit
        visits = others | {(self.pack(line).seller_id, line[1]) for line in lines}
        paid = exact(self.books.scenario.visit_cost) * unit * max(0, len(visits) - 1)
        waste = wasted * self.books.value_per_gram(self.food_id)
        return self.till(lines) + paid + exact(self.books.scenario.waste_weight) * waste

    def till(self, lines: dict[Line, Fraction]) -> Fraction:
        """Return the price of packs in minor units."""
        unit = self.books.minor_per_unit
        prices = (exact(self.pack(line).price) * count * unit for line, count in lines.items())
        return sum(prices, Fraction(0))

    def kinds(self) -> list[_Kind]:
        """Return every pack that could be bought of the food on a shop day, cheapest gram first."""
        found = []
        for pack in self.books.packs_of.get(self.food_id, ()):
            if not self.books.pack_allowed(pack):
                continue
            grams = self.books.pack_grams(pack)
            if not grams:
                continue
            price = float(exact(pack.price) * self.books.minor_per_unit)
            for day in sorted(set(self.books.scenario.shopping_days())):
                supply = self.supply(day, grams)
                if any(supply.usable_on(cook, self.books.date_of(cook)) for cook in self.needs):
                    line = (pack.pack_id, day)
                    found.append(_Kind(line, pack.seller_id, float(grams), price))
        return sorted(found, key=lambda kind: (kind.price / kind.grams, kind.line))


def _check_needless(books: Books, store: _Store, lines: dict[Line, Fraction]) -> Iterator[Finding]:
    """Take one pack off each line: is there enough all the same?"""
    for line, count in sorted(lines.items()):
        pack = store.pack(line)
        off = min(count, Fraction(1))
        if pack.sold == "any":
            # Any amount is sold, so what is worth a minor unit is a pack of its own.
            price = exact(pack.price) * books.minor_per_unit
            off = count if price <= 0 else min(count, _TRACE_MINOR / price)
        fewer = {**lines, line: count - off}
        if store.wasted(fewer) is not None:
            where = f"purchase of {line[0]} on shop day {line[1]}"
            least = _least(store, lines, line, off)
            yield Finding("needless-pack", where, f"{show(least)} for what is cooked", show(count))


def _least(store: _Store, lines: dict[Line, Fraction], line: Line, off: Fraction) -> Fraction:
    """Return how much of a line is needed, in the amounts taken off it."""
    count = lines[line]
    while count > 0 and store.wasted({**lines, line: max(Fraction(0), count - off)}) is not None:
        count = max(Fraction(0), count - off)
    return count


def _check_cheaper(
    books: Books,
    store: _Store,
    lines: dict[Line, Fraction],
    visits: set[tuple[str, int]],
    baskets: dict[str, dict[Line, Fraction]],
) -> Iterator[Finding]:
    """Look for packs of the food that cost less, all counted, than those bought."""
    if any(store.pack(line).sold == "any" for line in lines):
        return
    others = {
        (books.catalog.packs[pack_id].seller_id, day)
        for food_id, rows in baskets.items()
        if food_id != store.food_id
        for pack_id, day in rows
    }
    now = store.counted(lines, others)
    if now is None:
        return
    room = None
    if books.scenario.budget is not None:
        every = sum((store.till(rows) for rows in baskets.values()), Fraction(0))
        room = exact(books.scenario.budget) * books.minor_per_unit - every + store.till(lines)
    found = _cheaper(store, now, others, visits, room)
    if found is not None:
        names = ", ".join(
            f"{show(count)} of {pack_id} on shop day {day}"
            for (pack_id, day), count in sorted(found.items())
        )
        better = store.counted(found, others)
        assert better is not None
        unit = books.minor_per_unit
        yield Finding(
            "cheaper-packs",
            f"purchases of {store.food_id}",
            f"{show(better / unit)} in all for {names or 'nothing'}",
            show(now / unit),
        )


def _cheaper(
    store: _Store,
    now: Fraction,
    others: set[tuple[str, int]],
    visits: set[tuple[str, int]],
    room: Fraction | None,
) -> dict[Line, Fraction] | None:
    """Return whole packs that cost less in all by at least a minor unit, or None if none is seen.

    Where visits cost money, sellers and days are those visited already and one more at most.
    """
    need = float(sum(store.needs.values(), Fraction(0)) - sum(one.grams for one in store.stock))
    kinds = [kind for kind in store.kinds() if not _is_any(store, kind)]
    best, chosen, nodes = now - _TRACE_MINOR, dict[Line, Fraction](), 0
    found: dict[Line, Fraction] | None = None
    visits_cost = store.books.scenario.visit_cost > 0

    def go(place: int, short: float, paid: float) -> None:
        nonlocal best, found, nodes
        nodes += 1
        if nodes > _MOST_NODES or paid > float(best) + 1e-6:
            return
        if short <= 1e-6:
            # Two shop days may each have to cover a cook day, so enough in all may be too little.
            total = store.counted(chosen, others)
            if total is not None:
                if total <= best and (room is None or _till(store, chosen) <= room):
                    best, found = total - Fraction(1, 10**6), dict(chosen)
                return
        if place == len(kinds):
            return
        kind = kinds[place]
        # No later kind is cheaper by the gram.
        if paid + max(0.0, short) * kind.price / kind.grams > float(best) + 1e-6:
            return
        visit = (kind.seller_id, kind.line[1])
        mine = {(store.pack(line).seller_id, line[1]) for line in chosen}
        new = len((mine | {visit}) - visits)
        most = 0 if new > 1 and visits_cost else max(1, ceil(max(0.0, need) / kind.grams))
        for count in range(most, -1, -1):
            if count:
                chosen[kind.line] = Fraction(count)
            go(place + 1, short - count * kind.grams, paid + count * kind.price)
            chosen.pop(kind.line, None)

    go(0, need, 0.0)
    return found


def _is_any(store: _Store, kind: _Kind) -> bool:
    return store.pack(kind.line).sold == "any"


def _till(store: _Store, lines: dict[Line, Fraction]) -> Fraction:
    return Fraction(rounded_minor(store.till(lines))[-1])
