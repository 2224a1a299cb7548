"""Where each record of a catalog stands, for faults that are found after reading."""

from __future__ import annotations

from dataclasses import dataclass, field

from planopt.catalog.documents import Document
from planopt.catalog.files import PathPart, Place


@dataclass
class Positions:
    """Files and lines of the records, those at fault included.

    `rows` has (key, line) of each row in file order; keys of several columns are joined with "/".
    A table in `unreadable` could not be read, so nothing may be said about references to it.
    """

    files: dict[str, str] = field(default_factory=dict)
    rows: dict[str, list[tuple[str, int]]] = field(default_factory=dict)
    unreadable: set[str] = field(default_factory=set)
    recipes: dict[str, Document] = field(default_factory=dict)
    _lines: dict[str, tuple[int, dict[str, int]]] = field(default_factory=dict, repr=False)

    def known(self, table: str) -> frozenset[str] | None:
        """Return the ids of a table or of the recipes; None if they are not known."""
        if table in self.unreadable:
            return None
        return frozenset(self._first_lines(table))

    def row(self, table: str, *key: str | None) -> Place:
        """Return file and line of the first row with a key; line 0 if there is none."""
        wanted = "/".join(part or "" for part in key)
        return Place(self.files.get(table, table), self._first_lines(table).get(wanted, 0))

    def _first_lines(self, table: str) -> dict[str, int]:
        """Return the first line of each key, looked through once for as long as no row is added."""
        rows = self.rows.get(table, [])
        count, lines = self._lines.get(table, (0, {}))
        if count != len(rows):
            lines = dict(reversed(rows))
            self._lines[table] = (len(rows), lines)
        return lines

    def recipe(self, recipe_id: str, *path: PathPart) -> Place:
        """Return file and line of a part of a recipe."""
        document = self.recipes.get(recipe_id)
        return Place(recipe_id, 0) if document is None else document.place(path)
