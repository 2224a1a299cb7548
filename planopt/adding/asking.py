"""Answers for what is added: given by options, or asked for on a terminal."""

from __future__ import annotations

from collections.abc import Callable, Mapping, Sequence
from typing import TypeVar

from planopt.faults import BadOption, nearest

T = TypeVar("T")
Prompt = Callable[[str, str | None], str]


class Asker:
    """Gathers answers. Without a terminal, all that is missing or wrong is told together."""

    def __init__(self, given: Mapping[str, str | None], prompt: Prompt | None = None) -> None:
        """Take the options given, by name without dashes, and how to ask, None = not at all."""
        self._given = given
        self._prompt = prompt
        self._complaints: list[str] = []
        self.taken: list[str] = []

    @property
    def asks(self) -> bool:
        """Tell whether there is somebody to ask."""
        return self._prompt is not None

    def get(
        self,
        option: str,
        words: str,
        read: Callable[[str], T],
        default: str | None = None,
        needed: bool = True,
    ) -> T | None:
        """Return an answer; `read` turns text into a value or raises ValueError with the reason.

        A default that is taken without asking is noted in `taken`. None means no answer: none was
        needed, or `done` will complain.
        """
        text, reason = self._given.get(option), ""
        while True:
            if text is None and self._prompt is not None:
                text = self._prompt(
                    reason + words, default if default is not None or needed else ""
                )
            elif text is None and default is not None:
                text = default
                if default:
                    self.taken.append(f"{option} {default}")
            if text is None or (not text.strip() and not needed):
                if needed:
                    self._complaints.append(f"--{option} is needed: {words}")
                return None
            try:
                return read(text.strip())
            except ValueError as error:
                if self._prompt is None:
                    self._complaints.append(f"--{option} {text}: {error}")
                    return None
                text, reason = None, f"{text}: {error}\n"

    def complain(self, text: str) -> None:
        """Note something that stands against the answers as a whole."""
        self._complaints.append(text)

    def told(self) -> list[str]:
        """Return the sentence about what was taken without asking, if anything was."""
        if not self.taken:
            return []
        return [f"Taken without asking, look at them: {', '.join(self.taken)}."]

    def done(self) -> None:
        """Raise what was missing or wrong.

        Raises:
            BadOption: with every complaint, one a line.
        """
        if self._complaints:
            raise BadOption("\n".join(self._complaints))


def any_text(text: str) -> str:
    """Return a text that is not empty."""
    if not text:
        raise ValueError("write something")
    return text


def one_of(known: Sequence[str]) -> Callable[[str], str]:
    """Return a reader for one of some words."""

    def read(text: str) -> str:
        if text not in known:
            raise ValueError(nearest(text, known))
        return text

    return read


def number(low: float, high: float) -> Callable[[str], str]:
    """Return a reader for a number within limits, which stays text as it was written."""

    def read(text: str) -> str:
        try:
            value = float(text)
        except ValueError:
            raise ValueError("this is no number; decimals have a point") from None
        if not low <= value <= high:
            raise ValueError(f"write a number from {low:g} to {high:g}")
        return text

    return read


def whole(low: int, high: int) -> Callable[[str], str]:
    """Return a reader for a whole number within limits, which stays text."""

    def read(text: str) -> str:
        if not text.isdigit() or not low <= int(text) <= high:
            raise ValueError(f"write a whole number from {low} to {high}")
        return text

    return read


def id_text(text: str) -> str:
    """Return an id."""
    if not (text[:1].isascii() and text[:1].isalpha()) or not all(
        ch.isascii() and (ch.islower() or ch.isdigit() or ch == "_") for ch in text
    ):
        raise ValueError("an id has lower-case letters, digits and underscores, a letter first")
    return text
