"""What asks a command to stop - Ctrl-C, SIGTERM, SIGHUP - heard in one way.

A command line `listens`. Then the first request ends a command at once, by `Stopped`; but once a
search has begun, it is only noted, and whoever searches winds up with the best that is known. A
second request is `Stopped` in any case, and after that the system's own ways are back. A library
does not listen: there a search takes Ctrl-C alone, for its own time. Whoever searches in a thread
of its own says by `stoppable` what else asks that thread to stop.
"""

from __future__ import annotations

import signal
from collections.abc import Callable, Iterator
from contextlib import contextmanager
from contextvars import ContextVar
from threading import current_thread, main_thread
from types import FrameType

_NAMES = ("SIGINT", "SIGTERM", "SIGHUP")
STOPS = tuple(getattr(signal, name) for name in _NAMES if hasattr(signal, name))


class Stopped(KeyboardInterrupt):
    """The user or the system has asked the command to stop."""


class _Ear:
    """What a command line has heard so far."""

    def __init__(self) -> None:
        self.listening = False
        self.noting = False
        self.asked = False

    def hear(self, number: int, frame: FrameType | None) -> None:
        first, self.asked = not self.asked, True
        if first and self.noting:
            return
        for stop in STOPS:
            if signal.getsignal(stop) is not signal.SIG_IGN:
                signal.signal(stop, signal.SIG_DFL)
        raise Stopped


_ear = _Ear()
_own: ContextVar[Callable[[], bool]] = ContextVar("own", default=lambda: False)


def _in_main() -> bool:
    return current_thread() is main_thread()


@contextmanager
def listening() -> Iterator[None]:
    """Listen for requests to stop until the end; what is ignored already stays ignored."""
    before = {stop: signal.getsignal(stop) for stop in STOPS}
    _ear.listening, _ear.noting, _ear.asked = True, False, False
    for stop, handler in before.items():
        if handler is not signal.SIG_IGN:
            signal.signal(stop, _ear.hear)
    try:
        yield
    finally:
        _ear.listening = False
        for stop, handler in before.items():
            signal.signal(stop, handler)


def stop_asked() -> bool:
    """Tell whether the command line was asked to stop, or the work of this thread."""
    return stop_asker()()


def stop_asker() -> Callable[[], bool]:
    """Return what tells, in any thread, whether the work that is begun here was asked to stop."""
    own = _own.get()
    return lambda: (_ear.listening and _ear.asked) or own()


@contextmanager
def stoppable(asked: Callable[[], bool]) -> Iterator[None]:
    """Let `asked` tell the work of this thread, too, that it is to stop."""
    before = _own.set(asked)
    try:
        yield
    finally:
        _own.reset(before)


@contextmanager
def noted(note: Callable[[], None]) -> Iterator[None]:
    """Turn the first request to stop into a `note`; a second one is raised as usual.

    A command line goes on like this after it: what a search has found has still to be written.
    """
    if not _in_main():
        yield
        return
    if _ear.listening:
        _ear.noting = True
        yield
        return
    before = signal.getsignal(signal.SIGINT)
    if before is signal.SIG_IGN:
        yield
        return

    def on_interrupt(number: int, frame: FrameType | None) -> None:
        signal.signal(signal.SIGINT, before)
        note()

    signal.signal(signal.SIGINT, on_interrupt)
    try:
        yield
    finally:
        signal.signal(signal.SIGINT, before)


@contextmanager
def deferred() -> Iterator[None]:
    """Answer requests to stop only after a short piece of work that should not end midway."""
    if not _in_main():
        yield
        return
    came: list[int] = []
    before = {}
    for stop in STOPS:
        handler = signal.getsignal(stop)
        if callable(handler):
            before[stop] = handler
            signal.signal(stop, lambda number, _: came.append(number))
    try:
        yield
    finally:
        for stop, handler in before.items():
            signal.signal(stop, handler)
        for number in came:
            before[signal.Signals(number)](number, None)


@contextmanager
def interrupts_held() -> Iterator[None]:
    """Hold requests to stop back for a moment, in which processes are started.

    These never hear Ctrl-C or a hang-up, which are the caller's to answer; the caller ends its
    processes itself.
    """
    if not hasattr(signal, "pthread_sigmask"):
        yield
        return
    with deferred():
        before = signal.pthread_sigmask(signal.SIG_BLOCK, {signal.SIGINT, signal.SIGHUP})
        try:
            yield
        finally:
            signal.pthread_sigmask(signal.SIG_SETMASK, before)
