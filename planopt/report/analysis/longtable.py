"""The plan as one long table, a row for each measure of each portion: made for pivot tables."""

from __future__ import annotations

from collections.abc import Iterator
from math import nan

import pandas as pd

from planopt.catalog.records import Catalog
from planopt.plan.records import Plan, Portion
from planopt.report.analysis.shares import EATEN, cost_shares
from planopt.report.analysis.tables import MACROS, frame, portions_in_order
from planopt.report.words.plain import dish_words
from planopt.scenario.records import Scenario

SERVINGS, COST = "servings", "groceries"


def measure_decimals(catalog: Catalog) -> dict[str, int]:
    """Return the decimals of the measures by their ids; money is Decimal and has its own."""
    return {n: catalog.nutrients[n].decimals for n in catalog.nutrients} | {SERVINGS: 2}


def long_table(plan: Plan, catalog: Catalog, scenario: Scenario) -> pd.DataFrame:
    """Return what is eaten, a row for each client, day, meal, dish and measure.

    The measures are servings, energy and macronutrients, and the portion's part of the groceries,
    in the unit of the row. No cell is empty but an amount that is not known.
    """
    shares = cost_shares(plan)
    eaten = shares[shares["goes_to"] == EATEN]
    key = ["client_id", "day", "meal", "recipe_id", "version", "cook_day"]
    costs = {tuple(row[:-1]): row[-1] for row in eaten[[*key, "cost"]].itertuples(index=False)}
    names = {client.client_id: client.name for client in scenario.clients}
    rows = []
    for p in portions_in_order(plan, scenario):
        of_portion = (p.client_id, p.day, p.meal, p.recipe_id, p.version, p.cook_day)
        for measure_id, measure, unit, amount in _measures(p, catalog):
            rows.append(
                _row(p, plan, catalog, scenario, names, (measure, unit, amount, measure_id))
            )
        spent = costs[of_portion]
        told = ("Groceries", plan.currency, spent, COST)
        rows.append(_row(p, plan, catalog, scenario, names, told))
    return frame(
        ("client", "date", "meal", "dish", "stored", "cooked_on", "measure", "unit", "amount",
         "day", "cook_day", "client_id", "recipe_id", "measure_id"),
        rows,
        whole=("day", "cook_day"),
    )  # fmt: skip


def _measures(portion: Portion, catalog: Catalog) -> Iterator[tuple[str, str, str, float]]:
    yield SERVINGS, "Servings", "servings", portion.servings
    for nutrient_id in MACROS:
        nutrient = catalog.nutrients.get(nutrient_id)
        if nutrient is not None:
            amount = portion.nutrients.get(nutrient_id, nan)
            yield nutrient_id, nutrient.name, nutrient.unit, amount


def _row(
    p: Portion,
    plan: Plan,
    catalog: Catalog,
    scenario: Scenario,
    names: dict[str, str],
    measure: tuple[str, str, object, str],
) -> tuple[object, ...]:
    name, unit, amount, measure_id = measure
    dish = dish_words(catalog, p.recipe_id, p.recipe_name, p.version)
    return (
        names.get(p.client_id, p.client_id), p.date, p.meal, dish, p.stored,
        scenario.date_of(p.cook_day), name, unit, amount, p.day, p.cook_day, p.client_id,
        p.recipe_id, measure_id,
    )  # fmt: skip
