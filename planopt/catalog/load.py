"""Reading a catalog folder: its tables and a folder of recipes."""

from __future__ import annotations

import hashlib
import os
import re
from collections.abc import Callable
from dataclasses import dataclass
from pathlib import Path
from typing import Any, TypeVar

from pydantic import BaseModel

from planopt.catalog.checks import KEY_FIELDS, check_catalog
from planopt.catalog.plausibility import catalog_warnings
from planopt.catalog.positions import Positions
from planopt.catalog.records import (
    Allergen,
    Catalog,
    Food,
    Measure,
    Nutrient,
    Pack,
    PriceSeen,
    Recipe,
    ReferenceIntake,
    SafeTemperature,
    SafetyGroup,
    Seller,
    StorageLimit,
    YieldFactor,
)
from planopt.faults import BadInput, Fault
from planopt.reading.documents import Document, read_document
from planopt.reading.files import Place, path_text, regular_bytes
from planopt.reading.soundest import soundest, without_echoes
from planopt.reading.tables import TableSpec, read_sheet
from planopt.reading.validation import Misfit, field_names, validate
from planopt.reading.wording import id_like

R = TypeVar("R", bound=BaseModel)
# What decides whether somebody can be served a meal, or what a stock weighs.
_DECISIVE_FIELDS = frozenset(
    ("meals", "lines", "allergens", "state", "density_g_per_ml", "grams", "grams_per_g", "currency")
)
_DECISIVE_CODES = frozenset(
    (
        "unknown_food",
        "unknown_allergen",
        "none_not_alone",
        "no_recipes",
        "duplicate_id",
        "unit_unknown",
        "wrong_suffix",
    )
)
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
    "price_history": PriceSeen,
}
_LISTS = ("hint_words", "not_words", "kinds")
_OPTIONAL = (
    "note", "energy_from", "hint_words", "not_words", "thawed_days", "thawed_source", "kept_in",
    "groups",
)  # fmt: skip
# Without the first nutrients are compared with nothing, and reports say so; without the second
# each pack has one price.
_MAY_BE_MISSING = ("reference_intakes", "price_history")
TABLE_FILES = tuple(f"{name}.csv" for name in _MODELS)


@dataclass(frozen=True)
class CatalogReading:
    """What was read of a catalog folder: all sound records, their positions, and the faults."""

    catalog: Catalog
    positions: Positions
    faults: tuple[Fault, ...]

    def warnings(self) -> list[Fault]:
        """Return warnings about values that may be right and deserve a second look."""
        return _without_echoes(catalog_warnings(self.catalog, self.positions), self.positions)

    @property
    def amounts(self) -> frozenset[str] | None:
        """Return the ids that windows may name; None where they are not known."""
        known = self.positions.known("nutrients")
        return None if known is None else known | set(self.catalog.amounts)

    @property
    def complete(self) -> bool:
        """Tell whether recipes, foods, measures and packs are sound enough to judge whole meals."""
        if self.positions.unreadable or self.positions.lost:
            return False
        touched = {
            re.split(r"[.\[]", field)[0]
            for _, _, fields in self.positions.changed
            for field in fields
        }
        return not touched & _DECISIVE_FIELDS and not _DECISIVE_CODES & {
            f.code for f in self.faults
        }


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
        (file for file in files if os.path.isfile(file)),
        key=lambda file: file.relative_to(folder).as_posix(),
    )


def catalog_sha256(folder: Path) -> str:
    """Return the SHA-256 over the names and bytes of a catalog's files, as hexadecimal text."""
    digest = hashlib.sha256()
    for file in catalog_files(folder):
        content = regular_bytes(file)
        name = file.relative_to(folder).as_posix()
        # The length keeps one file's end apart from the next one's name.
        digest.update(f"{name}\0{len(content)}\0".encode())
        digest.update(content)
    return digest.hexdigest()


def read_catalog(folder: Path) -> CatalogReading:
    """Read and check a catalog folder, keeping what is sound; raises nothing."""
    at = Positions()
    faults: list[Fault] = []
    if not os.path.isdir(folder):
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
    faults += _without_echoes(check_catalog(catalog, at), at)
    return CatalogReading(catalog, at, tuple(sorted(set(faults))))


