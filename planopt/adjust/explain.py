"""Why a dish is on a plate: what it is part of, and what the next best would cost."""

from __future__ import annotations

import re
from dataclasses import dataclass

from planopt.adjust.text import plate_lines, signed, wrapped
from planopt.adjust.week import Adjustment, Written, adjust
from planopt.faults import BadInput, Fault, NoCompliantWeek, NoPlanInTime
from planopt.plan.records import Plan, Portion
from planopt.report.words.plain import dish_words, money, plain, plural
from planopt.scenario.byhand import ByHand, PlateRule
from planopt.scenario.reading.load import Kitchen
from planopt.scenario.records import Scenario, Variant
from planopt.scenario.variants.words import WHERE, with_day_numbers
from planopt.solve.settings import SolveSettings
from planopt.whynot.words import RuleWords

_FORM = r"([a-z][a-z0-9_]*) (?:on )?day (\d+) ([a-z][a-z0-9_]*)"


@dataclass(frozen=True)
class Reasons:
    """Why a plate has what it has. `without` is the week found without its dish; None if none.

    `by_hand` tells that it was put there by hand; `never` that no week complies without it.
    """

    kitchen: Kitchen
    plan: Plan
    rows: tuple[Portion, ...]
    by_hand: bool
    without: Adjustment | None
    never: bool


def plate_of_words(text: str, plan: Plan, scenario: Scenario) -> tuple[Portion, ...]:
    """Return what is on the plate told, such as `mira day 2 dinner` or `mira tuesday dinner`.

    Raises:
        BadInput: the words are not understood, or the plan has no such plate.
    """
    told = with_day_numbers(" ".join(text.split()), scenario)
    found = re.fullmatch(_FORM, told)
    rows: tuple[Portion, ...] = ()
    if found:
        client, day, meal = found[1], int(found[2]), found[3]
        rows = tuple(
            row
            for row in plan.portions
            if (row.client_id, row.day, row.meal) == (client, day, meal)
        )
    if not rows:
        why = "the plan has no such plate" if found else "this plate is not understood"
        mend = "write client, day and meal, as: mira day 2 dinner"
        code = "not_in_plan" if found else "plate_not_understood"
        raise BadInput([Fault(WHERE, 0, "--explain", text, why, mend, code)])
    return rows


def reasons_for(written: Written, rows: tuple[Portion, ...], settings: SolveSettings) -> Reasons:
    """Return why a plate has its first dish, and the next best found without that dish there.

    Raises:
        AuditFailed: the week found does not hold.
    """
    first = max(rows, key=lambda row: row.servings)
    plate = (first.client_id, first.day, first.meal)
    put = bool(written.kitchen.scenario.by_hand.puts_on(*plate))
    without, never = None, False
    if not put:
        rule = PlateRule(
            without=first.recipe_id, client=first.client_id, day=first.day, meal=first.meal
        )
        name = f"without {first.recipe_id} on day {first.day} {first.meal} for {first.client_id}"
        variant = Variant(name=name, by_hand=ByHand(plates=(rule,)))
        try:
            without = adjust(written, variant, settings, price=None)
        except NoCompliantWeek:
            never = True
        except NoPlanInTime:
            pass
    return Reasons(written.kitchen, written.plan, rows, put, without, never)


def reasons_text(found: Reasons) -> str:
    """Return the reasons on 80 columns."""
    words = RuleWords(found.kitchen.catalog, found.kitchen.scenario)
    first = max(found.rows, key=lambda row: row.servings)
    names = {client.client_id: client.name for client in found.kitchen.scenario.clients}
    where = f"{names[first.client_id]}, {words.day(first.day)}, {plain(first.meal)}"
    lines = [wrapped(f"{where}:")]
    for row in found.rows:
        lines.append(wrapped("- " + _dish(found, row)))
    lines += [wrapped(text) for text in _next_best(found, first)]
    if found.without is not None:
        lines += list(plate_lines(found.without))
        lines += [wrapped(text) for text in _known(found.without)]
    return "\n".join(lines)


def _dish(found: Reasons, row: Portion) -> str:
    dish = dish_words(found.kitchen.catalog, row.recipe_id, row.recipe_name, row.version)
    key = (row.recipe_id, row.version, row.cook_day)
    batch = next(b for b in found.plan.sources if (b.recipe_id, b.version, b.cook_day) == key)
    shared = [p for p in found.plan.portions if (p.recipe_id, p.version, p.cook_day) == key]
    return (
        f"{dish}, {plural(row.servings, 'serving')} of {batch.servings:g} cooked on day "
        f"{row.cook_day}, which {plural(len(shared), 'plate')} eat from"
    )


def _next_best(found: Reasons, first: Portion) -> list[str]:
    if found.by_hand:
        return ["It was put there by hand; nothing else was looked at."]
    if found.never:
        return ["No week complies without this dish there: that is proven."]
    week = found.without
    if week is None:
        return ["No week without it was found in the time given: the next best is not known."]
    currency = found.plan.currency
    before, after = found.plan.solution.objective, week.plan.solution.objective
    more = after - before
    others = len(week.changes.dishes) + len(week.changes.portions) - 1
    text = (
        f"The next best found: the week costs {money(after, currency)} {currency} without it, "
        f"{signed(more, currency)}, and {plural(others, 'other plate')} change."
    )
    if more < 0:
        text += " That is less: the plan was not the cheapest, and may be adjusted so."
    return [text]


def _known(week: Adjustment) -> list[str]:
    words = RuleWords(week.kitchen.catalog, week.kitchen.scenario)
    found = []
    if week.uncookable:
        found.append("With that change alone, the cook days could not make it.")
    elif week.broken:
        texts = "; ".join(words.rules(week.broken, range(1, week.plan.days + 1)))
        found.append(f"With that change alone, broken were: {texts}.")
    alone = [r for r in week.within.rings if r.proven and r.ring.free == week.asked]
    if alone and alone[0].changes is not None:
        found.append("Proven: with all other plates as they are, no other dish there is better.")
    elif alone:
        found.append("Proven: with all other plates as they are, no other dish can be there.")
    else:
        found.append("That nothing better exists is not proven in so short a time.")
    return found
