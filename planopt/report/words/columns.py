"""Text in columns: as wide as it is shown, cut or broken to fit, no control characters."""

from __future__ import annotations

import unicodedata
from collections.abc import Sequence

import wcwidth
from tabulate import tabulate

WIDTH = 80
_LEAST_FLEXIBLE = 8


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
    clean = [[screen_text(cell) for cell in row] for row in (headers, *rows)]
    columns = range(len(headers))
    widest = [max(screen_width(row[c]) for row in clean) for c in columns]
    others = sum(widest[c] for c in columns if c != flexible) + 2 * (len(headers) - 1)
    room = max(_LEAST_FLEXIBLE, width - others)
    if whole:
        clean = [line for row in clean for line in _wrapped_row(row, flexible, room)]
    for row in clean:
        row[flexible] = clip(row[flexible], room)
    # The headers go in as a row: tabulate would widen their columns by two.
    text = tabulate(
        clean,
        tablefmt="plain",
        disable_numparse=True,
        colalign=["right" if c in right else "left" for c in columns],
    )
    return "\n".join(clip(line.rstrip(), width) for line in text.splitlines())


def _wrapped_row(row: list[str], flexible: int, room: int) -> list[list[str]]:
    first, *rest = wrap(row[flexible], room)
    lines = [[first if c == flexible else cell for c, cell in enumerate(row)]]
    return lines + [[more if c == flexible else "" for c in range(len(row))] for more in rest]
