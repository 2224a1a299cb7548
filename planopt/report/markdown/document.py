"""A plan as one Markdown document."""

from __future__ import annotations

from collections.abc import Sequence
from decimal import Decimal
from typing import Any

from planopt.catalog.records import Catalog
from planopt.cookday.records import CookDaySchedule
from planopt.plan.records import Plan
from planopt.report.analysis import groupsmet, mealgrid, tables
from planopt.report.analysis.references import TITLE, reference_part
from planopt.report.markdown.cooksheets import cook_sheets, storage_notes
from planopt.report.markdown.marks import md, md_block, table
from planopt.report.words.plain import (
    STOPPED_EARLY,
    cost_rows,
    day_text,
    dish_words,
    gap_text,
    headline,
    money,
    money_code,
    number,
    percent_up,
    plain,
    plural,
    span_text,
    status_sentence,
)
from planopt.scenario.records import Client, Scenario

_MOST_USES_SHOWN = 3
_SHARES = ("groceries", "visits", "pays")


def _summary(plan: Plan) -> str:
    s, code = plan.solution, plan.currency
    rows = [(name, money(amount, code)) for name, amount in cost_rows(s)]
    words = [md(headline(s, code))]
    if s.status in STOPPED_EARLY:
        asked = percent_up(s.gap_asked)
        words.append(f"**{status_sentence(s)}** The gap asked for was {asked} %.")
    else:
        words.append(status_sentence(s))
    return "\n\n".join(
        ["## Summary", " ".join(words), table(("Cost", code), rows, right=(1,))]
    )  # fmt: skip


def _meal_cell(rows: list[dict[str, Any]]) -> str:
    cells = []
    for row in rows:
        dish = f"{row['dish']}, {row['version']}" if row["version"] else row["dish"]
        frozen = ", from the freezer" if row["stored"] == "freezer" else ""
        cells.append(f"{md(dish)} ({plural(row['servings'], 'serving')}{frozen})")
    return "; ".join(cells)


def _client_week(client: Client, menu: list[dict[str, Any]], scenario: Scenario) -> str:
    mine = [row for row in menu if row["client_id"] == client.client_id]
    meals = [m for m in scenario.meals if any(row["meal"] == m for row in mine)]
    rows = []
    for day in range(1, scenario.days + 1):
        today = [row for row in mine if row["day"] == day]
        expected = scenario.meals_of(client, day)
        cells = [
            _meal_cell([row for row in today if row["meal"] == meal])
            or ("-" if meal in expected else "away")
            for meal in meals
        ]
        sums = [number(sum(row[n] for row in today)) if today else "-" for n in tables.MACROS]
        rows.append([day_text(scenario.date_of(day)), *cells, *sums])
    headers = [
        "Day",
        *(md(plain(meal).capitalize()) for meal in meals),
        "kcal",
        "Protein g",
        "Fat g",
        "Carb g",
    ]
    numeric = range(1 + len(meals), len(headers))
    return f"### {md(client.name)}\n\n" + table(headers, rows, right=numeric)


def _clients(plan: Plan, catalog: Catalog, scenario: Scenario) -> str:
    menu = tables.records(tables.menu(plan, catalog, scenario))
    return "\n\n".join(
        ["## Meals", *(_client_week(client, menu, scenario) for client in scenario.clients)]
    )


def _grid(plan: Plan, catalog: Catalog, scenario: Scenario) -> str:
    grid = mealgrid.meal_grid(plan, scenario)
    met = groupsmet.groups_met(plan, catalog, scenario)
    blocks = [f"## {mealgrid.TITLE}", mealgrid.ABOUT, *([mealgrid.USUAL] if grid.usual else [])]
    blocks += [mealgrid.TIED] if grid.tied else []
    for client in grid.clients:
        headers = ("Day", *(md(meal.capitalize()) for meal in client.meals))
        blocks += [f"### {md(client.name)}", table(headers, client.rows)]
        if client.client_id in met:
            rows = [tuple(md(cell) for cell in row) for row in met[client.client_id]]
            blocks += [f"{groupsmet.TITLE}:", table(groupsmet.HEADERS, rows)]
    return "\n\n".join(blocks)


