"""A plan on 80 columns of plain text."""

from __future__ import annotations

import textwrap
import unicodedata
from collections.abc import Sequence
from decimal import Decimal

from tabulate import tabulate

from planopt.catalog.records import Catalog
from planopt.plan.records import Plan
from planopt.report import references, tables
from planopt.report.words import (
    STOPPED_EARLY,
    cost_rows,
    day_text,
    headline,
    money,
    number,
    percent_up,
    plural,
    span_text,
    status_sentence,
)
from planopt.scenario.records import Scenario

WIDTH = 80
# Stands in for the second column of a wide character while the table is laid out by length.
_FILLER = "\ue000"
_LEAST_FLEXIBLE = 8


def _wide(char: str) -> bool:
    return unicodedata.east_asian_width(char) in ("W", "F")


def screen_width(text: str) -> int:
    """Return the columns a text takes on a terminal; a lone accent counts as one, cautiously."""
    return sum(2 if _wide(char) else 1 for char in text)


def screen_text(text: str) -> str:
    """Return a text safe for one terminal line: no control, format or private characters."""
    kept = (" " if unicodedata.category(char) in ("Cc", "Zl", "Zp") else char for char in text)
    joined = "".join(char for char in kept if unicodedata.category(char)[0] != "C")
    return " ".join(unicodedata.normalize("NFC", joined).split())


def clip(text: str, width: int) -> str:
    """Return a text cut to a width in columns, with an ellipsis where it was cut."""
    if screen_width(text) <= width:
        return text
    kept, used = "", 0
    for char in text:
        used += 2 if _wide(char) else 1
        if used > width - 1:
            break
        kept += char
    return f"{kept.rstrip()}…"


def _laid_out(text: str) -> str:
    return "".join(char + _FILLER if _wide(char) else char for char in text)


def wrap(text: str, width: int) -> list[str]:
    """Return a text on lines of a width in columns, broken between words where it can be."""
    lines, line = [], ""
    for word in screen_text(text).split():
        joined = f"{line} {word}" if line else word
        if screen_width(joined) <= width:
            line = joined
            continue
        if line:
            lines.append(line)
        line = ""
        for char in word:
            if screen_width(line + char) > width:
                lines.append(line)
                line = ""
            line += char
    return [*lines, line] if line or not lines else lines


def fit_table(
    headers: Sequence[str],
    rows: Sequence[Sequence[str]],
    flexible: int,
    right: Sequence[int],
    width: int = WIDTH,
    whole: bool = False,
) -> str:
    """Lay out a table; the cells of column `flexible` are cut so that it fits the width.

    With `whole` nothing of them is cut: they go on in further lines of their own column.
    """
    clean = [[screen_text(cell) for cell in row] for row in (headers, *rows)]
    columns = range(len(headers))
    widest = [max(screen_width(row[c]) for row in clean) for c in columns]
    others = sum(widest[c] for c in columns if c != flexible) + 2 * (len(headers) - 1)
    room = max(_LEAST_FLEXIBLE, width - others)
    if whole:
        clean = [line for row in clean for line in _wrapped_row(row, flexible, room)]
    for row in clean:
        row[flexible] = clip(row[flexible], room)
    laid = [[_laid_out(cell) for cell in row] for row in clean]
    # The headers go in as a row: tabulate would widen their columns by two.
    text = tabulate(
        laid,
        tablefmt="plain",
        disable_numparse=True,
        colalign=["right" if c in right else "left" for c in columns],
    )
    lines = (line.replace(_FILLER, "").rstrip() for line in text.splitlines())
    return "\n".join(clip(line, width) for line in lines)


def _wrapped_row(row: list[str], flexible: int, room: int) -> list[list[str]]:
    first, *rest = wrap(row[flexible], room)
    lines = [[first if c == flexible else cell for c, cell in enumerate(row)]]
    return lines + [[more if c == flexible else "" for c in range(len(row))] for more in rest]


def _wrapped(sentence: str) -> str:
    return textwrap.fill(sentence, WIDTH)


