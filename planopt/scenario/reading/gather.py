"""Reading a scenario and its catalog, gathering faults instead of raising them."""

from __future__ import annotations

import os
from collections.abc import Sequence
from dataclasses import dataclass
from pathlib import Path

from planopt.catalog.load import CatalogReading, read_catalog
from planopt.faults import Fault
from planopt.reading.documents import Document, read_document
from planopt.reading.files import PathPart, path_text
from planopt.reading.soundest import soundest, without_echoes
from planopt.reading.validation import validate
from planopt.scenario.checks.macrosums import MACRO_WARNINGS
from planopt.scenario.checks.meals import MEAL_WARNINGS
from planopt.scenario.checks.pastplans import read_past_plans, with_past
from planopt.scenario.checks.ready import READY_WARNINGS
from planopt.scenario.checks.stock import (
    STOCK_CHECKS,
    StockReading,
    read_stock_files,
    with_stock,
)
from planopt.scenario.checks.subject import Check, Locate
from planopt.scenario.checks.unsold import WARNINGS
from planopt.scenario.checks.whole import REFERRED, check_scenario
from planopt.scenario.records import Scenario
from planopt.scenario.variants.checks import check_variants

_DEFAULT_CATALOG = Scenario.model_fields["catalog"].default


@dataclass(frozen=True)
class KitchenReading:
    """What was read of a scenario, its stock files and its catalog, with the faults of each."""

    scenario: Scenario | None
    catalog_folder: Path | None
    catalog: CatalogReading | None
    scenario_faults: tuple[Fault, ...]
    stock_paths: tuple[Path, ...] = ()
    warnings: tuple[Fault, ...] = ()

    def faults(self) -> list[Fault]:
        """Return the faults of all files."""
        found = set(self.scenario_faults)
        if self.catalog is not None:
            found.update(self.catalog.faults)
        return sorted(found)


def read_scenario(path: Path) -> tuple[Document | None, Scenario | None, list[Fault]]:
    """Read a scenario file without its stock files; the scenario is None if there is a fault."""
    document, faults = read_document(path)
    if document is None:
        return None, None, faults
    scenario, problems = validate(Scenario, document.data)
    return document, scenario, document.faults(problems)


def read_kitchen(
    scenario_path: Path, catalogs: dict[Path, CatalogReading] | None = None
) -> KitchenReading:
    """Read a scenario, its stock files and its catalog; raises nothing.

    `catalogs` keeps catalogs already read, by resolved folder, for the next scenario.
    """
    document, written, faults = read_scenario(scenario_path)
    whole = written
    changed: tuple[tuple[PathPart, ...], ...] = ()
    if written is None and document is not None:
        # What is left of a faulty scenario has more to tell in the same round.
        written, changed = soundest(Scenario, document.data)
    stock, stock_faults = read_stock_files(scenario_path, document, written)
    past, past_faults = read_past_plans(scenario_path, document, written)
    faults += [*stock_faults, *past_faults]
    scenario = None if whole is None else with_past(with_stock(whole, stock), past)
    if document is None:
        return KitchenReading(scenario, None, None, tuple(faults))
    folder, reading, found = read_catalog_of(scenario_path, document, catalogs)
    faults += found
    if reading is None:
        return KitchenReading(scenario, folder, None, tuple(faults))
    if written is not None:
        known = {table: reading.positions.known(table) for table in REFERRED}
        complete = reading.complete
        ordered = with_past(written, past)
        if not any(path[:1] == ("cook_days",) for path in changed):
            ordered = as_written(ordered, document)
        more = check_scenario(ordered, reading.catalog, document.place, known, complete)
        more += check_variants(written, reading.catalog, document.place, known, complete)
        fields = [path_text(path) for path in changed]
        faults += without_echoes(more, document.file, fields)
        faults += check_stock_files(stock, written, reading)
    paths = (*(file.path for file in stock), *(plan.path for plan in past))
    warnings = scenario_warnings(scenario, reading, document.place)
    return KitchenReading(scenario, folder, reading, tuple(faults), paths, tuple(warnings))


def scenario_warnings(
    scenario: Scenario | None,
    reading: CatalogReading,
    locate: Locate,
    checks: tuple[Check, ...] = (*WARNINGS, *MACRO_WARNINGS, *MEAL_WARNINGS, *READY_WARNINGS),
) -> list[Fault]:
    """Return the warnings about a scenario that could be read, its stock included."""
    if scenario is None:
        return []
    complete = reading.complete and not reading.faults
    return check_scenario(scenario, reading.catalog, locate, complete=complete, checks=checks)


def check_stock_files(
    stock: Sequence[StockReading], scenario: Scenario, reading: CatalogReading
) -> list[Fault]:
    """Return the faults of the entries of stock files against the catalog, each at its place."""
    known = {table: reading.positions.known(table) for table in REFERRED}
    faults: list[Fault] = []
    for file in stock:
        faults += check_scenario(
            scenario.model_copy(update={"stock": file.content.stock}),
            reading.catalog,
            file.document.place,
            known,
            complete=reading.complete,
            checks=STOCK_CHECKS,
        )
    return faults


def read_catalog_of(
    scenario_path: Path,
    document: Document,
    catalogs: dict[Path, CatalogReading] | None = None,
) -> tuple[Path | None, CatalogReading | None, list[Fault]]:
    """Return the catalog folder that a scenario names, what was read of it, and its absence.

    The faults of the catalog itself are in its reading.
    """
    folder = catalog_folder(scenario_path, document)
    if folder is None:
        return None, None, []
    if not os.path.isdir(folder):
        missing = document.place(("catalog",)).fault(
            "catalog",
            str(folder),
            "there is no such folder",
            "write the catalog's folder relative to this file",
            "catalog_missing",
        )
        return folder, None, [missing]
    catalogs = {} if catalogs is None else catalogs
    key = folder.resolve()
    if key not in catalogs:
        catalogs[key] = read_catalog(folder)
    return folder, catalogs[key], []


def catalog_folder(scenario_path: Path, document: Document | None) -> Path | None:
    """Return the catalog folder a scenario names, as short as it can truly be written."""
    data = document.data if document is not None else None
    named = data.get("catalog", _DEFAULT_CATALOG) if isinstance(data, dict) else None
    if not isinstance(named, str):
        return None
    folder = scenario_path.parent / named
    short = Path(os.path.normpath(folder))
    try:
        # Behind a symbolic link `..` is not what the text suggests.
        return short if short.samefile(folder) else folder
    except (OSError, ValueError):
        return short


def as_written(scenario: Scenario, document: Document) -> Scenario:
    """Return the scenario with its cook days in the order of the file, as faults count them."""
    data = document.data
    entries = data.get("cook_days") if isinstance(data, dict) else None
    if not isinstance(entries, list):
        return scenario
    days = [entry["day"] if isinstance(entry, dict) else 0 for entry in entries]
    # The record sorts by day and is stable, so the same sort tells where each entry came from.
    order = sorted(range(len(entries)), key=lambda index: float(days[index]))
    written = dict(zip(order, scenario.cook_days, strict=True))
    return scenario.model_copy(
        update={"cook_days": tuple(written[index] for index in range(len(entries)))}
    )
