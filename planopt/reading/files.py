"""Reading files as text, with every way this can fail turned into a fault."""

from __future__ import annotations

import errno
import os
import stat
from collections.abc import Sequence
from pathlib import Path
from typing import NamedTuple

from planopt.faults import Fault
from planopt.letters import odd_letter

PathPart = str | int
# What a person writes is far below the first; a plan of hundreds of clients below the second.
MOST_BYTES, MOST_PLAN_BYTES = 16_000_000, 64_000_000


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


class NotOrdinary(OSError):
    """A file that the system would read, and planopt does not; `strerror` says why."""

    def __init__(self, why: str, mend: str, code: str) -> None:
        super().__init__(errno.EINVAL, why)
        self.why = why
        self.mend = mend
        self.code = code


def regular_bytes(path: Path, most: int = MOST_BYTES) -> bytes:
    """Return what an ordinary file of at most so many bytes holds: the one way to read a file.

    Whatever else has a name - a pipe, a device - could keep its reader waiting, or never end.

    Raises:
        NotOrdinary: it is no such file, or its name has characters that cannot be seen.
        OSError: the system cannot read it.
    """
    odd = odd_letter(str(path))
    if odd is not None:
        raise NotOrdinary(f"its name holds {odd}", "give it a plain name", "odd_character")
    _assert_regular(os.stat(path).st_mode)
    # Another file may have taken the name since; a pipe would be waited for.
    handle = os.open(path, os.O_RDONLY | getattr(os, "O_NONBLOCK", 0) | getattr(os, "O_BINARY", 0))
    with open(handle, "rb") as file:
        _assert_regular(os.fstat(handle).st_mode)
        content = file.read(most + 1)
    if len(content) > most:
        raise NotOrdinary(
            f"it has more than {most // 1_000_000} MB, the most that is read of such a file",
            "leave out what no plan needs",
            "file_too_large",
        )
    return content


def _assert_regular(mode: int) -> None:
    if stat.S_ISDIR(mode):
        raise NotOrdinary("this is a folder, a file is needed", "name a file", "not_a_file")
    if not stat.S_ISREG(mode):
        raise NotOrdinary(
            "this is a pipe or a device, and only ordinary files are read",
            "save its content to a file, and name that",
            "not_a_file",
        )


def read_text(path: Path) -> tuple[str | None, list[Fault]]:
    """Return the text of a UTF-8 file, or None and the fault that prevents it."""
    place = Place(str(path), 0)
    try:
        raw = regular_bytes(path)
    except FileNotFoundError:
        return None, [
            place.fault("", path.name, "there is no such file", "create it", "file_missing")
        ]
    except NotOrdinary as error:
        return None, [place.fault("", path.name, error.why, error.mend, error.code)]
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
