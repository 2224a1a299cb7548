"""Reading a catalog folder: its tables and a folder of recipes."""

from __future__ import annotations

import hashlib
from collections.abc import Callable
from dataclasses import dataclass
from pathlib import Path
from typing import Any, TypeVar

from pydantic import BaseModel

from planopt.catalog.checks import KEY_FIELDS, check_catalog
from planopt.catalog.documents import Document, read_document
from planopt.catalog.files import Place
from planopt.catalog.plausibility import catalog_warnings
from planopt.catalog.positions import Positions
from planopt.catalog.records import (
    Allergen,
    Catalog,
    Food,
    Measure,
    Nutrient,
    Pack,
    Recipe,
    ReferenceIntake,
    SafeTemperature,
    SafetyGroup,
    Seller,
    StorageLimit,
    YieldFactor,
)
from planopt.catalog.tables import TableSpec, read_sheet
from planopt.catalog.validation import Problem, field_names, validate
from planopt.catalog.wording import id_like
from planopt.faults import BadInput, Fault

R = TypeVar("R", bound=BaseModel)
RECIPES_FOLDER = "recipes"
_MODELS: dict[str, type[BaseModel]] = {
    "nutrients": Nutrient,
    "allergens": Allergen,
    "foods": Food,
    "measures": Measure,
    "yields": YieldFactor,
    "sellers": Seller,
    "packs": Pack,
    "storage_limits": StorageLimit,
    "safe_temperatures": SafeTemperature,
    "safety_groups": SafetyGroup,
    "reference_intakes": ReferenceIntake,
}
_LISTS = ("hint_words", "not_words", "kinds")
_OPTIONAL = ("note", "energy_from", "hint_words", "not_words", "thawed_days", "thawed_source")
# Without it nutrients are compared with nothing, and reports say so.
_MAY_BE_MISSING = ("reference_intakes",)
TABLE_FILES = tuple(f"{name}.csv" for name in _MODELS)


@dataclass(frozen=True)
class CatalogReading:
    """What was read of a catalog folder: all sound records, their positions, and the faults."""

    catalog: Catalog
    positions: Positions
    faults: tuple[Fault, ...]

    def warnings(self) -> list[Fault]:
        """Return warnings about values that may be right and deserve a second look."""
        return catalog_warnings(self.catalog, self.positions)


def load_catalog(folder: Path) -> Catalog:
    """Read and check a catalog folder.

    Raises:
        BadInput: with every fault of every file.
    """
    reading = read_catalog(folder)
    if reading.faults:
        raise BadInput(reading.faults)
    return reading.catalog


def catalog_files(folder: Path) -> list[Path]:
    """Return the files that make up a catalog, in order of their relative names."""
    files = [folder / name for name in TABLE_FILES]
    files += (folder / RECIPES_FOLDER).glob("*.yaml")
    return sorted(
        (file for file in files if file.is_file()),
        key=lambda file: file.relative_to(folder).as_posix(),
    )


def catalog_sha256(folder: Path) -> str:
    """Return the SHA-256 over the names and bytes of a catalog's files, as hexadecimal text."""
    digest = hashlib.sha256()
    for file in catalog_files(folder):
        content = file.read_bytes()
        name = file.relative_to(folder).as_posix()
        # The length keeps one file's end apart from the next one's name.
        digest.update(f"{name}\0{len(content)}\0".encode())
        digest.update(content)
    return digest.hexdigest()


def read_catalog(folder: Path) -> CatalogReading:
    """Read and check a catalog folder, keeping what is sound; raises nothing."""
    at = Positions()
    faults: list[Fault] = []
    if not folder.is_dir():
        faults.append(
            Place(str(folder), 0).fault(
                "",
                folder.name,
                "there is no such folder",
                "name a folder with foods.csv and the other tables",
                "catalog_missing",
            )
        )
        at.unreadable.update(_MODELS, {"recipes"})
        return CatalogReading(_assembled({}, {}), at, tuple(faults))
    tables: dict[str, list[Any]] = {}
    for name in _MODELS:
        tables[name] = _read_table(folder, name, at, faults)
    recipes = _read_recipes(folder / RECIPES_FOLDER, at, faults)
    catalog = _assembled(tables, recipes)
    faults += check_catalog(catalog, at)
    return CatalogReading(catalog, at, tuple(sorted(set(faults))))


def _spec(name: str, nutrients: tuple[str, ...]) -> TableSpec[Any]:
    model = _MODELS[name]
    columns = field_names(model)
    optional = tuple(column for column in _OPTIONAL if column in columns)
    if name != "foods":
        lists = tuple(column for column in _LISTS if column in columns)
        return TableSpec(name, model, KEY_FIELDS[name], columns, optional, lists)
    fixed = tuple(column for column in columns if column != "nutrients")
    return TableSpec(
        name,
        model,
        KEY_FIELDS[name],
        (*fixed, *nutrients),
        optional,
        lists=("allergens", "energy_from"),
        nested="nutrients",
        nested_columns=nutrients,
    )


