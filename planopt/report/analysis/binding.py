"""What binds a plan: windows at their edge, the budget, and the limits of cook days."""

from __future__ import annotations

from collections import defaultdict
from collections.abc import Iterator
from typing import Any

import pandas as pd

from planopt.catalog.records import Catalog
from planopt.plan.records import Plan
from planopt.report.analysis.tables import day_totals, records, week_totals
from planopt.report.words.kitchen import hands_on_minutes, hob_minutes, oven_minutes
from planopt.scenario.records import Scenario

# A figure this near to a bound, in shares of the bound, is called at its edge. Common practice, no
# source: portions go in steps, so a window that binds is seldom met to the gram.
EDGE_SHARE = 0.02

_WINDOW_COLUMNS = (
    "client_id", "client", "per", "nutrient_id", "nutrient", "unit", "min", "max", "lowest",
    "highest", "days", "days_met", "days_at_min", "days_at_max",
)  # fmt: skip


def _near(amount: float, bound: float) -> bool:
    return bound == bound and abs(amount - bound) <= EDGE_SHARE * max(1.0, bound)


def _summed(rows: list[dict[str, Any]], per: str) -> Iterator[tuple[object, ...]]:
    groups: dict[tuple[object, ...], list[dict[str, Any]]] = defaultdict(list)
    for row in rows:
        if row["met"] is not None:
            # NaN is not equal to itself, so open sides are told apart by their text.
            key = (row["client_id"], row["nutrient_id"], str(row["min"]), str(row["max"]))
            groups[key].append(row)
    for group in groups.values():
        first = group[0]
        amounts = [row["amount"] for row in group]
        yield (
            first["client_id"], first["client"], per, first["nutrient_id"], first["nutrient"],
            first["unit"], first["min"], first["max"], min(amounts), max(amounts), len(group),
            sum(row["met"] for row in group),
            sum(_near(row["amount"], row["min"]) for row in group),
            sum(_near(row["amount"], row["max"]) for row in group),
        )  # fmt: skip


def window_edges(plan: Plan, catalog: Catalog, scenario: Scenario) -> pd.DataFrame:
    """Return each window of each client once, with the lowest and highest amount against it.

    Days with the same window stand together; `per` is `day` or `week`. `days_at_min` and
    `days_at_max` count amounts within `EDGE_SHARE` of the bound.
    """
    rows = [
        *_summed(records(day_totals(plan, catalog, scenario)), "day"),
        *_summed(records(week_totals(plan, catalog, scenario)), "week"),
    ]
    place = {client.client_id: n for n, client in enumerate(scenario.clients)}
    rows.sort(key=lambda row: place[str(row[0])])
    frame = pd.DataFrame(rows, columns=list(_WINDOW_COLUMNS), dtype=object)
    real = dict.fromkeys(("min", "max", "lowest", "highest"), "float64")
    whole = dict.fromkeys(("days", "days_met", "days_at_min", "days_at_max"), "int64")
    return frame.astype(real | whole)


def kitchen_limits(plan: Plan, catalog: Catalog, scenario: Scenario) -> pd.DataFrame:
    """Return how much of each kitchen limit is used: the budget, and minutes by cook day.

    `limit` is NaN where none is set. Minutes are those that the plan counts: hands-on work of all
    dishes one after the other, oven minutes of every batch, hob minutes of all rings together.
    """
    budget = scenario.budget
    rows: list[tuple[object, ...]] = [
        ("budget", 0, None, float(plan.solution.grocery_cost),
         float(budget) if budget is not None else None),
    ]  # fmt: skip
    for cook in scenario.cook_days:
        pairs = [
            (catalog.recipes[b.recipe_id], b.batches)
            for b in plan.batches
            if b.cook_day == cook.day and b.recipe_id in catalog.recipes
        ]
        if not pairs:
            continue
        date = scenario.date_of(cook.day)
        figures = (
            ("hands-on minutes", sum(hands_on_minutes(*p) for p in pairs), cook.hands_on_minutes),
            ("oven minutes", sum(oven_minutes(*p) for p in pairs), cook.oven_minutes),
            ("hob minutes", sum(hob_minutes(*p) for p in pairs), cook.hob_minutes),
            ("recipes", len({recipe.recipe_id for recipe, _ in pairs}), cook.most_recipes),
        )
        rows += [(what, cook.day, date, used, limit) for what, used, limit in figures]
    frame = pd.DataFrame(
        rows, columns=["what", "cook_day", "cook_date", "used", "limit"], dtype=object
    )
    return frame.astype({"cook_day": "int64", "used": "float64", "limit": "float64"})
