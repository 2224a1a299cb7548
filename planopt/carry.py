"""Carry what a plan leaves over into the next week: its leftovers as a stock file."""

from __future__ import annotations

import os
from collections import defaultdict
from datetime import date, timedelta
from decimal import Decimal
from fractions import Fraction
from math import floor
from pathlib import Path

import yaml

from planopt.catalog.records import Catalog
from planopt.faults import BadInput, Fault
from planopt.folders import bad_folder, write_file
from planopt.plan.records import Plan
from planopt.reading.files import regular_bytes
from planopt.scenario.records import Stock, StockFile
from planopt.units import exact

FIRST_LINE = "# Leftovers of a plan for the next one, written by `planopt carry`."


def carried_stock(plan: Plan, catalog: Catalog) -> StockFile:
    """Return the plan's carried leftovers as stock entries: one a food and use-by date.

    Amounts are grams as purchased, from the edible grams left and the food's edible share, rounded
    down to a milligram: read back, they are never more than what is left. What the plan counts as
    wasted, and cooked servings that nobody eats, are not carried.

    Raises:
        BadInput: the catalog lacks a food of the plan.
    """
    left: dict[tuple[str, date | None], Fraction] = defaultdict(Fraction)
    unknown = set()
    for use in plan.food_uses:
        if use.fate != "carried":
            continue
        if use.food_id not in catalog.foods:
            unknown.add(use.food_id)
        left[use.food_id, use.usable_until] += exact(use.left_g)
    if unknown:
        raise BadInput(
            Fault(
                plan.catalog_folder,
                0,
                "food_uses",
                food_id,
                "the plan leaves some of this food, and the catalog has it no more",
                "put the food back into foods.csv, or plan the week again",
                "carried_food_unknown",
            )
            for food_id in unknown
        )
    entries = []
    for (food_id, usable_until), grams in sorted(
        left.items(), key=lambda item: (item[0][0], item[0][1] or date.max)
    ):
        bought = grams / exact(catalog.foods[food_id].edible_share)
        amount = Decimal(floor(bought * 1000)).scaleb(-3)
        if amount > 0:
            entries.append(Stock(food=food_id, amount=amount, unit="g", use_by=usable_until))
    last = plan.start_date + timedelta(days=plan.days - 1)
    note = f"Left over from {plan.scenario_name}, {plan.start_date} to {last}."
    return StockFile(note=note, stock=tuple(entries))


def carried_file_name(plan: Plan) -> str:
    """Return the usual name of the plan's stock file, with the first date after the plan."""
    return f"carried-{plan.start_date + timedelta(days=plan.days)}.yaml"


def stock_text(stock: StockFile) -> str:
    """Return the text of a stock file; reading it back gives the same record."""
    lines = [FIRST_LINE, _yaml({"note": stock.note})[1:-1]]
    for entry in stock.stock:
        # A whole number reads as one; thousandths of a gram are exact as text.
        amount = int(entry.amount) if entry.amount % 1 == 0 else float(entry.amount)
        row = {"food": entry.food, "amount": amount, "unit": entry.unit, "use_by": entry.use_by}
        lines.append("  - " + _yaml({key: value for key, value in row.items() if value}))
    lines.insert(2, "stock:" if stock.stock else "stock: []")
    return "\n".join(lines) + "\n"


def _yaml(data: dict[str, object]) -> str:
    text = yaml.safe_dump(
        data, default_flow_style=True, sort_keys=False, allow_unicode=True, width=10**9
    )
    return text.rstrip("\n")


def write_stock(stock: StockFile, target: Path) -> None:
    """Write a stock file, whole or not at all. An earlier one of ours is replaced.

    Raises:
        BadInput: the target holds something else, or the system refuses to write.
    """
    if os.path.lexists(target) and not is_stock_file(target):
        raise bad_folder(
            target,
            "it exists, and is not a file that `planopt carry` wrote",
            "choose another file with --out, or move this one away",
            "carry_file_taken",
        )
    write_file(target, stock_text(stock))


def is_stock_file(path: Path) -> bool:
    """Tell whether a file is one that `planopt carry` wrote."""
    try:
        return regular_bytes(path).partition(b"\n")[0].rstrip(b"\r") == FIRST_LINE.encode()
    except OSError:
        return False
