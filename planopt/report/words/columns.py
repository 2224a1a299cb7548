"""Text in columns: as wide as it is shown, cut or broken to fit, no control characters."""

from __future__ import annotations

import unicodedata
from collections.abc import Sequence

from tabulate import tabulate

WIDTH = 80
# Stands in for the second column of a wide character while the table is laid out by length.
_FILLER = "\ue000"
_LEAST_FLEXIBLE = 8


def _wide(char: str) -> bool:
    return unicodedata.east_asian_width(char) in ("W", "F")


def screen_width(text: str) -> int:
    """Return the columns a text takes on a terminal; a lone accent counts as one, cautiously."""
    return sum(2 if _wide(char) else 1 for char in text)


def screen_text(text: str) -> str:
    """Return a text safe for one terminal line: no control, format or private characters."""
    kept = (" " if unicodedata.category(char) in ("Cc", "Zl", "Zp") else char for char in text)
    joined = "".join(char for char in kept if unicodedata.category(char)[0] != "C")
    return " ".join(unicodedata.normalize("NFC", joined).split())


def clip(text: str, width: int) -> str:
    """Return a text cut to a width in columns, with an ellipsis where it was cut."""
    if screen_width(text) <= width:
        return text
    kept, used = "", 0
    for char in text:
        used += 2 if _wide(char) else 1
        if used > width - 1:
            break
        kept += char
    return f"{kept.rstrip()}…"


def _laid_out(text: str) -> str:
    return "".join(char + _FILLER if _wide(char) else char for char in text)


def wrap(text: str, width: int) -> list[str]:
    """Return a text on lines of a width in columns, broken between words where it can be."""
    lines, line = [], ""
    for word in screen_text(text).split():
        joined = f"{line} {word}" if line else word
        if screen_width(joined) <= width:
            line = joined
            continue
        if line:
            lines.append(line)
        line = ""
        for char in word:
            if screen_width(line + char) > width:
                lines.append(line)
                line = ""
            line += char
    return [*lines, line] if line or not lines else lines


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
    laid = [[_laid_out(cell) for cell in row] for row in clean]
    # The headers go in as a row: tabulate would widen their columns by two.
    text = tabulate(
        laid,
        tablefmt="plain",
        disable_numparse=True,
        colalign=["right" if c in right else "left" for c in columns],
    )
    lines = (line.replace(_FILLER, "").rstrip() for line in text.splitlines())
    return "\n".join(clip(line, width) for line in lines)


def _wrapped_row(row: list[str], flexible: int, room: int) -> list[list[str]]:
    first, *rest = wrap(row[flexible], room)
    lines = [[first if c == flexible else cell for c, cell in enumerate(row)]]
    return lines + [[more if c == flexible else "" for c in range(len(row))] for more in rest]
