"""Entries of clients: where each part of a client stands, in a YAML list or a row of a table."""

from __future__ import annotations

from collections.abc import Callable, Mapping, Sequence
from dataclasses import dataclass, field

from planopt.faults import Fault
from planopt.reading.documents import Document
from planopt.reading.files import PathPart, Place, path_text
from planopt.reading.soundest import soundest
from planopt.reading.validation import Misfit, validate
from planopt.scenario.records import Client

Path = tuple[PathPart, ...]


class FieldPlace(Place):
    """A place that knows by which name the user finds the field there."""

    name: str

    @classmethod
    def of(cls, place: Place, name: str) -> FieldPlace:
        """Return a place with the name of its field."""
        made = cls(place.file, place.line)
        made.name = name
        return made

    def fault(self, field: str, value: object, why: str, mend: str, code: str) -> Fault:
        """Return a fault at this place, under the place's own name."""
        return super().fault(self.name, value, why, mend, code)


@dataclass(frozen=True)
class ClientEntry:
    """One client as written.

    `key` is the id, or the line where there is none. `client` is None when `faults` say why, and
    `rest` is then what is left of the entry, for checks alone. `budget` is what a table's row says
    for the whole household; documents say it there.
    """

    key: str
    name: str
    household: str
    client: Client | None
    faults: tuple[Fault, ...]
    locate: Callable[[Path], FieldPlace]
    budget: str = ""
    rest: Client | None = None


def document_entries(document: Document, entries: Sequence[object]) -> list[ClientEntry]:
    """Return the clients of the list `clients` of a document."""
    return [_document_entry(document, n, data) for n, data in enumerate(entries)]


def _document_entry(document: Document, n: int, data: object) -> ClientEntry:
    def locate(path: Path) -> FieldPlace:
        whole = ("clients", n, *path)
        return FieldPlace.of(document.place(whole), path_text(whole))

    client, problems = validate(Client, data)
    fields = data if isinstance(data, dict) else {}
    key = _text(fields.get("id")) or f"line {document.line(('clients', n))}"
    return ClientEntry(
        key=key,
        name=_text(fields.get("name")) or key,
        household=_text(fields.get("household")),
        client=client,
        faults=_faults(locate, problems),
        locate=locate,
        rest=_rest(data) if problems else None,
    )


def _rest(data: object) -> Client | None:
    """Return what is left of an entry at fault; without an id there is nothing to check."""
    return soundest(Client, data)[0]


def _text(value: object) -> str:
    return value.strip() if isinstance(value, str) else ""


def _faults(locate: Callable[[Path], Place], problems: Sequence[Misfit]) -> tuple[Fault, ...]:
    return tuple(
        locate(p.path).fault(path_text(p.path), p.value, p.why, p.mend, p.code) for p in problems
    )


@dataclass(frozen=True)
class RowEntry:
    """A client as data from a row: `columns` tells which column each path came from."""

    place: Place
    data: Mapping[str, object]
    columns: Mapping[Path, str]
    cells: Mapping[str, str]
    faults: Sequence[Fault] = field(default=())

    def locate(self, path: Path) -> FieldPlace:
        """Return the row, under the column that a path came from."""
        for length in range(len(path), 0, -1):
            column = self.columns.get(path[:length])
            if column is not None:
                return FieldPlace.of(self.place, column)
        return FieldPlace.of(self.place, path_text(path))

    def entry(self) -> ClientEntry:
        """Return the checked entry."""
        client, problems = validate(Client, dict(self.data))
        found = list(self.faults)
        for problem in problems:
            place = self.locate(problem.path)
            if problem.code == "missing_field":
                why, mend = "the cell is empty and a value is needed", "fill in the cell"
                found.append(place.fault("", "", why, mend, "empty_cell"))
                continue
            value = self.cells.get(place.name, problem.value)
            found.append(place.fault("", value, problem.why, problem.mend, problem.code))
        key = self.cells.get("id", "") or f"line {self.place.line}"
        return ClientEntry(
            key=key,
            name=self.cells.get("name", "") or key,
            household=self.cells.get("household", ""),
            client=None if found else client,
            faults=tuple(found),
            locate=self.locate,
            budget=self.cells.get("budget", ""),
            rest=_rest(dict(self.data)) if found else None,
        )
