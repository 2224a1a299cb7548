"""YAML documents: the data, and on which line each part of it stands."""

from __future__ import annotations

import gc
import re
from collections.abc import Iterator, Sequence
from dataclasses import dataclass
from pathlib import Path
from typing import Any

import yaml

from planopt.faults import Fault
from planopt.reading.files import PathPart, Place, path_text, read_text
from planopt.reading.validation import Misfit

_Base: Any = getattr(yaml, "CSafeLoader", yaml.SafeLoader)
# Some 400 MB while they are read.
MOST_VALUES = 400_000
_TIMESTAMP = "tag:yaml.org,2002:timestamp"
_MERGE = "tag:yaml.org,2002:merge"


def _without_colon(pattern: re.Pattern[str]) -> re.Pattern[str]:
    return re.compile(rf"(?!.*:)(?:{pattern.pattern})", pattern.flags)


class _Loader(_Base):  # type: ignore[misc]  # the base is chosen at run time
    """The safe loader; dates stay text, and bad scalars are errors with a line."""

    def construct_object(self, node: yaml.Node, deep: bool = False) -> Any:
        """Build one value; PyYAML lets a bare ValueError escape for scalars such as `0x_`."""
        try:
            return super().construct_object(node, deep)
        except ValueError as error:
            raise yaml.constructor.ConstructorError(
                problem=str(error), problem_mark=node.start_mark
            ) from error


# Dates stay text so that a day such as 2026-02-30 is a fault of its field, not of the syntax.
# Times do too: the old rule of YAML 1.1 reads 10:30 as the number 630.
_Loader.yaml_implicit_resolvers = {
    first: [(tag, _without_colon(pattern)) for tag, pattern in entries if tag != _TIMESTAMP]
    for first, entries in _Base.yaml_implicit_resolvers.items()
}


@dataclass(frozen=True)
class Document:
    """A YAML file that was read: its name as the user gave it, its data, its nodes."""

    file: str
    data: object
    root: yaml.Node | None

    def line(self, path: Sequence[PathPart]) -> int:
        """Return the line of a path such as `("lines", 3, "unit")`.

        A path that does not exist gets the line of the last part that does.
        """
        if self.root is None:
            return 0
        node = self.root
        line = node.start_mark.line + 1
        for part in path:
            found = _child(node, part)
            if found is None:
                break
            line, node = found
        return int(line)

    def place(self, path: Sequence[PathPart] = ()) -> Place:
        """Return file and line of a path."""
        return Place(self.file, self.line(path))

    def faults(self, problems: Sequence[Misfit]) -> list[Fault]:
        """Return problems of the data as faults of this file."""
        return [
            self.place(problem.path).fault(
                path_text(problem.path), problem.value, problem.why, problem.mend, problem.code
            )
            for problem in problems
        ]


def _child(node: yaml.Node, part: PathPart) -> tuple[int, yaml.Node] | None:
    if isinstance(node, yaml.MappingNode):
        for key, value in reversed(node.value):
            if isinstance(key, yaml.ScalarNode) and key.value == str(part):
                return key.start_mark.line + 1, value
    elif isinstance(node, yaml.SequenceNode) and isinstance(part, int) and part < len(node.value):
        item = node.value[part]
        return item.start_mark.line + 1, item
    return None


def read_document(path: Path) -> tuple[Document | None, list[Fault]]:
    """Read one YAML file, or return None and the faults that prevent it."""
    text, faults = read_text(path)
    if text is None:
        return None, faults
    return parse_document(text, str(path))


def parse_document(text: str, file: str) -> tuple[Document | None, list[Fault]]:
    """Read YAML text; `file` names it in faults."""
    loader = None
    collecting = gc.isenabled()
    # A tree of nodes has nothing to collect, and looking for it takes most of the time.
    gc.disable()
    try:
        if len(text) > 2 * MOST_VALUES and _values_told(text) > MOST_VALUES:
            return None, [_too_many(file)]
        loader = _Loader(text)
        root: yaml.Node | None = loader.get_single_node()
        if root is None:
            empty = Place(file, 0).fault(
                "", "", "the file is empty", "write the fields", "empty_file"
            )
            return None, [empty]
        if "*" in text and "&" in text:
            meant = _values_meant(root, file)
            if meant:
                return None, meant
        repeated = list(_repeated_keys(loader, root, file))
        if repeated:
            return None, repeated
        return Document(file, loader.construct_document(root), root), []
    except yaml.YAMLError as error:
        return None, [_syntax_fault(error, file)]
    except RecursionError:
        return None, [
            Place(file, 0).fault(
                "", "", "the YAML is nested too deeply", "nest it less", "yaml_syntax"
            )
        ]
    finally:
        if loader is not None:
            loader.dispose()
        if collecting:
            gc.enable()


