"""Where the command line begins: stops and streams are seen to before anything large is loaded.

Python needs a moment to begin; after that no request to stop ends in a traceback. So this module
loads next to nothing by itself.
"""

import os
import signal
import sys

STOPPED_TEXT = "Stopped before it was done; nothing is half-written."
_STOPPED, _NOT_SHOWN = 8, 10
_NAMES = ("SIGINT", "SIGTERM", "SIGHUP")


def main() -> None:
    """Run the command line and exit with its code."""
    _set_stops(_leave)
    from planopt.deadlines import process_began

    process_began()
    from planopt.cli import run
    from planopt.interrupts import listening
    from planopt.streams import Streams

    streams = Streams()
    with listening():
        code = run()
    _set_stops(signal.SIG_DFL)
    lost = streams.lost()
    for text in filter(None, lost):
        print(text, file=sys.stderr)
        if "--json" not in sys.argv:
            print(text)
    streams.lost()
    sys.exit(_NOT_SHOWN if lost and code == 0 else code)


def _set_stops(handler: object) -> None:
    for name in _NAMES:
        stop = getattr(signal, name, None)
        if stop is not None and signal.getsignal(stop) is not signal.SIG_IGN:
            signal.signal(stop, handler)  # type: ignore[arg-type]


def _leave(number: int, frame: object) -> None:
    """End at once: while modules are loading nothing is open, and nothing is to be undone."""
    if "--json" in sys.argv:
        _write(1, f'{{"ok": false, "exit_code": {_STOPPED}, "error": "{STOPPED_TEXT}"}}')
    _write(2, STOPPED_TEXT)
    os._exit(_STOPPED)


def _write(number: int, text: str) -> None:
    try:  # noqa: SIM105 - what would suppress it has to be loaded first
        os.write(number, f"{text}\n".encode())
    except OSError:
        pass
