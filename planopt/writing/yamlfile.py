"""A YAML file changed in place: values set and entries added; comments, order and form stay.

The text is spliced where the nodes stand, and read again: what the file then says must be exactly
what it said before with the change made to it, or nothing is written.
"""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from copy import deepcopy
from pathlib import Path
from typing import Any

import yaml

from planopt.faults import BadInput
from planopt.folders import write_file
from planopt.reading.documents import Document, parse_document
from planopt.reading.files import PathPart, Place, path_text, read_text

_STEP = 2


class YamlFile:
    """A YAML file under change; nothing is written before `save`."""

    def __init__(self, path: Path) -> None:
        """Read the file.

        Raises:
            BadInput: it cannot be read.
        """
        self.path = path
        text, faults = read_text(path)
        if text is None:
            raise BadInput(faults)
        self._crlf = "\r\n" in text
        self.text = text.replace("\r\n", "\n")
        self.document = self._parsed()

    @property
    def data(self) -> Any:
        """Return what the file says now."""
        return self.document.data

    def set(self, path: Sequence[PathPart], value: Any, after: Sequence[str] = ()) -> None:
        """Set the value at a path; mappings are merged, and a missing key is added.

        `after` names keys beside the new one, the first that is there is followed by it; without
        any it comes last. A list position one past the end adds an entry.

        Raises:
            BadInput: the file has a form in which this place cannot be changed alone.
        """
        wanted = _changed(self.data, path, value)
        self._set(tuple(path), value, after)
        self._agree(path, wanted)

    def drop(self, path: Sequence[PathPart]) -> None:
        """Take a key of a block mapping out, with the lines of its value, if it is there.

        Raises:
            BadInput: the file has a form in which this place cannot be changed alone.
        """
        found = self._pair(path)
        if found is None:
            return
        wanted = deepcopy(self.data)
        parent: Any = wanted
        for part in path[:-1]:
            parent = parent[part]
        del parent[path[-1]]
        key, value = found
        start = self.text.rfind("\n", 0, key.start_mark.index) + 1
        end = self._line_end(max(self._end(value), key.end_mark.index))
        self._splice(start, end, "")
        self._agree(path, wanted)

    def save(self) -> None:
        """Write the file, whole or not at all.

        Raises:
            BadInput: the system refuses to write there.
        """
        write_file(self.path, self.text.replace("\n", "\r\n") if self._crlf else self.text)

    def _parsed(self) -> Document:
        document, faults = parse_document(self.text, str(self.path))
        if document is None:
            raise BadInput(faults)
        return document

    def _agree(self, path: Sequence[PathPart], wanted: Any) -> None:
        document, _ = parse_document(self.text, str(self.path))
        if document is None or document.data != wanted:
            raise self._refused(path)
        self.document = document

    def _refused(self, path: Sequence[PathPart]) -> BadInput:
        return BadInput(
            [
                Place(str(self.path), self.document.line(path)).fault(
                    path_text(path),
                    "",
                    "this place cannot be changed alone (it may be shared by an alias)",
                    "change it by hand",
                    "yaml_not_changed",
                )
            ]
        )

    def _node(self, path: Sequence[PathPart]) -> yaml.Node | None:
        node = self.document.root
        for part in path:
            if isinstance(node, yaml.MappingNode):
                node = next((v for k, v in reversed(node.value) if k.value == str(part)), None)
            elif isinstance(node, yaml.SequenceNode) and isinstance(part, int):
                node = node.value[part] if part < len(node.value) else None
            else:
                return None
        return node

    def _pair(self, path: Sequence[PathPart]) -> tuple[yaml.Node, yaml.Node] | None:
        parent = self._node(path[:-1])
        if not isinstance(parent, yaml.MappingNode):
            return None
        return next(((k, v) for k, v in parent.value if k.value == str(path[-1])), None)

    def _set(self, path: tuple[PathPart, ...], value: Any, after: Sequence[str]) -> None:
        node = self._node(path)
        if node is None:
            self._add(path, value, after)
        elif isinstance(value, Mapping) and isinstance(node, yaml.MappingNode) and node.value:
            for key, part in value.items():
                self._set((*path, key), part, ())
        elif isinstance(node, yaml.ScalarNode) and node.value == "" and not node.style:
            # A key without a value: its place is right behind the colon.
            block, indent = _block(value), self._indent(path)
            text = "\n" + _lines(value, indent) if block else " " + flow_text(value)
            place = self._colon_end(path, node)
            self._splice(place, place, text.rstrip("\n"))
        else:
            start, lead = int(node.start_mark.index), ""
            line = self.text.rfind("\n", 0, start) + 1
            if line < start and not self.text[line:start].strip() and self._pair(path):
                # A list may stand right below its key, where a plain value may not.
                start, lead = line, " " * self._indent(path)
            elif line == start and self._pair(path):
                lead = " " * self._indent(path)
            self._splice(start, self._end(node), lead + flow_text(value))

    def _colon_end(self, path: tuple[PathPart, ...], node: yaml.Node) -> int:
        found = self._pair(path)
        if found is None:
            return int(node.start_mark.index)
        return self.text.index(":", found[0].end_mark.index) + 1

    def _indent(self, path: tuple[PathPart, ...]) -> int:
        found = self._pair(path)
        return (found[0].start_mark.column if found else 0) + _STEP

    def _add(self, path: tuple[PathPart, ...], value: Any, after: Sequence[str]) -> None:
        parent = self._node(path[:-1])
        if parent is None or (isinstance(parent, yaml.ScalarNode) and path[:-1]):
            held: Any = [value] if isinstance(path[-1], int) else {path[-1]: value}
            self._set(path[:-1], held, after)
        elif isinstance(parent, (yaml.MappingNode, yaml.SequenceNode)):
            if parent.flow_style:
                self._add_in_flow(parent, path[-1], value)
            else:
                self._add_in_block(parent, path[-1], value, after)
        else:
            raise self._refused(path)

    def _add_in_flow(self, parent: yaml.CollectionNode, key: PathPart, value: Any) -> None:
        entry = (
            flow_text(value)
            if isinstance(parent, yaml.SequenceNode)
            else f"{key}: {flow_text(value)}"
        )
        if not parent.value:
            closing = parent.end_mark.index - 1
            self._splice(parent.start_mark.index + 1, closing, entry)
            return
        last = parent.value[-1]
        end = self._end(last[1] if isinstance(last, tuple) else last)
        self._splice(end, end, f", {entry}")

    def _add_in_block(
        self, parent: yaml.CollectionNode, key: PathPart, value: Any, after: Sequence[str]
    ) -> None:
        indent = parent.start_mark.column
        if isinstance(parent, yaml.SequenceNode):
            body = _lines(value, indent + _STEP) if _block(value) else flow_text(value)
            entry = f"{' ' * indent}- {body.lstrip(' ')}"
            previous = parent.value[-1]
        else:
            inner = (
                f"\n{_lines(value, indent + _STEP)}" if _block(value) else f" {flow_text(value)}"
            )
            entry = f"{' ' * indent}{key}:{inner}"
            pairs = {k.value: (k, v) for k, v in parent.value}
            place = next((pairs[name] for name in after if name in pairs), parent.value[-1])
            previous = place[1] if place[1].value != "" else place[0]
        end = self._line_end(self._end(previous))
        lead = "" if self.text[:end].endswith("\n") else "\n"
        self._splice(end, end, lead + entry.rstrip("\n") + "\n")

    def _end(self, node: yaml.Node) -> int:
        """Return where the last part of a node ends, without what only follows it."""
        while isinstance(node, (yaml.MappingNode, yaml.SequenceNode)) and not node.flow_style:
            if not node.value:
                break
            last = node.value[-1]
            if isinstance(last, tuple):
                last = last[0] if _is_left_out(last[1]) else last[1]
            node = last
        index = int(node.end_mark.index)
        return len(self.text[:index].rstrip()) if _is_block_text(node) else index

    def _line_end(self, index: int) -> int:
        found = self.text.find("\n", index)
        return len(self.text) if found < 0 else found + 1

    def _splice(self, start: int, end: int, text: str) -> None:
        self.text = self.text[:start] + text + self.text[end:]
        document, _ = parse_document(self.text, str(self.path))
        if document is not None:
            self.document = document


