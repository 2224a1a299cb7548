"""What-if findings on 80 columns of plain text: one look tells what each change costs."""

from __future__ import annotations

import textwrap
from collections.abc import Iterable, Sequence
from decimal import Decimal

from planopt.plan.records import Solution
from planopt.report.words.columns import WIDTH, fit_table, screen_text
from planopt.report.words.plain import gap_text, headline, money, number, plural
from planopt.whatif.compare import Comparison, ShoppingRow
from planopt.whatif.curves import BudgetCurve, Least
from planopt.whatif.findings import WhatIf
from planopt.whatif.ladder import Rung
from planopt.whatif.robust import Robustness
from planopt.whatif.shadow import ShadowPrice
from planopt.whatif.variants import VariantResult
from planopt.whatif.windowcurve import WindowCurve
from planopt.whynot.words import RuleWords

_NAMED = 6
_LIMIT_WORDS = (
    "Limit: proven, no week of that line costs less. Gap: the most that could be saved. Open: no "
    "week was found in time, and none is ruled out."
)


def findings_text(found: WhatIf) -> str:
    """Return everything that was asked; no line is wider than 80 columns."""
    currency = found.kitchen.scenario.currency
    blocks = [
        _wrap(f"What if: {found.kitchen.scenario.name}")
        + "\n"
        + _wrap("As it is: " + headline(found.base.solution, currency))
    ]
    if found.variants:
        blocks.append(_variants(found, currency))
        blocks += [_details(result, currency) for result in found.variants]
    if found.budget is not None:
        blocks.append(_budget(found.budget, found, currency))
    blocks += [_window(curve, found, currency) for curve in found.windows]
    if found.prices is not None:
        blocks.append(_prices(found.prices, found, currency))
    if found.robust is not None:
        blocks.append(_robust(found.robust, currency))
    return "\n\n".join(blocks)


def _signed(amount: Decimal, currency: str) -> str:
    return f"{'+' if amount > 0 else ''}{money(amount, currency)}"


def _wrap(text: str, indent: str = "") -> str:
    return textwrap.fill(
        screen_text(text), WIDTH, initial_indent=indent, subsequent_indent=" " * (len(indent) + 2)
    )


def _variants(found: WhatIf, currency: str) -> str:
    s = found.base.solution
    rows = [("as it is", money(s.objective, currency), "", "", money(s.waste_cost, currency),
             "", "", "")]  # fmt: skip
    for result in found.variants:
        c = result.comparison
        if c is None:
            named = f"{result.variant.name}: {result.note}"
            rows.append((named, "-", "-", "-", "-", "", "", ""))
            continue
        rows.append(
            (
                result.variant.name,
                money(c.variant.objective, currency),
                _signed(c.difference, currency),
                {"certainly dearer": "yes", "certainly cheaper": "yes"}.get(c.verdict, "no"),
                money(c.variant.waste_cost, currency),
                f"+{len(c.recipes_in)} -{len(c.recipes_out)}",
                f"{c.portions_moved}/{c.portions}",
                "/".join(str(count) for count in c.windows_met),
            )
        )
    headers = ("Change", f"All {currency}", "Diff.", "Sure", "Waste", "Dishes", "Plates", "Windows")
    table = fit_table(headers, rows, flexible=0, right=(1, 2, 4, 5, 6, 7), whole=True)
    return (
        table
        + "\n"
        + _wrap(
            f"{_all_words(found.base.solution)}; Diff. is its difference from the plan as it is. "
            "Sure: the proven limits of both weeks show that the true least cost moves this way. "
            "Dishes: in and out. Plates: meals that change. Windows: met, of all."
        )
    )


def _all_words(solution: Solution) -> str:
    """Say what is in the figure that is all counted."""
    work = ", the cook's time and boxes" if solution.work_cost else ""
    return f"All: all counted, groceries, shop visits, weighed waste{work}"


