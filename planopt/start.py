"""Where the command line begins: stops and streams are seen to before anything large is loaded."""

from __future__ import annotations

import json
import os
import signal
import sys
from contextlib import suppress
from types import FrameType

from planopt.faults import STOPPED_TEXT, ExitCode
from planopt.interrupts import STOPS, listening
from planopt.streams import Streams


def main() -> None:
    """Run the command line and exit with its code."""
    streams = Streams()
    for stop in STOPS:
        if signal.getsignal(stop) is not signal.SIG_IGN:
            signal.signal(stop, _leave)
    from planopt.cli import run

    with listening():
        code = run()
    for stop in STOPS:
        if signal.getsignal(stop) is _leave:
            signal.signal(stop, signal.SIG_DFL)
    lost = streams.lost()
    for text in filter(None, lost):
        print(text, file=sys.stderr)
        if "--json" not in sys.argv:
            print(text)
    if lost and code == ExitCode.OK:
        code = ExitCode.NOT_SHOWN
    with suppress(OSError):
        sys.stdout.flush()
    sys.exit(int(code))


def _leave(number: int, frame: FrameType | None) -> None:
    """End at once: while modules are loading nothing is open, and nothing is to be undone."""
    code = int(ExitCode.STOPPED)
    if "--json" in sys.argv:
        told = {"ok": False, "exit_code": code, "error": STOPPED_TEXT}
        _write(1, json.dumps(told, indent=2))
    _write(2, STOPPED_TEXT)
    os._exit(code)


def _write(number: int, text: str) -> None:
    with suppress(OSError):
        os.write(number, f"{text}\n".encode())
