"""A plan as neutral tables: pandas frames, one row per fact, units in the column names.

Open windows and missing numbers are NaN; missing dates are None; money is Decimal.
"""

from __future__ import annotations

from collections import defaultdict
from collections.abc import Iterable
from decimal import Decimal
from math import inf, nan
from typing import Any

import pandas as pd

from planopt.catalog.records import GROUP_UNIT, Catalog
from planopt.plan.records import Plan, Portion, Purchase
from planopt.plan.split import split_bill
from planopt.report.words.kitchen import hands_on_minutes
from planopt.report.words.plain import MACROS as MACROS
from planopt.report.words.plain import (
    dish_words,
    food_name,
    pack_text,
    plain,
    seller_name,
    version_words,
)
from planopt.scenario.records import Client, Scenario
from planopt.scenario.references import guarded
from planopt.scenario.windows import window_bounds, written_windows
from planopt.tolerances import meets
from planopt.units import from_minor


def frame(
    columns: tuple[str, ...],
    rows: Iterable[tuple[object, ...]],
    whole: tuple[str, ...] = (),
    real: tuple[str, ...] = (),
) -> pd.DataFrame:
    """Return a frame whose texts, dates and Decimals stay Python objects."""
    table = pd.DataFrame(list(rows), columns=list(columns), dtype=object)
    kinds = dict.fromkeys(whole, "int64") | dict.fromkeys(real, "float64")
    return table.astype(kinds)


def records(frame: pd.DataFrame) -> list[dict[str, Any]]:
    """Return the rows of a frame as dicts keyed by column name."""
    return [{str(k): v for k, v in row.items()} for row in frame.to_dict("records")]


def spelled(table: pd.DataFrame) -> pd.DataFrame:
    """Return a table whose column `dish` has the whole name, as pages and labels spell it."""
    whole = [
        f"{dish}, {version}" if version else dish
        for dish, version in zip(table["dish"], table["version"], strict=True)
    ]
    return table.assign(dish=pd.Series(whole, index=table.index, dtype=object))


def _client_names(scenario: Scenario) -> dict[str, str]:
    return {client.client_id: client.name for client in scenario.clients}


def portions_in_order(plan: Plan, scenario: Scenario) -> list[Portion]:
    """Return the portions by client, day and meal, as the menu lists them."""
    order = {meal: place for place, meal in enumerate(scenario.meals)}
    place = {client.client_id: n for n, client in enumerate(scenario.clients)}
    return sorted(
        plan.portions,
        key=lambda p: (
            place.get(p.client_id, len(place)), p.day, order.get(p.meal, len(order)),
            p.recipe_name, p.version, p.cook_day,
        ),
    )  # fmt: skip


def menu(plan: Plan, catalog: Catalog, scenario: Scenario) -> pd.DataFrame:
    """Return what each client eats in each meal."""
    names = _client_names(scenario)
    portions = portions_in_order(plan, scenario)
    return frame(
        ("client_id", "client", "day", "date", "meal", "recipe_id", "dish", "version",
         "servings", *MACROS, "stored", "thaw_on", "cook_day"),
        [
            (
                p.client_id, names.get(p.client_id, p.client_id), p.day, p.date, p.meal,
                p.recipe_id, p.recipe_name,
                version_words(catalog, catalog.recipes.get(p.recipe_id), p.version),
                p.servings, *(p.nutrients.get(n, nan) for n in MACROS), p.stored, p.thaw_on,
                p.cook_day,
            )
            for p in portions
        ],
        whole=("day", "cook_day"),
        real=("servings", *MACROS),
    )  # fmt: skip


def _uses(plan: Plan, purchase: Purchase, catalog: Catalog) -> list[str]:
    """Return the names of the dishes that take food from a purchase's shop day."""
    cook_days = {
        day
        for use in plan.food_uses
        if use.food_id == purchase.food_id and use.supply == f"shop day {purchase.shop_day}"
        for day, grams in use.used_g.items()
        if grams > 0
    }
    return sorted(
        {
            dish_words(catalog, batch.recipe_id, batch.recipe_name, batch.version)
            for batch in plan.batches
            if batch.cook_day in cook_days
            and any(line.food_id == purchase.food_id and line.grams > 0 for line in batch.lines)
        }
    )


