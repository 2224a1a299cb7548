"""The progress of a run: a bar on a terminal, a line for each week elsewhere."""

from __future__ import annotations

from collections.abc import Callable
from time import monotonic
from typing import TextIO

from planopt.report.terminal.progress import REWRITE_PAUSE_S, StatusLine
from planopt.report.words.columns import screen_text
from planopt.report.words.plain import money
from planopt.runs.run import RunMoment

_BAR = 24


def moment_text(moment: RunMoment) -> str:
    """Return weeks done and failed, seconds and the bills so far in one line."""
    failed = f", {moment.failed} failed" if moment.failed else ""
    limit = "" if moment.limit_s is None else f" of about {moment.limit_s:.0f}"
    return (
        f"{moment.done} of {moment.total} weeks{failed}  {moment.seconds:.0f}{limit} s  "
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
        self._line = StatusLine(stream)
        self._clock = clock
        self._shown_at: float | None = None

    def __call__(self, moment: RunMoment) -> None:
        """Show a moment; on a terminal not more often than is pleasant to look at."""
        text = moment_text(moment)
        if not self._line.rewrites:
            told = f"  {screen_text(moment.text)}" if moment.text else ""
            self._line.show(f"{text}{told}")
            return
        now = self._clock()
        over = moment.done + moment.failed >= moment.total
        if self._shown_at is not None and now - self._shown_at < REWRITE_PAUSE_S and not over:
            return
        self._shown_at = now
        self._line.show(f"{bar_text(moment)} {text}")

    def close(self) -> None:
        """End the rewritten line, so that what follows starts on its own."""
        self._line.close()
