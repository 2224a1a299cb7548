"""How the sheets of a workbook look: heads with units, names before ids, decimals of numbers."""

from __future__ import annotations

import re
from collections.abc import Mapping, Sequence

from planopt.report.words.plain import plain

# Decimals by column; every other number is shown as it is.
DECIMALS = {
    "energy_kcal": 0, "protein_g": 1, "fat_g": 1, "carbohydrate_g": 1, "edible_g": 0, "left_g": 0,
    "available_g": 0, "used_g": 0, "grams": 0, "hands_on_min": 0, "servings": 2, "eaten": 2,
    "left": 2, "batches": 2, "count": 2,
}  # fmt: skip
# Numbers that are shown with as many decimals as their nutrient, or measure, has.
OF_THE_ROW = frozenset({"amount", "min", "max"})
_UNITS = ("g", "kcal", "min")
MONEY = ("price_each", "price", "total", "value", "groceries", "visits", "pays")
_HEADS = {
    "temperature_c": "Temperature, C", "grams": "Weight, g", "eaten": "Eaten, servings",
    "left": "Left, servings", "number": "Box", "what_for": "For",
    "keeps_until": "In the fridge until", "freezer_until": "In the freezer until",
    "stored": "Kept in", "cook_date": "Cooked on",
    "shop_date": "Bought on", "min": "Least", "max": "Most",
}  # fmt: skip
# A day by its number is what commands ask for; people read the date.
_NUMBERED_DAY = re.compile(r"(?:\w+_)?day")


def head(column: str, currency: str) -> str:
    """Return the head of a column, with its unit where it has one."""
    if column in _HEADS:
        return _HEADS[column]
    if column in MONEY:
        return f"{plain(column).capitalize()}, {currency}"
    stem, _, unit = column.rpartition("_")
    if stem and unit in _UNITS:
        return f"{plain(stem).capitalize()}, {unit}"
    return plain(column).capitalize()


def names_first(columns: Sequence[str]) -> list[str]:
    """Return columns with what people read first, then numbers of days, then ids."""
    return sorted(
        columns,
        key=lambda name: (name.endswith("_id"), _NUMBERED_DAY.fullmatch(name) is not None),
    )


def decimals_of(column: str, row: Mapping[str, object], measures: Mapping[str, int]) -> int | None:
    """Return the decimals that a number is shown with, or None for as many as it has.

    `measures` has the decimals of nutrients, and of other measures, by their ids.
    """
    if column in OF_THE_ROW:
        told = row.get("nutrient_id", row.get("measure_id"))
        return measures.get(str(told))
    return DECIMALS.get(column)


def number_format(decimals: int | None) -> str:
    """Return a number's format for a spreadsheet; two decimals show only where there are some."""
    if decimals is None or decimals == 2:
        return "General"
    return "#,##0" + (f".{'0' * decimals}" if decimals else "")
