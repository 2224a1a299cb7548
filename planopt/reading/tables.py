"""CSV tables: rows with their physical line numbers, and records made from them."""

from __future__ import annotations

import csv
import io
from collections import Counter
from collections.abc import Iterator, Sequence
from dataclasses import dataclass, field
from pathlib import Path
from typing import Generic, TypeVar

from pydantic import BaseModel

from planopt.faults import Fault, nearest
from planopt.reading.decimalmarks import with_points
from planopt.reading.files import PathPart, Place, read_text
from planopt.reading.soundest import soundest
from planopt.reading.validation import Misfit, number_names, validate

R = TypeVar("R", bound=BaseModel)
# Some 400 MB while they are read; a header has a name for each of some hundred nutrients.
MOST_ROWS, MOST_CELLS, MOST_COLUMNS = 100_000, 2_000_000, 1_000


@dataclass(frozen=True)
class Row:
    """The cells of one row by column name, and the line on which the row starts.

    A row that is not `whole` has too few or too many cells.
    """

    line: int
    cells: dict[str, str]
    whole: bool = True


@dataclass
class Sheet:
    """A table as read. `usable` is false when its columns do not allow records to be made.

    A table with semicolons between its cells says by that that its decimals may have commas.
    """

    file: str
    separator: str = ","
    rows: list[Row] = field(default_factory=list)
    faults: list[Fault] = field(default_factory=list)
    usable: bool = True


@dataclass(frozen=True)
class Placed(Generic[R]):
    """A record, the key of its row and the line; the record is None if nothing of it can be read.

    `changed` are the columns at fault, which the record has left out or filled with something
    harmless: it is for checks alone.
    """

    key: str
    line: int
    record: R | None
    changed: tuple[str, ...] = ()


def read_sheet(
    path: Path, columns: Sequence[str], optional: Sequence[str] = (), any_other: bool = False
) -> Sheet:
    """Read a CSV file.

    Args:
        path: the file.
        columns: the columns the table has.
        optional: those of `columns` that may be left out.
        any_other: accept further columns silently.
    """
    sheet = Sheet(str(path))
    text, sheet.faults = read_text(path)
    if text is None:
        sheet.usable = False
        return sheet
    first = next((line for line in text.splitlines() if line.strip()), "")
    sheet.separator = ";" if ";" in first and "," not in first else ","
    numbered = _numbered_rows(text, sheet)
    header = next(numbered, None)
    if header is None:
        sheet.usable = False
        if not sheet.faults:
            mend = "write the header line: " + ",".join(columns)
            sheet.faults.append(
                Place(sheet.file, 0).fault("", "", "the table is empty", mend, "empty_file")
            )
        return sheet
    line, names = header
    place = Place(sheet.file, line)
    if len(names) > MOST_COLUMNS:
        sheet.usable = False
        sheet.faults.append(
            place.fault(
                "",
                f"{len(names)} columns",
                f"the header has more than {MOST_COLUMNS:,} columns",
                "leave out what no plan needs",
                "too_many_values",
            )
        )
        return sheet
    if not _columns_apart(sheet, place, names):
        return sheet
    _check_header(sheet, place, names, columns, optional, any_other)
    _read_rows(sheet, names, numbered)
    return sheet


def _read_rows(
    sheet: Sheet, names: Sequence[str], numbered: Iterator[tuple[int, list[str]]]
) -> None:
    """Add the rows below the header; a table with too many is left there."""
    count = len(names)
    for line, cells in numbered:
        count += len(cells)
        if len(sheet.rows) >= MOST_ROWS or count > MOST_CELLS:
            sheet.usable = False
            sheet.faults = [
                Place(sheet.file, line).fault(
                    "",
                    "",
                    f"the table has more than {MOST_ROWS:,} rows or {MOST_CELLS:,} cells",
                    "leave out what no plan needs",
                    "too_many_values",
                )
            ]
            return
        if len(cells) == len(names):
            sheet.rows.append(Row(line, dict(zip(names, cells, strict=True))))
            continue
        sheet.rows.append(Row(line, dict(zip(names, cells, strict=False)), whole=False))
        sheet.faults.append(
            Place(sheet.file, line).fault(
                "",
                ",".join(cells),
                f"the row has {len(cells)} cells, the header {len(names)}",
                "put a text with commas in double quotes"
                if len(cells) > len(names)
                else "add the missing cells or commas",
                "row_length",
            )
        )


