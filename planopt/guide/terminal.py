"""Markdown of the guide as plain text for a terminal."""

from __future__ import annotations

import re
from io import StringIO

from rich.console import Console, ConsoleOptions, RenderResult
from rich.markdown import Heading, Markdown, TableElement
from rich.table import Table
from rich.text import Text

WIDTH = 80
# A word in code type that would read like any other without it; not in headings and first cells.
_WORD = re.compile(r"`([a-z]+)`")
_FIRST = re.compile(r"#+ .*|\|[^|]*\|")
_LINK = re.compile(r"\[([^\]]+)\]\((?:([a-z]+)\.md)?(?:#[\w-]*)?\)")


class _Underlined(Heading):
    """A heading that can be told from the text without colours."""

    def __rich_console__(self, console: Console, options: ConsoleOptions) -> RenderResult:
        plain = self.text.plain
        yield Text(f"{plain}\n{('=' if self.tag == 'h1' else '-') * len(plain)}")


class _Folded(TableElement):
    """A table in which a word that is wider than its column goes on below."""

    def __rich_console__(self, console: Console, options: ConsoleOptions) -> RenderResult:
        for part in super().__rich_console__(console, options):
            if isinstance(part, Table):
                for column in part.columns:
                    column.overflow = "fold"
            yield part


class _Page(Markdown):
    """Markdown with headings and tables of ours."""

    elements = {**Markdown.elements, "heading_open": _Underlined, "table_open": _Folded}


def for_terminal(markdown: str, width: int = WIDTH) -> str:
    """Return Markdown as plain text of a width; cells of tables are wrapped, not cut."""
    console = Console(file=StringIO(), width=width, color_system=None, force_terminal=False)
    with console.capture() as caught:
        told = "".join(map(_quoted, _LINK.sub(_link, markdown).splitlines(keepends=True)))
        console.print(_Page(told, hyperlinks=False))
    plain = "\n".join(line.rstrip() for line in caught.get().splitlines()).strip("\n")
    return re.sub(r"\n{3,}", "\n\n", plain)


def _quoted(line: str) -> str:
    """Return a line of Markdown with plain words in quotes where they were in code type."""
    first = _FIRST.match(line)
    end = first.end() if first else 0
    return line[:end] + _WORD.sub(r'"\1"', line[end:])


def _link(found: re.Match[str]) -> str:
    """Return a link to another page as the command that prints it, and others as their words."""
    words, name = found.groups()
    return f"{words} (`planopt guide {name}`)" if name else words
