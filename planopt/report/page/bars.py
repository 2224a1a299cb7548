"""The figure of a client's week: energy and macronutrients a day as bars, each in its window."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from datetime import date

from markupsafe import Markup

from planopt.report.page.figures import BAND, BAR, EDGE, INK, QUIET, Canvas, Rect
from planopt.report.words.locale import weekday_text
from planopt.report.words.plain import number

WIDTH = 340.0
_LEFT, _RIGHT = 46.0, 288.0
_ROW = 17.0
_HEAD = 24.0
_GAP = 12.0
_BAR = 7.0
_ROOM = 1.06


@dataclass(frozen=True)
class DayAmount:
    """A day's amount of a nutrient and its window; NaN = that side is open."""

    day: date
    amount: float
    least: float
    most: float
    met: bool | None


@dataclass(frozen=True)
class Panel:
    """One nutrient over the days; `window` says the usual window in words."""

    nutrient: str
    unit: str
    window: str
    days: Sequence[DayAmount]


def _scale(panel: Panel) -> float:
    sides = (v for d in panel.days for v in (d.amount, d.least, d.most) if v == v)
    return max(sides, default=0.0) * _ROOM or 1.0


def _panel(canvas: Canvas, panel: Panel, top: float) -> float:
    canvas.text(0, top + 13, f"{panel.nutrient}, {panel.unit}", size=12, bold=True)
    if panel.window:
        canvas.text(WIDTH, top + 13, panel.window, "right", size=11, color=QUIET)
    per_unit = (_RIGHT - _LEFT) / _scale(panel)
    bands: list[Rect] = []
    bars: list[Rect] = []
    edges = []
    for place, day in enumerate(panel.days):
        y = top + _HEAD + place * _ROW
        if day.met is not None:
            least = _LEFT + per_unit * (day.least if day.least == day.least else 0.0)
            most = _LEFT + per_unit * day.most if day.most == day.most else _RIGHT
            bands.append((least, y, most - least, _ROW))
            sides = ((day.least, least), (day.most, most))
            edges += [(x, y, x, y + _ROW) for side, x in sides if side == side]
        bars.append((_LEFT, y + (_ROW - _BAR) / 2, per_unit * day.amount, _BAR))
        canvas.text(0, y + 12.5, f"{weekday_text(day.day)} {day.day.day}", color=QUIET)
        shown = number(day.amount) if day.met is not False else f"{number(day.amount)} outside"
        canvas.text(WIDTH, y + 12.5, shown, "right")
    bottom = top + _HEAD + len(panel.days) * _ROW
    canvas.rects(bands, BAND)
    canvas.lines(edges, EDGE)
    canvas.rects(bars, BAR)
    canvas.lines([(_LEFT, top + _HEAD, _LEFT, bottom)], INK)
    return bottom


def week_bars(name: str, client: str, panels: Sequence[Panel]) -> Markup:
    """Return the figure of one client: a panel for each nutrient, a bar for each day.

    The band behind a bar is that day's window; a side without an edge is open.
    """
    heights = [_HEAD + len(panel.days) * _ROW for panel in panels]
    canvas = Canvas(WIDTH, sum(heights) + _GAP * max(0, len(panels) - 1) + 1)
    top = 0.0
    for panel in panels:
        top = _panel(canvas, panel, top) + _GAP
    nutrients = ", ".join(panel.nutrient.lower() for panel in panels)
    return canvas.svg(
        name,
        f"{client}: {nutrients} by day",
        "Horizontal bars, one for each day, over a band that is the window of that day. "
        "The table of the week has the same figures.",
    )