def _uses_text(names: tuple[str, ...]) -> str:
    shown = ", ".join(md(name) for name in names[:_MOST_USES_SHOWN])
    rest = len(names) - _MOST_USES_SHOWN
    return f"{shown} and {rest} more" if rest > 0 else shown


def _shopping(plan: Plan, catalog: Catalog, scenario: Scenario) -> str:
    code = plan.currency
    lines = tables.records(tables.groceries(plan, catalog))
    visits = tables.records(tables.seller_totals(plan, catalog))
    blocks = ["## Shopping list"]
    for visit in visits:
        rows = [
            (
                md(row["aisle"]),
                md(row["food"]),
                md(row["pack"]),
                number(row["count"], 3),
                money(row["price_each"], code),
                money(row["price"], code),
                _uses_text(row["what_for"]),
            )
            for row in lines
            if (row["shop_day"], row["seller_id"]) == (visit["shop_day"], visit["seller_id"])
        ]
        rows.append(("", "Total", "", "", "", money(visit["total"], code), ""))
        blocks.append(f"### {md(visit['seller'])}, {day_text(visit['shop_date'])}")
        headers = ("Aisle", "Food", "Take", "Count", "Each", f"Price, {code}", "For")
        blocks.append(table(headers, rows, right=(3, 4, 5)))
    totals = [
        (md(v["seller"]), day_text(v["shop_date"]), str(v["lines"]), money(v["total"], code))
        for v in visits
    ]
    total = sum((p.price for p in plan.purchases), Decimal(0))
    totals.append(("All sellers", "", str(len(plan.purchases)), money(total, code)))
    blocks.append("### Totals")
    blocks.append(table(("Seller", "Day", "Lines", f"Price, {code}"), totals, right=(2, 3)))
    stock = [
        (
            md(row["food"]),
            number(row["available_g"]),
            number(row["used_g"]),
            day_text(row["use_by"]) if row["use_by"] else "-",
        )
        for row in tables.records(tables.on_hand(plan, catalog, scenario))
    ]
    if stock:
        blocks.append("### Already on hand")
        blocks.append(
            table(("Food", "On hand, edible g", "Used, g", "Use by"), stock, right=(1, 2))
        )
    return "\n\n".join(blocks)


def _leftovers(plan: Plan, catalog: Catalog) -> str:
    code = plan.currency
    rows = [
        (
            md(row["food"]),
            number(row["left_g"]),
            row["fate"],
            day_text(row["usable_until"]) if row["usable_until"] else "no limit",
            money(row["value"], code),
        )
        for row in tables.records(tables.leftovers(plan))
    ]
    spare = [
        (
            md(dish_words(catalog, b.recipe_id, b.recipe_name, b.version)),
            day_text(b.cook_date),
            number(b.servings_left, 2),
        )
        for b in sorted(plan.batches, key=lambda b: (b.cook_day, b.recipe_name, b.version))
        if b.servings_left > 0.005
    ]
    headers = ("Food", "Edible g left", "Fate", "Usable until", f"Value, {code}")
    return "\n\n".join(
        [
            "## Leftovers and waste",
            f"Waste in all: {md(money_code(plan.solution.waste_cost, code))}: food marked wasted, "
            "and servings cooked but not eaten. The total is rounded once, so rows may differ from "
            "it by rounding. Carried food costs nothing here: it is still good after the plan.",
            table(headers, rows, right=(1, 4)),
            "### Servings to spare",
            table(("Dish", "Cooked", "Servings"), spare, right=(2,)),
        ]
    )


def _bound(value: float) -> str:
    return "-" if value != value else number(value, 1)


def _windows(plan: Plan, catalog: Catalog, scenario: Scenario) -> str:
    days = tables.records(tables.day_totals(plan, catalog, scenario))
    weeks = tables.records(tables.week_totals(plan, catalog, scenario))
    rows = [
        (
            md(row["client"]),
            day_text(row["date"]) if "date" in row else "whole plan",
            md(f"{row['nutrient']}, {row['unit']}"),
            number(row["amount"], 1),
            _bound(row["min"]),
            _bound(row["max"]),
            "yes" if row["met"] else "NO",
        )
        for row in [*days, *weeks]
        if row["met"] is not None
    ]
    headers = ("Client", "Day", "Nutrient", "Amount", "Least", "Most", "Met")
    return "\n\n".join(
        [
            "## Windows",
            "On a day with meals eaten elsewhere, the day's windows are scaled by the share of "
            "meals eaten from this kitchen.",
            table(headers, rows, right=(3, 4, 5)),
        ]
    )