def _read_table(folder: Path, name: str, at: Positions, faults: list[Fault]) -> list[Any]:
    nutrients = at.known("nutrients") if name == "foods" else frozenset()
    spec = _spec(name, tuple(sorted(nutrients or ())))
    if name in _MAY_BE_MISSING and not (folder / f"{name}.csv").exists():
        return []
    # Without nutrients.csv nobody can tell a nutrient column from a wrong one.
    sheet = read_sheet(
        folder / f"{name}.csv", spec.columns, spec.optional, any_other=nutrients is None
    )
    placed = spec.placed(sheet)
    faults += sheet.faults
    at.files[name] = sheet.file
    at.rows[name] = [(item.key, item.line) for item in placed]
    if not sheet.usable:
        at.unreadable.add(name)
    return [item.record for item in placed if item.record is not None]


def _read_recipes(folder: Path, at: Positions, faults: list[Fault]) -> dict[str, Recipe]:
    at.files["recipes"] = str(folder)
    at.rows["recipes"] = []
    if not folder.is_dir():
        faults.append(
            Place(str(folder), 0).fault(
                "",
                folder.name,
                "the catalog has no folder of recipes",
                "create it, with one .yaml file a recipe",
                "file_missing",
            )
        )
        at.unreadable.add("recipes")
        return {}
    recipes: dict[str, Recipe] = {}
    for path in sorted(folder.iterdir()):
        if path.suffix.lower() in (".yml", ".yaml") and path.suffix != ".yaml":
            faults.append(
                Place(str(path), 0).fault(
                    "file name",
                    path.name,
                    "a recipe file ends in .yaml",
                    f"rename it to {path.stem}.yaml",
                    "wrong_suffix",
                )
            )
        elif path.suffix == ".yaml":
            at.rows["recipes"].append((path.stem, 0))
            document, recipe, found = read_recipe(path)
            faults += found
            if document is not None:
                at.recipes[path.stem] = document
            if recipe is not None:
                recipes[recipe.recipe_id] = recipe
    if not at.rows["recipes"]:
        faults.append(
            Place(str(folder), 0).fault(
                "",
                folder.name,
                "there is no recipe in this folder",
                "add at least one .yaml file",
                "no_recipes",
            )
        )
    return recipes


def read_recipe(path: Path) -> tuple[Document | None, Recipe | None, list[Fault]]:
    """Read one recipe file; its stem is the id. Only the file itself is checked."""
    document, faults = read_document(path)
    if document is None:
        return None, None, faults
    data = document.data
    if not isinstance(data, dict):
        _, problems = validate(Recipe, data)
        return document, None, document.faults(problems)
    if "recipe_id" in data:
        place = document.place(("recipe_id",))
        faults.append(
            place.fault(
                "recipe_id",
                data["recipe_id"],
                "the id of a recipe is its file name",
                "remove this line",
                "unknown_field",
            )
        )
    injected = {**data, "recipe_id": path.stem}
    recipe, problems = validate(Recipe, injected, injected=("recipe_id",))
    for problem in problems:
        if problem.path == ("recipe_id",):
            faults.append(_bad_stem(path, problem))
        else:
            faults += document.faults([problem])
    return document, recipe, faults


def _bad_stem(path: Path, problem: Problem) -> Fault:
    better = id_like(path.stem)
    mend = f"rename the file to {better}.yaml" if better else "rename the file"
    return Place(str(path), 0).fault("file name", path.stem, problem.why, mend, problem.code)


def _assembled(tables: dict[str, list[Any]], recipes: dict[str, Recipe]) -> Catalog:
    """Put the records together, each table in id order; of two equal ids the first stays."""

    def by_id(name: str, key: Callable[[Any], str]) -> dict[str, Any]:
        found: dict[str, Any] = {}
        for record in tables.get(name, []):
            found.setdefault(key(record), record)
        return dict(sorted(found.items()))

    return Catalog(
        nutrients=by_id("nutrients", lambda record: record.nutrient_id),
        allergens=by_id("allergens", lambda record: record.allergen_id),
        foods=by_id("foods", lambda record: record.food_id),
        measures=tuple(
            sorted(
                tables.get("measures", []),
                key=lambda row: (row.food_id, row.unit, row.state or ""),
            )
        ),
        yields=tuple(sorted(tables.get("yields", []), key=lambda row: (row.food_id, row.state))),
        sellers=by_id("sellers", lambda record: record.seller_id),
        packs=by_id("packs", lambda record: record.pack_id),
        recipes=dict(sorted(recipes.items())),
        storage_limits=by_id("storage_limits", lambda record: record.kind),
        safe_temperatures=by_id("safe_temperatures", lambda record: record.class_id),
        safety_groups=by_id("safety_groups", lambda record: record.group_id),
        reference_intakes=tuple(
            sorted(
                tables.get("reference_intakes", []),
                key=lambda row: (row.nutrient_id, row.sex, row.age_from, row.age_to, row.kind),
            )
        ),
    )
