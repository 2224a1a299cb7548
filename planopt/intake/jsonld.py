"""JSON-LD documents: the recipes in a file or in a saved web page, as plain mappings.

Terms of schema.org may be written bare, with a prefix, or as whole addresses; here they lose all of
that, so that the rest of the program reads `Recipe` and `recipeYield` only. Nothing is fetched.
"""

from __future__ import annotations

import json
import re
from collections.abc import Iterator
from html.parser import HTMLParser
from typing import Any

Node = dict[str, Any]
RECIPE = "Recipe"
_VOCABULARY = re.compile(r"^(?:https?://(?:www\.)?schema\.org/|schema:)", re.IGNORECASE)
# Deeper than any page; a document may not be nested without end.
_MOST_DEPTH = 60


class NotJson(ValueError):
    """A text that is no JSON; `line` is where it goes wrong, seen from the start of the file."""

    def __init__(self, why: str, line: int) -> None:
        super().__init__(why)
        self.why, self.line = why, line


class _Scripts(HTMLParser):
    """Gathers the JSON-LD scripts of a page with the lines on which they begin."""

    def __init__(self) -> None:
        super().__init__(convert_charrefs=True)
        self.found: list[tuple[int, str]] = []
        self._within = False

    def handle_starttag(self, tag: str, attrs: list[tuple[str, str | None]]) -> None:
        """Open a script of the kind that is looked for."""
        kind = dict(attrs).get("type") or ""
        if tag == "script" and kind.split(";")[0].strip().lower() == "application/ld+json":
            self._within = True
            self.found.append((self.getpos()[0], ""))

    def handle_endtag(self, tag: str) -> None:
        """Close it."""
        if tag == "script":
            self._within = False

    def handle_data(self, data: str) -> None:
        """Keep what stands in it."""
        if self._within:
            line, text = self.found[-1]
            self.found[-1] = (line, text + data)


def is_page(text: str) -> bool:
    """Tell whether a text is a web page rather than JSON."""
    return text.lstrip("\ufeff \t\r\n").startswith("<")


def recipes_in(text: str) -> tuple[list[Node], list[NotJson]]:
    """Return the recipes of a JSON file or of a page, and the scripts that are no JSON."""
    bad: list[NotJson] = []
    documents: list[Any] = []
    if is_page(text):
        parser = _Scripts()
        parser.feed(text)
        parser.close()
        scripts = parser.found
    else:
        scripts = [(1, text)]
    for line, script in scripts:
        try:
            documents.append(_loaded(script, line))
        except NotJson as error:
            bad.append(error)
    found = []
    for document in documents:
        nodes = list(_nodes(document, 0))
        known = {node["@id"]: node for node in nodes if _is_whole(node)}
        found += [_resolved(node, known) for node in nodes if RECIPE in types_of(node)]
    return found, bad


def types_of(node: object) -> tuple[str, ...]:
    """Return the types of a node; one may have several."""
    value = node.get("@type") if isinstance(node, dict) else None
    return tuple(_plain(t) for t in as_list(value) if isinstance(t, str))


def as_list(value: Any) -> list[Any]:
    """Return a value that may be left out, single or a list, as a list."""
    if isinstance(value, dict) and set(value) & {"@list", "@set"}:
        value = value.get("@list", value.get("@set"))
    if value is None:
        return []
    return list(value) if isinstance(value, list) else [value]


def _loaded(script: str, line: int) -> Any:
    text = script.strip("\ufeff \t\r\n")
    # Old pages hide the script from browsers older than scripts.
    text = re.sub(r"^(?:<!--|/\*\s*<!\[CDATA\[\s*\*/|//\s*<!\[CDATA\[|<!\[CDATA\[)", "", text)
    text = re.sub(r"(?:-->|/\*\s*\]\]>\s*\*/|//\s*\]\]>|\]\]>)$", "", text)
    try:
        # A raw line break inside a text is common in pages, and does no harm.
        return json.loads(text, strict=False)
    except json.JSONDecodeError as error:
        before = script[: script.find(text)].count("\n") if text else 0
        raise NotJson(error.msg.lower(), line + before + error.lineno - 1) from error
    except RecursionError as error:
        raise NotJson("it is nested too deeply", line) from error


def _plain(term: str) -> str:
    return _VOCABULARY.sub("", term)


def _nodes(value: Any, depth: int) -> Iterator[Node]:
    """Yield every node of a document with plain terms, wherever it stands."""
    if depth > _MOST_DEPTH:
        return
    if isinstance(value, list):
        for item in value:
            yield from _nodes(item, depth + 1)
    elif isinstance(value, dict):
        node = {_plain(str(key)): item for key, item in value.items()}
        yield node
        for key, item in node.items():
            if key != "@context":
                yield from _nodes(item, depth + 1)


def _is_whole(node: Node) -> bool:
    return isinstance(node.get("@id"), str) and len(node) > 1


def _resolved(value: Any, known: dict[str, Node], depth: int = 0) -> Any:
    """Return a value with plain terms, and with nodes in place of references to them."""
    if depth > _MOST_DEPTH:
        return None
    if isinstance(value, list):
        return [_resolved(item, known, depth + 1) for item in value]
    if not isinstance(value, dict):
        return value
    node = {_plain(str(key)): item for key, item in value.items()}
    if set(node) == {"@id"} and node["@id"] in known:
        node = known[node["@id"]]
        depth += 10  # a node may refer to itself
    if "@value" in node:
        return node["@value"]
    return {
        key: _resolved(item, known, depth + 1) for key, item in node.items() if key != "@context"
    }
