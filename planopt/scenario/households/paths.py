"""Checking whatever the user names: scenarios, catalogs, recipes, or folders of these."""

from __future__ import annotations

import os
from collections.abc import Iterable
from dataclasses import replace
from pathlib import Path

from planopt.catalog.load import (
    RECIPES_FOLDER,
    TABLE_FILES,
    CatalogReading,
    read_catalog,
    read_recipe,
)
from planopt.catalog.records import Recipe
from planopt.faults import Fault
from planopt.reading.documents import Document, read_document
from planopt.reading.files import Place
from planopt.reading.validation import field_names
from planopt.scenario.checks.names import NAME_WARNINGS
from planopt.scenario.checks.stock import read_stock_file
from planopt.scenario.checks.unsold import WARNINGS
from planopt.scenario.defaults import DEFAULTS_FILE, read_defaults
from planopt.scenario.households.parties import read_kitchens
from planopt.scenario.kitchens import several_kitchens
from planopt.scenario.reading.gather import read_kitchen, scenario_warnings
from planopt.scenario.records import Client, Scenario, StockFile

CATALOG_MARK = "foods.csv"
_YAML = (".yaml", ".yml")
_OF_A_KITCHEN = tuple(check for check in WARNINGS if check not in NAME_WARNINGS)


def check_paths(paths: Iterable[Path]) -> list[Fault]:
    """Return the faults of scenario files, catalog folders, recipe files and folders of these."""
    return check_paths_and_warn(paths)[0]


def check_paths_and_warn(paths: Iterable[Path]) -> tuple[list[Fault], list[Fault]]:
    """Return faults, and warnings that stop nothing."""
    checker = _Checker()
    for path in paths:
        checker.check(path)
    warnings = {warning for reading in checker.catalogs.values() for warning in reading.warnings()}
    warnings |= checker.warnings
    return sorted(checker.faults), sorted(warnings)


class _Checker:
    """Gathers faults; a catalog that several scenarios share is read once."""

    def __init__(self) -> None:
        self.faults: set[Fault] = set()
        self.warnings: set[Fault] = set()
        self.catalogs: dict[Path, CatalogReading] = {}
        # By the folder as written, because recipes are found again by their file as written.
        self._around_recipes: dict[Path, CatalogReading] = {}

    def check(self, path: Path) -> None:
        if os.path.isdir(path):
            self._folder(path)
        elif path.suffix.lower() in _YAML or not os.path.exists(path):
            self._document(path)
        elif path.name in TABLE_FILES:
            self._catalog(path.parent)
        else:
            self._say(
                path,
                "this is neither a scenario, nor a recipe, nor a table of a catalog",
                "name a .yaml file or a folder",
                "unknown_file_kind",
            )

    def _say(self, path: Path, why: str, mend: str, code: str) -> None:
        self.faults.add(Place(str(path), 0).fault("", path.name, why, mend, code))

    def _catalog(self, folder: Path) -> CatalogReading:
        key = folder.resolve()
        if key not in self.catalogs:
            self.catalogs[key] = read_catalog(folder)
        self.faults.update(self.catalogs[key].faults)
        return self.catalogs[key]

    def _document(self, path: Path) -> None:
        if path.name == DEFAULTS_FILE:
            self.faults.update(read_defaults(path)[1])
            return
        document, faults = read_document(path)
        kind = _kind(document) if document is not None else ""
        if document is None:
            self.faults.update(faults)
        elif kind == "scenario":
            self._scenario(path, document)
        elif kind == "stock":
            self.faults.update(read_stock_file(path)[2])
        elif kind == "roster":
            self._say(
                path,
                "this is a roster, and what its clients may eat depends on a scenario",
                "name the scenario whose `roster` it is",
                "unknown_file_kind",
            )
        else:
            self._recipe(path)

    def _scenario(self, path: Path, document: Document) -> None:
        if several_kitchens(document.data):
            self._kitchens(path)
        else:
            reading = read_kitchen(path, self.catalogs)
            self.faults.update(reading.faults())
            self.warnings.update(reading.warnings)

    def _kitchens(self, path: Path) -> None:
        reading = read_kitchens(path, self.catalogs)
        self.faults.update(reading.all_faults())
        # A client stands elsewhere in the files than in the kitchen put together of them.
        place = Place(str(path), 0)

        def locate(_: object) -> Place:
            return place

        eaters: list[Client] = []
        for part in reading.parts:
            if reading.catalog is not None and not part.faults:
                found = scenario_warnings(part.scenario, reading.catalog, locate, _OF_A_KITCHEN)
                self.warnings.update(replace(warning, field="clients") for warning in found)
                eaters += () if part.scenario is None else part.scenario.clients
        # Boxes of all kitchens may be carried by one person.
        if reading.common is not None and reading.catalog is not None and eaters:
            everybody = reading.common.model_copy(update={"clients": tuple(eaters)})
            found = scenario_warnings(everybody, reading.catalog, locate, NAME_WARNINGS)
            self.warnings.update(replace(warning, field="clients") for warning in found)

    def _recipe(self, path: Path) -> None:
        """Check a recipe, with its catalog if it lies in one, without the catalog's own faults."""
        self.faults.update(read_recipe(path)[2])
        folder = path.parent.parent
        if path.parent.name == RECIPES_FOLDER and os.path.isfile(folder / CATALOG_MARK):
            if folder not in self._around_recipes:
                self._around_recipes[folder] = read_catalog(folder)
            found = self._around_recipes[folder].faults
            self.faults.update(fault for fault in found if fault.file == str(path))

    def _folder(self, folder: Path) -> None:
        found = False
        for here, folders, files in os.walk(folder):
            folders[:] = sorted(name for name in folders if not name.startswith("."))
            if CATALOG_MARK in files:
                found = True
                self._catalog(Path(here))
                # The recipes are read with their catalog.
                folders[:] = [name for name in folders if name != RECIPES_FOLDER]
            for name in sorted(files):
                path = Path(here) / name
                if path.suffix.lower() in _YAML and self._found_in_tree(path):
                    found = True
        if not found:
            self._say(
                folder,
                "the folder has no catalog, scenario or recipe",
                "name another folder",
                "nothing_to_check",
            )

    def _found_in_tree(self, path: Path) -> bool:
        if path.name == DEFAULTS_FILE:
            self.faults.update(read_defaults(path)[1])
            return True
        document, faults = read_document(path)
        if document is None:
            self.faults.update(faults)
            return True
        kind = _kind(document)
        if kind == "scenario":
            self._scenario(path, document)
        elif kind == "recipe":
            self._recipe(path)
        elif kind == "stock":
            self.faults.update(read_stock_file(path)[2])
        return bool(kind)


def _kind(document: Document) -> str:
    """Tell a scenario, recipe, roster or stock file, even with a key misspelt; else nothing."""
    if not isinstance(document.data, dict):
        return ""
    keys = {str(key) for key in document.data}
    if keys == {"clients"}:
        return "roster"
    if "clients" in keys or "roster" in keys:
        return "scenario"
    if "stock" in keys and keys <= set(field_names(StockFile)):
        return "stock"
    scenario = len(keys & set(field_names(Scenario)) - {"name", "meals"})
    recipe = len(keys & set(field_names(Recipe)) - {"name", "meals"})
    if scenario == recipe == 0:
        return ""
    return "scenario" if scenario > recipe else "recipe"
