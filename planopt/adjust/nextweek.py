"""Lay out next week from a plan: its scenario with new dates and with what is left over."""

from __future__ import annotations

import os
import re
from dataclasses import dataclass
from datetime import date, timedelta
from decimal import ROUND_FLOOR, Decimal
from fractions import Fraction
from pathlib import Path
from typing import Any

from planopt.adjust.leftboxes import left_in_boxes, ready_text
from planopt.carry import carried_stock, stock_text
from planopt.catalog.load import load_catalog
from planopt.catalog.quantities import Quantities
from planopt.catalog.records import Catalog, Unit
from planopt.folders import bad_folder, settle, write_file
from planopt.plan.file import read_plan
from planopt.plan.records import Plan
from planopt.scenario.kitchens import path_from
from planopt.scenario.ready import ReadyPortions
from planopt.scenario.records import Stock, StockFile
from planopt.writing.yamlfile import YamlFile

# Steps in which a person writes amounts, from the first amount on; common practice, no source.
_STEPS: dict[str, tuple[tuple[str, str], ...]] = {
    "g": (("1000", "50"), ("200", "10"), ("20", "5"), ("0", "1")),
    "ml": (("1000", "50"), ("200", "10"), ("20", "5"), ("0", "1")),
    "kg": (("0", "0.05"),),
    "l": (("0", "0.05"),),
    "each": (("0", "1"),),
}
_SMALLER: dict[str, Unit] = {"kg": "g", "l": "ml"}
_DATED = re.compile(r"-\d{4}-\d{2}-\d{2}$")


@dataclass(frozen=True)
class NextWeek:
    """A scenario file of the week after a plan, not yet saved.

    `ready` are cooked servings left over that it counts on, and `uneaten` those that are past
    their last day by then: recipe name, servings and that day. `single_days` are things of single
    days that came along.
    """

    path: Path
    text: str
    start: date
    stock: tuple[Stock, ...]
    ready: tuple[ReadyPortions, ...]
    uneaten: tuple[tuple[str, float, date], ...]
    single_days: tuple[str, ...]

    def save(self) -> Path:
        """Write the file; return its path."""
        write_file(self.path, self.text)
        return self.path


def next_week(folder: Path, out: Path | None = None) -> NextWeek:
    """Return next week's scenario for the plan of a folder.

    By default it stands beside the scenario of the plan, named after its first date.

    Raises:
        BadInput: plan, scenario or catalog cannot be read, or the file is there already.
    """
    settle(folder)
    plan = read_plan(folder)
    scenario_path = Path(plan.scenario_file)
    catalog = load_catalog(Path(plan.catalog_folder))
    start = plan.start_date + timedelta(days=plan.days)
    target = out
    if target is None:
        stem = _DATED.sub("", scenario_path.stem)
        target = scenario_path.with_name(f"{stem}-{start.isoformat()}.yaml")
    if os.path.lexists(target):
        raise bad_folder(
            target,
            "a file of this name exists already",
            "choose another file with --out, or move this one away",
            "next_file_taken",
        )
    file = YamlFile(scenario_path)
    stock = written_stock(plan, catalog, file.data)
    file.set(["start_date"], start.isoformat())
    file.set(["catalog"], path_from(target.parent, Path(plan.catalog_folder)))
    first = min(entry["day"] for entry in file.data["cook_days"])
    boxes, spoiled = left_in_boxes(plan, file.data, start, start + timedelta(days=first - 1))
    for key in ("stock", "stock_files", "by_hand", "ready_portions"):
        file.drop([key])
    if {"past_plans", "not_again_days", "seen_price"} & set(file.data):
        past = [str(path_from(target.parent, scenario_path.parent / name))
                for name in file.data.get("past_plans") or ()]  # fmt: skip
        file.set(["past_plans"], [*past, path_from(target.parent, folder)])
    text = file.text.replace(f"start_date: '{start}'", f"start_date: {start}")
    text = _with_stock(text, stock, boxes)
    return NextWeek(target, text, start, stock, boxes, spoiled, _single_days(file.data))


def _with_stock(text: str, stock: tuple[Stock, ...], ready: tuple[ReadyPortions, ...]) -> str:
    """Return the text of a scenario with what is left over, before its clients where they are."""
    listed = stock_text(StockFile(stock=stock)).partition("stock:")
    block = f"stock:{listed[2]}"
    if ready:
        block += (
            f"\nready_portions:         # in their boxes since earlier weeks\n{ready_text(ready)}"
        )
    clients = re.search(r"^clients:", text, re.MULTILINE)
    if clients is None:
        return f"{text.rstrip()}\n{block}"
    return f"{text[: clients.start()].rstrip()}\n\n{block}\n{text[clients.start() :]}"


def written_stock(plan: Plan, catalog: Catalog, data: Any) -> tuple[Stock, ...]:
    """Return what a plan carries in amounts a person would write, never more than is left.

    The unit is that of the scenario's own entry of the food, else that of the pack bought.
    """
    units: dict[str, Any] = {row.food_id: row.unit for row in plan.purchases}
    for entry in data.get("stock") or ():
        units[entry["food"]] = entry["unit"]
    quantities = Quantities(catalog)
    found = []
    for row in carried_stock(plan, catalog).stock:
        food, use_by = row.food, row.use_by
        grams = Fraction(repr(quantities.stock_edible_g(food, row.amount, row.unit)))
        unit = units.get(food, "g")
        amount = _in_unit(quantities, food, grams, unit)
        if unit in _SMALLER and amount < 1:
            unit = _SMALLER[unit]
            amount = _in_unit(quantities, food, grams, unit)
        if amount > 0:
            found.append(Stock(food=food, amount=amount, unit=unit, use_by=use_by))
    return tuple(found)


def _in_unit(quantities: Quantities, food: str, grams: Fraction, unit: Unit) -> Decimal:
    one = quantities.stock_edible_g(food, Decimal(1), unit)
    return rounded_down(grams / Fraction(repr(one)), unit)


def rounded_down(amount: Fraction, unit: str) -> Decimal:
    """Return an amount as a person would write it, and never more than it is."""
    for least, step in _STEPS.get(unit, _STEPS["each"]):
        if amount >= Fraction(least):
            steps = int(amount / Fraction(step))
            return (steps * Decimal(step)).quantize(Decimal(step), rounding=ROUND_FLOOR)
    return Decimal(0)


def _single_days(data: Any) -> tuple[str, ...]:
    """Return what the scenario says of single days, which may be of last week alone."""
    found = []
    for client in data.get("clients") or ():
        for key in ("away", "windows_on_days"):
            if client.get(key):
                found.append(f"{key} of {client.get('id')}")
    return tuple(found)
