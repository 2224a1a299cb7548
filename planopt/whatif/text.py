"""What-if findings on 80 columns of plain text: one look tells what each change costs."""

from __future__ import annotations

import textwrap
from collections.abc import Iterable
from decimal import Decimal

from planopt.report.words.columns import WIDTH, clip, fit_table, screen_text
from planopt.report.words.plain import gap_text, headline, money, number
from planopt.whatif.compare import Comparison
from planopt.whatif.curves import BudgetCurve, Least
from planopt.whatif.findings import WhatIf
from planopt.whatif.ladder import Rung
from planopt.whatif.robust import Robustness
from planopt.whatif.shadow import ShadowPrice
from planopt.whatif.variants import VariantResult
from planopt.whatif.windowcurve import WindowCurve
from planopt.whynot.words import RuleWords

_NAMED = 6


def findings_text(found: WhatIf) -> str:
    """Return everything that was asked; no line is wider than 80 columns."""
    currency = found.kitchen.scenario.currency
    blocks = [
        clip(f"What if: {screen_text(found.kitchen.scenario.name)}", WIDTH)
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
            rows.append((result.variant.name, result.note, "", "", "", "", "", ""))
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
    table = fit_table(headers, rows, flexible=0, right=(1, 2, 4, 5, 6, 7))
    return (
        table
        + "\n"
        + _wrap(
            "All: all counted, groceries, shop visits, weighed waste, and work and missed intakes "
            "as priced; so are differences. "
            "Sure: the proven limits of both weeks show that the true least cost moves this way. "
            "Dishes: in and out. Plates: meals that change. Windows: met, of all."
        )
    )


def _details(result: VariantResult, currency: str) -> str:
    lines = [clip(screen_text(result.variant.name), WIDTH)]
    if result.explanation is not None:
        return "\n".join(
            [*lines, *(_wrap(sentence, "  ") for sentence in result.explanation.sentences)]
        )
    c = result.comparison
    if c is None:
        return "\n".join([*lines, f"  {result.note}"])
    lines.append(_wrap(_cost_sentence(c, currency), "  "))
    if c.recipes_in:
        lines.append(_wrap("In: " + _some(c.recipes_in), "  "))
    if c.recipes_out:
        lines.append(_wrap("Out: " + _some(c.recipes_out), "  "))
    for word, sign in (("Buy more", 1), ("Buy less", -1)):
        rows = [row for row in c.shopping if row.more * sign > 0]
        if rows:
            total = sum((row.money for row in rows), Decimal(0))
            texts = [f"{number(abs(row.more), 2)} x {row.text}" for row in rows]
            lines.append(_wrap(f"{word} ({_signed(total, currency)}): " + _some(texts), "  "))
    moved = [
        f"{row.client} {row.nutrient} {number(row.base or 0.0, 1)} to {number(row.variant or 0, 1)}"
        f" {row.unit} a {row.per} (window {row.window})"
        for row in sorted(c.windows, key=lambda row: -_change(row.base, row.variant))
        if _change(row.base, row.variant) >= 0.02
    ]
    if moved:
        lines.append(_wrap("Means: " + _some(moved, 3), "  "))
    return "\n".join(lines)


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
    names = found.kitchen.catalog.nutrients
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
    table = fit_table(headers, rows, flexible=1, right=(0, 2, 3, 4))
    head = (
        f"Least groceries of a week that complies: {_least_text(curve.complies, currency)}. "
        f"Of any week, windows missed but energy not below its floor: "
        f"{_least_text(curve.exists, currency)}."
    )
    return "Budget\n" + _wrap(head) + "\n" + table


def _window(curve: WindowCurve, found: WhatIf, currency: str) -> str:
    name = found.kitchen.catalog.nutrients[curve.nutrient].name
    headers = (f"{curve.side} {curve.unit}", "Week", f"All {currency}", "Limit", "Gap")
    table = fit_table(headers, _rung_rows(curve.points, currency), flexible=1, right=(0, 2, 3, 4))
    return f"{name} of {curve.client}, now {curve.now:g} {curve.unit} a day\n{table}"


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
    return "If prices differ\n" + _wrap(
        f"With each food's prices up to {100 * r.spread:g} % above or below, in {r.samples} "
        f"samples: this plan costs {r.lowest:.2f} to {r.highest:.2f} {currency}, in eight of ten "
        f"{r.low_tenth:.2f} to {r.high_tenth:.2f}; as priced now {r.planned:.2f}. Compared with "
        f"{r.plans - 1} other plans ({r.solved} samples were solved for them), another is cheaper "
        f"in {100 * r.overtaken:.0f} % of samples; on average this plan is {r.mean_regret:.2f} "
        f"dearer than the cheapest of them, at most {r.most_regret:.2f}. Plans never looked at "
        f"may be cheaper still."
    )