def ready(plan: Plan, catalog: Catalog) -> pd.DataFrame:
    """Return the portions that were ready before the plan, eaten or not."""
    rows = [
        (
            dish_words(catalog, row.recipe_id, row.recipe_name, row.version),
            row.cook_date,
            row.kept,
            row.keeps_until,
            row.servings,
            row.servings_eaten,
            row.servings_left,
            row.price,
        )
        for row in plan.ready
    ]
    columns = ("dish", "cooked", "kept", "keeps_until", "servings", "eaten", "left", "price")
    return frame(columns, rows)


def groceries(plan: Plan, catalog: Catalog) -> pd.DataFrame:
    """Return what to buy, by shop day, seller and aisle. `what_for` is a tuple of dish names."""
    rows = []
    for p in plan.purchases:
        food = catalog.foods.get(p.food_id)
        rows.append(
            (
                p.shop_day, p.shop_date, p.seller_id, seller_name(catalog, p.seller_id),
                plain(food.aisle) if food else "", p.food_id, p.food_name, pack_text(p), p.count,
                p.price_each, p.price, p.edible_g, tuple(_uses(plan, p, catalog)),
            )
        )  # fmt: skip
    rows.sort(key=lambda row: (row[0], row[3], row[2], row[4], row[6], row[7]))
    return frame(
        ("shop_day", "shop_date", "seller_id", "seller", "aisle", "food_id", "food", "pack",
         "count", "price_each", "price", "edible_g", "what_for"),
        rows,
        whole=("shop_day",),
        real=("count", "edible_g"),
    )  # fmt: skip


def seller_totals(plan: Plan, catalog: Catalog) -> pd.DataFrame:
    """Return lines and money by shop day and seller; one row is one visit."""
    money: dict[tuple[int, str], Decimal] = defaultdict(Decimal)
    lines: dict[tuple[int, str], int] = defaultdict(int)
    dates = {p.shop_day: p.shop_date for p in plan.purchases}
    for p in plan.purchases:
        money[p.shop_day, p.seller_id] += p.price
        lines[p.shop_day, p.seller_id] += 1
    keys = sorted(money, key=lambda key: (key[0], seller_name(catalog, key[1]), key[1]))
    return frame(
        ("shop_day", "shop_date", "seller_id", "seller", "lines", "total"),
        [
            (day, dates[day], seller, seller_name(catalog, seller), lines[day, seller],
             money[day, seller])
            for day, seller in keys
        ],
        whole=("shop_day", "lines"),
    )  # fmt: skip


def split(plan: Plan, scenario: Scenario) -> pd.DataFrame:
    """Return what each client pays of the bill; the column `pays` adds up to it exactly."""
    names = _client_names(scenario)
    return frame(
        ("client_id", "client", "groceries", "visits", "pays"),
        [
            (
                share.client_id, names[share.client_id],
                *(from_minor(minor, plan.currency)
                  for minor in (share.groceries_minor, share.visits_minor, share.total_minor)),
            )
            for share in split_bill(plan, list(names))
        ],
    )  # fmt: skip


def batches(plan: Plan, catalog: Catalog) -> pd.DataFrame:
    """Return what to cook. `parts` is a tuple of the parts kept apart until eating."""
    rows = []
    for b in sorted(plan.batches, key=lambda b: (b.cook_day, b.recipe_name, b.version)):
        recipe = catalog.recipes.get(b.recipe_id)
        parts = sorted({line.part for line in b.lines})
        rows.append(
            (
                b.cook_day, b.cook_date, b.recipe_id, b.recipe_name,
                version_words(catalog, recipe, b.version), b.batches, b.servings,
                b.servings_eaten, b.servings_left, b.use_by_fridge, b.use_by_freezer,
                tuple(parts) if len(parts) > 1 else (),
                hands_on_minutes(recipe, b.batches) if recipe else nan,
            )
        )  # fmt: skip
    return frame(
        ("cook_day", "cook_date", "recipe_id", "dish", "version", "batches", "servings", "eaten",
         "left", "keeps_until", "freezer_until", "parts", "hands_on_min"),
        rows,
        whole=("cook_day",),
        real=("batches", "servings", "eaten", "left", "hands_on_min"),
    )  # fmt: skip


_WINDOW_COLUMNS = ("nutrient_id", "nutrient", "unit", "amount", "min", "max", "met")


