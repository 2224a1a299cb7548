"""Files of a download, whether it lies unpacked in a folder or still in its zip archive."""

from __future__ import annotations

import csv
import io
import zipfile
from collections.abc import Iterator
from contextlib import contextmanager
from pathlib import Path, PurePosixPath

from planopt.faults import BadInput
from planopt.reading.files import Place


class Bundle:
    """Named files below a folder or in an archive; names are looked up without their folders."""

    def __init__(self, path: Path) -> None:
        """Open a folder, or a zip archive.

        Raises:
            BadInput: it is neither.
        """
        self.path = path
        self._zip: zipfile.ZipFile | None = None
        self._names: dict[str, str] = {}
        try:
            if path.is_dir():
                entries = [file for file in sorted(path.rglob("*")) if file.is_file()]
                self._names = {file.name.casefold(): str(file) for file in reversed(entries)}
            else:
                if not path.is_file():
                    raise OSError("it is no ordinary file")
                self._zip = zipfile.ZipFile(path)
                self._names = {
                    PurePosixPath(name).name.casefold(): name for name in self._zip.namelist()
                }
        except (OSError, zipfile.BadZipFile) as error:
            raise _unreadable(path, str(error)) from error

    def has(self, *names: str) -> bool:
        """Tell whether all of the files are there."""
        return all(name.casefold() in self._names for name in names)

    def names(self, ending: str) -> list[str]:
        """Return the names of files with an ending, sorted."""
        return sorted(name for name in self._names if name.endswith(ending))

    @contextmanager
    def text_of(self, name: str, encoding: str = "utf-8-sig") -> Iterator[io.TextIOBase]:
        """Open a file as text.

        Raises:
            BadInput: it cannot be read.
        """
        found = self._names[name.casefold()]
        try:
            if self._zip is None:
                with Path(found).open(encoding=encoding, newline="") as plain:
                    yield plain
            else:
                with (
                    self._zip.open(found) as raw,
                    io.TextIOWrapper(raw, encoding=encoding, newline="") as packed,
                ):
                    yield packed
        except (OSError, UnicodeDecodeError, csv.Error) as error:
            raise _unreadable(self.path / name, str(error)) from error

    def rows(self, name: str, needed: tuple[str, ...]) -> Iterator[tuple[int, dict[str, str]]]:
        """Yield the rows of a table with their lines.

        Raises:
            BadInput: it cannot be read, or lacks a column that is needed.
        """
        with self.text_of(name) as text:
            reader = csv.DictReader(text)
            missing = [column for column in needed if column not in (reader.fieldnames or ())]
            if missing:
                raise BadInput(
                    Place(str(self.path / name), 1).fault(
                        column,
                        "",
                        "the column is missing, so this is not the table that it is named after",
                        "take the file as it was downloaded",
                        "missing_column",
                    )
                    for column in missing
                )
            for row in reader:
                yield reader.line_num, {key: value or "" for key, value in row.items() if key}


def _unreadable(path: Path, reason: str) -> BadInput:
    why = f"the file cannot be read: {reason}"
    place = Place(str(path), 0)
    return BadInput([place.fault("", path.name, why, "download it again", "file_unreadable")])
