"""Decimal commas in tables: read where the table has semicolons, else told once for the table."""

from __future__ import annotations

import re
from collections.abc import Iterable
from typing import Any

from planopt.reading.files import Place

_COMMA = re.compile(r"[+-]?\d+,\d+")
_POINT = re.compile(r"[+-]?\d*\.\d+")


def with_points(sheet: Any, columns: Iterable[str]) -> dict[int, tuple[str, ...]]:
    """Turn decimal commas of a sheet's columns of numbers into points.

    Returns, by line, the columns whose numbers are not certain: those of a table whose decimals are
    told to be at fault.
    """
    commas, points = _marks(sheet, set(columns))
    if not commas:
        return {}
    found: dict[int, tuple[str, ...]] = {}
    for row, column in commas:
        found[row.line] = (*found.get(row.line, ()), column)
    line, column, cell = min((row.line, column, row.cells[column]) for row, column in commas)
    for row, name in commas:
        row.cells[name] = row.cells[name].replace(",", ".")
    numbers = "1 number has" if len(commas) == 1 else f"{len(commas)} numbers have"
    if sheet.separator != ";":
        why = f"{numbers} a decimal comma, this one first, and the table has commas between cells"
        mend = (
            "write decimal points, or save the table with semicolons between the cells: then"
            " decimal commas are read"
        )
        code = "decimal_comma"
    elif points:
        other, _, with_point = min(points)
        why = f"{numbers} a decimal comma, and {with_point} in line {other} has a point"
        mend, code = "write all decimals of the table in one way", "decimals_mixed"
    else:
        return {}
    sheet.faults.append(Place(sheet.file, line).fault(column, cell, why, mend, code))
    return found


def _marks(
    sheet: Any, wanted: set[str]
) -> tuple[list[tuple[Any, str]], list[tuple[int, str, str]]]:
    """Return the cells (row, column) with a decimal comma, and (line, column, cell) of points."""
    commas, points = [], []
    for row in sheet.rows:
        for column in wanted & set(row.cells):
            cell = row.cells[column]
            if _COMMA.fullmatch(cell):
                commas.append((row, column))
            elif _POINT.fullmatch(cell):
                points.append((row.line, column, cell))
    return commas, points
