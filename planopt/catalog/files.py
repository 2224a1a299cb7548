"""Reading files as text, with every way this can fail turned into a fault."""

from __future__ import annotations

from collections.abc import Sequence
from pathlib import Path
from typing import NamedTuple

from planopt.faults import Fault

PathPart = str | int


class Place(NamedTuple):
    """A file as the user named it, and a 1-based line (0 = the whole file)."""

    file: str
    line: int

    def fault(self, field: str, value: object, why: str, mend: str, code: str) -> Fault:
        """Return a fault at this place."""
        return Fault(self.file, self.line, field, shown(value), why, mend, code)


def shown(value: object) -> str:
    """Return a value as short text for a fault; containers only by their size."""
    if value is None:
        return ""
    if isinstance(value, bool):
        return "true" if value else "false"
    if isinstance(value, dict):
        return f"a mapping of {len(value)}"
    if isinstance(value, (list, tuple, set)):
        return f"a list of {len(value)}"
    if isinstance(value, int) and value.bit_length() > 300:
        return "a very long number"
    text = str(value)
    return text if len(text) <= 80 else text[:77] + "..."


def path_text(path: Sequence[PathPart]) -> str:
    """Return a path as text: `lines[3].unit`; list positions count from 0."""
    text = ""
    for part in path:
        if isinstance(part, int) and not isinstance(part, bool):
            text += f"[{part}]"
        else:
            # YAML keys may be anything; only texts are ever right.
            text += f".{part}" if text else str(part)
    return text


def read_text(path: Path) -> tuple[str | None, list[Fault]]:
    """Return the text of a UTF-8 file, or None and the fault that prevents it."""
    place = Place(str(path), 0)
    try:
        raw = path.read_bytes()
    except FileNotFoundError:
        return None, [
            place.fault("", path.name, "there is no such file", "create it", "file_missing")
        ]
    except IsADirectoryError:
        return None, [
            place.fault(
                "", path.name, "this is a folder, a file is needed", "name a file", "not_a_file"
            )
        ]
    except OSError as error:
        reason = (error.strerror or "unknown reason").lower()
        return None, [
            place.fault(
                "",
                path.name,
                f"the file cannot be read: {reason}",
                "make the file readable",
                "file_unreadable",
            )
        ]
    return _decoded(raw, place, path.name)


def _decoded(raw: bytes, place: Place, name: str) -> tuple[str | None, list[Fault]]:
    try:
        text = raw.decode("utf-8-sig")
    except UnicodeDecodeError as error:
        # With a byte order mark the offsets count from after it; no line starts inside the mark.
        line = error.object[: error.start].count(b"\n") + 1
        return None, [
            Place(place.file, line).fault(
                "", name, "the file is not UTF-8 text", "save it as UTF-8", "not_utf8"
            )
        ]
    if "\0" in text:
        line = text[: text.index("\0")].count("\n") + 1
        return None, [
            Place(place.file, line).fault(
                "",
                name,
                "the file holds a NUL character, so it is no plain text",
                "save it as UTF-8 text",
                "not_utf8",
            )
        ]
    return text, []
