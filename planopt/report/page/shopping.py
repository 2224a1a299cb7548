"""The shopping list by visit and aisle, what is on hand, and the swaps allowed at the counter."""

from __future__ import annotations

from collections import defaultdict
from decimal import Decimal
from typing import Any

from planopt.catalog.dishtext import dish_name
from planopt.catalog.records import Catalog
from planopt.plan.records import Plan
from planopt.report.analysis import tables
from planopt.report.analysis.swaps import counter_swaps
from planopt.report.page.parts import anchor, cautions_about, signed
from planopt.report.words.plain import (
    dish_words,
    food_name,
    money,
    money_code,
    number,
    plural,
    sentence_case,
    short_day,
    unbroken,
    version_words,
)
from planopt.scenario.records import Scenario

Row = dict[str, Any]


def _swapped_in(plan: Plan, catalog: Catalog) -> dict[str, list[str]]:
    """Return, by food, for which dish it already stands in for another food."""
    found: dict[str, list[str]] = defaultdict(list)
    for batch in plan.batches:
        recipe = catalog.recipes.get(batch.recipe_id)
        for line in batch.lines:
            if line.chosen == "alternative" and recipe is not None:
                written = food_name(catalog, recipe.lines[line.line].food)
                dish = dish_words(catalog, batch.recipe_id, batch.recipe_name, batch.version)
                words = f"in place of {sentence_case(written)} in {dish}"
                if words not in found[line.food_id]:
                    found[line.food_id].append(words)
    return found


def money_change(change: Decimal | None, currency: str) -> str:
    """Return a change of money with its sign; None where the price is not known."""
    if change is None:
        return "not sold by the sellers of that day"
    if not change:
        return "no change"
    sign = "+" if change > 0 else "\N{MINUS SIGN}"
    return f"{sign}{money_code(abs(change), currency)}"


def swap_rows(plan: Plan, catalog: Catalog, scenario: Scenario) -> list[Row]:
    """Return the swaps in words, allowed ones first within each shop day."""
    rows = []
    for row in tables.records(counter_swaps(plan, catalog, scenario)):
        recipe = catalog.recipes[row["recipe_id"]]
        words = version_words(catalog, recipe, row["version"])
        then = dish_name(recipe, row["version_after"], catalog)
        instead = (
            f"{row['instead']}, {number(row['instead_g'])} g" if row["instead"] else "leave it out"
        )
        rows.append(
            {
                "shop_day": row["shop_day"],
                "seller_id": row["seller_id"],
                "food": f"{row['food']}, {number(row['food_g'])} g",
                "instead": instead,
                "bought_at": row["bought_at"],
                "dish": f"{row['dish']}, {words}" if words else row["dish"],
                "cook_on": short_day(scenario.date_of(row["cook_day"])),
                "money": money_change(row["cost_change"], plan.currency),
                "change": row["cost_change"],
                "energy": signed(row["energy_kcal_change"]),
                "protein": signed(row["protein_g_change"], 1),
                "allowed": row["allowed"],
                "why": row["why"],
                "then": dish_words(catalog, row["recipe_id"], then, row["version_after"]),
                "steps": row["steps_after"].splitlines() if row["allowed"] else [],
            }
        )
    return sorted(rows, key=lambda row: (row["shop_day"], not row["allowed"]))


def _line(row: Row, place: int, currency: str, swapped: dict[str, list[str]]) -> Row:
    return {
        "id": anchor("buy", place, row["food_id"]),
        "food": row["food"],
        "pack": unbroken(row["pack"]),
        "edible": f"{number(row['edible_g'])} g edible",
        # A step of loose food has no price that anyone sees on a shelf.
        "each": ""
        if row["count"] == 1 or row["pack"].endswith(" loose")
        else money(row["price_each"], currency),
        "price": money(row["price"], currency),
        "uses": row["what_for"],
        "swapped": swapped.get(row["food_id"], []),
    }


def shopping(plan: Plan, catalog: Catalog, scenario: Scenario) -> Row:
    """Return what the shopping section shows."""
    code = plan.currency
    swapped = _swapped_in(plan, catalog)
    by_visit: dict[tuple[int, str], dict[str, list[Row]]] = defaultdict(lambda: defaultdict(list))
    for place, row in enumerate(tables.records(tables.groceries(plan, catalog))):
        aisles = by_visit[row["shop_day"], row["seller_id"]]
        aisles[row["aisle"]].append(_line(row, place, code, swapped))
    visits = []
    for visit in tables.records(tables.seller_totals(plan, catalog)):
        aisles = by_visit[visit["shop_day"], visit["seller_id"]]
        visits.append(
            {
                "anchor": anchor("visit", visit["shop_day"], visit["seller_id"]),
                "seller": visit["seller"],
                "day": short_day(visit["shop_date"]),
                "date": visit["shop_date"],
                "count": plural(visit["lines"], "line"),
                "total": money(visit["total"], code),
                "aisles": [
                    {"aisle": name.capitalize(), "lines": lines} for name, lines in aisles.items()
                ],
            }
        )
    total = sum((p.price for p in plan.purchases), Decimal(0))
    grocery = plan.solution.grocery_cost
    return {
        "visits": visits,
        "total": money(total, code),
        "lines": str(len(plan.purchases)),
        # Only where food is sold in any amount can lines, each rounded, differ from the whole.
        "rounded": money(grocery, code) if total != grocery else "",
        "on_hand": [
            {
                "food": row["food"],
                "available": unbroken(f"{number(row['available_g'])} g"),
                "used": unbroken(f"{number(row['used_g'])} g") if row["used_g"] >= 0.5 else "",
                "use_by": short_day(row["use_by"]) if row["use_by"] else "",
            }
            for row in tables.records(tables.on_hand(plan, catalog, scenario))
        ],
        "swaps": swap_rows(plan, catalog, scenario),
        "cautions": cautions_about(plan, ["Allergens"]),
        "currency": code,
    }
