"""Food on hand: the checks of stock entries, and the files of them that a scenario names."""

from __future__ import annotations

import os
from collections.abc import Iterator, Sequence
from dataclasses import dataclass
from pathlib import Path

from planopt import ranges
from planopt.catalog.quantities import Quantities, UnitUnknown
from planopt.faults import Fault
from planopt.reading.documents import Document, read_document
from planopt.reading.validation import validate
from planopt.scenario.checks.subject import Check, Checking
from planopt.scenario.records import Scenario, StockFile


@dataclass(frozen=True)
class StockReading:
    """One stock file that was read without a fault of its own."""

    path: Path
    document: Document
    content: StockFile


def read_stock_files(
    scenario_path: Path, document: Document | None, scenario: Scenario | None
) -> tuple[list[StockReading], list[Fault]]:
    """Read the stock files that a scenario names, each relative to the scenario's file."""
    readings: list[StockReading] = []
    faults: list[Fault] = []
    if document is None or scenario is None:
        return readings, faults
    seen: dict[object, str] = {}
    for index, name in enumerate(scenario.stock_files):
        place = document.place(("stock_files", index))
        field = f"stock_files[{index}]"
        path = Path(os.path.normpath(scenario_path.parent / name))
        key = identity_of(path)
        if key in seen:
            why = "this file is named twice, and its food would count twice"
            if os.path.normpath(seen[key]) != os.path.normpath(name):
                why = f"this is the same file as {seen[key]}, and its food would count twice"
            faults.append(place.fault(field, name, why, "name it once", "duplicate_stock_file"))
            continue
        seen[key] = name
        if not name or not os.path.exists(path):
            mend = "write the file's place relative to this file; `planopt carry` makes such files"
            why = "there is no such file"
            faults.append(place.fault(field, name, why, mend, "stock_file_missing"))
            continue
        found, content, problems = read_stock_file(path)
        faults += problems
        if found is not None and content is not None:
            readings.append(StockReading(path, found, content))
    return readings, faults


def identity_of(path: Path) -> object:
    """Return what two names of one file have in common, links of either kind included."""
    try:
        found = os.stat(path)
    except (OSError, ValueError):
        return os.path.abspath(path)
    return found.st_dev, found.st_ino


def linked_stock_files(folder: Path) -> dict[str, str]:
    """Return the kitchens whose stock file is that of another one too, with that other kitchen."""
    first: dict[object, str] = {}
    twins = {}
    for path in sorted(folder.glob("*.yaml")):
        other = first.setdefault(identity_of(path), path.stem)
        if other != path.stem:
            twins[path.stem] = other
    return twins


def read_stock_file(path: Path) -> tuple[Document | None, StockFile | None, list[Fault]]:
    """Read one stock file; the content is None if there is a fault. No catalog is looked at."""
    document, faults = read_document(path)
    if document is None:
        return None, None, faults
    content, problems = validate(StockFile, document.data)
    return document, content, document.faults(problems)


def with_stock(scenario: Scenario, readings: Sequence[StockReading]) -> Scenario:
    """Return the scenario with its own stock first, then that of its files in their order."""
    if not readings:
        return scenario
    more = tuple(entry for reading in readings for entry in reading.content.stock)
    return scenario.model_copy(update={"stock": (*scenario.stock, *more)})


def stock_foods(c: Checking) -> Iterator[Fault]:
    """Every food in stock must exist."""
    for index, stock in enumerate(c.scenario.stock):
        yield from c.unknown("foods", ("stock", index, "food"), stock.food)


def stock_units(c: Checking) -> Iterator[Fault]:
    """The amount of every stock entry can be turned into grams."""
    quantities = Quantities(c.catalog)
    for index, stock in enumerate(c.scenario.stock):
        if stock.food not in c.catalog.foods:
            continue
        try:
            quantities.stock_edible_g(stock.food, stock.amount, stock.unit)
        except UnitUnknown as unknown:
            # A missing measure may be one of the catalog's rows at fault.
            if c.complete:
                yield c.fault(
                    ("stock", index, "unit"),
                    stock.unit,
                    unknown.why,
                    unknown.mend,
                    "unit_unknown",
                )


def stock_grams(c: Checking) -> Iterator[Fault]:
    """What is on hand of one entry is no more than a kitchen can hold."""
    quantities = Quantities(c.catalog)
    for index, stock in enumerate(c.scenario.stock):
        if stock.food not in c.catalog.foods:
            continue
        try:
            grams = quantities.stock_edible_g(stock.food, stock.amount, stock.unit)
        except UnitUnknown:
            continue
        if not ranges.STOCK_GRAMS.holds(grams):
            yield c.fault(
                ("stock", index, "amount"),
                stock.amount,
                f"this is {grams:.0f} g of edible food; {ranges.STOCK_GRAMS.why}",
                "correct the amount or its unit",
                "out_of_range",
            )


STOCK_CHECKS: tuple[Check, ...] = (stock_foods, stock_units, stock_grams)