def _cost_table(plan: Plan) -> str:
    rows = [(name, money(amount, plan.currency)) for name, amount in cost_rows(plan.solution)]
    return fit_table(("Cost", plan.currency), rows, flexible=0, right=(1,))


def _client_table(plan: Plan, catalog: Catalog, scenario: Scenario) -> str:
    totals = tables.records(tables.day_totals(plan, catalog, scenario))
    week = tables.records(tables.week_totals(plan, catalog, scenario))
    rows = []
    for client in scenario.clients:
        mine = [row for row in totals if row["client_id"] == client.client_id]
        days = tables.eating_days(scenario, client)
        means = []
        for nutrient_id in tables.MACROS:
            amounts = [row["amount"] for row in mine if row["nutrient_id"] == nutrient_id]
            means.append(number(sum(amounts) / len(amounts)) if amounts else "-")
        checks = [row["met"] for row in mine if row["met"] is not None]
        checks += [row["met"] for row in week if row["client_id"] == client.client_id]
        met = f"{sum(checks)} of {len(checks)}"
        rows.append((client.name, str(len(days)), *means, met))
    headers = ("Client", "Days", "kcal/day", "Protein g", "Fat g", "Carb g", "Windows met")
    return fit_table(headers, rows, flexible=0, right=(1, 2, 3, 4, 5, 6))


def _cooking_table(plan: Plan, catalog: Catalog) -> str:
    rows = []
    for row in tables.records(tables.batches(plan, catalog)):
        dish = f"{row['dish']}, {row['version']}" if row["version"] else row["dish"]
        rows.append(
            (
                day_text(row["cook_date"]),
                dish,
                number(row["batches"], 2),
                number(row["servings"], 2),
                number(row["left"], 2),
            )
        )
    headers = ("Cook on", "Dish", "Batches", "Servings", "Spare")
    return fit_table(headers, rows, flexible=1, right=(2, 3, 4))


def _buying_table(plan: Plan, catalog: Catalog) -> str:
    rows = [
        (
            day_text(row["shop_date"]),
            row["seller"],
            str(row["lines"]),
            money(row["total"], plan.currency),
        )
        for row in tables.records(tables.seller_totals(plan, catalog))
    ]
    total = sum((p.price for p in plan.purchases), Decimal(0))
    rows.append(("Total", "", str(len(plan.purchases)), money(total, plan.currency)))
    headers = ("Buy on", "Seller", "Lines", plan.currency)
    return fit_table(headers, rows, flexible=1, right=(2, 3))


def _outside(lines: Sequence[str]) -> str:
    head = "Average day outside published reference intakes (+ = or more; see report.md):"
    rows = [head]
    for line in lines:
        first, *rest = wrap(line, WIDTH - 4)
        rows += [f"  {first}", *(f"    {more}" for more in rest)]
    return "\n".join(rows)


def summary_text(plan: Plan, catalog: Catalog, scenario: Scenario) -> str:
    """Return the summary of a plan; no line is wider than 80 columns."""
    solution = plan.solution
    head = [
        clip(f"Plan for {screen_text(plan.scenario_name)}", WIDTH),
        clip(f"{span_text(plan)}, {plural(len(scenario.clients), 'client')}", WIDTH),
        _wrapped(headline(solution, plan.currency)),
    ]
    if solution.status in STOPPED_EARLY:
        head.append(
            _wrapped(
                f"{status_sentence(solution)} Gap asked for: "
                f"{percent_up(Decimal(repr(solution.gap_asked)))} %."
            )
        )
    blocks = [
        "\n".join(head),
        _cost_table(plan),
        _client_table(plan, catalog, scenario),
        _cooking_table(plan, catalog),
        _buying_table(plan, catalog),
    ]
    outside = references.short_lines(plan, catalog, scenario)
    if outside:
        blocks.append(_outside(outside))
    if plan.cautions:
        count = plural(len(plan.cautions), "caution")
        blocks.append(_wrapped(f"{count}: read them in report.md before cooking."))
    return "\n\n".join(blocks)
