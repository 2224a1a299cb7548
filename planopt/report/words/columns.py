"""Text in columns: as wide as it is shown, cut or broken to fit, no control characters."""

from __future__ import annotations

import unicodedata
from collections.abc import Sequence
from itertools import zip_longest

import wcwidth
from tabulate import tabulate

WIDTH = 80
_LEAST_FLEXIBLE, _COMFORTABLE = 8, 20


def screen_width(text: str) -> int:
    """Return the columns a text takes on a terminal."""
    return wcwidth.width(text)


def screen_text(text: str) -> str:
    """Return a text safe for one terminal line: no control, format or private characters."""
    kept = (" " if unicodedata.category(char) in ("Cc", "Zl", "Zp") else char for char in text)
    joined = "".join(char for char in kept if unicodedata.category(char)[0] != "C")
    return " ".join(unicodedata.normalize("NFC", joined).split())


def clip(text: str, width: int) -> str:
    """Return a text cut to a width in columns, with an ellipsis where it was cut."""
    if screen_width(text) <= width:
        return text
    return f"{wcwidth.clip(text, 0, width - 1).rstrip()}…"


def padded(text: str, width: int) -> str:
    """Return a text with blanks after it up to a width in columns."""
    return text + " " * max(0, width - screen_width(text))


def wrap(text: str, width: int) -> list[str]:
    """Return a text on lines of a width in columns, broken between words where it can be."""
    return wcwidth.wrap(screen_text(text), width, break_on_hyphens=False) or [""]


def fit_table(
    headers: Sequence[str],
    rows: Sequence[Sequence[str]],
    flexible: int,
    right: Sequence[int],
    width: int = WIDTH,
    whole: bool = False,
) -> str:
    """Lay out a table; the cells of column `flexible` are cut so that it fits the width.

    With `whole` nothing of them is cut: they go on in further lines of their own column.
    """
    return fit_tables(headers, [rows], flexible, right, width, whole)[0]


def fit_tables(
    headers: Sequence[str],
    groups: Sequence[Sequence[Sequence[str]]],
    flexible: int,
    right: Sequence[int],
    width: int = WIDTH,
    whole: bool = False,
) -> list[str]:
    """Lay out tables below each other, as `fit_table` does, with columns of the same widths."""
    clean = [[[screen_text(cell) for cell in row] for row in (headers, *rows)] for rows in groups]
    every = [row for rows in clean for row in rows]
    rooms = [max(screen_width(row[c]) for row in every) for c in range(len(headers))]
    _narrow(rooms, flexible, right if whole else range(len(headers)), width)
    if whole:
        clean = [[line for row in rows for line in _wrapped_row(row, rooms)] for rows in clean]
    for rows in clean:
        for row in rows:
            row[flexible] = clip(row[flexible], rooms[flexible])
    # The headers go in as rows: tabulate would widen their columns by two.
    text = tabulate(
        [row for rows in clean for row in rows],
        tablefmt="plain",
        disable_numparse=True,
        colalign=["right" if c in right else "left" for c in range(len(headers))],
    )
    lines = iter([clip(line.rstrip(), width) for line in text.split("\n")])
    return ["\n".join(next(lines) for _ in rows) for rows in clean]


def _narrow(rooms: list[int], flexible: int, fixed: Sequence[int], width: int) -> None:
    """Take room from columns until they fit: of `flexible`, and where that is short of others."""
    over = sum(rooms) + 2 * (len(rooms) - 1) - width
    least = min(rooms[flexible], _COMFORTABLE)
    others = [c for c in range(len(rooms)) if c != flexible and c not in fixed]
    for columns, floor in (([flexible], least), (others, _COMFORTABLE), (others, _LEAST_FLEXIBLE)):
        while over > 0 and columns:
            widest = max(columns, key=lambda c: rooms[c])
            if rooms[widest] <= floor:
                break
            rooms[widest] -= 1
            over -= 1
    rooms[flexible] = max(min(rooms[flexible], _LEAST_FLEXIBLE), rooms[flexible] - max(0, over))


def _wrapped_row(row: list[str], rooms: Sequence[int]) -> list[list[str]]:
    cells = [wrap(cell, room) for cell, room in zip(row, rooms, strict=True)]
    return [list(line) for line in zip_longest(*cells, fillvalue="")]
