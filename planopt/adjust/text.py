"""An adjustment on 80 columns of plain text: what changed, what it cost, why no more stayed."""

from __future__ import annotations

import textwrap
from collections.abc import Iterator
from dataclasses import dataclass
from decimal import Decimal
from typing import Any, TypeVar

from planopt.adjust.week import Adjustment
from planopt.plan.records import Plan
from planopt.report.words.columns import WIDTH, clip, screen_text
from planopt.report.words.plain import (
    dish_words,
    money,
    pack_text,
    plain,
    plural,
    seller_name,
    short_day,
)
from planopt.solve.engine.adjusting import RingResult
from planopt.whynot.words import RuleWords

_MOST_LINES = 12


def adjustment_text(found: Adjustment) -> str:
    """Return what an adjustment changed and what is known of it; no line is wider than 80."""
    assert found.plan.changes is not None
    blocks = [
        "\n".join(
            (
                clip(f"Adjusted: {screen_text(found.plan.changes.name)}", WIDTH),
                wrapped(headline(found)),
            )
        ),
        "\n".join(plate_lines(found)),
        "\n".join(wrapped(f"- {text}") for text in kitchen_changes(found)),
        "\n".join(wrapped(text) for text in reasons(found)),
    ]
    return "\n\n".join(block for block in blocks if block)


def wrapped(text: str, indent: str = "") -> str:
    """Return text on lines of at most 80 columns."""
    return textwrap.fill(
        screen_text(text), WIDTH, initial_indent=indent, subsequent_indent=indent + "  "
    )


def headline(found: Adjustment) -> str:
    """Return how many plates change, and what the week costs then, in two sentences."""
    currency = found.plan.currency
    before, after = found.before.solution.objective, found.plan.solution.objective
    plates = len(found.earlier.plates)
    count = len(found.changes.dishes) + len(found.changes.portions)
    parts = [
        f"{count} of {plates} plates {'changes' if count == 1 else 'change'}: "
        f"{len(found.changes.dishes)} another dish, {len(found.changes.portions)} another portion."
    ]
    parts.append(
        f"The week costs {money(after, currency)} {currency}, all counted; "
        f"before {money(before, currency)} ({signed(after - before, currency)})."
    )
    return " ".join(parts)


def signed(amount: Decimal, currency: str) -> str:
    """Return an amount of money with its sign."""
    return f"{'+' if amount >= 0 else ''}{money(amount, currency)}"


@dataclass(frozen=True)
class PlateChange:
    """A plate that changed: what it had and what it has, in words; whether that was asked for."""

    client_id: str
    day: int
    meal: str
    where: str
    asked: bool
    before: str
    after: str


def plate_lines(found: Adjustment) -> Iterator[str]:
    """Yield a line for each plate that changed."""
    for plate in plate_changes(found):
        mark = " (asked for)" if plate.asked else ""
        yield wrapped(f"- {plate.where}{mark}: {plate.before} -> {plate.after}")


def plate_changes(found: Adjustment) -> Iterator[PlateChange]:
    """Yield each plate that changed, in words."""
    problem = found.problem
    after = _plates(found.plan)
    before = _plates(found.before)
    names = {client.client_id: client.name for client in found.kitchen.scenario.clients}
    words = RuleWords(found.kitchen.catalog, found.kitchen.scenario)
    changed = sorted((*found.changes.dishes, *found.changes.portions))
    for i in changed:
        slot = problem.slots[i]
        who = problem.clients[slot.client].client_id
        key = (who, slot.day, slot.meal)
        yield PlateChange(
            *key,
            where=f"{names[who]}, {words.day(slot.day)}, {plain(slot.meal)}",
            asked=i in found.asked,
            before=_dishes(found, before, key),
            after=_dishes(found, after, key),
        )


Plates = dict[tuple[str, int, str], list[tuple[str, str, str, float]]]


def _plates(plan: Plan) -> Plates:
    found: Plates = {}
    for row in plan.portions:
        dish = (row.recipe_id, row.recipe_name, row.version, row.servings)
        found.setdefault((row.client_id, row.day, row.meal), []).append(dish)
    return found


def _dishes(found: Adjustment, plates: Plates, key: tuple[str, int, str]) -> str:
    catalog = found.kitchen.catalog
    texts = [
        f"{dish_words(catalog, recipe_id, name, version)} {servings:g}"
        for recipe_id, name, version, servings in plates.get(key, [])
    ]
    return " and ".join(texts) or "nothing"


def kitchen_changes(found: Adjustment) -> Iterator[str]:
    """Yield in words which batches and packs changed; of packs the first few."""
    catalog, plans = found.kitchen.catalog, (found.before, found.plan)
    pots = [
        {
            (row.cook_date, dish_words(catalog, row.recipe_id, row.recipe_name, row.version)):
            plural(row.batches, "batch")
            for row in plan.batches
        }
        for plan in plans
    ]  # fmt: skip
    for (day, name), was, now in _differing(*pots):
        yield f"cook on {short_day(day)}: {name}, {was} -> {now}"
    packs = [
        {
            (row.shop_date, f"{row.food_name}, {seller_name(catalog, row.seller_id)}",
             row.pack_id): pack_text(row)
            for row in plan.purchases
        }
        for plan in plans
    ]  # fmt: skip
    changed = list(_differing(*packs))
    for (day, name, _), was, now in changed[:_MOST_LINES]:
        yield f"buy on {short_day(day)}: {name}, {was} -> {now}"
    if len(changed) > _MOST_LINES:
        yield f"and {plural(len(changed) - _MOST_LINES, 'other pack')} of the shopping list"


_Key = TypeVar("_Key", bound=tuple[Any, ...])


def _differing(before: dict[_Key, str], after: dict[_Key, str]) -> Iterator[tuple[_Key, str, str]]:
    """Yield what is not the same in both, in order, with its words before and after."""
    for key in sorted(before.keys() | after.keys()):
        was, now = before.get(key, "nothing"), after.get(key, "nothing")
        if was != now:
            yield key, was, now


def reasons(found: Adjustment) -> Iterator[str]:
    """Yield sentences on why more plates could not stay, and on what is proven."""
    words = RuleWords(found.kitchen.catalog, found.kitchen.scenario)
    changed = {*found.changes.dishes, *found.changes.portions}
    if changed - found.asked:
        if found.uncookable:
            yield ("Why more could not stay: with every other plate as it was, the cook days "
                   "could not make it.")  # fmt: skip
        elif found.broken:
            texts = "; ".join(words.rules(found.broken, range(1, found.plan.days + 1)))
            yield f"Why more could not stay: with all other plates as before, broken were: {texts}."
        else:
            yield ("More could stay, but these changes save more than they are taken to cost: "
                   "ask for a higher --price to keep more.")  # fmt: skip
    currency = found.plan.currency
    yield (
        f"A plate with another dish is taken to cost {found.prices.dish:.2f} {currency}, another "
        f"portion {found.prices.portion:.2f}; that price guides the search and is not in the plan."
    )
    yield from filter(None, map(_ring, found.within.rings))
    if not any(ring.proven for ring in found.within.rings):
        yield "Found in limited time: that no smaller or cheaper change exists is not proven."


def _ring(result: RingResult) -> str | None:
    """Return what is proven of a ring, if anything is."""
    if not result.proven:
        return None
    name = result.ring.name
    if result.changes is None:
        return f"Proven: if {name} may change, no week complies."
    return f"Proven: if {name} may change, none is better, changes and money together."
