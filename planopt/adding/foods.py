"""Adding a food to a catalog, from a composition table or a label."""

from __future__ import annotations

from collections.abc import Callable, Sequence
from dataclasses import dataclass
from pathlib import Path

from planopt.adding.asking import Asker, any_text, number, one_of, whole
from planopt.adding.trial import found_in, on_trial
from planopt.catalog.foodwords import hint_in, suggested_allergens
from planopt.catalog.load import read_catalog
from planopt.catalog.records import NONE, NOT_KNOWN, Catalog, Food
from planopt.faults import BadOption, Fault
from planopt.intake.composition import (
    MOST_SHOWN,
    CompositionFood,
    density_of,
    measures_of,
    only_one,
    search,
)
from planopt.intake.sr28 import SOURCE as SR28
from planopt.units import ML_PER_UNIT
from planopt.writing.tablefile import TableFile

STATES = ("raw", "cooked", "drained", "ready")
STORAGES = ("shelf", "fridge", "freezer", "tap")
# USDA food group -> aisle and storage that are proposed; common practice, no source.
_PROPOSED = {
    "Dairy and Egg Products": ("dairy_and_eggs", "fridge"),
    "Spices and Herbs": ("spices_and_baking", "shelf"),
    "Fats and Oils": ("oils_and_condiments", "shelf"),
    "Poultry Products": ("meat_and_fish", "fridge"),
    "Pork Products": ("meat_and_fish", "fridge"),
    "Beef Products": ("meat_and_fish", "fridge"),
    "Lamb, Veal, and Game Products": ("meat_and_fish", "fridge"),
    "Finfish and Shellfish Products": ("meat_and_fish", "fridge"),
    "Sausages and Luncheon Meats": ("meat_and_fish", "fridge"),
    "Breakfast Cereals": ("dry_goods", "shelf"),
    "Cereal Grains and Pasta": ("dry_goods", "shelf"),
    "Legumes and Legume Products": ("dry_goods", "shelf"),
    "Fruits and Fruit Juices": ("produce", "fridge"),
    "Vegetables and Vegetable Products": ("produce", "fridge"),
    "Nut and Seed Products": ("nuts_and_dried_fruit", "shelf"),
    "Baked Products": ("bakery", "shelf"),
    "Beverages": ("drinks", "shelf"),
    "Sweets": ("spices_and_baking", "shelf"),
}
_CUP_TOLERANCE = 0.05


@dataclass(frozen=True)
class Added:
    """What was added, in words, and the warnings that are new."""

    lines: tuple[str, ...]
    warnings: tuple[Fault, ...]


def choose(foods: Sequence[CompositionFood], words: str, asker: Asker) -> CompositionFood:
    """Return the food of a table that words mean; asked for where several may be meant.

    Raises:
        BadOption: no food is meant for certain, and there is nobody to ask; the nearest are listed.
    """
    found = search(foods, words)
    sure = only_one(found, words)
    if sure is not None:
        return sure
    if not found:
        raise BadOption(f"the table has no food like {words!r}; try other words, or --label")
    shown = found[:MOST_SHOWN]
    listed = [f"  {one.food.key}  {one.score:>5.1f} %  {one.food.description}" for one in shown]
    if asker.asks:
        question = "\n".join(["Foods of the table that may be meant:", *listed, "Number"])
        keys = [food.key for food in foods]
        chosen = asker.get("composition", question, one_of(keys), default=shown[0].food.key)
        return next(food for food in foods if food.key == chosen)
    raise BadOption(
        "\n".join([f"{words!r} may mean several foods; give --composition NUMBER of one:", *listed])
    )


def add_food(folder: Path, food_id: str, source: CompositionFood, asker: Asker) -> Added:
    """Add a food of a table to a catalog, with the household measures that the table has.

    Raises:
        BadOption: an answer is missing or wrong.
        BadInput: the catalog cannot take it; its files are then as they were.
    """
    reading = read_catalog(folder)
    catalog = reading.catalog
    if food_id in (reading.positions.known("foods") or ()):
        asker.complain(f"{food_id}: the catalog has this food already")
    cells = _answers(catalog, food_id, source, asker)
    asker.done()
    foods, measures = TableFile(folder / "foods.csv"), TableFile(folder / "measures.csv")
    for nutrient_id in catalog.nutrients:
        if nutrient_id in source.nutrients:
            cells[nutrient_id] = f"{source.nutrients[nutrient_id]:g}"
    foods.append(cells)
    weights = _measures(source, cells)
    for unit, (grams, words) in weights.items():
        name = "SR28" if source.source == SR28 else source.source
        told = f"{name} portion {source.key} {words}"
        row = {"food_id": food_id, "unit": unit, "grams": f"{grams:g}", "source": told}
        measures.append(row)
    with on_trial((foods.path, measures.path), lambda: found_in(folder)) as warnings:
        foods.save()
        measures.save()
    unknown = [one for one in catalog.nutrients if one not in source.nutrients]
    lines = [f"{food_id} added to {foods.path}: {source.description} ({source.source})."]
    if weights:
        shown = ", ".join(f"{unit} {grams:g} g" for unit, (grams, _) in weights.items())
        lines.append(f"Measures: {shown}.")
    if unknown:
        lines.append(f"Not in the table, so unknown: {', '.join(unknown)}.")
    lines += asker.told()
    if not cells["allergens"]:
        lines.append("Its allergens are not known, so nobody who excludes any is served it.")
    return Added(tuple(lines), tuple(warnings))


