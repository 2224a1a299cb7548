"""Rosters: the clients of a scenario in a file of their own, a table or a YAML document.

A fault of the file's form concerns everybody and is returned apart; a fault of one row or entry
is that client's, so that the others can still be planned.
"""

from __future__ import annotations

import re
from collections.abc import Sequence
from dataclasses import dataclass
from pathlib import Path as FilePath

from planopt.catalog.records import Id
from planopt.faults import Fault, nearest
from planopt.reading.documents import Document, read_document
from planopt.reading.files import PathPart, Place
from planopt.reading.tables import Row, read_sheet
from planopt.reading.validation import Misfit
from planopt.scenario.reading.entries import ClientEntry, RowEntry, document_entries
from planopt.scenario.records import Client, Meals

Path = tuple[PathPart, ...]

# Columns whose cell becomes one value, and where in a client it goes.
_VALUES: dict[str, Path] = {
    "id": ("id",),
    "name": ("name",),
    "household": ("household",),
    "portion_step": ("portions", "step"),
    "portion_smallest": ("portions", "smallest"),
    "portion_largest": ("portions", "largest"),
    "most_repeats": ("most_repeats",),
    "least_different_recipes": ("least_different_recipes",),
    "most_different_recipes": ("most_different_recipes",),
    "days_between": ("days_between",),
    "medically_supervised": ("medically_supervised",),
    "sex": ("sex",),
    "age_years": ("age_years",),
    "nutrient_guard": ("nutrient_guard",),
    "nutrient_price": ("nutrient_price",),
}
# Columns with entries between bars: `peanut|milk`.
_LISTS: dict[str, Path] = {
    "meals": ("meals",),
    "allergens": ("allergens",),
    "excluded_foods": ("excluded_foods",),
    "excluded_recipes": ("excluded_recipes",),
    "away_days": ("away", "days"),
    "guarded_nutrients": ("guarded_nutrients",),
    "cautions": ("cautions",),
}
# Columns with pairs between bars, `mushrooms:1|celery:0`: all fields that count meals by an id.
_PAIRS: dict[str, Path] = {
    name: (name,)
    for name, known in Client.model_fields.items()
    if known.annotation == dict[Id, Meals] or name == "ratings"
}
_AWAY_MEALS = "away_meals"
COLUMNS = (*_VALUES, "budget", *_LISTS, *_PAIRS, _AWAY_MEALS, "note")
NEEDED = ("id", "name")
_WINDOW = re.compile(r"([a-z][a-z0-9_]*?)_(week_)?(min|max)")


@dataclass(frozen=True)
class Roster:
    """The clients of a roster, and the faults that concern the whole file."""

    file: str
    entries: tuple[ClientEntry, ...]
    faults: tuple[Fault, ...]


def read_roster(path: FilePath, nutrients: frozenset[str] | None) -> Roster:
    """Read a roster; its ending tells a table (.csv) from a document (.yaml).

    `nutrients` are the ids that columns for windows may name; None = not known.
    """
    if path.suffix.lower() == ".csv":
        return _read_table(path, nutrients)
    if path.suffix.lower() in (".yaml", ".yml"):
        return _read_yaml(path)
    why, mend = "a roster is a table or a YAML file", "name a file that ends in .csv or .yaml"
    fault = Place(str(path), 0).fault("", path.name, why, mend, "unknown_file_kind")
    return Roster(str(path), (), (fault,))


def _read_yaml(path: FilePath) -> Roster:
    document, faults = read_document(path)
    if document is None:
        return Roster(str(path), (), tuple(faults))
    listed, problems = _listed_clients(document)
    faults += document.faults(problems)
    return Roster(str(path), tuple(document_entries(document, listed)), tuple(faults))


def _listed_clients(document: Document) -> tuple[Sequence[object], list[Misfit]]:
    data = document.data
    if not isinstance(data, dict):
        why, mend = "named fields are needed here", "write `clients:` and a list of clients"
        return (), [Misfit((), data, why, mend, "not_a_mapping")]
    problems = [
        Misfit((key,), key, "there is no such field here", nearest(str(key), ["clients"]),
                "unknown_field")
        for key in data if key != "clients"
    ]  # fmt: skip
    listed = data.get("clients")
    if not isinstance(listed, list) or not listed:
        why, mend = "a list of at least one client is needed", "add a client"
        problems.append(Misfit(("clients",), listed, why, mend, "not_a_list"))
        return (), problems
    return listed, problems


