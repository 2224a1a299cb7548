"""Published reference intakes: the notes that a plan owes, and the limits of a guard."""

from __future__ import annotations

from collections.abc import Iterator
from fractions import Fraction

from planopt.audit.books import Books
from planopt.audit.findings import Finding, above, below, exact, same_amount, show
from planopt.catalog.records import ReferenceIntake
from planopt.plan.records import NutrientNote
from planopt.scenario.records import Client

ADULT = 19
LEAST = {"RDA": True, "AI": True, "UL": False, "CDRR": False}


def check_references(books: Books) -> Iterator[Finding]:
    """Check that all nutrients outside the references are told, and that guards are kept."""
    owed: dict[tuple[str, str, str], NutrientNote] = {}
    for client in books.scenario.clients:
        shares = _shares(books, client)
        if not shares:
            continue
        for row, own in _references(books, client):
            eaten, unknown = _eaten(books, client, row.nutrient_id)
            if client.nutrient_guard != "off":
                note = _note(client, row, own, shares, eaten, unknown)
                if note is not None:
                    owed[client.client_id, row.nutrient_id, row.kind] = note
            yield from _guard(client, row, sum(shares.values()), sum(eaten.values()))
    told: dict[tuple[str, str, str], NutrientNote] = {
        (note.client_id, note.nutrient_id, note.kind): note for note in books.plan.nutrient_notes
    }
    if len(told) < len(books.plan.nutrient_notes):
        yield Finding("nutrient-note", "nutrient_notes", "each note once", "one twice")
    for key in sorted(owed.keys() | told.keys()):
        yield from _compared(" ".join(key), owed.get(key), told.get(key))
    order = [key for key in owed if key in told]
    if sorted(order) == sorted(told) and _order(books, owed) != list(told):
        yield Finding(
            "nutrient-note", "nutrient_notes", "the order of clients and foods", "another"
        )


def _order(
    books: Books, owed: dict[tuple[str, str, str], NutrientNote]
) -> list[tuple[str, str, str]]:
    clients = [client.client_id for client in books.scenario.clients]
    nutrients = list(books.catalog.nutrients)
    return sorted(
        owed,
        key=lambda key: (
            clients.index(key[0]), not LEAST[key[2]], nutrients.index(key[1]), key[2],
        ),
    )  # fmt: skip


def _shares(books: Books, client: Client) -> dict[int, Fraction]:
    """Return the share of the day's meals that a client eats here, for days with any."""
    meals = len(books.scenario.meals)
    found = {
        day: Fraction(len(books.scenario.meals_of(client, day)), meals)
        for day in range(1, books.scenario.days + 1)
    }
    return {day: share for day, share in found.items() if share}


def _references(books: Books, client: Client) -> Iterator[tuple[ReferenceIntake, bool]]:
    """Yield the references of a client, each with whether it is of the client's own sex and age."""
    if client.age_years is not None and client.age_years < ADULT:
        return
    table = [
        row
        for row in books.catalog.reference_intakes
        if row.nutrient_id in books.catalog.nutrients and row.age_to >= ADULT
    ]
    for nutrient, kind in sorted({(row.nutrient_id, row.kind) for row in table}):
        rows = [row for row in table if (row.nutrient_id, row.kind) == (nutrient, kind)]
        mine = rows
        if client.sex is not None:
            mine = [row for row in mine if row.sex == client.sex]
        if client.age_years is not None:
            mine = [row for row in mine if row.age_from <= client.age_years <= row.age_to]
        whole = client.sex is not None and client.age_years is not None and bool(mine)
        lowest = min(exact(row.amount) for row in mine or rows)
        yield next(row for row in mine or rows if exact(row.amount) == lowest), whole