def _split(plan: Plan, scenario: Scenario) -> str:
    rows = [
        (md(row["client"]), *(money(row[name], plan.currency) for name in _SHARES))
        for row in tables.records(tables.split(plan, scenario))
    ]
    return "\n\n".join(
        [
            "## Who pays what",
            "The bill is the groceries and the shop visits after the first. The price of each food "
            "goes by the grams of it that each client eats, leftovers and waste of it included; "
            "visits go by the sums so found. The shares add up to the bill exactly.",
            table(("Client", "Groceries", "Visits", f"Pays, {plan.currency}"), rows, (1, 2, 3)),
        ]
    )


def _cautions(plan: Plan) -> str:
    return "\n\n".join(["## Cautions", "\n".join(f"- {md_block(text)}" for text in plan.cautions)])


def _outside(plan: Plan, catalog: Catalog, scenario: Scenario) -> str:
    part = reference_part(plan, catalog, scenario)
    pieces = [f"## {TITLE}", *(md_block(text) for text in part.about)]
    for client in part.clients:
        pieces.append(f"### {md(client.name)}")
        if client.remark:
            pieces.append(md_block(client.remark))
        if client.lines:
            rows = [
                (md(line.nutrient), line.average, md(line.reference), md(line.peak))
                for line in client.lines
            ]
            headers = ("Nutrient", "Average a day", "Published reference", "Single days")
            pieces.append(table(headers, rows))
    if part.sources:
        pieces.append("Sources: " + "; ".join(md(source) for source in part.sources) + ".")
    return "\n\n".join(pieces)


def _how(plan: Plan) -> str:
    s = plan.solution
    rows: list[tuple[str, str]] = [
        ("Solver", s.solver),
        ("Solver's own status", s.solver_status),
        ("Status", plain(s.status)),
        ("Gap asked for", f"{percent_up(s.gap_asked)} %"),
        (
            "Gap proven, of all counted",
            gap_text(s.objective, s.best_bound),
        ),
        ("Lower limit proven by", s.bound_composition),
        ("Seconds to build, to solve", f"{s.build_seconds:.1f}, {s.solve_seconds:.1f}"),
        *((plain(name), str(value)) for name, value in sorted(s.settings.items())),
        ("planopt", plan.planopt_version),
        ("Scenario", f"{plan.scenario_file}, SHA-256 {plan.scenario_sha256}"),
        ("Catalogs", f"{plan.catalog_folder}, SHA-256 {plan.catalog_sha256}"),
        *(() if plan.changes is None else (("Changed beforehand", plan.changes.name),)),
    ]
    cells = [(md(name), md(value)) for name, value in rows]
    return "## How it was solved\n\n" + table(("Setting or result", "Value"), cells)


def report_markdown(
    plan: Plan,
    catalog: Catalog,
    scenario: Scenario,
    schedules: Sequence[CookDaySchedule] = (),
) -> str:
    """Return the whole report of a plan; with timetables, dishes come in the order of these."""
    head = f"# Plan for {md(plan.scenario_name)}\n\n{md_block(span_text(plan))}, "
    head += f"{plural(len(scenario.clients), 'client')}."
    if scenario.note:
        head += f"\n\n{md_block(scenario.note)}"
    sections = [
        head,
        _summary(plan),
        _clients(plan, catalog, scenario),
        _grid(plan, catalog, scenario),
        _shopping(plan, catalog, scenario),
        *([_split(plan, scenario)] if len(scenario.clients) > 1 else []),
        cook_sheets(plan, catalog, scenario, schedules),
        storage_notes(plan, catalog, scenario),
        _leftovers(plan, catalog),
        _windows(plan, catalog, scenario),
        _cautions(plan),
        _outside(plan, catalog, scenario),
        _how(plan),
    ]
    return "\n\n".join(sections) + "\n"