def _answers(
    catalog: Catalog, food_id: str, source: CompositionFood, asker: Asker
) -> dict[str, str]:
    share = "1" if source.refuse_percent is None else f"{1 - source.refuse_percent / 100:.4g}"
    density = density_of(source)
    aisle, storage = _PROPOSED.get(source.group, (None, None))
    name = asker.get("name", "Name for reports", any_text, _plain(food_id)) or ""
    cells = {
        "food_id": food_id,
        "name": name,
        **_origin(source),
        "state": asker.get("state", "State the values describe", one_of(STATES), _state(source)),
        "edible_share": asker.get(
            "edible-share", "Edible grams in one gram as bought", number(0.01, 1), share
        ),
        "density_g_per_ml": asker.get(
            "density",
            "Grams in a millilitre, if it is poured",
            number(0.05, 2.99),
            "" if density is None else f"{density:g}",
            needed=False,
        ),
    }
    hinted, likely = _hints(catalog, food_id, name, source.description)
    hint = f" (its name suggests {', '.join(likely)})" if likely else ""
    cells["allergens"] = asker.get(
        "allergens",
        f"Allergens with bars between, none, or nothing if not known{hint}",
        _allergens(catalog),
        needed=False,
    )
    cells["aisle"] = asker.get("aisle", "Aisle of the shop", any_text, aisle)
    cells |= _keeping(catalog, asker, storage, hinted)
    return {column: value or "" for column, value in cells.items()}


def _origin(source: CompositionFood) -> dict[str, str]:
    """Return the cells that say where the values are from."""
    if source.source == SR28:
        return {"sr28_ndb_no": source.ndb_no or "", "sr28_description": source.description}
    told = f"{source.source} {source.key}: {source.description}".replace("  ", " ")
    return {"sr28_ndb_no": "", "sr28_description": told}


def _state(source: CompositionFood) -> str:
    """Return the state that a description names; food is ready as it is if it names none."""
    words = source.description.casefold()
    if "dry" in words.replace(",", " ").split() or "uncooked" in words:
        return "raw"
    return next((one for one in ("cooked", "drained", "raw") if one in words), "ready")


def _keeping(
    catalog: Catalog, asker: Asker, storage: str | None, hinted: list[str]
) -> dict[str, str | None]:
    """Ask how the food is stored, how long it keeps, and for its safety group."""
    groups = [*catalog.safety_groups, NONE]
    hint = f" (its name suggests {hinted[0]})" if hinted else ""
    cells = {
        "storage": asker.get("storage", "shelf, fridge, freezer or tap", one_of(STORAGES), storage),
        "safety_group": asker.get(
            "safety-group",
            f"Safety group{hint}: {', '.join(groups)}",
            one_of(groups),
            hinted[0] if hinted and asker.asks else None,
        ),
    }
    # An empty cell would mean long enough for any plan, which nothing in a fridge is.
    cold = cells["storage"] == "fridge"
    cells["keeps_days"] = asker.get(
        "keeps-days", "Days it keeps unopened", whole(0, 3650), needed=cold
    )
    cells["opened_keeps_days"] = asker.get(
        "opened-keeps-days", "Days it keeps once opened", whole(0, 3650), needed=False
    )
    return cells


def _plain(food_id: str) -> str:
    words = food_id.replace("_", " ")
    return words[:1].upper() + words[1:]


def _hints(
    catalog: Catalog, food_id: str, name: str, description: str
) -> tuple[list[str], list[str]]:
    """Return the safety groups and allergens that the food's words suggest."""
    food = Food(
        food_id=food_id,
        name=name or food_id,
        sr28_description=description,
        nutrients={},
        state="raw",
        edible_share=1,
        allergens=(),
        aisle="",
        storage="shelf",
        safety_group=NONE,
    )
    groups = [one.group_id for one in catalog.safety_groups.values() if hint_in(food, one)]
    return groups, [allergen_id for allergen_id, _ in suggested_allergens(food, catalog)]


def _allergens(catalog: Catalog) -> Callable[[str], str]:
    known = [*catalog.allergens, NONE, NOT_KNOWN]
    check = one_of(known)

    def read(text: str) -> str:
        parts = [part.strip() for part in text.replace(",", "|").split("|") if part.strip()]
        for part in parts:
            check(part)
        return "|".join(parts)

    return read


def _measures(source: CompositionFood, cells: dict[str, str]) -> dict[str, tuple[float, str]]:
    """Return the table's measures, without those that the food's density speaks against."""
    found = measures_of(source)
    if not cells["density_g_per_ml"]:
        return found
    density = float(cells["density_g_per_ml"])

    def agrees(unit: str, grams: float) -> bool:
        if unit not in ML_PER_UNIT:
            return True
        expected = density * float(ML_PER_UNIT[unit])
        return abs(grams - expected) <= max(_CUP_TOLERANCE * expected, 0.1)

    return {unit: value for unit, value in found.items() if agrees(unit, value[0])}
