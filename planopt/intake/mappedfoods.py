"""Any composition table, read by a column map."""

from __future__ import annotations

import csv
import io
from pathlib import Path

from planopt.faults import BadInput, Fault
from planopt.intake.columnmap import FoodsMap, check_columns, read_amount
from planopt.intake.composition import CompositionFood
from planopt.reading.files import Place, regular_bytes


def read_mapped_foods(path: Path, table: FoodsMap) -> list[CompositionFood]:
    """Return the foods of a table.

    Raises:
        BadInput: with every column that is missing and every cell that is no amount.
    """
    lines = table_lines(path, table.encoding)
    reader = csv.reader(io.StringIO(lines, newline=""), delimiter=table.separator)
    rows = [(reader.line_num, row) for row in reader]
    header = [cell.strip() for _, row in rows[table.header_line - 1 :][:1] for cell in row]
    wanted = {"key": table.key, "description": table.description}
    wanted |= {name: one for name in ("group", "refuse_percent") if (one := getattr(table, name))}
    for nutrient_id, column in table.nutrients.items():
        wanted |= {
            f"nutrients.{nutrient_id}" if n == 0 else f"nutrients.{nutrient_id}[{n}]": name
            for n, name in enumerate(column.columns)
        }
    check_columns(str(path), table.header_line, header, wanted)
    place_of = {name: header.index(name) for name in wanted.values()}
    foods: list[CompositionFood] = []
    faults: list[Fault] = []
    for line, row in rows[table.header_line :]:
        cells = {name: row[n].strip() if n < len(row) else "" for name, n in place_of.items()}
        if cells[table.key] and cells[table.description]:
            foods.append(_food(cells, table, Place(str(path), line), faults))
    if faults:
        raise BadInput(faults)
    return foods


def _food(
    cells: dict[str, str], table: FoodsMap, place: Place, faults: list[Fault]
) -> CompositionFood:
    """Return the food of a row; cells that are no amounts are unknown, and at fault."""

    def amount_in(name: str) -> float | None:
        try:
            return read_amount(cells[name], table)
        except ValueError:
            faults.append(_no_amount(place, name, cells[name]))
            return None

    nutrients: dict[str, float] = {}
    for nutrient_id, column in table.nutrients.items():
        amounts = [amount_in(name) for name in column.columns]
        known = [amount for amount in amounts if amount is not None]
        # A sum with an unknown part is unknown.
        if len(known) == len(amounts):
            value = sum(known) * column.factor * 100 / table.per_g
            nutrients[nutrient_id] = float(f"{value:.6g}")
    return CompositionFood(
        key=cells[table.key],
        description=cells[table.description],
        source=table.source,
        group=cells[table.group] if table.group else "",
        nutrients=nutrients,
        refuse_percent=amount_in(table.refuse_percent) if table.refuse_percent else None,
    )


def _no_amount(place: Place, column: str, cell: str) -> Fault:
    return place.fault(
        column,
        cell,
        "this is no amount",
        "correct it, or add the word to `missing` or `trace` of the map, or set its `decimal`",
        "not_a_number",
    )


def table_lines(path: Path, encoding: str) -> str:
    """Return the text of a table in its encoding.

    Raises:
        BadInput: it cannot be read.
    """
    place = Place(str(path), 0)
    try:
        return regular_bytes(path).decode(encoding)
    except (OSError, LookupError, UnicodeDecodeError) as error:
        why = f"the file cannot be read: {error}"
        mend = "name a table, and its `encoding` in the map"
        raise BadInput([place.fault("", path.name, why, mend, "file_unreadable")]) from error
