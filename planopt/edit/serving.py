"""Serve the working sheet until somebody ends it: the verb of this part."""

from __future__ import annotations

import webbrowser
from collections.abc import Callable
from threading import Thread

from planopt.edit.server import EditServer
from planopt.edit.session import EditSession

IDLE_MINUTES = 60.0


def show_in_browser(url: str) -> None:
    """Open an address in the user's browser, without waiting for it."""
    Thread(target=webbrowser.open, args=(url,), daemon=True).start()


def serve(
    session: EditSession,
    port: int = 0,
    *,
    browser: bool = True,
    idle_minutes: float = IDLE_MINUTES,
    told: Callable[[str], None] | None = None,
) -> None:
    """Serve the page of a session until it ends, or nobody has used it for so long.

    `told` is given the address first. A search that still runs is stopped; nothing comes of it.

    Raises:
        BadOption: the port cannot be had.
        KeyboardInterrupt: Ctrl-C; the session has ended then, too.
    """
    with EditServer(session, port) as server:
        try:
            if told is not None:
                told(server.url)
            if browser:
                show_in_browser(server.url)
            while not session.ended and server.idle_seconds() < 60 * idle_minutes:
                server.handle_request()
        finally:
            session.end()
            session.stop(wait=True)
