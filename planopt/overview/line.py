"""The progress of a run: a bar on a terminal, a line for each week elsewhere."""

from __future__ import annotations

import shutil
from collections.abc import Callable
from time import monotonic
from typing import TextIO

from planopt.report.words.columns import clip, screen_text, screen_width
from planopt.report.words.plain import money
from planopt.runs.run import RunMoment

_BAR = 24
_REWRITE_PAUSE_S = 0.1


def moment_text(moment: RunMoment) -> str:
    """Return weeks done and failed, seconds and the bills so far in one line."""
    failed = f", {moment.failed} failed" if moment.failed else ""
    return (
        f"{moment.done} of {moment.total} weeks{failed}  {moment.seconds:.0f} s  "
        f"bills {money(moment.spend, moment.currency)} {moment.currency}"
    )


def bar_text(moment: RunMoment) -> str:
    """Return the bar: `#` for weeks done, `x` for failed ones, `.` for those to come."""
    total = max(1, moment.total)
    done, failed = (_BAR * count // total for count in (moment.done, moment.failed))
    failed = max(failed, 1) if moment.failed and done < _BAR else failed
    return f"[{'#' * done}{'x' * failed}{'.' * (_BAR - done - failed)}]"


class RunLine:
    """Shows a run on a stream. Call it with each moment; close it before other output."""

    def __init__(self, stream: TextIO, clock: Callable[[], float] = monotonic) -> None:
        """Prepare for a stream; whether it is a terminal decides between bar and lines."""
        self._stream = stream
        self._clock = clock
        self._rewrites = stream.isatty()
        self._shown_at: float | None = None
        self._width = 0

    def __call__(self, moment: RunMoment) -> None:
        """Show a moment; on a terminal not more often than is pleasant to look at."""
        text = moment_text(moment)
        if not self._rewrites:
            told = f"  {screen_text(moment.text)}" if moment.text else ""
            self._stream.write(f"{text}{told}\n")
            self._stream.flush()
            return
        now = self._clock()
        over = moment.done + moment.failed >= moment.total
        if self._shown_at is not None and now - self._shown_at < _REWRITE_PAUSE_S and not over:
            return
        self._shown_at = now
        room = max(20, shutil.get_terminal_size().columns - 1)
        line = clip(f"{bar_text(moment)} {text}", room)
        self._stream.write("\r" + line + " " * (self._width - screen_width(line)))
        self._width = screen_width(line)
        self._stream.flush()

    def close(self) -> None:
        """End the rewritten line, so that what follows starts on its own."""
        if self._rewrites and self._width:
            self._stream.write("\n")
            self._stream.flush()
            self._width = 0
