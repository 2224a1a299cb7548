"""Where each record of a catalog stands, for faults that are found after reading."""

from __future__ import annotations

from dataclasses import dataclass, field

from planopt.reading.documents import Document
from planopt.reading.files import PathPart, Place


@dataclass(frozen=True)
class _Index:
    """The keys of a table's rows so far, and the line on which each first stands."""

    count: int
    keys: frozenset[str]
    lines: dict[str, int]


@dataclass
class Positions:
    """Files and lines of the records, those at fault included.

    `rows` has (key, line) of each row in file order; keys of several columns are joined with "/".
    A table in `unreadable` could not be read, so nothing may be said about references to it. `lost`
    tells that some record could not be made at all.
    """

    files: dict[str, str] = field(default_factory=dict)
    rows: dict[str, list[tuple[str, int]]] = field(default_factory=dict)
    unreadable: set[str] = field(default_factory=set)
    recipes: dict[str, Document] = field(default_factory=dict)
    # File, line (None = any) and fields that were at fault, and are not what the file says.
    changed: list[tuple[str, int | None, tuple[str, ...]]] = field(default_factory=list)
    lost: bool = False
    _indexes: dict[str, _Index] = field(default_factory=dict, repr=False)

    def _index(self, table: str) -> _Index:
        """Return the keys of a table; made once, and again where rows have come in since."""
        rows = self.rows.get(table, [])
        index = self._indexes.get(table)
        if index is None or index.count != len(rows):
            lines: dict[str, int] = {}
            for key, line in rows:
                lines.setdefault(key, line)
            index = self._indexes[table] = _Index(len(rows), frozenset(lines), lines)
        return index

    def known(self, table: str) -> frozenset[str] | None:
        """Return the ids of a table or of the recipes; None if they are not known."""
        if table in self.unreadable:
            return None
        return self._index(table).keys

    def row(self, table: str, *key: str | None) -> Place:
        """Return file and line of the first row with a key; line 0 if there is none."""
        wanted = "/".join(part or "" for part in key)
        return Place(self.files.get(table, table), self._index(table).lines.get(wanted, 0))

    def recipe(self, recipe_id: str, *path: PathPart) -> Place:
        """Return file and line of a part of a recipe."""
        document = self.recipes.get(recipe_id)
        return Place(recipe_id, 0) if document is None else document.place(path)
