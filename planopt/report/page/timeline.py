"""The figure of a cook day: hands at work, heat and rest on one axis of time."""

from __future__ import annotations

import textwrap
from collections.abc import Iterable, Sequence
from datetime import timedelta

from markupsafe import Markup

from planopt.cookday.records import CleanDown, CookDaySchedule, Task
from planopt.report.page.figures import (
    BAND,
    BAR,
    EDGE,
    GRID,
    INK,
    PALE,
    QUIET,
    Anchor,
    Canvas,
    Rect,
)
from planopt.report.page.parts import clean
from planopt.report.words.locale import clock_text
from planopt.report.words.plain import number

WIDE, NARROW = 720.0, 340.0
# Names stand left of the bars where there is room, and above them on a narrow screen.
_LEFT, _LEFT_WIDE = 58.0, 216.0
_AXIS = 22.0
_LANE = 18.0
_RING = 8.0
_DISH = 20.0
_NAME = 12.0
_GAP = 10.0
_HANDS = frozenset({"prepare", "portion"})
_HOURS = (1, 2, 3, 4, 6, 12, 24)
# Pixels that one letter of a block's words takes, and one of a name.
_LETTER = 6.5
_NAME_SIZE, _NAME_LETTER = 10.0, 6.1
_NAME_LINES = 2


def _in_lines(name: str, letters: int) -> list[str]:
    """Return a name on as many lines as it may have, the last one cut where it is longer."""
    lines = textwrap.wrap(clean(name), letters) or [""]
    if len(lines) > _NAME_LINES:
        rest = " ".join(lines[_NAME_LINES - 1 :])
        lines[_NAME_LINES - 1 :] = [f"{rest[: letters - 1].rstrip()}\N{HORIZONTAL ELLIPSIS}"]
    return lines


