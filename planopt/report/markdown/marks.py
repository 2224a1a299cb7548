"""Markdown pieces: escaped text and pipe tables."""

from __future__ import annotations

import re
import unicodedata
from collections.abc import Sequence

from tabulate import tabulate

_SPECIAL = re.compile(r"[\\`*{}\[\]<>|~&$#]|(?<![^\W_])_|_(?![^\W_])")
# What would start a list, a rule or an underline at the head of a block.
_AT_START = re.compile(r"^(?:(\d+)([.)])|([+=-]))")


def md(text: str) -> str:
    """Return a user's text as Markdown that shows exactly that text, inside a line or a cell."""
    one_line = " ".join(
        "".join(" " if unicodedata.category(c) in ("Cc", "Zl", "Zp") else c for c in text).split()
    )
    return _SPECIAL.sub(lambda found: "\\" + found[0], one_line)


def md_block(text: str) -> str:
    """Return a user's text as Markdown that may also stand at the head of a block."""
    return _AT_START.sub(
        lambda found: f"{found[1]}\\{found[2]}" if found[1] else f"\\{found[3]}", md(text)
    )


def table(headers: Sequence[str], rows: Sequence[Sequence[str]], right: Sequence[int] = ()) -> str:
    """Return a pipe table. Cells must be escaped already."""
    aligned = ["right" if c in right else "left" for c in range(len(headers))]
    if not rows:
        return "None."
    return tabulate(
        rows, headers=headers, tablefmt="pipe", disable_numparse=True, colalign=aligned
    )  # fmt: skip
