"""What is settled by hand: dishes on plates, packs bought and batches cooked stand as they are."""

from __future__ import annotations

from collections import defaultdict
from collections.abc import Iterator
from fractions import Fraction

from planopt.audit.books import Books
from planopt.audit.findings import Finding, above, exact, same_amount, show
from planopt.plan.records import Portion
from planopt.scenario.byhand import PlateRule


def check_by_hand(books: Books) -> Iterator[Finding]:
    """Check every plate, purchase and batch that the scenario settles."""
    for client in books.scenario.clients:
        for day in range(1, books.scenario.days + 1):
            for meal in books.scenario.meals_of(client, day):
                yield from _check_plate(books, (client.client_id, day, meal))
    yield from _check_bought(books)
    yield from _check_cooked(books)


def _where_named(rule: PlateRule) -> tuple[object, object, object]:
    return rule.client, rule.day, rule.meal


def _check_plate(books: Books, plate: tuple[str, int, str]) -> Iterator[Finding]:
    rules = [
        rule
        for rule in books.scenario.by_hand.plates
        if all(
            named is None or named == found
            for named, found in zip(_where_named(rule), plate, strict=True)
        )
    ]
    if not rules:
        return
    served = books.portions_of.get(plate, [])
    who = f"{plate[0]} day {plate[1]} {plate[2]}"
    for row in served:
        if any(rule.without == row.recipe_id for rule in rules):
            yield Finding("by-hand", who, f"no {row.recipe_id}", row.recipe_id)
    puts = [rule for rule in rules if rule.put is not None]
    # Of several rules, those count that say most of where.
    closest = max((3 - _where_named(rule).count(None) for rule in puts), default=0)
    puts = [rule for rule in puts if 3 - _where_named(rule).count(None) == closest]
    for rule in puts:
        mine = [row for row in served if _is_put(rule, row)]
        total = sum((exact(row.servings) for row in mine), Fraction(0))
        if not mine:
            found = ", ".join(sorted(row.recipe_id for row in served)) or "nothing"
            yield Finding("by-hand", who, _words(rule), found)
        elif rule.servings is not None and not same_amount(exact(rule.servings), total):
            yield Finding("by-hand", f"{who} {rule.put}", show(exact(rule.servings)), show(total))
    for row in served:
        if puts and not any(_is_put(rule, row) for rule in puts):
            wanted = " and ".join(_words(rule) for rule in puts)
            yield Finding("by-hand", who, f"{wanted} alone", row.recipe_id)


def _is_put(rule: PlateRule, row: Portion) -> bool:
    return (
        row.recipe_id == rule.put
        and (rule.version is None or rule.version == row.version)
        and (rule.cook_day is None or rule.cook_day == row.cook_day)
    )


def _words(rule: PlateRule) -> str:
    cooked = "" if rule.cook_day is None else f" from cook day {rule.cook_day}"
    return " ".join(filter(None, [rule.put, rule.version])) + cooked


def _check_bought(books: Books) -> Iterator[Finding]:
    hand = books.scenario.by_hand
    counts: dict[tuple[str, int], Fraction] = defaultdict(Fraction)
    for row in books.plan.purchases:
        counts[row.pack_id, row.shop_day] += exact(row.count)
    had = {(row.pack, row.day): exact(row.count) for row in hand.bought}
    for (pack, day), count in sorted(had.items()):
        if counts[pack, day] < count:
            least = f"{show(count)}, bought already"
            yield Finding("by-hand", f"{pack} on day {day}", least, show(counts[pack, day]))
    for (pack, day), count in sorted(counts.items()):
        record = books.catalog.packs.get(pack)
        over = hand.from_day is not None and day < hand.from_day
        over = over or (record is not None and record.food_id in hand.sold_out)
        if over and count > had.get((pack, day), Fraction(0)):
            most = f"at most {show(had.get((pack, day), Fraction(0)))}, as was bought"
            yield Finding("by-hand", f"{pack} on day {day}", most, show(count))


def _check_cooked(books: Books) -> Iterator[Finding]:
    hand = books.scenario.by_hand
    cooked = {(row.recipe, row.version, row.day): row for row in hand.cooked}
    made = {
        (row.recipe_id, row.version, row.cook_day): exact(row.batches) for row in books.plan.batches
    }
    for key, row in sorted(cooked.items()):
        where = f"batch of {key[0]} {key[1]} on cook day {key[2]}"
        count = made.get(key, Fraction(0))
        if not same_amount(exact(row.batches), count):
            wanted = f"{show(exact(row.batches))}, cooked already"
            yield Finding("by-hand", where, wanted, show(count))
        recipe = books.catalog.recipes.get(row.recipe)
        if recipe is not None and row.lost:
            left = count * exact(recipe.yield_servings) - exact(row.lost)
            eaten = books.eaten_of_batch.get(key, Fraction(0))
            if above(eaten, left):
                yield Finding("by-hand", where, f"{show(left)} servings not lost", show(eaten))
    for key in sorted(made.keys() - cooked.keys()):
        if hand.from_day is not None and key[2] < hand.from_day:
            where = f"batch of {key[0]} {key[1]} on cook day {key[2]}"
            yield Finding("by-hand", where, "nothing more cooked before today", show(made[key]))
