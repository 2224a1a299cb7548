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
    wanted = set(columns)
    found: dict[int, tuple[str, ...]] = {}
    first: tuple[int, str, str] | None = None
    points: tuple[int, str, str] | None = None
    count = 0
    for row in sheet.rows:
        for column in wanted & set(row.cells):
            cell = row.cells[column]
            if _COMMA.fullmatch(cell):
                count += 1
                first = min(first or (row.line, column, cell), (row.line, column, cell))
                found[row.line] = (*found.get(row.line, ()), column)
            elif _POINT.fullmatch(cell):
                points = min(points or (row.line, column, cell), (row.line, column, cell))
    if first is None:
        return {}
    for row in sheet.rows:
        for column in found.get(row.line, ()):
            row.cells[column] = row.cells[column].replace(",", ".")
    line, column, cell = first
    place = Place(sheet.file, line)
    numbers = "1 number has" if count == 1 else f"{count} numbers have"
    if sheet.separator != ";":
        sheet.faults.append(
            place.fault(
                column,
                cell,
                f"{numbers} a decimal comma, this one first, and the table has commas between"
                " cells",
                "write decimal points, or save the table with semicolons between the cells: then"
                " decimal commas are read",
                "decimal_comma",
            )
        )
        return found
    if points is not None:
        sheet.faults.append(
            place.fault(
                column,
                cell,
                f"{numbers} a decimal comma, and {points[2]} in line {points[0]} has a point",
                "write all decimals of the table in one way",
                "decimals_mixed",
            )
        )
        return found
    return {}
