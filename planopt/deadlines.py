"""A time limit for building: whoever writes many rows asks now and then whether to go on.

A solver keeps to its own time limit; the Python that writes its models has none. With an end set,
writing stops there with `OutOfTime`, however large the problem is.
"""

from __future__ import annotations

from collections.abc import Iterator
from contextlib import contextmanager
from contextvars import ContextVar
from math import inf
from time import perf_counter

# When the command of this process began, until it is asked for.
_began: list[float] = []
_end: ContextVar[float] = ContextVar("end", default=inf)


class OutOfTime(Exception):
    """The time limit came before the work was done."""


@contextmanager
def ending_at(moment: float) -> Iterator[None]:
    """Set the end for this block, a reading of `perf_counter`; of nested ends the first counts."""
    token = _end.set(min(moment, _end.get()))
    try:
        yield
    finally:
        _end.reset(token)


def process_began() -> None:
    """Note that the one command of this process begins now, before anything large is loaded."""
    _began[:] = [perf_counter()]


def command_began() -> float:
    """Return when a command began, a reading of `perf_counter`; asked for again it is now."""
    return _began.pop() if _began else perf_counter()


def go_on() -> None:
    """Return while there is time left.

    Raises:
        OutOfTime: the end in force is over.
    """
    if perf_counter() > _end.get():
        raise OutOfTime
