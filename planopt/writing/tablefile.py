"""A CSV table changed in place: rows appended and cells set; other rows stay to the byte."""

from __future__ import annotations

import csv
import io
from collections.abc import Mapping, Sequence
from pathlib import Path

from planopt.faults import BadInput
from planopt.folders import write_file
from planopt.reading.files import Place, read_text

_SEPARATORS = (",", ";", "\t")


class TableFile:
    """A table under change; nothing is written before `save`."""

    def __init__(self, path: Path) -> None:
        """Read the table.

        Raises:
            BadInput: it cannot be read, or has no header.
        """
        self.path = path
        text, faults = read_text(path)
        if text is None:
            raise BadInput(faults)
        self.text = text
        first = text.split("\n", 1)[0]
        self.separator = max(_SEPARATORS, key=first.count) if first.strip() else ","
        self._ending = "\r\n" if "\r\n" in text else "\n"
        reader = csv.reader(io.StringIO(text, newline=""), delimiter=self.separator)
        self.columns = [cell.strip() for cell in next(reader, [])]
        if not any(self.columns):
            why = "the table is empty"
            place = Place(str(path), 0)
            raise BadInput([place.fault("", "", why, "write its header line", "empty_file")])

    def rows(self) -> list[dict[str, str]]:
        """Return the rows by column."""
        reader = csv.reader(io.StringIO(self.text, newline=""), delimiter=self.separator)
        cells = [row for row in reader if any(cell.strip() for cell in row)][1:]
        return [dict(zip(self.columns, map(str.strip, row), strict=False)) for row in cells]

    def append(self, cells: Mapping[str, str]) -> None:
        """Add a row at the end, its cells in the order of the columns; others stay empty.

        Raises:
            BadInput: the table lacks one of the columns.
        """
        self._need(cells)
        row = self._line([cells.get(column, "") for column in self.columns])
        lead = "" if self.text.endswith(("\n", "\r")) or not self.text else self._ending
        self.text += lead + row

    def set_cells(self, column: str, key: str, cells: Mapping[str, str]) -> None:
        """Set cells of the first row that has a key in a column; the row keeps its other cells.

        Raises:
            BadInput: the table lacks one of the columns.
            KeyError: no row has the key.
        """
        self._need([column, *cells])
        lines = self.text.splitlines(keepends=True)
        reader = csv.reader(io.StringIO(self.text, newline=""), delimiter=self.separator)
        start = 0
        for row in reader:
            first, start = start, reader.line_num
            found = dict(zip(self.columns, row, strict=False))
            if first and found.get(column, "").strip() == key:
                found |= cells
                written = self._line([found.get(name, "") for name in self.columns])
                if not lines[start - 1].endswith(("\n", "\r")):
                    written = written.removesuffix(self._ending)
                self.text = "".join([*lines[:first], written, *lines[start:]])
                return
        raise KeyError(key)

    def _need(self, names: Sequence[str] | Mapping[str, str]) -> None:
        missing = [name for name in names if name not in self.columns]
        if missing:
            place = Place(str(self.path), 1)
            raise BadInput(
                place.fault(
                    name,
                    "",
                    "the column is missing",
                    f"add the column {name!r} to the header",
                    "missing_column",
                )
                for name in missing
            )

    def _line(self, cells: Sequence[str]) -> str:
        out = io.StringIO(newline="")
        writer = csv.writer(out, delimiter=self.separator, lineterminator=self._ending)
        writer.writerow(cells)
        return out.getvalue()

    def save(self) -> None:
        """Write the table, whole or not at all.

        Raises:
            BadInput: the system refuses to write there.
        """
        write_file(self.path, self.text)
