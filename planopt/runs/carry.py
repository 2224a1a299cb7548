"""Carry what every kitchen of a run leaves over into the next week: a stock file for each."""

from __future__ import annotations

import os
from datetime import timedelta
from pathlib import Path

from planopt.carry import carried_stock, is_stock_file, stock_text
from planopt.catalog.load import load_catalog
from planopt.faults import BadInput, Fault
from planopt.folders import bad_folder, fill, folder_beside, settle
from planopt.plan.file import read_plan
from planopt.runs.layout import RunFolder
from planopt.runs.records import RunIndex
from planopt.scenario.records import StockFile


def is_run(folder: Path) -> bool:
    """Tell whether a folder is that of a run."""
    return RunFolder(folder).has_index()


def carry_run(folder: Path) -> tuple[RunIndex, dict[str, StockFile]]:
    """Return a run's index and what each planned kitchen carries to the next week, by its id.

    Raises:
        BadInput: the run, a plan or the catalog cannot be read, or the catalog lacks a food left
            over; with the faults of all kitchens.
    """
    run = RunFolder(folder)
    run.mend()
    index = run.read_index()
    catalog = load_catalog(Path(index.catalog_folder))
    found: dict[str, StockFile] = {}
    faults: list[Fault] = []
    for kitchen in index.kitchens:
        if kitchen.state != "planned":
            continue
        try:
            plan = read_plan(run.plan_folder(kitchen.kitchen_id))
            found[kitchen.kitchen_id] = carried_stock(plan, catalog)
        except BadInput as error:
            faults += error.faults
    if faults:
        raise BadInput(faults)
    return index, found


def carried_folder_name(index: RunIndex) -> str:
    """Return the usual name of a run's stock folder, with the first date after the plans."""
    return f"carried-{index.start_date + timedelta(days=index.days)}"


def write_stocks(stocks: dict[str, StockFile], folder: Path) -> None:
    """Write a folder with a stock file for each kitchen, whole or not at all.

    An earlier one of ours is replaced; what else lies in it is kept.

    Raises:
        BadInput: the folder holds none of our files but others, or the system refuses to write.
    """
    settle(folder)
    names = os.listdir(folder) if os.path.isdir(folder) else []
    ours = frozenset(n for n in names if n.endswith(".yaml") and is_stock_file(folder / n))
    if os.path.lexists(folder) and not (os.path.isdir(folder) and (ours or not names)):
        raise bad_folder(
            folder,
            "it exists, and is not a folder that `planopt carry` wrote",
            "choose another folder with --out, or move this one away",
            "carry_folder_taken",
        )
    with folder_beside(folder, owned=ours) as fresh:
        fill(fresh, {f"{key}.yaml": stock_text(stock) for key, stock in stocks.items()})
