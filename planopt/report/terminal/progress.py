"""The progress of a solve, as one rewritten line on a terminal or as rare plain lines."""

from __future__ import annotations

import shutil
from collections.abc import Callable
from math import ceil
from time import monotonic
from typing import TextIO

from planopt.report.words.columns import clip, screen_text
from planopt.solve.progress import Progress
from planopt.units import minor_digits

PLAIN_PAUSE_S = 5.0
REWRITE_PAUSE_S = 0.1


def progress_text(progress: Progress, currency: str) -> str:
    """Return the best plan's cost, all counted, its bound and gap, and seconds in one line."""
    digits = minor_digits(currency)
    parts = [screen_text(progress.phase)]
    if progress.best_objective is not None:
        parts.append(f"all counted {progress.best_objective:.{digits}f} {currency}")
    if progress.best_bound is not None:
        parts.append(f"no less than {progress.best_bound:.{digits}f}")
    if progress.gap is not None:
        # Rounded up, so that no more is claimed than is proven.
        parts.append(f"gap {ceil(progress.gap * 1000 - 1e-9) / 10:.1f} %")
    parts.append(f"{progress.seconds:.0f} s")
    return "  ".join(parts)


class ProgressLine:
    """Shows progress on a stream. Call it with each `Progress`; close it before other output."""

    def __init__(
        self, stream: TextIO, currency: str, clock: Callable[[], float] = monotonic
    ) -> None:
        """Prepare for a stream; whether it is a terminal decides between rewriting and lines."""
        self._stream = stream
        self._currency = currency
        self._clock = clock
        self._rewrites = stream.isatty()
        self._phase: str | None = None
        self._shown_at = 0.0
        self._width = 0

    def __call__(self, progress: Progress) -> None:
        """Show a progress, unless the last one of the same phase is too recent."""
        now = self._clock()
        pause = REWRITE_PAUSE_S if self._rewrites else PLAIN_PAUSE_S
        if progress.phase == self._phase and now - self._shown_at < pause:
            return
        self._phase, self._shown_at = progress.phase, now
        text = progress_text(progress, self._currency)
        if self._rewrites:
            text = clip(text, max(20, shutil.get_terminal_size().columns - 1))
            self._stream.write("\r" + text.ljust(self._width))
            self._width = len(text)
        else:
            self._stream.write(text + "\n")
        self._stream.flush()

    def close(self) -> None:
        """End the rewritten line, so that what follows starts on its own."""
        if self._rewrites and self._width:
            self._stream.write("\n")
            self._stream.flush()
            self._width = 0
