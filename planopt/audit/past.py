"""What clients had before the plan: nothing again too soon, and the price of what was seen."""

from __future__ import annotations

from collections.abc import Iterator
from fractions import Fraction

from planopt.audit.books import Books
from planopt.audit.findings import Finding, exact


def check_past(books: Books) -> Iterator[Finding]:
    """Check that no client gets a dish within the days after they had it."""
    for row in books.plan.portions:
        client = books.clients.get(row.client_id)
        last = None if client is None else client.eaten_before.get(row.recipe_id)
        eaten_on = books.date_of(row.day)
        if client is None or last is None or eaten_on is None:
            continue
        days = client.not_again_days
        if days is None:
            days = books.scenario.not_again_days
        gap = eaten_on.toordinal() - last.toordinal()
        if days is not None and gap <= days:
            where = f"{row.client_id} day {row.day} {row.meal}: {row.recipe_id}"
            yield Finding("not-again", where, f"more than {days} days after {last}", f"{gap} days")


def seen_minor(books: Books) -> Fraction:
    """Return the price of all portions of dishes that some client had before, unrounded."""
    known: set[str] = set()
    for client in books.scenario.clients:
        known.update(client.eaten_before)
    count = sum(1 for row in books.plan.portions if row.recipe_id in known)
    return exact(books.scenario.seen_price) * count * books.minor_per_unit
