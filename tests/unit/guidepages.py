"""The pages that users read, and the blocks of commands and files in them."""

from __future__ import annotations

import re
import shlex
from collections.abc import Iterator
from dataclasses import dataclass
from pathlib import Path

from modules import HOUSE

ROOT = Path(__file__).resolve().parents[2]
GUIDE = {path.stem: path.read_text(encoding="utf-8") for path in (HOUSE / "guide").glob("*.md")}
README = (ROOT / "README.md").read_text(encoding="utf-8")
# What users read, as one text: the first page and the guide.
USERS = "\n".join((README, *(GUIDE[name] for name in sorted(GUIDE))))
_BLOCK = re.compile(r"^( *)```(\w+)(?: (\S+))?\n(.*?)^\1```$", re.MULTILINE | re.DOTALL)


@dataclass(frozen=True)
class Block:
    """A fenced block: its language, the file that it is shown as, its text without indent."""

    language: str
    file: str | None
    text: str

    def commands(self) -> Iterator[list[str]]:
        """Yield the words of each command; a line that ends in a backslash goes on."""
        joined = self.text.replace("\\\n", " ")
        for line in joined.splitlines():
            if words := shlex.split(line):
                yield words


def blocks(text: str) -> list[Block]:
    """Return the fenced blocks of a page that have a language, in order."""
    return [
        Block(language, file or None, re.sub(f"^{indent}", "", body, flags=re.MULTILINE))
        for indent, language, file, body in _BLOCK.findall(text)
    ]
