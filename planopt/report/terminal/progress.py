"""The progress of a solve, as one rewritten line on a terminal or as rare plain lines."""

from __future__ import annotations

import shutil
from collections.abc import Callable
from time import monotonic
from typing import TextIO

from planopt.report.words.columns import clip, padded, screen_text, screen_width
from planopt.solve.progress import Progress
from planopt.units import minor_digits, percent_up

PLAIN_PAUSE_S = 5.0
REWRITE_PAUSE_S = 0.1
# What a phase of the search does, for people; others are told as they are called.
_DOING = {
    "first plan": "looking for a first plan",
    "improving": "looking for cheaper plans",
    "proving": "proving that none is cheaper",
    "day by day": "planning day by day",
}


def step_text(doing: str, seconds: float, limit_s: float | None = None) -> str:
    """Return how long a command has worked, of how long at most, and what it does now."""
    limit = "" if limit_s is None else f" of {limit_s:.0f}"
    return f"{seconds:.0f}{limit} s  {screen_text(doing)}"


class Steps:
    """Tells on a stream what a command does now and for how long; a line for each step."""

    def __init__(
        self, stream: TextIO, limit_s: float | None, clock: Callable[[], float] = monotonic
    ) -> None:
        """Count from now; `limit_s` is what all steps together may take."""
        self._stream, self._limit_s, self._clock = stream, limit_s, clock
        self._began = clock()

    def __call__(self, doing: str) -> None:
        """Tell that a step begins."""
        self._stream.write(step_text(doing, self._clock() - self._began, self._limit_s) + "\n")
        self._stream.flush()


def progress_text(progress: Progress, currency: str) -> str:
    """Return in one line what is being done, for how long, and what is known so far.

    The cost of the best plan is all counted; its gap is rounded up.
    """
    digits = minor_digits(currency)
    doing = _DOING.get(progress.phase, progress.phase)
    parts = [step_text(doing, progress.seconds, progress.limit_s)]
    if progress.best_objective is not None:
        parts.append(f"all counted {progress.best_objective:.{digits}f} {currency}")
    if progress.best_bound is not None:
        parts.append(f"no less than {progress.best_bound:.{digits}f}")
    if progress.gap is not None:
        parts.append(f"gap {percent_up(progress.gap)} %")
    return "  ".join(parts)


class StatusLine:
    """A line that is written over on a terminal. Close it before other output."""

    def __init__(self, stream: TextIO) -> None:
        """Prepare for a stream; elsewhere than on a terminal nothing can be written over."""
        self._stream = stream
        self.rewrites = stream.isatty()
        self._width = 0

    def show(self, text: str) -> None:
        """Write a text over the last one, cut to the terminal; elsewhere as a line of its own."""
        if self.rewrites:
            text = clip(text, max(20, shutil.get_terminal_size().columns - 1))
            self._stream.write("\r" + padded(text, self._width))
            self._width = screen_width(text)
        else:
            self._stream.write(text + "\n")
        self._stream.flush()

    def close(self) -> None:
        """End the rewritten line, so that what follows starts on its own."""
        if self._width:
            self._stream.write("\n")
            self._stream.flush()
            self._width = 0


class ProgressLine:
    """Shows progress on a stream. Call it with each `Progress`; close it before other output."""

    def __init__(
        self, stream: TextIO, currency: str, clock: Callable[[], float] = monotonic
    ) -> None:
        """Prepare for a stream; whether it is a terminal decides between rewriting and lines."""
        self._line = StatusLine(stream)
        self._currency = currency
        self._clock = clock
        self._phase: str | None = None
        self._shown_at = 0.0

    def __call__(self, progress: Progress) -> None:
        """Show a progress, unless the last one of the same phase is too recent."""
        now = self._clock()
        pause = REWRITE_PAUSE_S if self._line.rewrites else PLAIN_PAUSE_S
        if progress.phase == self._phase and now - self._shown_at < pause:
            return
        self._phase, self._shown_at = progress.phase, now
        self._line.show(progress_text(progress, self._currency))

    def close(self) -> None:
        """End the rewritten line, so that what follows starts on its own."""
        self._line.close()
