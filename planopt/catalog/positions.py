"""Where each record of a catalog stands, for faults that are found after reading."""

from __future__ import annotations

from dataclasses import dataclass, field

from planopt.catalog.documents import Document
from planopt.catalog.files import PathPart, Place


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

    def known(self, table: str) -> frozenset[str] | None:
        """Return the ids of a table or of the recipes; None if they are not known."""
        if table in self.unreadable:
            return None
        return frozenset(key for key, _ in self.rows.get(table, []))

    def row(self, table: str, *key: str | None) -> Place:
        """Return file and line of the first row with a key; line 0 if there is none."""
        wanted = "/".join(part or "" for part in key)
        lines = [line for found, line in self.rows.get(table, []) if found == wanted]
        return Place(self.files.get(table, table), lines[0] if lines else 0)

    def recipe(self, recipe_id: str, *path: PathPart) -> Place:
        """Return file and line of a part of a recipe."""
        document = self.recipes.get(recipe_id)
        return Place(recipe_id, 0) if document is None else document.place(path)
