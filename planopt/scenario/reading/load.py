"""Loading a scenario, or with its catalog the whole kitchen; every fault is raised at once."""

from __future__ import annotations

import hashlib
from collections.abc import Sequence
from dataclasses import dataclass
from pathlib import Path

from planopt.catalog.load import catalog_sha256
from planopt.catalog.prices import catalog_on
from planopt.catalog.records import Catalog
from planopt.faults import BadInput
from planopt.reading.documents import read_document
from planopt.reading.files import regular_bytes
from planopt.scenario.checks.pastplans import read_past_plans, with_past
from planopt.scenario.checks.stock import read_stock_files, with_stock
from planopt.scenario.kitchens import several_kitchens
from planopt.scenario.reading.gather import read_kitchen, read_scenario
from planopt.scenario.records import Client, Scenario, Variant


@dataclass(frozen=True)
class Kitchen:
    """A checked scenario with its checked catalog, and what identifies the files.

    `changes` are those made to what the files say, and `written` the clients as the files have
    them, so that the audit can hold what became of a client against what was asked.
    """

    catalog: Catalog
    scenario: Scenario
    scenario_path: Path
    catalog_folder: Path
    scenario_sha256: str
    catalog_sha256: str
    changes: Variant | None = None
    written: tuple[Client, ...] = ()

    def __repr__(self) -> str:
        s = self.scenario
        counts = f"clients: {len(s.clients)}, recipes: {len(self.catalog.recipes)}"
        return f"<Kitchen {s.name!r}: days: {s.days} from {s.start_date}, {counts}>"


def load_scenario(path: Path) -> Scenario:
    """Read a scenario file with its stock files and past plans; its catalog is not looked at.

    Raises:
        BadInput: with every structural fault.
    """
    document, scenario, faults = read_scenario(path)
    stock, stock_faults = read_stock_files(path, document, scenario)
    past, past_faults = read_past_plans(path, document, scenario)
    if scenario is None or stock_faults or past_faults:
        raise BadInput([*faults, *stock_faults, *past_faults])
    return with_past(with_stock(scenario, stock), past)


def scenario_sha256(path: Path, stock_paths: Sequence[Path] = ()) -> str:
    """Return the SHA-256 of the scenario file's bytes, as hexadecimal text.

    With stock files it is that of the hexadecimal SHA-256 of each file, one a line.
    """
    hashes = [hashlib.sha256(regular_bytes(file)).hexdigest() for file in (path, *stock_paths)]
    if len(hashes) == 1:
        return hashes[0]
    return hashlib.sha256("".join(f"{one}\n" for one in hashes).encode()).hexdigest()


def load_kitchen(scenario_path: Path) -> Kitchen:
    """Read and check a scenario of one kitchen, and its catalog.

    Raises:
        BadInput: with every fault of every file.
    """
    document, _ = read_document(scenario_path)
    if document is not None and several_kitchens(document.data):
        why = "this scenario speaks of households or a roster, and one plan is for one kitchen"
        mend = "plan it with `planopt weeks`"
        fault = document.place().fault("", scenario_path.name, why, mend, "several_kitchens")
        raise BadInput([fault])
    reading = read_kitchen(scenario_path)
    faults = reading.faults()
    if faults or not (reading.scenario and reading.catalog and reading.catalog_folder):
        raise BadInput(faults)
    return Kitchen(
        catalog=catalog_on(reading.catalog.catalog, reading.scenario.start_date),
        scenario=reading.scenario,
        scenario_path=scenario_path,
        catalog_folder=reading.catalog_folder,
        scenario_sha256=scenario_sha256(scenario_path, reading.stock_paths),
        catalog_sha256=catalog_sha256(reading.catalog_folder),
        written=reading.scenario.clients,
    )
