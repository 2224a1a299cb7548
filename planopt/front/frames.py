"""Tables of a plan as pandas frames for people: dates as dates, categories, money exact.

Money is in Decimals, with the currency in the column's name: `price_usd`. Sums of them are exact.
"""

from __future__ import annotations

from collections.abc import Mapping, Sequence

import pandas as pd

from planopt.catalog.records import Catalog
from planopt.plan.records import Plan
from planopt.report.analysis import tables
from planopt.scenario.records import Scenario


def typed(
    frame: pd.DataFrame,
    currency: str = "",
    *,
    money: Sequence[str] = (),
    dates: Sequence[str] = (),
    categories: Sequence[str] = (),
    names: Mapping[str, str] | None = None,
) -> pd.DataFrame:
    """Return a neutral table with real types; `names` are new names, `money` stays exact.

    The `currency`, where there is one, becomes part of the names of columns with money. Tuples
    become texts with semicolons between.
    """
    table = frame.copy()
    for column in table.columns:
        if column in dates:
            table[column] = pd.to_datetime(table[column])
        elif column in categories:
            table[column] = table[column].astype("category")
        elif table[column].dtype == object and column not in money:
            texts = table[column].map(_text)
            plain = texts.map(lambda value: value is None or isinstance(value, str)).all()
            table[column] = texts.astype("string") if plain else texts.infer_objects()
    in_currency = {column: f"{column}_{currency.lower()}" for column in money if currency}
    return table.rename(columns={**(names or {}), **in_currency})


def _text(value: object) -> object:
    return "; ".join(map(str, value)) if isinstance(value, tuple) else value


def menu(plan: Plan, catalog: Catalog, scenario: Scenario) -> pd.DataFrame:
    """Return what each client eats in each meal, a row for each dish."""
    table = typed(
        tables.menu(plan, catalog, scenario),
        plan.currency,
        dates=("date", "thaw_on"),
        categories=("client_id", "client", "stored"),
    )
    told = [*scenario.meals, *(meal for meal in table["meal"] if meal not in scenario.meals)]
    table["meal"] = pd.Categorical(table["meal"], list(dict.fromkeys(told)), ordered=True)
    return table


def groceries(plan: Plan, catalog: Catalog, scenario: Scenario) -> pd.DataFrame:
    """Return what to buy, a row for each kind of pack and shop day."""
    return typed(
        tables.groceries(plan, catalog),
        plan.currency,
        money=("price_each", "price"),
        dates=("shop_date",),
        categories=("seller_id", "seller", "aisle"),
    )


def batches(plan: Plan, catalog: Catalog, scenario: Scenario) -> pd.DataFrame:
    """Return what to cook, a row for each dish and cook day."""
    return typed(
        tables.batches(plan, catalog),
        plan.currency,
        dates=("cook_date", "keeps_until", "freezer_until"),
        names={
            "eaten": "servings_eaten",
            "left": "servings_left",
            "hands_on_min": "hands_on_minutes",
        },
    )


def windows(plan: Plan, catalog: Catalog, scenario: Scenario) -> pd.DataFrame:
    """Return what each client gets of whatever a window is set for, by day and over the plan.

    `amount`, `min` and `max` are in `unit`. Rows over the plan have no day and no date.
    """
    daily = tables.day_totals(plan, catalog, scenario)
    daily = daily[daily["met"].notna()].assign(per="day")
    whole = tables.week_totals(plan, catalog, scenario).assign(per="plan", day=None, date=None)
    table = typed(
        pd.concat([part.astype(object) for part in (daily, whole)], ignore_index=True),
        plan.currency,
        dates=("date",),
        categories=("client_id", "client", "nutrient_id", "nutrient", "unit", "per"),
    )
    table["day"] = table["day"].astype("Int64")
    table["met"] = table["met"].astype("boolean")
    for column in ("amount", "min", "max"):
        table[column] = pd.to_numeric(table[column])
    first = ["client_id", "client", "per", "day", "date"]
    return table[[*first, *(column for column in table.columns if column not in first)]]


def costs(plan: Plan, catalog: Catalog, scenario: Scenario) -> pd.DataFrame:
    """Return of what the cost is made; the column `counted` adds up to `plan.cost`.

    `amount` is money or value as it is, `counted` what of it is in the cost: waste is weighed.
    """
    s = plan.solution
    weighed = s.objective - s.grocery_cost - s.visit_cost - s.missed_cost - s.work_cost
    rows = [
        ("groceries", s.grocery_cost, s.grocery_cost),
        ("visits", s.visit_cost, s.visit_cost),
        ("waste", s.waste_cost, weighed),
        ("work", s.work_cost, s.work_cost),
        ("intakes missed", s.missed_cost, s.missed_cost),
    ]
    table = tables.frame(("part", "amount", "counted"), rows)
    return typed(table, plan.currency, money=("amount", "counted"), categories=("part",))


def bill(plan: Plan, catalog: Catalog, scenario: Scenario) -> pd.DataFrame:
    """Return what each client pays, a row for each; `pays` adds up to the bill exactly."""
    return typed(
        tables.split(plan, scenario),
        plan.currency,
        money=("groceries", "visits", "pays"),
        categories=("client_id", "client"),
    )


def leftovers(plan: Plan, catalog: Catalog, scenario: Scenario) -> pd.DataFrame:
    """Return the food that is bought or on hand and not used up."""
    return typed(
        tables.leftovers(plan),
        plan.currency,
        money=("value",),
        dates=("usable_until",),
        categories=("fate",),
    )