def _is_left_out(node: yaml.Node) -> bool:
    """Tell whether nothing is written where a value could stand."""
    return not node.value and node.end_mark.index == node.start_mark.index


def _is_block_text(node: yaml.Node) -> bool:
    return isinstance(node, yaml.ScalarNode) and node.style in ("|", ">")


def _block(value: Any) -> bool:
    """Tell whether a value is written over several lines: what holds other collections, or texts.

    A mapping of plain values stays on one line, as in `{min: 1800, max: 2100}`.
    """
    if isinstance(value, Mapping):
        return any(isinstance(part, (Mapping, list, tuple)) for part in value.values())
    return isinstance(value, (list, tuple)) and any(
        isinstance(part, (Mapping, list, tuple)) or " " in str(part) for part in value
    )


def _lines(value: Any, indent: int) -> str:
    """Return the lines of a block value."""
    pad = " " * indent
    found = []
    if isinstance(value, Mapping):
        for key, part in value.items():
            if _block(part):
                found.append(f"{pad}{key}:\n{_lines(part, indent + _STEP)}")
            else:
                found.append(f"{pad}{key}: {flow_text(part)}\n")
    else:
        for part in value:
            body = (
                _lines(part, indent + _STEP).lstrip(" ") if _block(part) else f"{flow_text(part)}\n"
            )
            found.append(f"{pad}- {body}")
    return "".join(found)


def flow_text(value: Any) -> str:
    """Return a value on one line, as YAML."""
    text = yaml.safe_dump(
        _plain(value), default_flow_style=True, sort_keys=False, allow_unicode=True, width=10**9
    )
    return text.removesuffix("\n").removesuffix("\n...")


def _plain(value: Any) -> Any:
    if isinstance(value, Mapping):
        return {key: _plain(part) for key, part in value.items()}
    if isinstance(value, (list, tuple)):
        return [_plain(part) for part in value]
    return value


def _changed(data: Any, path: Sequence[PathPart], value: Any) -> Any:
    """Return a copy of data with a value set, mappings merged."""
    if not path:
        if isinstance(value, Mapping):
            merged = dict(deepcopy(data)) if isinstance(data, Mapping) else {}
            for key, part in value.items():
                merged[key] = _changed(merged.get(key), (), part)
            return merged
        return _plain(value)
    first, rest = path[0], path[1:]
    if isinstance(first, int) and (data is None or isinstance(data, list)):
        entries = deepcopy(data) if isinstance(data, list) else []
        if first == len(entries):
            entries.append(None)
        entries[first] = _changed(entries[first], rest, value)
        return entries
    merged = dict(deepcopy(data)) if isinstance(data, Mapping) else {}
    merged[first] = _changed(merged.get(first), rest, value)
    return merged