def _details(result: VariantResult, currency: str) -> str:
    lines = [_wrap(result.variant.name)]
    if result.explanation is not None:
        return "\n".join(
            [*lines, *(_wrap(sentence, "  ") for sentence in result.explanation.sentences)]
        )
    c = result.comparison
    if c is None:
        return "\n".join([*lines, f"  {result.note}"])
    lines.append(_wrap(_cost_sentence(c, currency), "  "))
    if c.difference:
        lines.append(_wrap(f"Of that: {_parts(c, currency)}.", "  "))
    if c.recipes_in:
        lines.append(_wrap("In: " + _some(c.recipes_in), "  "))
    if c.recipes_out:
        lines.append(_wrap("Out: " + _some(c.recipes_out), "  "))
    for word, sign in (("Buy more", 1), ("Buy less", -1)):
        rows = [row for row in c.shopping if row.more * sign > 0]
        if rows:
            total = sum((row.money for row in rows), Decimal(0))
            told = f"{word}, {_signed(total, currency)}: {_packs(rows, currency)}"
            lines.append(_wrap(told, "  "))
    lines += _other_money(c, currency)
    moved = [
        f"{row.client} {row.nutrient} {number(row.base or 0.0, 1)} to {number(row.variant or 0, 1)}"
        f" {row.unit} a {row.per} (window {row.window})"
        for row in sorted(c.windows, key=lambda row: -_change(row.base, row.variant))
        if _change(row.base, row.variant) >= 0.02
    ]
    if moved:
        lines.append(_wrap("Means: " + _some(moved, 3), "  "))
    return "\n".join(lines)


def _parts(c: Comparison, currency: str) -> str:
    """Return the difference in parts that add up to it, those that differ."""
    parts = [("groceries", c.variant.grocery_cost - c.base.grocery_cost),
             ("shop visits", c.variant.visit_cost - c.base.visit_cost),
             ("the cook's time and boxes", c.variant.work_cost - c.base.work_cost),
             ("reference intakes missed", c.variant.missed_cost - c.base.missed_cost)]  # fmt: skip
    rest = c.difference - sum((part for _, part in parts), Decimal(0))
    parts.insert(2, ("waste, as weighed", rest))
    return ", ".join(f"{words} {_signed(part, currency)}" for words, part in parts if part)


def _packs(rows: Sequence[ShoppingRow], currency: str) -> str:
    """Return packs with what each costs; those not named are one sum, so that all adds up."""
    texts = [
        f"{number(abs(row.more), 2)} x {row.text} {_signed(row.money, currency)}" for row in rows
    ]
    if len(texts) <= _NAMED + 1:
        return "; ".join(texts)
    others = sum((row.money for row in rows[_NAMED:]), Decimal(0))
    return f"{'; '.join(texts[:_NAMED])}; {len(rows) - _NAMED} more {_signed(others, currency)}"


def _other_money(c: Comparison, currency: str) -> list[str]:
    """Return what groceries differ by besides packs bought more or less."""
    groceries = c.variant.grocery_cost - c.base.grocery_cost
    rounding = groceries - c.repriced - sum((row.money for row in c.shopping), Decimal(0))
    rows = (("The same packs at other prices", c.repriced), ("Rounding of single lines", rounding))
    return [_wrap(f"{words}: {_signed(sum_, currency)}", "  ") for words, sum_ in rows if sum_]


def _change(before: float | None, after: float | None) -> float:
    if before is None or after is None:
        return 0.0
    return abs(after - before) / max(abs(before), 1.0)


def _some(texts: Iterable[str], most: int = _NAMED) -> str:
    named = list(texts)
    more = f"; and {len(named) - most} more" if len(named) > most else ""
    return "; ".join(named[:most]) + more


def _cost_sentence(c: Comparison, currency: str) -> str:
    low, high = _signed(c.least, currency), _signed(c.most, currency)
    found = _signed(c.difference, currency)
    if c.least == c.difference == c.most:
        sure = "no difference" if c.verdict == "not certain" else c.verdict
        return f"Found {found} {currency}, {sure}: the true difference is exactly that."
    if not c.least <= c.difference <= c.most:
        why = (
            "the base plan is not the cheapest"
            if c.difference < c.least
            else ("no cheaper week of it was found yet")
        )
        return (
            f"Found {found} {currency}, but only because {why}: the true difference lies between "
            f"{low} and {high}."
        )
    if c.verdict == "not certain":
        return (
            f"Found {found} {currency}; not certain, as it is within the gaps: the true difference "
            f"lies between {low} and {high}."
        )
    return f"Found {found} {currency}, {c.verdict}: the true difference is {low} to {high}."


def _least_text(least: Least, currency: str) -> str:
    limit = money(least.bound, currency)
    if least.found is None:
        return f"none found in time, and none below {limit}"
    if least.found == least.bound:
        return f"{money(least.found, currency)}, and none is cheaper"
    return f"{money(least.found, currency)} found, none below {limit}"


