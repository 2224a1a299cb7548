"""An end for long building: whoever writes many rows asks now and then whether to go on.

A solver keeps to its own time limit; the Python that writes what it solves has none of its own.
With an end in force, writing stops there with `OutOfTime`, however large the problem is.
"""

from __future__ import annotations

from collections.abc import Iterator
from contextlib import contextmanager
from contextvars import ContextVar
from math import inf
from time import perf_counter

_end: ContextVar[float] = ContextVar("end", default=inf)


class OutOfTime(Exception):
    """The end in force has come before the work was done."""


@contextmanager
def ending_at(moment: float) -> Iterator[None]:
    """Put an end in force, as a reading of `perf_counter`; one within another is the earlier."""
    token = _end.set(min(moment, _end.get()))
    try:
        yield
    finally:
        _end.reset(token)


def go_on() -> None:
    """Return if there is time.

    Raises:
        OutOfTime: the end in force is over.
    """
    if perf_counter() > _end.get():
        raise OutOfTime
