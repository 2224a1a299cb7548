"""Seeds for which something holds, so that a test of what follows from it is never idle."""

from __future__ import annotations

from collections.abc import Callable

_MOST = 500


class Chosen:
    """The first, second, ... seed for which a condition holds, looked for once and remembered."""

    def __init__(self, holds: Callable[[int], bool]) -> None:
        self._holds = holds
        self._found: list[int] = []
        self._next = 0

    def __getitem__(self, nth: int) -> int:
        """Return the seed at a position from 0; its condition holds.

        Raises:
            AssertionError: too few of the first seeds are such.
        """
        while len(self._found) <= nth:
            assert self._next < _MOST, f"only {len(self._found)} of {_MOST} seeds are such"
            if self._holds(self._next):
                self._found.append(self._next)
            self._next += 1
        return self._found[nth]