def _numbered_rows(text: str, sheet: Sheet) -> Iterator[tuple[int, list[str]]]:
    """Yield the non-empty rows with the physical line on which each starts."""
    # csv keeps line breaks inside quotes only if the lines come with their endings.
    reader = csv.reader(io.StringIO(text, newline=""), delimiter=sheet.separator, strict=True)
    start = 1
    try:
        for cells in reader:
            line, start = start, reader.line_num + 1
            cells = [cell.strip() for cell in cells]
            if any(cells):
                yield line, cells
    except csv.Error as error:
        sheet.usable = False
        sheet.faults.append(
            Place(sheet.file, start).fault(
                "",
                "",
                f"the table cannot be read: {error}",
                "check the double quotes of this row",
                "csv_syntax",
            )
        )


def _columns_apart(sheet: Sheet, place: Place, names: Sequence[str]) -> bool:
    """Tell whether the cells are apart; a table with tabs between them is not read."""
    if len(names) > 1 or "\t" not in names[0]:
        return True
    sheet.usable = False
    sheet.faults.append(
        place.fault(
            "",
            names[0],
            "the columns are separated neither by commas nor by semicolons",
            "save the table with commas or semicolons between the cells",
            "not_comma_separated",
        )
    )
    return False


def _check_header(
    sheet: Sheet,
    place: Place,
    names: Sequence[str],
    columns: Sequence[str],
    optional: Sequence[str],
    any_other: bool,
) -> None:
    for name, count in Counter(names).items():
        if count > 1:
            sheet.usable = False
            why = f"the column stands {count} times in the header"
            sheet.faults.append(
                place.fault(name, name, why, "keep one of them", "duplicate_column")
            )
        if name not in columns and not any_other:
            why = "the table has no such column"
            mend = nearest(name, columns)
            sheet.faults.append(place.fault(name, name, why, mend, "unknown_column"))
    for name in columns:
        if name not in names and name not in optional:
            sheet.usable = False
            mend = f"add the column {name!r} to the header"
            sheet.faults.append(
                place.fault(name, "", "the column is missing", mend, "missing_column")
            )


@dataclass(frozen=True)
class TableSpec(Generic[R]):
    """How one table becomes records.

    Cells of `lists` hold parts with bars between them; an empty cell counts as no cell at all.
    `nested` names the field that gathers the `nested_columns`; an empty cell there is None.
    """

    name: str
    model: type[R]
    key: tuple[str, ...]
    columns: tuple[str, ...]
    optional: tuple[str, ...] = ()
    lists: tuple[str, ...] = ()
    nested: str = ""
    nested_columns: tuple[str, ...] = ()

    def key_of(self, row: Row) -> str:
        """Return what identifies the row in the table."""
        return "/".join(row.cells.get(column, "") for column in self.key)

    def placed(self, sheet: Sheet) -> list[Placed[R]]:
        """Return the records of a sheet; faults of cells are added to the sheet's."""
        if not sheet.usable:
            return [Placed(self.key_of(row), row.line, None) for row in sheet.rows]
        commas = with_points(sheet, (*number_names(self.model), *self.nested_columns))
        placed = []
        for row in sheet.rows:
            record: R | None = None
            changed: tuple[str, ...] = ()
            if row.whole:
                data = self._data(row)
                record, problems = validate(self.model, data)
                if problems:
                    sheet.faults += [self._fault(sheet.file, row, problem) for problem in problems]
                    record, places = soundest(self.model, data)
                    changed = tuple(self._column(place) for place in places)
                changed += commas.get(row.line, ())
            placed.append(Placed(self.key_of(row), row.line, record, changed))
        return placed

    def _data(self, row: Row) -> dict[str, object]:
        data: dict[str, object] = {}
        for column in self.columns:
            text = row.cells.get(column, "")
            if column in self.nested_columns:
                continue
            if text and column in self.lists:
                data[column] = tuple(part.strip() for part in text.split("|"))
            elif text:
                data[column] = text
        if self.nested:
            data[self.nested] = {
                column: row.cells[column] or None for column in self.nested_columns
            }
        return data

    def _column(self, path: tuple[PathPart, ...]) -> str:
        column = str(path[0]) if path else ""
        return str(path[1]) if column == self.nested and len(path) > 1 else column

    def _fault(self, file: str, row: Row, problem: Misfit) -> Fault:
        column = self._column(problem.path)
        place = Place(file, row.line)
        if problem.code == "missing_field":
            return place.fault(
                column,
                "",
                "the cell is empty and a value is needed",
                "fill in the cell",
                "empty_cell",
            )
        value = row.cells.get(column, problem.value)
        return place.fault(column, value, problem.why, problem.mend, problem.code)