def _rung_rows(points: Iterable[Rung], currency: str) -> list[tuple[str, ...]]:
    rows: list[tuple[str, ...]] = []
    for point in points:
        cost = "-" if point.objective is None else money(point.objective, currency)
        gap = "-" if point.objective is None else gap_text(point.objective, point.bound)
        rows.append((number(point.value, 2), point.state, cost, money(point.bound, currency), gap))
    return rows


def _budget(curve: BudgetCurve, found: WhatIf, currency: str) -> str:
    names = found.kitchen.catalog.amounts
    rows: list[tuple[str, ...]] = []
    for short in curve.short:
        budget = money(short.budget, currency)
        if short.missed is None:
            rows.append((budget, "no week" if short.proven else "open", "-", "-", "-"))
            continue
        missed = ", ".join(
            f"{names[nutrient].name.lower()} {number(amount, 1)} {names[nutrient].unit}"
            for part in short.missed
            for nutrient, amount in zip(part.nutrients, part.amounts, strict=True)
            if amount > 0
        )
        rows.append((budget, f"misses {missed or 'nothing'}", "-", "-", "-"))
    rows += _rung_rows(curve.points, currency)
    headers = ("Budget", "Week", f"All {currency}", "Limit", "Gap")
    table = fit_table(headers, rows, flexible=1, right=(0, 2, 3, 4), whole=True)
    head = (
        f"Least groceries of a week that complies: {_least_text(curve.complies, currency)}. "
        f"Of any week, windows missed but energy not below its floor: "
        f"{_least_text(curve.exists, currency)}."
    )
    return "\n".join(["Budget for groceries", _wrap(head), table, _wrap(_LIMIT_WORDS)])


def _window(curve: WindowCurve, found: WhatIf, currency: str) -> str:
    side = "At least" if curve.side == "min" else "At most"
    headers = (f"{side}, {curve.unit}", "Week", f"All {currency}", "Limit", "Gap")
    table = fit_table(headers, _rung_rows(curve.points, currency), flexible=1, right=(0, 2, 3, 4))
    now = f"now {side.lower()} {number(curve.now, 2)} {curve.unit} a day"
    name = found.kitchen.catalog.amounts[curve.nutrient].name
    head = _wrap(f"{name} of {curve.client_name}, {now}")
    return f"{head}\n{table}\n{_wrap(_LIMIT_WORDS)}"


def _prices(prices: tuple[ShadowPrice, ...], found: WhatIf, currency: str) -> str:
    words = RuleWords(found.kitchen.catalog, found.kitchen.scenario)
    lines = [
        "What limits cost near this plan (local estimates)",
        _wrap(
            "Estimates keep this plan's dishes and let portions, batches and packs take any size. "
            "They hold near the plan only; what was solved anew stands beneath."
        ),
    ]
    if not any(price.per_unit > 0 for price in prices):
        lines.append(
            _wrap(
                "No limit binds in this estimate: whole batches and packs decide the cost. The "
                "limits that the plan comes nearest to were solved anew."
            )
        )
    for price in prices:
        (text,) = words.rules([price.rule])
        to = words.amount(price.rule, price.after)
        line = f"{text}. Moved to {to}: no change in this estimate."
        if price.per_unit > 0:
            line = f"{text}. About {price.per_unit:.4f} {currency} a unit"
            line += f"; moved to {to}, about {-price.estimate:.2f}."
        lines.append(_wrap(line, "- "))
        if price.resolved is not None:
            r = price.resolved
            lines.append(
                _wrap(
                    f"Solved anew: {_signed(r.difference, currency)}, truly "
                    f"{_signed(r.least, currency)} to {_signed(r.most, currency)}, {r.verdict}.",
                    "    ",
                )
            )
    return "\n".join(lines)


def _robust(r: Robustness, currency: str) -> str:
    solved = plural(r.solved, "sample")
    others = f"No other plan turned up when {solved} were solved."
    if r.plans > 1:
        others = (
            f"Compared with {plural(r.plans - 1, 'other plan')} ({solved} solved for them), "
            f"another is cheaper in {100 * r.overtaken:.0f} % of samples; on average this plan is "
            f"{r.mean_regret:.2f} dearer than the cheapest of them, at most {r.most_regret:.2f}."
        )
    return "If prices differ\n" + _wrap(
        f"With each food's prices up to {100 * r.spread:g} % above or below, in {r.samples} "
        f"samples: this plan costs {r.lowest:.2f} to {r.highest:.2f} {currency}, in eight of ten "
        f"{r.low_tenth:.2f} to {r.high_tenth:.2f}; as priced now {r.planned:.2f}. {others} Plans "
        f"never looked at may be cheaper still."
    )
