"""Loading a scenario, or with its catalog the whole kitchen; every fault is raised at once."""

from __future__ import annotations

import hashlib
from dataclasses import dataclass
from pathlib import Path

from planopt.catalog.documents import read_document
from planopt.catalog.load import catalog_sha256
from planopt.catalog.records import Catalog
from planopt.faults import BadInput
from planopt.scenario.kitchens import several_kitchens
from planopt.scenario.paths import check_paths, check_paths_and_warn
from planopt.scenario.reading import read_kitchen, read_scenario
from planopt.scenario.records import Scenario

__all__ = [
    "Kitchen",
    "check_paths",
    "check_paths_and_warn",
    "load_kitchen",
    "load_scenario",
    "scenario_sha256",
]


@dataclass(frozen=True)
class Kitchen:
    """A checked scenario with its checked catalog, and what identifies the files."""

    catalog: Catalog
    scenario: Scenario
    scenario_path: Path
    catalog_folder: Path
    scenario_sha256: str
    catalog_sha256: str


def load_scenario(path: Path) -> Scenario:
    """Read a scenario file by itself; its catalog is not looked at.

    Raises:
        BadInput: with every structural fault.
    """
    _, scenario, faults = read_scenario(path)
    if scenario is None:
        raise BadInput(faults)
    return scenario


def scenario_sha256(path: Path) -> str:
    """Return the SHA-256 of the scenario file's bytes, as hexadecimal text."""
    return hashlib.sha256(path.read_bytes()).hexdigest()


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
        catalog=reading.catalog.catalog,
        scenario=reading.scenario,
        scenario_path=scenario_path,
        catalog_folder=reading.catalog_folder,
        scenario_sha256=scenario_sha256(scenario_path),
        catalog_sha256=catalog_sha256(reading.catalog_folder),
    )
