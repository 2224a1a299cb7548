"""A written plan changed by hand, and the week after it: adjust, edit, next."""

from __future__ import annotations

from collections.abc import Sequence
from contextlib import suppress
from pathlib import Path
from typing import Unpack

from planopt.adjust.nextweek import NextWeek, next_week
from planopt.adjust.week import SECONDS, read_written
from planopt.adjust.week import adjust as adjusted_week
from planopt.adjust.words import changes_of_words
from planopt.edit.serving import IDLE_MINUTES, serve
from planopt.edit.session import EditSession
from planopt.front.limits import Limits, settings_of
from planopt.front.planned import PlannedWeek, planned
from planopt.front.sources import PathLike


def adjust(
    plan: PathLike,
    change: Sequence[str] = (),
    *,
    from_day: int | None = None,
    price: float | None = None,
    **limits: Unpack[Limits],
) -> PlannedWeek:
    """Return the plan of a folder with changes in words, and as few others as pay.

    What is eaten, cooked and bought before `from_day` stands. `price` is what a plate with another
    dish is taken to cost, in money; by default that of two mean plates.

    Raises:
        BadInput: the plan or its files cannot be read, or a change is not understood.
        NoCompliantWeek: no week makes the changes; proven.
        NoPlanInTime: none was found within the time limit; nothing forbids one.
        AuditFailed: the plan does not hold for its files as they are now.
    """
    written = read_written(Path(plan))
    variant = changes_of_words(list(change), written.kitchen, written.plan, from_day)
    settings = settings_of({"time_limit_s": SECONDS, **limits})
    found = adjusted_week(written, variant, settings, price)
    return planned(found.plan, found.kitchen)


def edit(
    plan: PathLike,
    out: PathLike | None = None,
    *,
    price: float | None = None,
    port: int = 0,
    browser: bool = True,
    idle_minutes: float = IDLE_MINUTES,
    **limits: Unpack[Limits],
) -> PlannedWeek | None:
    """Serve the plan of a folder as a working sheet, and return the week kept last, if any.

    The address is printed and opened in the browser. It ends by the page's own button, by Ctrl-C,
    and when nobody has used it for so long.

    Raises:
        BadInput: the plan or its files cannot be read, or `out` cannot be written.
        AuditFailed: the plan does not hold for its files as they are now.
        BadOption: the port cannot be had.
    """
    settings = settings_of({"time_limit_s": SECONDS, **limits})
    session = EditSession(Path(plan), None if out is None else Path(out), settings, price)
    with suppress(KeyboardInterrupt):
        serve(session, port, browser=browser, idle_minutes=idle_minutes, told=print)
    return PlannedWeek.read(session.kept[-1]) if session.kept else None


def next(plan: PathLike, out: PathLike | None = None) -> NextWeek:  # noqa: A001
    """Return next week's scenario for the plan of a folder; `save` writes it.

    Raises:
        BadInput: plan, scenario or catalog cannot be read, or the file is there already.
    """
    return next_week(Path(plan), None if out is None else Path(out))