def _read_table(path: FilePath, nutrients: frozenset[str] | None) -> Roster:
    optional = tuple(column for column in COLUMNS if column not in NEEDED)
    sheet = read_sheet(path, COLUMNS, optional, any_other=True)
    by_line = {fault.line: fault for fault in sheet.faults if fault.code == "row_length"}
    faults = [fault for fault in sheet.faults if fault.code != "row_length"]
    if not sheet.usable:
        return Roster(str(path), (), tuple(faults))
    if not sheet.rows:
        why, mend = "the table has no client", "add one row a client"
        faults.append(Place(str(path), 0).fault("", path.name, why, mend, "empty_file"))
        return Roster(str(path), (), tuple(faults))
    windows, unknown = _window_columns(sheet.rows[0], path, nutrients)
    faults += unknown
    entries = [
        _row(Place(str(path), row.line), row, windows).entry()
        if row.whole
        else _broken(Place(str(path), row.line), row, by_line[row.line])
        for row in sheet.rows
    ]
    return Roster(str(path), tuple(entries), tuple(faults))


def _window_columns(
    row: Row, path: FilePath, nutrients: frozenset[str] | None
) -> tuple[dict[str, Path], list[Fault]]:
    """Return the columns that set windows, and faults of columns that mean nothing."""
    windows: dict[str, Path] = {}
    faults = []
    for column in row.cells:
        if column in COLUMNS:
            continue
        found = _WINDOW.fullmatch(column)
        if found and (nutrients is None or found[1] in nutrients):
            table = "windows_per_week" if found[2] else "windows_per_day"
            windows[column] = (table, found[1], found[3])
            continue
        known = [*COLUMNS, *(f"{n}_{side}" for n in nutrients or () for side in ("min", "max"))]
        why = "a roster has no such column, and it is no nutrient with _min or _max"
        # A misspelt column of allergens must not pass as a remark.
        faults.append(
            Place(str(path), 1).fault(column, column, why, nearest(column, known), "unknown_column")
        )
    return windows, faults


def _broken(place: Place, row: Row, fault: Fault) -> ClientEntry:
    """Return the entry of a row with too few or too many cells: nothing in it can be trusted."""
    key = f"line {row.line}"
    return ClientEntry(key, key, "", None, (fault,), RowEntry(place, {}, {}, row.cells).locate)


def _row(place: Place, row: Row, windows: dict[str, Path]) -> RowEntry:
    data: dict[str, object] = {}
    columns: dict[Path, str] = {}
    faults: list[Fault] = []

    def put(path: Path, value: object, column: str) -> None:
        here: dict[str, object] = data
        for part in path[:-1]:
            inner = here.setdefault(str(part), {})
            assert isinstance(inner, dict)
            here = inner
        here[str(path[-1])] = value
        columns[path] = column

    for column, text in row.cells.items():
        if column in NEEDED:
            columns[_VALUES[column]] = column
        if not text:
            continue
        if column in _VALUES or column in windows:
            put(_VALUES.get(column) or windows[column], text, column)
        elif column in _LISTS:
            put(_LISTS[column], tuple(part.strip() for part in text.split("|")), column)
        elif column in _PAIRS or column == _AWAY_MEALS:
            pairs, broken = _pairs(place, column, text)
            faults += broken
            if column == _AWAY_MEALS:
                by_day: dict[str, list[str]] = {}
                for day, meal in pairs:
                    # 6 and 06 are one day; the record would keep the meals of the last alone.
                    same = str(int(day)) if day.isdecimal() and len(day) < 5 else day
                    by_day.setdefault(same, []).append(meal)
                put(("away", "meals"), by_day, column)
            else:
                put(_PAIRS[column], dict(pairs), column)
    return RowEntry(place, data, columns, row.cells, faults)


def _pairs(place: Place, column: str, text: str) -> tuple[list[tuple[str, str]], list[Fault]]:
    """Return the pairs of a cell such as `mushrooms:1|celery:0`, and its faults."""
    pairs: list[tuple[str, str]] = []
    faults = []
    example = "fish:2|soups:1" if column.endswith("_of") else "mushrooms:1|celery:0"
    if column == _AWAY_MEALS:
        example = "6:dinner|7:lunch"
    for part in text.split("|"):
        left, colon, right = (piece.strip() for piece in part.partition(":"))
        if not (left and colon and right):
            why, mend = f"{part.strip()!r} is not a pair", f"write for example {example}"
            faults.append(place.fault(column, text, why, mend, "not_a_pair"))
        elif column in _PAIRS and any(left == known for known, _ in pairs):
            why, mend = f"{left!r} stands twice in this cell", "keep one of the two"
            faults.append(place.fault(column, text, why, mend, "duplicate_key"))
        else:
            pairs.append((left, right))
    return pairs, faults
