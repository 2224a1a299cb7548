"""USDA FoodData Central and SR files as downloaded: CSV, JSON, and the older files with carets.

`read_usda` takes a folder, a zip archive or one JSON file. Amounts are of 100 g edible; the values
that a branded food prints for a serving are not read.
"""

from __future__ import annotations

import json
from collections import defaultdict
from collections.abc import Iterator
from pathlib import Path
from typing import Any

from planopt.faults import BadInput
from planopt.intake.bundle import Bundle
from planopt.intake.composition import CompositionFood, PortionSize
from planopt.intake.nutrientcodes import WANTED, nutrients_of
from planopt.reading.files import Place, read_text

SOURCE = "USDA FoodData Central"
_TYPES = {
    "foundation_food": "Foundation Foods",
    "sr_legacy_food": "SR Legacy",
    "survey_fndds_food": "FNDDS",
    "branded_food": "Branded Foods",
}


def read_usda(path: Path) -> list[CompositionFood]:
    """Return the foods of a download, in the order of its files.

    Raises:
        BadInput: it cannot be read, or is no such download.
    """
    if path.suffix.lower() == ".json":
        text, faults = read_text(path)
        if text is None:
            raise BadInput(faults)
        return list(_json_foods(text, path))
    bundle = Bundle(path)
    if bundle.has("food.csv", "food_nutrient.csv", "nutrient.csv"):
        return list(_csv_foods(bundle))
    if bundle.has("FOOD_DES.txt", "NUT_DATA.txt"):
        return list(_caret_foods(bundle))
    for name in bundle.names(".json"):
        with bundle.text_of(name) as file:
            return list(_json_foods(file.read(), path / name))
    raise _not_known(path)


def _not_known(path: Path) -> BadInput:
    why = "there is neither food.csv nor FOOD_DES.txt nor JSON of FoodData Central here"
    mend = "name the download as it is, or give a column map with --map"
    return BadInput([Place(str(path), 0).fault("", path.name, why, mend, "unknown_file_kind")])


def _number(text: str, place: Place, field: str) -> float:
    try:
        return float(text)
    except ValueError:
        raise BadInput(
            [place.fault(field, text, "this is no number", "download it again", "not_a_number")]
        ) from None


def _csv_foods(bundle: Bundle) -> Iterator[CompositionFood]:
    nutrients = {
        row["id"]: (row["nutrient_nbr"], row["unit_name"])
        for _, row in bundle.rows("nutrient.csv", ("id", "nutrient_nbr", "unit_name"))
    }
    names = {key: number for key, (number, _) in nutrients.items()}
    # Some editions name a nutrient by its number instead of its id.
    wanted = {key for key, number in names.items() if number in WANTED}
    amounts: dict[str, list[tuple[str, float, str]]] = defaultdict(list)
    table = "food_nutrient.csv"
    for line, row in bundle.rows(table, ("fdc_id", "nutrient_id", "amount")):
        if row["nutrient_id"] in wanted and row["amount"]:
            place = Place(str(bundle.path / table), line)
            number, unit = nutrients[row["nutrient_id"]]
            amount = _number(row["amount"], place, "amount")
            amounts[row["fdc_id"]].append((number, amount, unit))
    portions = _csv_portions(bundle)
    groups = _by_id(bundle, "food_category.csv", "id", "description")
    old = _by_id(bundle, "sr_legacy_food.csv", "fdc_id", "NDB_number")
    old |= _by_id(bundle, "foundation_food.csv", "fdc_id", "NDB_number")
    for _, row in bundle.rows("food.csv", ("fdc_id", "data_type", "description")):
        key = row["fdc_id"]
        # Samples and lots of a foundation food have rows of their own without a composition.
        if key not in amounts or row["data_type"] not in _TYPES:
            continue
        ndb = old.get(key, "")
        yield CompositionFood(
            key=key,
            description=row["description"],
            source=f"{SOURCE}, {_TYPES[row['data_type']]}",
            group=groups.get(row.get("food_category_id", ""), ""),
            nutrients=nutrients_of(amounts[key]),
            portions=tuple(portions.get(key, ())),
            ndb_no=ndb.zfill(5) if ndb.isdigit() else None,
        )


def _by_id(bundle: Bundle, table: str, key: str, value: str) -> dict[str, str]:
    if not bundle.has(table):
        return {}
    return {row[key]: row[value] for _, row in bundle.rows(table, (key, value)) if row[value]}


def _csv_portions(bundle: Bundle) -> dict[str, list[PortionSize]]:
    found: dict[str, list[PortionSize]] = defaultdict(list)
    if not bundle.has("food_portion.csv"):
        return found
    units = _by_id(bundle, "measure_unit.csv", "id", "name")
    for line, row in bundle.rows("food_portion.csv", ("fdc_id", "amount", "gram_weight")):
        place = Place(str(bundle.path / "food_portion.csv"), line)
        unit = units.get(row.get("measure_unit_id", ""), "")
        size = _portion(
            row["amount"] and _number(row["amount"], place, "amount"),
            unit,
            row.get("modifier", ""),
            row.get("portion_description", ""),
            row["gram_weight"] and _number(row["gram_weight"], place, "gram_weight"),
        )
        if size is not None:
            found[row["fdc_id"]].append(size)
    return found