class _Drawing:
    def __init__(self, schedule: CookDaySchedule, names: Sequence[str], width: float) -> None:
        self.schedule = schedule
        self.beside = width >= WIDE
        self.left = _LEFT_WIDE if self.beside else _LEFT
        room = self.left if self.beside else width
        called = [f"{n}. {name}" for n, name in enumerate(names, start=1)]
        self.names = [_in_lines(name, int(room / _NAME_LETTER)) for name in called]
        # Each row is as high as its name asks for.
        self.rows = [
            max(_DISH, _NAME * len(lines) + 6) if self.beside else _DISH + _NAME * len(lines)
            for lines in self.names
        ]
        self.end = max(
            [schedule.makespan_minutes, *(t.end_minute for t in schedule.tasks if t.kind != "rest")]
        )
        self.per_minute = (width - self.left - 1) / max(1, self.end)
        rings = _RING * schedule.hob_rings if self._of("hob") else 0
        ovens = _LANE * schedule.ovens if schedule.oven_runs else 0
        lanes = _LANE * schedule.cooks
        dishes = sum(self.rows)
        blocks = [height for height in (lanes, ovens, rings, dishes) if height]
        self.canvas = Canvas(width, _AXIS + sum(blocks) + _GAP * (len(blocks) - 1) + 2)
        self.top = _AXIS

    def _of(self, *kinds: str) -> list[Task]:
        return [task for task in self.schedule.tasks if task.kind in kinds]

    def _x(self, minute: int) -> float:
        # What only rests goes on after the day's work; it is drawn up to the end of the work.
        return self.left + self.per_minute * min(minute, self.end)

    def _block(self, start: int, end: int, y: float, height: float) -> Rect:
        left = self._x(start)
        return (left, y, max(0.5, self._x(end) - left), height)

    def _blocks(self, tasks: Iterable[Task | CleanDown], y: float, height: float) -> list[Rect]:
        return [self._block(t.start_minute, t.end_minute, y, height) for t in tasks]

    def axis(self) -> None:
        """Draw lines at full hours, as many as have room for their words."""
        room = next(
            (h for h in _HOURS if h * 60 * self.per_minute >= 44), _HOURS[-1]
        )  # fmt: skip
        started = self.schedule.starts_at
        first = (60 - started.minute) % 60
        lines = []
        for minute in range(first, self.end + 1, 60):
            at = started + timedelta(minutes=minute)
            x = self._x(minute)
            lines.append((x, _AXIS - 4, x, self.canvas.height))
            if at.hour % room == started.hour % room or room == 1:
                anchor: Anchor = "right" if x > self.canvas.width - 20 else "center"
                self.canvas.text(x, 12, clock_text(at.time()), anchor, color=QUIET)
        self.canvas.lines(lines, GRID)

    def cooks(self) -> None:
        """Draw a lane for each cook, with the number of the dish at hand."""
        for cook in range(1, self.schedule.cooks + 1):
            mine = [task for task in self._of(*_HANDS) if task.cook == cook]
            name = "Hands" if self.schedule.cooks == 1 else f"Hands {cook}"
            self.canvas.text(0, self.top + 13, name, color=QUIET)
            # A hair's breadth between blocks keeps work that follows on apart.
            rects = [
                (x, y, max(0.5, w - 0.8), h)
                for x, y, w, h in self._blocks(mine, self.top + 2, _LANE - 4)
            ]
            self.canvas.rects(rects, BAR)
            cleans = [c for c in self.schedule.clean_downs if c.cook == cook]
            if cleans:
                self.canvas.rects(self._blocks(cleans, self.top + 2, _LANE - 4), EDGE)
            for task, (x, _, w, _) in zip(mine, rects, strict=True):
                words = str(task.dish + 1)
                if w > _LETTER * len(words) + 2:
                    self.canvas.text(
                        x + w / 2, self.top + 13, words, "center", color="#ffffff", size=10
                    )  # fmt: skip
            self.top += _LANE
        self.top += _GAP

    def ovens(self) -> None:
        """Draw a lane for each oven, with the temperature it is at."""
        if not self.schedule.oven_runs:
            return
        for oven in range(1, self.schedule.ovens + 1):
            runs = [run for run in self.schedule.oven_runs if run.oven == oven]
            name = "Oven" if self.schedule.ovens == 1 else f"Oven {oven}"
            self.canvas.text(0, self.top + 13, name, color=QUIET)
            rects = [
                self._block(run.start_minute, run.end_minute, self.top + 2, _LANE - 4)
                for run in runs
            ]
            self.canvas.rects(rects, BAND, EDGE)
            for run, (x, _, w, _) in zip(runs, rects, strict=True):
                words = number(run.temperature_c)
                for shown in (f"{words} C", words):
                    if w > _LETTER * len(shown) + 2:
                        self.canvas.text(x + w / 2, self.top + 13, shown, "center", size=10)
                        break
            self.top += _LANE
        self.top += _GAP

    def rings(self) -> None:
        """Draw a thin lane for each ring of the hob."""
        tasks = self._of("hob")
        if not tasks:
            return
        self.canvas.text(0, self.top + 12, "Rings", color=QUIET)
        rects: list[Rect] = []
        for ring in range(1, self.schedule.hob_rings + 1):
            held = [task for task in tasks if ring in task.rings]
            rects += self._blocks(held, self.top + 1, _RING - 2)
            self.top += _RING
        self.canvas.rects(rects, PALE, BAR)
        self.top += _GAP

    def dishes(self) -> None:
        """Draw a row for each dish: hands above, heat and rest below."""
        hands: list[Rect] = []
        hob: list[Rect] = []
        oven: list[Rect] = []
        rest: list[Rect] = []
        y = self.top
        for dish, lines in enumerate(self.names):
            mine = [task for task in self.schedule.tasks if task.dish == dish]
            for n, line in enumerate(lines):
                self.canvas.text(0, y + 11 + n * _NAME, line, size=_NAME_SIZE)
            below = y + self.rows[dish]
            if not self.beside:
                y += _NAME * len(lines) + 2
            hands += self._blocks((t for t in mine if t.kind in _HANDS), y + 2, 8)
            hob += self._blocks((t for t in mine if t.kind == "hob"), y + 11, 6)
            oven += self._blocks((t for t in mine if t.kind == "oven"), y + 11, 6)
            rest += self._blocks((t for t in mine if t.kind == "rest"), y + 13, 1.6)
            y = below
        self.canvas.rects(hands, BAR)
        self.canvas.rects(hob, PALE, BAR)
        self.canvas.rects(oven, BAND, EDGE)
        self.canvas.rects(rest, QUIET)
        # On a narrow figure names stand where the line would be.
        bottom = y if self.beside else self.top - _GAP
        self.canvas.lines([(self.left, _AXIS, self.left, bottom)], INK)


def cook_day_timeline(
    name: str, schedule: CookDaySchedule, dishes: Sequence[str], width: float
) -> Markup:
    """Return the timeline of a cook day, `width` pixels wide; `dishes` are their names."""
    drawing = _Drawing(schedule, dishes, width)
    drawing.axis()
    drawing.cooks()
    drawing.ovens()
    drawing.rings()
    drawing.dishes()
    start, end = (clock_text(at.time()) for at in (schedule.starts_at, schedule.ends_at))
    return drawing.canvas.svg(
        name,
        f"Timeline from {start} to {end}",
        "Lanes for hands, ovens and hob rings, then a row for each dish with its hands-on work "
        "above and its heat and rest below. The table of the day has the same times.",
    )
