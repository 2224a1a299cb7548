"""Ready portions: as many as there are, by whom they may be eaten, and never past their day."""

from __future__ import annotations

from collections.abc import Iterator
from datetime import date
from fractions import Fraction

from planopt.audit.books import BatchKey, Books, later
from planopt.audit.dishes import Dish
from planopt.audit.findings import Finding, above, exact, same_amount, same_grams, show, unequal
from planopt.audit.handling import days_kept
from planopt.plan.records import Portion, ReadyBatch
from planopt.scenario.ready import ReadyPortions


def check_ready(books: Books) -> Iterator[Finding]:
    """Check that the plan tells of all ready portions, and eats no more than there are."""
    rows = {(row.recipe_id, row.version, row.cook_day): row for row in books.plan.ready}
    for key in sorted(books.ready.keys() | rows.keys()):
        where = _where(key)
        if key not in books.ready or key not in rows:
            found = "no row" if key in books.ready else "a row for what nobody has"
            yield Finding("ready", where, "a row for what the scenario has", found)
        else:
            yield from _check_row(books, key, rows[key])


def _where(key: BatchKey) -> str:
    return f"ready {key[0]} {key[1]} of day {key[2]}"


def _check_row(books: Books, key: BatchKey, row: ReadyBatch) -> Iterator[Finding]:
    entry, where = books.ready[key], _where(key)
    dish = books.dish(row.recipe_id, row.version)
    if dish is None:
        yield Finding("unknown-version", where, "a version of a recipe", row.version)
        return
    had = _servings(entry, dish)
    eaten = books.eaten_of_batch.get(key, Fraction(0))
    if above(eaten, had):
        yield Finding("over-eaten", where, f"at most {show(had)} servings eaten", show(eaten))
    stated = (
        ("servings", had, row.servings),
        ("servings_eaten", eaten, row.servings_eaten),
        ("servings_left", max(Fraction(0), had - eaten), row.servings_left),
        ("batches", had / exact(dish.recipe.yield_servings), row.batches),
    )
    for field, expected, found in stated:
        if not same_amount(expected, exact(found)):
            yield Finding("ready", f"{where}, {field}", show(expected), show(found))
    facts = (
        ("recipe_name", dish.name, row.recipe_name),
        ("cook_date", entry.cooked_on, row.cook_date),
        ("kept", entry.kept, row.kept),
        ("price", exact(entry.price), exact(row.price)),
        ("clients", entry.clients, row.clients),
        ("keeps_until", _last(books, entry, dish), row.keeps_until),
    )
    for field, wanted, told in facts:
        yield from unequal("ready", f"{where}, {field}", wanted, told)
    yield from _check_lines(dish, row, where, had / exact(dish.recipe.yield_servings))


def _check_lines(dish: Dish, row: ReadyBatch, where: str, batches: Fraction) -> Iterator[Finding]:
    expected = [(item.line, item.food_id, item.part, item.chosen) for item in dish.items]
    found = [(line.line, line.food_id, line.part, line.chosen) for line in row.lines]
    if expected != found:
        yield Finding("ready", f"{where}, lines", "those of the recipe", "others")
        return
    for item, line in zip(dish.items, row.lines, strict=True):
        grams = (item.grams or Fraction(0)) * batches
        if not same_grams(grams, exact(line.grams)):
            place = f"{where}, line {line.line}"
            yield Finding("ready", f"{place}, grams", show(grams), show(line.grams))


def _servings(entry: ReadyPortions, dish: Dish) -> Fraction:
    if entry.servings is not None:
        return exact(entry.servings)
    batch = sum((item.grams or Fraction(0) for item in dish.items), Fraction(0))
    one = batch / exact(dish.recipe.yield_servings)
    return exact(entry.grams or 0) / one if one else Fraction(0)


def _last(books: Books, entry: ReadyPortions, dish: Dish) -> date | None:
    """Return the last date: the earlier of what is written and what is published or said."""
    keeping = days_kept(books.catalog, dish, books.scenario.keeping_rule == "shortest", True)
    if keeping is None:
        return None
    days = keeping[1] if entry.kept == "freezer" else keeping[0]
    kept = later(entry.cooked_on, days or 0)
    return entry.use_by if kept is None else min(entry.use_by, kept)


def check_ready_portion(
    books: Books, entry: ReadyPortions, dish: Dish, row: Portion
) -> Iterator[Finding]:
    """Check who eats a ready portion, on which day, and how it was kept."""
    where = f"portion of {row.client_id} day {row.day} {row.meal}: ready {row.recipe_id}"
    if entry.clients and row.client_id not in entry.clients:
        who = ", ".join(sorted(entry.clients))
        yield Finding("ready-for-others", where, f"one of {who}", row.client_id)
    last, eaten_on = _last(books, entry, dish), books.date_of(row.day)
    if last is None or eaten_on is None or eaten_on > last:
        yield Finding("kept-too-long", where, f"eaten up to {show(last)}", show(eaten_on))
    thaw_on = later(eaten_on, -1) if entry.kept == "freezer" else None
    yield from unequal("portion-storage", f"{where}, stored", entry.kept, row.stored)
    yield from unequal("portion-storage", f"{where}, thaw_on", thaw_on, row.thaw_on)


def ready_minor(books: Books) -> Fraction:
    """Return the price of the ready portions that are eaten, unrounded."""
    total = Fraction(0)
    for key, entry in books.ready.items():
        total += exact(entry.price) * books.eaten_of_batch.get(key, Fraction(0))
    return total * books.minor_per_unit