def _without_echoes(faults: list[Fault], at: Positions) -> list[Fault]:
    """Return faults without those that only follow from a value left out for a fault of its own."""
    for file, line, fields in at.changed:
        faults = without_echoes(faults, file, fields, line)
    return faults


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
        lists=("allergens", "energy_from", "groups"),
        nested="nutrients",
        nested_columns=nutrients,
    )


def _read_table(folder: Path, name: str, at: Positions, faults: list[Fault]) -> list[Any]:
    nutrients = at.known("nutrients") if name == "foods" else frozenset()
    spec = _spec(name, tuple(sorted(nutrients or ())))
    if name in _MAY_BE_MISSING and not os.path.lexists(folder / f"{name}.csv"):
        return []
    # Without nutrients.csv nobody can tell a nutrient column from a wrong one.
    sheet = read_sheet(
        folder / f"{name}.csv", spec.columns, spec.optional, any_other=nutrients is None
    )
    placed = spec.placed(sheet)
    faults += sheet.faults
    at.files[name] = sheet.file
    at.rows[name] = [(item.key, item.line) for item in placed]
    at.changed += [(sheet.file, one.line, one.changed) for one in placed if one.changed]
    at.lost = at.lost or any(item.record is None for item in placed)
    if not sheet.usable:
        at.unreadable.add(name)
    return [item.record for item in placed if item.record is not None]


def _read_recipes(folder: Path, at: Positions, faults: list[Fault]) -> dict[str, Recipe]:
    at.files["recipes"] = str(folder)
    at.rows["recipes"] = []
    try:
        paths = _recipe_paths(folder)
    except BadInput as bad:
        faults += bad.faults
        at.unreadable.add("recipes")
        return {}
    recipes: dict[str, Recipe] = {}
    for path in paths:
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
            recipe = _placed_recipe(path, at, faults)
            if recipe is not None:
                recipes[recipe.recipe_id] = recipe
            at.lost = at.lost or recipe is None
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


def _recipe_paths(folder: Path) -> list[Path]:
    """Return what lies in the folder of recipes.

    Raises:
        BadInput: there is none, or it cannot be read.
    """
    place = Place(str(folder), 0)
    if not os.path.isdir(folder):
        why, mend = (
            "the catalog has no folder of recipes",
            "create it, with one .yaml file a recipe",
        )
        raise BadInput([place.fault("", folder.name, why, mend, "file_missing")])
    try:
        return sorted(folder.iterdir())
    except OSError as error:
        why = f"the folder cannot be read: {(error.strerror or 'unknown reason').lower()}"
        mend = "make the folder readable"
        raise BadInput([place.fault("", folder.name, why, mend, "file_unreadable")]) from error


def _placed_recipe(path: Path, at: Positions, faults: list[Fault]) -> Recipe | None:
    """Return a recipe, or what is sound of it, and note where its values stand."""
    at.rows["recipes"].append((path.stem, 0))
    document, recipe, found = read_recipe(path)
    faults += found
    if document is None:
        return recipe
    at.recipes[path.stem] = document
    if recipe is None:
        recipe, places = soundest(
            Recipe, _with_id(document.data, path.stem), injected=("recipe_id",)
        )
        at.changed.append((document.file, None, tuple(path_text(one) for one in places)))
    return recipe


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
    recipe, problems = validate(Recipe, _with_id(data, path.stem), injected=("recipe_id",))
    for problem in problems:
        if problem.path == ("recipe_id",):
            faults.append(_bad_stem(path, problem))
        else:
            faults += document.faults([problem])
    return document, recipe, faults


def _with_id(data: object, recipe_id: str) -> object:
    return {**data, "recipe_id": recipe_id} if isinstance(data, dict) else data


def _bad_stem(path: Path, problem: Misfit) -> Fault:
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
        price_history=tuple(
            sorted(tables.get("price_history", []), key=lambda row: (row.pack_id, row.price_date))
        ),
    )
