"""Leftovers and waste, and why this week: what binds, what is proven, and what is near it."""

from __future__ import annotations

from collections import defaultdict
from collections.abc import Sequence
from datetime import date
from typing import Any

from planopt.catalog.records import Catalog
from planopt.plan.records import Plan
from planopt.report.analysis import tables
from planopt.report.analysis.binding import EDGE_SHARE, kitchen_limits, window_edges
from planopt.report.page.parts import amount, window_words
from planopt.report.words.plain import (
    STOPPED_EARLY,
    cost_rows,
    dish_words,
    gap_text,
    headline,
    money,
    money_code,
    number,
    percent_up,
    plain,
    short_day,
    status_sentence,
    unbroken,
)
from planopt.scenario.records import Scenario
from planopt.units import exact_decimal

Row = dict[str, Any]
_MOST_SWAPS = 5
_FAR_DAYS = 180
_MOST_EDGES = 12


def _until(plan: Plan, day: date) -> str:
    """Return a date, with its year where that is not plain from the week."""
    far = abs((day - plan.start_date).days) > _FAR_DAYS
    return f"{short_day(day)} {day.year}" if far else short_day(day)


def leftovers(plan: Plan, catalog: Catalog) -> Row:
    """Return what the section on leftovers shows."""
    code = plan.currency
    rows = [
        {
            "food": row["food"],
            "grams": unbroken(f"{number(row['left_g'])} g"),
            "until": _until(plan, row["usable_until"]) if row["usable_until"] else "",
            "value": money(row["value"], code),
            "fate": row["fate"],
        }
        for row in tables.records(tables.leftovers(plan))
    ]
    return {
        "carried": [row for row in rows if row["fate"] == "carried"],
        "wasted": [row for row in rows if row["fate"] == "wasted"],
        "spare": [
            {
                "dish": dish_words(catalog, b.recipe_id, b.recipe_name, b.version),
                "cooked": short_day(b.cook_date),
                "servings": number(b.servings_left, 2),
            }
            for b in sorted(plan.batches, key=lambda b: (b.cook_day, b.recipe_name, b.version))
            if b.servings_left > 0.005
        ],
        "waste": money_code(plan.solution.waste_cost, code),
        "currency": code,
    }


def _edges(rows: list[Row]) -> list[str]:
    """Say which windows are at an edge, the most often first."""
    near: dict[tuple[str, str, str], list[int]] = defaultdict(lambda: [0, 0])
    for row in rows:
        for side in ("least", "most"):
            counts = near[row["client"], f"{row['nutrient'].lower()} of the {row['per']}", side]
            counts[0] += row["days_at_min" if side == "least" else "days_at_max"]
            counts[1] += row["days"]
    found = [
        (-at / days, f"{client}: {what}, near its {side}" + (
            f" on {at} of {days} days" if days > 1 else ""))
        for (client, what, side), (at, days) in near.items()
        if at
    ]  # fmt: skip
    return [words for _, words in sorted(found, key=lambda pair: pair[0])]


def _limits(rows: list[Row], plan: Plan) -> list[Row]:
    shown = []
    for row in rows:
        set_limit = row["limit"] == row["limit"]
        if row["what"] == "budget":
            used = money_code(plan.solution.grocery_cost, plan.currency)
            limit = (
                money_code(exact_decimal(row["limit"]), plan.currency) if set_limit else "no limit"
            )
            what = "Groceries against the budget"
        else:
            used, limit = amount(row["used"]), amount(row["limit"]) if set_limit else "no limit"
            what = f"{row['what'].capitalize()}, {short_day(row['cook_date'])}"
        share = row["used"] / row["limit"] if set_limit and row["limit"] else 0.0
        shown.append(
            {
                "what": what,
                "used": used,
                "limit": limit,
                "binds": set_limit and share >= 1 - EDGE_SHARE,
            }
        )
    return shown


def _near(plan: Plan, swaps: Sequence[Row]) -> list[Row]:
    known = [row for row in swaps if row["allowed"] and row["change"] is not None]
    return sorted(known, key=lambda row: row["change"])[:_MOST_SWAPS]


def why(plan: Plan, catalog: Catalog, scenario: Scenario, swaps: Sequence[Row]) -> Row:
    """Return what the section on reasons shows."""
    s, code = plan.solution, plan.currency
    edges = tables.records(window_edges(plan, catalog, scenario))
    counted = [(name, money(amount, code)) for name, amount in cost_rows(s)]
    asked = percent_up(s.gap_asked)
    ended = status_sentence(s)
    if s.status in STOPPED_EARLY:
        ended += f" The gap asked for was {asked} %."
    return {
        "counted": counted,
        "proof": headline(s, code),
        "ended": ended,
        "edges": _edges(edges)[:_MOST_EDGES],
        "more_edges": max(0, len(_edges(edges)) - _MOST_EDGES),
        "edge": f"{number(100 * EDGE_SHARE)} %",
        "limits": _limits(tables.records(kitchen_limits(plan, catalog, scenario)), plan),
        "windows": [
            {
                "client": row["client"],
                "nutrient": f"{row['nutrient']}, {row['unit']}",
                "per": "a day" if row["per"] == "day" else "the week",
                "window": window_words(row["min"], row["max"], 1),
                "lowest": amount(row["lowest"], 1),
                "highest": amount(row["highest"], 1),
                "met": f"{row['days_met']} of {row['days']}",
            }
            for row in edges
        ],
        "near": _near(plan, swaps),
        "how": _how(plan),
        "currency": code,
    }


def _how(plan: Plan) -> list[tuple[str, str]]:
    s = plan.solution
    return [
        ("Solver", s.solver),
        ("Solver's own status", s.solver_status),
        ("Status", plain(s.status)),
        ("Gap proven, of all counted", gap_text(s.objective, s.best_bound)),
        ("Lower limit proven by", s.bound_composition),
        ("Time to build, to solve", f"{s.build_seconds:.1f} s, {s.solve_seconds:.1f} s"),
        *((plain(name).capitalize(), str(value)) for name, value in sorted(s.settings.items())),
        ("planopt", plan.planopt_version),
        ("Scenario", f"{plan.scenario_file}, SHA-256 {plan.scenario_sha256}"),
        ("Catalogs", f"{plan.catalog_folder}, SHA-256 {plan.catalog_sha256}"),
        *(() if plan.changes is None else (("Changed beforehand", plan.changes.name),)),
    ]