def _portion(amount: Any, unit: str, modifier: str, words: str, grams: Any) -> PortionSize | None:
    named = "" if unit in ("", "undetermined") else unit
    text = ", ".join(part for part in (named, modifier) if part) or words
    if not text or not grams:
        return None
    return PortionSize(float(amount or 1), text, float(grams))


def _json_foods(text: str, path: Path) -> Iterator[CompositionFood]:
    try:
        data = json.loads(text)
    except ValueError as error:
        place = Place(str(path), getattr(error, "lineno", 0))
        why = f"the JSON cannot be read: {error}"
        raise BadInput(
            [place.fault("", path.name, why, "download it again", "json_syntax")]
        ) from None
    entries = _entries(data)
    if not entries:
        raise _not_known(path)
    for entry in entries:
        yield _json_food(entry)


def _entries(data: Any) -> list[dict[str, Any]]:
    """Return the foods of any of the forms: one food, a list, or lists under names."""
    if isinstance(data, dict) and "foodNutrients" in data:
        return [data]
    found: list[dict[str, Any]] = []
    lists = list(data.values()) if isinstance(data, dict) else [data]
    for part in lists:
        if isinstance(part, list):
            found += [one for one in part if isinstance(one, dict) and "foodNutrients" in one]
    return found


def _json_food(entry: dict[str, Any]) -> CompositionFood:
    amounts = []
    for row in entry["foodNutrients"]:
        # The full form nests the nutrient, the abridged one does not.
        about = row.get("nutrient", row)
        number = str(about.get("number", about.get("nutrientNumber", "")))
        amount = row.get("amount", row.get("value"))
        if number in WANTED and isinstance(amount, (int, float)):
            amounts.append((number, float(amount), str(about.get("unitName", ""))))
    portions = []
    for row in entry.get("foodPortions", ()):
        unit = (row.get("measureUnit") or {}).get("name", "")
        words = (str(row.get("modifier") or ""), str(row.get("portionDescription") or ""))
        size = _portion(row.get("amount"), unit, *words, row.get("gramWeight"))
        if size is not None:
            portions.append(size)
    group = entry.get("foodCategory") or entry.get("brandedFoodCategory") or ""
    ndb = str(entry.get("ndbNumber") or "")
    kind = str(entry.get("dataType") or "")
    return CompositionFood(
        key=str(entry.get("fdcId", "")),
        description=str(entry.get("description", "")),
        source=f"{SOURCE}, {kind}" if kind else SOURCE,
        group=str(group.get("description", "")) if isinstance(group, dict) else str(group),
        nutrients=nutrients_of(amounts),
        portions=tuple(portions),
        ndb_no=ndb.zfill(5) if ndb.isdigit() and len(ndb) <= 5 else None,
    )


def _caret_rows(bundle: Bundle, name: str) -> Iterator[tuple[Place, list[str]]]:
    with bundle.text_of(name, encoding="latin-1") as text:
        for line, row in enumerate(text, start=1):
            if row.strip():
                cells = [cell.strip("~") for cell in row.rstrip("\r\n").split("^")]
                yield Place(str(bundle.path / name), line), cells


def _caret_foods(bundle: Bundle) -> Iterator[CompositionFood]:
    """Yield foods of the SR files: fields between carets, texts between tildes."""
    units = dict(_caret_units(bundle))
    amounts: dict[str, list[tuple[str, float, str]]] = defaultdict(list)
    for place, cells in _caret_rows(bundle, "NUT_DATA.txt"):
        if cells[1] in WANTED:
            amount = _number(cells[2], place, "Nutr_Val")
            amounts[cells[0]].append((cells[1], amount, units[cells[1]]))
    portions: dict[str, list[PortionSize]] = defaultdict(list)
    if bundle.has("WEIGHT.txt"):
        for place, cells in _caret_rows(bundle, "WEIGHT.txt"):
            amount, grams = (_number(cells[n], place, "Amount") for n in (2, 4))
            portions[cells[0]].append(PortionSize(amount, cells[3], grams))
    groups = {}
    if bundle.has("FD_GROUP.txt"):
        groups = {cells[0]: cells[1] for _, cells in _caret_rows(bundle, "FD_GROUP.txt")}
    for place, cells in _caret_rows(bundle, "FOOD_DES.txt"):
        yield CompositionFood(
            key=cells[0],
            description=cells[2],
            source="USDA Standard Reference",
            group=groups.get(cells[1], cells[1]),
            nutrients=nutrients_of(amounts.get(cells[0], ())),
            refuse_percent=_number(cells[8], place, "Refuse") if cells[8] else None,
            portions=tuple(portions.get(cells[0], ())),
            ndb_no=cells[0],
        )


def _caret_units(bundle: Bundle) -> Iterator[tuple[str, str]]:
    """Yield the unit of each number; NUTR_DEF tells it, and else it is the one of SR28."""
    usual = {"208": "kcal", "958": "kcal", "957": "kcal"}
    milli = ("601", "307", "306", "301", "303", "304", "309", "401", "323")
    micro = ("320", "328", "435", "418")
    for number in WANTED:
        unit = "mg" if number in milli else "ug" if number in micro else "g"
        yield number, usual.get(number, unit)
    if bundle.has("NUTR_DEF.txt"):
        for _, cells in _caret_rows(bundle, "NUTR_DEF.txt"):
            yield cells[0], cells[1]
