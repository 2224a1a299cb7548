"""Short solver names of our own, with a table back to what they mean.

A modelling layer may fold two long names into one; a short counter cannot collide.
"""

from __future__ import annotations

from planopt.deadlines import go_on


class NameTable:
    """Hands out names such as `x12` and remembers the meaning of each."""

    def __init__(self) -> None:
        self._meaning: dict[str, str] = {}
        self._count: dict[str, int] = {}

    def new(self, prefix: str, meaning: str) -> str:
        """Return a fresh name with a letter prefix.

        Raises:
            OutOfTime: the end in force has come; every variable and row asks for a name.
        """
        go_on()
        number = self._count.get(prefix, 0)
        self._count[prefix] = number + 1
        name = f"{prefix}{number}"
        self._meaning[name] = meaning
        return name

    def meaning(self, name: str) -> str:
        """Return what a name stands for.

        Raises:
            KeyError: the name was never handed out.
        """
        return self._meaning[name]

    def __len__(self) -> int:
        return len(self._meaning)
