"""A plan on 80 columns of plain text."""

from __future__ import annotations

import textwrap
from collections.abc import Sequence
from decimal import Decimal

from planopt.catalog.records import Catalog
from planopt.plan.records import Plan
from planopt.report.analysis import references, tables
from planopt.report.words.columns import WIDTH, fit_table, wrap
from planopt.report.words.plain import (
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


def _wrapped(sentence: str) -> str:
    return textwrap.fill(sentence, WIDTH)


def _cost_table(plan: Plan) -> str:
    rows = [(name, money(amount, plan.currency)) for name, amount in cost_rows(plan.solution)]
    return fit_table(("Cost", plan.currency), rows, flexible=0, right=(1,), whole=True)


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
    return fit_table(headers, rows, flexible=0, right=(1, 2, 3, 4, 5, 6), whole=True)


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
    return fit_table(headers, rows, flexible=1, right=(2, 3, 4), whole=True)


def _ready_table(plan: Plan, catalog: Catalog) -> str:
    rows = [
        (
            row["dish"],
            row["kept"],
            day_text(row["keeps_until"]),
            number(row["servings"], 2),
            number(row["eaten"], 2),
        )
        for row in tables.records(tables.ready(plan, catalog))
    ]
    headers = ("Ready from earlier weeks", "In the", "Eat by", "Servings", "Eaten")
    return fit_table(headers, rows, flexible=0, right=(3, 4)) if rows else ""


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
    return fit_table(headers, rows, flexible=1, right=(2, 3), whole=True)


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
        *wrap(f"Plan for {plan.scenario_name}", WIDTH),
        *wrap(f"{span_text(plan)}, {plural(len(scenario.clients), 'client')}", WIDTH),
        _wrapped(headline(solution, plan.currency)),
    ]
    if solution.status in STOPPED_EARLY:
        head.append(
            _wrapped(
                f"{status_sentence(solution)} Gap asked for: {percent_up(solution.gap_asked)} %."
            )
        )
    blocks = [
        "\n".join(head),
        _cost_table(plan),
        _client_table(plan, catalog, scenario),
        _cooking_table(plan, catalog),
        *filter(None, [_ready_table(plan, catalog)]),
        _buying_table(plan, catalog),
    ]
    outside = references.short_lines(plan, catalog, scenario)
    if outside:
        blocks.append(_outside(outside))
    if plan.cautions:
        count = plural(len(plan.cautions), "caution")
        blocks.append(_wrapped(f"{count}: read them in report.md before cooking."))
    return "\n\n".join(blocks)
