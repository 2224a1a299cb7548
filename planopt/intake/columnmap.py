"""Column maps: a small YAML file that tells which column of somebody's table is which of ours.

A column is named by its header, or by several that are added up; a factor turns its unit into ours.
"""

from __future__ import annotations

import re
from collections.abc import Mapping, Sequence
from pathlib import Path
from typing import Annotated, Any

from pydantic import BaseModel, ConfigDict, Field, field_validator

from planopt.faults import BadInput, nearest
from planopt.reading.documents import read_document
from planopt.reading.files import Place
from planopt.reading.validation import validate

_MISSING = ("", "-", "n", "na", "n/a", "nd", "null", "none", "?")
_TRACE = ("tr", "trace", "traces", "tr.")
_LESS = re.compile(r"<\s*(.+)")


class _Part(BaseModel):
    model_config = ConfigDict(extra="forbid", frozen=True, allow_inf_nan=False)


class Column(_Part):
    """One or several columns that are added up, times a factor."""

    columns: tuple[Annotated[str, Field(min_length=1)], ...] = Field(min_length=1)
    factor: float = Field(default=1.0, gt=0)


def _as_column(value: Any) -> Any:
    """Accept `Name`, `[Name, Other]` and `{column: Name, factor: 0.239}`."""
    if isinstance(value, str):
        return {"columns": [value]}
    if isinstance(value, (list, tuple)):
        return {"columns": list(value)}
    if isinstance(value, Mapping) and "column" in value:
        rest = {key: part for key, part in value.items() if key != "column"}
        return {"columns": [value["column"]], **rest}
    return value


class TableForm(_Part):
    """How a table is written."""

    separator: str = Field(default=",", min_length=1, max_length=1)
    decimal: str = Field(default=".", pattern=r"^[.,]$")
    encoding: str = "utf-8-sig"
    header_line: int = Field(default=1, ge=1, description="line of the column names")
    missing: tuple[str, ...] = Field(default=_MISSING, description="cells that mean unknown")
    trace: tuple[str, ...] = Field(default=_TRACE, description="cells that mean almost nothing: 0")


class FoodsMap(TableForm):
    """The columns of a composition table. `per_g` grams are what the amounts are of."""

    source: str = Field(min_length=1, description="the table's name, told in foods.csv")
    key: str = Field(min_length=1)
    description: str = Field(min_length=1)
    group: str | None = None
    refuse_percent: str | None = None
    per_g: float = Field(default=100.0, gt=0)
    nutrients: dict[str, Column] = Field(min_length=1)

    @field_validator("nutrients", mode="before")
    @classmethod
    def _columns(cls, value: Any) -> Any:
        return {k: _as_column(v) for k, v in value.items()} if isinstance(value, dict) else value


class PricesMap(TableForm):
    """The columns of a price list. A column in common for all rows may be a fixed value instead."""

    food: str | None = Field(default=None, description="column of our food ids")
    name: str | None = Field(default=None, description="column of the product's name")
    foods: dict[str, str] = Field(default={}, description="product names -> food ids of ours")
    seller: str | None = None
    seller_id: str | None = Field(default=None, description="of all rows")
    size: str | None = None
    unit: str | None = None
    units: dict[str, str] = Field(default={}, description="unit words of the list -> ours")
    price: str = Field(min_length=1)
    date: str | None = None
    price_date: str | None = Field(default=None, description="of all rows, YYYY-MM-DD")
    date_form: str = Field(default="%Y-%m-%d", min_length=2)
    sold: str | None = None
    currency: str = Field(default="USD", pattern=r"^[A-Z]{3}$")


def read_map(path: Path, kind: type[Any]) -> Any:
    """Return a column map of a kind, `FoodsMap` or `PricesMap`.

    Raises:
        BadInput: with every fault of the file.
    """
    document, faults = read_document(path)
    if document is None:
        raise BadInput(faults)
    found, problems = validate(kind, document.data)
    if found is None:
        raise BadInput(document.faults(problems))
    return found


def check_columns(file: str, line: int, header: Sequence[str], wanted: Mapping[str, str]) -> None:
    """Check that a table has the columns that its map names; `wanted` maps fields to columns.

    Raises:
        BadInput: with every column that is missing.
    """
    place = Place(file, line)
    missing = [
        place.fault(
            field,
            column,
            "the table has no column of this name, which its map asks for",
            nearest(column, header),
            "missing_column",
        )
        for field, column in wanted.items()
        if column not in header
    ]
    if missing:
        raise BadInput(missing)


def read_amount(text: str, form: TableForm) -> float | None:
    """Return the number in a cell, None where it says that nobody knows.

    `<0.1` is 0.1 at most, and counts as 0 like a trace; brackets mark an estimate and are left out.

    Raises:
        ValueError: the cell is none of these.
    """
    cell = text.strip().casefold()
    if cell in {word.casefold() for word in form.missing}:
        return None
    if cell in {word.casefold() for word in form.trace}:
        return 0.0
    less = _LESS.fullmatch(cell)
    if less is not None:
        read_number(less[1], form.decimal)
        return 0.0
    if cell[:1] in "([" and cell[-1:] in ")]":
        cell = cell[1:-1]
    return read_number(cell, form.decimal)


def read_number(text: str, decimal: str) -> float:
    """Return a number written with a decimal mark; spaces and the other mark group thousands.

    Raises:
        ValueError: it is no such number.
    """
    cell = text.strip().replace("\u00a0", "").replace("\u202f", "").replace(" ", "")
    other = "," if decimal == "." else "."
    whole, mark, rest = cell.partition(decimal)
    if other in whole:
        # Thousands come in threes; anything else is a slip, not a group.
        if not re.fullmatch(rf"[+-]?\d{{1,3}}(\{other}\d{{3}})+", whole):
            raise ValueError(text)
        whole = whole.replace(other, "")
    if other in rest or not re.fullmatch(r"[+-]?\d*", whole) or not re.fullmatch(r"\d*", rest):
        raise ValueError(text)
    return float(f"{whole}{'.' if mark else ''}{rest}")