def _eaten(books: Books, client: Client, nutrient: str) -> tuple[dict[int, Fraction], bool]:
    """Return what is eaten of a nutrient by day, and whether some food's amount is unknown."""
    by_day: dict[int, Fraction] = {}
    unknown = False
    for row in books.plan.portions:
        if row.client_id != client.client_id:
            continue
        dish = books.dish(row.recipe_id, row.version)
        if dish is None:
            continue
        amount = dish.nutrients_per_serving.get(nutrient, Fraction(0)) * exact(row.servings)
        by_day[row.day] = by_day.get(row.day, Fraction(0)) + amount
        foods = [books.catalog.foods.get(food) for food in dish.foods]
        unknown |= any(food is None or food.nutrients.get(nutrient) is None for food in foods)
    return by_day, unknown


def _note(
    client: Client,
    row: ReferenceIntake,
    own: bool,
    shares: dict[int, Fraction],
    eaten: dict[int, Fraction],
    unknown: bool,
) -> NutrientNote | None:
    limit = exact(row.amount)
    average = sum(eaten.values(), Fraction(0)) / sum(shares.values())
    high: dict[int, Fraction] = {}
    if LEAST[row.kind]:
        outside = below(average, limit)
    else:
        high = {day: amount for day, amount in eaten.items() if above(amount, limit)}
        outside = above(average, limit) or bool(high)
    if not outside:
        return None
    top = max(high.values(), default=None)
    return NutrientNote(
        client_id=client.client_id,
        nutrient_id=row.nutrient_id,
        side="below" if LEAST[row.kind] else "above",
        kind=row.kind,
        reference=row.amount,
        average=float(average),
        at_least=unknown,
        days_above=len(high),
        peak=None if top is None else float(top),
        peak_day=None if top is None else min(day for day in high if high[day] == top),
        sex=row.sex if own else None,
        ages=f"{row.age_from}-{row.age_to}" if own else None,
        source=row.source,
    )


def _compared(
    where: str, owed: NutrientNote | None, told: NutrientNote | None
) -> Iterator[Finding]:
    if owed is None or told is None:
        words = ["nothing to tell" if one is None else "a note" for one in (owed, told)]
        yield Finding("nutrient-note", where, words[0], "none" if told is None else words[1])
        return
    for field in NutrientNote.model_fields:
        mine, theirs = getattr(owed, field), getattr(told, field)
        if field in ("average", "peak") and mine is not None and theirs is not None:
            same = same_amount(exact(mine), exact(theirs))
        else:
            same = mine == theirs
        if not same:
            yield Finding("nutrient-note", f"{where} {field}", show(mine), show(theirs))


def _guard(
    client: Client, row: ReferenceIntake, days: Fraction | int, total: Fraction | int
) -> Iterator[Finding]:
    """Check a limit of the guard: the average over the days eaten, against the reference."""
    if not _is_guarded(client, row) or client.nutrient_price is not None:
        return
    limit, amount = exact(row.amount) * days, Fraction(total)
    where = f"{client.client_id} whole plan {row.nutrient_id}"
    if LEAST[row.kind] and below(amount, limit):
        yield Finding("nutrient-guard", where, f"at least {show(limit)}", show(amount))
    if not LEAST[row.kind] and above(amount, limit):
        yield Finding("nutrient-guard", where, f"at most {show(limit)}", show(amount))


def _is_guarded(client: Client, row: ReferenceIntake) -> bool:
    chosen = client.guarded_nutrients
    return client.nutrient_guard == "limit" and (not chosen or row.nutrient_id in chosen)


def missed_minor(books: Books, client: Client) -> Fraction:
    """Return the price of a client's guarded averages outside, in minor units, unrounded."""
    if client.nutrient_price is None:
        return Fraction(0)
    days = sum(_shares(books, client).values(), Fraction(0))
    total = Fraction(0)
    for row, _ in _references(books, client):
        limit = exact(row.amount) * days
        if limit > 0 and _is_guarded(client, row):
            eaten = sum(_eaten(books, client, row.nutrient_id)[0].values(), Fraction(0))
            outside = limit - eaten if LEAST[row.kind] else eaten - limit
            total += max(Fraction(0), outside) / limit * 10
    return total * exact(client.nutrient_price) * books.minor_per_unit