def _window_cells(
    catalog: Catalog, nutrient_id: str, amount: float, window: tuple[float, float] | None
) -> tuple[object, ...]:
    nutrient = catalog.amounts.get(nutrient_id)
    name, unit = (nutrient.name, nutrient.unit) if nutrient else (plain(nutrient_id), "")
    if window is None:
        return (nutrient_id, name, unit, amount, nan, nan, None)
    low, high = window
    met = meets(amount, low, high)
    return (
        nutrient_id, name, unit, amount, low if low > 0 else nan, nan if high == inf else high, met
    )  # fmt: skip


def _eaten(plan: Plan) -> dict[tuple[str, int], dict[str, float]]:
    sums: dict[tuple[str, int], dict[str, float]] = defaultdict(lambda: defaultdict(float))
    for p in plan.portions:
        for nutrient_id, amount in p.nutrients.items():
            sums[p.client_id, p.day][nutrient_id] += amount
        for group, amount in p.food_groups_g.items():
            sums[p.client_id, p.day][group + GROUP_UNIT] += amount
    return sums


def eating_days(scenario: Scenario, client: Client) -> list[int]:
    """Return the days on which a client eats at least one meal from this kitchen."""
    return [day for day in range(1, scenario.days + 1) if scenario.meals_of(client, day)]


def day_totals(plan: Plan, catalog: Catalog, scenario: Scenario) -> pd.DataFrame:
    """Return every nutrient and food group of every client and day, beside the day's window.

    `met` is None where no window is set. Windows of days with meals away are already scaled.
    """
    eaten = _eaten(plan)
    rows = []
    for client in scenario.clients:
        for day in eating_days(scenario, client):
            windows = written_windows(scenario, client, day)
            sums = eaten.get((client.client_id, day), {})
            for nutrient_id in catalog.amounts:
                cells = _window_cells(
                    catalog, nutrient_id, sums.get(nutrient_id, 0.0), windows.get(nutrient_id)
                )
                rows.append(
                    (client.client_id, client.name, day, scenario.date_of(day), *cells)
                )  # fmt: skip
    return frame(
        ("client_id", "client", "day", "date", *_WINDOW_COLUMNS),
        rows,
        whole=("day",),
        real=("amount", "min", "max"),
    )


def week_totals(plan: Plan, catalog: Catalog, scenario: Scenario) -> pd.DataFrame:
    """Return, for each client, the totals of all days for which a window of the week is set."""
    eaten = _eaten(plan)
    rows = []
    for client in guarded(catalog, scenario).clients:
        for nutrient_id, window in client.windows_per_week.items():
            total = sum(
                sums.get(nutrient_id, 0.0)
                for (client_id, _), sums in eaten.items()
                if client_id == client.client_id
            )
            cells = _window_cells(catalog, nutrient_id, total, window_bounds(window))
            rows.append((client.client_id, client.name, *cells))
    return frame(
        ("client_id", "client", *_WINDOW_COLUMNS), rows, real=("amount", "min", "max")
    )  # fmt: skip


def leftovers(plan: Plan) -> pd.DataFrame:
    """Return the food that is bought or on hand and not used up."""
    return frame(
        ("food_id", "food", "supply", "left_g", "fate", "usable_until", "value"),
        [
            (u.food_id, u.food_name, u.supply, u.left_g, u.fate, u.usable_until, u.left_value)
            for u in sorted(plan.food_uses, key=lambda u: (u.fate, u.food_name, u.supply))
            if u.fate != "nothing left"
        ],
        real=("left_g",),
    )


def on_hand(plan: Plan, catalog: Catalog, scenario: Scenario) -> pd.DataFrame:
    """Return how each stock entry of the scenario is used. Masses are edible grams."""
    rows = []
    for u in plan.food_uses:
        kind, _, index = u.supply.partition(" ")
        if kind != "stock":
            continue
        stock = scenario.stock[int(index)] if int(index) < len(scenario.stock) else None
        if stock is not None and stock.food != u.food_id:
            # The scenario has changed since the plan was made.
            stock = None
        rows.append(
            (
                u.food_id, food_name(catalog, u.food_id), u.available_g,
                sum(u.used_g.values()), u.left_g, stock.use_by if stock else None, u.fate,
            )
        )  # fmt: skip
    return frame(
        ("food_id", "food", "available_g", "used_g", "left_g", "use_by", "fate"),
        rows,
        real=("available_g", "used_g", "left_g"),
    )
