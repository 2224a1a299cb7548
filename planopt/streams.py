"""Standard output and standard error that never stop a command: what they lose is told at its end.

A search must not end because its progress cannot be shown: the disk of a log is full, a terminal
has hung up, a stream was closed by whoever started the command.
"""

from __future__ import annotations

import errno
import io
import os
import sys
from contextlib import suppress

_NAMES = {1: "standard output", 2: "standard error"}


class _Sink(io.RawIOBase):
    """Writes to a file descriptor until the system refuses; drops the rest."""

    def __init__(self, number: int, lost: str | None) -> None:
        super().__init__()
        self._number = number
        self._closed_before = lost
        self.lost: str | None = None
        self.reader_gone = False

    def writable(self) -> bool:
        return True

    def fileno(self) -> int:
        return self._number

    def isatty(self) -> bool:
        return os.isatty(self._number)

    def write(self, data: bytes | bytearray | memoryview) -> int:  # type: ignore[override]
        self.lost = self.lost or self._closed_before
        if self.lost is None:
            try:
                return os.write(self._number, data)
            except OSError as error:
                self.lost = (error.strerror or str(error)).lower()
                self.reader_gone = error.errno == errno.EPIPE
        return len(data)


class Streams:
    """The standard streams of this process, replaced by ones that do not fail."""

    def __init__(self) -> None:
        """Open what is closed, on nothing, so that no file of ours gets a stream's number."""
        closed = _open_closed()
        self._sinks = {number: _Sink(number, closed.get(number)) for number in _NAMES}
        if os.name == "nt":
            # Its consoles are no files; there only letters are seen to.
            for stream in (sys.stdout, sys.stderr):
                if isinstance(stream, io.TextIOWrapper):
                    stream.reconfigure(errors="replace")
            return
        sys.stdout = self._stream(1, sys.stdout, line_buffering=os.isatty(1))
        sys.stderr = self._stream(2, sys.stderr, line_buffering=True)

    def _stream(self, number: int, before: object, *, line_buffering: bool) -> io.TextIOWrapper:
        """Return a stream; a terminal that cannot show a letter shows `?` instead."""
        encoding = getattr(before, "encoding", None) or "utf-8"
        buffer = io.BufferedWriter(self._sinks[number])  # type: ignore[type-var]
        return io.TextIOWrapper(
            buffer, encoding=encoding, errors="replace", line_buffering=line_buffering
        )

    def lost(self) -> list[str]:
        """Return a sentence for each stream that has not shown all it was given.

        It is empty where the reader went away, as `head` does: that reader knows.
        """
        for stream in (sys.stdout, sys.stderr):
            with suppress(ValueError, OSError):
                stream.flush()
        told = []
        for number, sink in self._sinks.items():
            if sink.lost is not None:
                text = f"Not all could be shown: {_NAMES[number]}: {sink.lost}."
                told.append("" if sink.reader_gone else text)
        return told


def _open_closed() -> dict[int, str]:
    """Open the standard files that are closed on the null device; return why they count as lost."""
    closed = {}
    for number in (0, 1, 2):
        try:
            os.fstat(number)
        except OSError:
            # The lowest free number is this one.
            os.open(os.devnull, os.O_RDWR)
            closed[number] = "it is closed"
    return closed