def _syntax_fault(error: yaml.YAMLError, file: str) -> Fault:
    mark = getattr(error, "problem_mark", None)
    reason = getattr(error, "problem", None) or getattr(error, "reason", None) or str(error)
    return Place(file, mark.line + 1 if mark is not None else 0).fault(
        "",
        "",
        f"the YAML cannot be read: {reason}",
        "check the indentation, the colons and the quotes near this line",
        "yaml_syntax",
    )


def _values_told(text: str) -> int:
    """Return how many values a text has, counted no further than a little above the limit."""
    loader = _Loader(text)
    try:
        count = 0
        while count <= MOST_VALUES and loader.check_event():
            count += isinstance(loader.get_event(), yaml.NodeEvent)
        return count
    finally:
        loader.dispose()


def _values_meant(root: yaml.Node, file: str) -> list[Fault]:
    """Return a fault if aliases stand for too many values, or for one that holds itself."""
    sizes: dict[int, int] = {}
    pending: list[tuple[yaml.Node, bool]] = [(root, False)]
    while pending:
        node, left = pending.pop()
        parts = _parts(node)
        if left:
            sizes[id(node)] = 1 + sum(sizes[id(part)] for part in parts)
        elif id(node) not in sizes:
            # Not known before its parts are: who meets it inside them has gone round in a circle.
            sizes[id(node)] = 0
            pending.append((node, True))
            for part in parts:
                if sizes.get(id(part)) == 0:
                    line = node.start_mark.line + 1
                    return [
                        Place(file, line).fault(
                            "",
                            "",
                            "an alias here stands for something that holds the alias itself",
                            "write out what is meant",
                            "yaml_syntax",
                        )
                    ]
                pending.append((part, False))
    return [_too_many(file)] if sizes[id(root)] > MOST_VALUES else []


def _parts(node: yaml.Node) -> list[yaml.Node]:
    if isinstance(node, yaml.MappingNode):
        return [part for pair in node.value for part in pair]
    return node.value if isinstance(node, yaml.SequenceNode) else []


def _too_many(file: str) -> Fault:
    return Place(file, 0).fault(
        "",
        "",
        f"it has more than {MOST_VALUES:,} values, each alias counted as all that it stands for",
        "leave out what no plan needs",
        "too_many_values",
    )


def _repeated_keys(loader: Any, root: yaml.Node, file: str) -> Iterator[Fault]:
    pending: list[tuple[yaml.Node, tuple[PathPart, ...]]] = [(root, ())]
    visited: set[int] = set()
    while pending:
        node, path = pending.pop()
        # An alias leads to a node already seen; following it again could take for ever.
        if id(node) in visited:
            continue
        visited.add(id(node))
        if isinstance(node, yaml.SequenceNode):
            pending += [(item, (*path, index)) for index, item in enumerate(node.value)]
        elif isinstance(node, yaml.MappingNode):
            lines: dict[object, int] = {}
            for key, value in node.value:
                if not isinstance(key, yaml.ScalarNode):
                    continue
                line = key.start_mark.line + 1
                here = (*path, key.value)
                meant = _meant(loader, key)
                if meant in lines:
                    yield Place(file, line).fault(
                        path_text(here),
                        key.value,
                        f"this key stands already on line {lines[meant]}",
                        "keep one of the two",
                        "duplicate_key",
                    )
                lines.setdefault(meant, line)
                pending.append((value, here))


def _meant(loader: Any, key: yaml.ScalarNode) -> object:
    """Return the value that a key means, so that 1, 1.0, "1" and 01 are one day and not four."""
    if key.tag == _MERGE:
        return key.value
    value = loader.construct_object(key)
    if isinstance(value, str):
        try:
            value = int(value)
        except ValueError:
            return value
    # Python holds 1, 1.0 and true for one key, and so do its maps.
    return value
