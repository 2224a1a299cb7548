"""A chart in the report's own style: a scale that says where it begins, areas, lines, dots, a key.

The scale upwards begins at zero, so that 15 cents look like 15 cents. The scale across may begin
elsewhere, and the picture then says so in words.
"""

from __future__ import annotations

import textwrap
from collections.abc import Sequence
from dataclasses import dataclass
from itertools import pairwise
from math import ceil, floor, log10

from planopt.report.page.figures import GRID, INK, QUIET, Canvas, Point
from planopt.report.words.plain import number

WIDTH = 680.0
_LEFT, _RIGHT = 58.0, 664.0
_HIGH = 250.0
_LINE = 16.0
# The mean width of a letter as a share of its size, generously: common practice, no source.
_LETTER = 0.58
_TICKS = 6


@dataclass(frozen=True)
class Scale:
    """Values from `low` to `high` and where their ticks are."""

    low: float
    high: float
    ticks: tuple[float, ...]

    def share(self, value: float) -> float:
        """Return how far along the scale a value lies, from 0 to 1."""
        return (value - self.low) / (self.high - self.low)


def scale(values: Sequence[float], *, zero: bool) -> Scale:
    """Return a scale with round ticks that holds all values; with `zero` it begins there."""
    low, high = (0.0 if zero else min(values)), max(values)
    if high <= low:
        low, high = (0.0, max(1.0, high)) if zero else (low - 1, low + 1)
    rough = (high - low) / _TICKS
    power = 10.0 ** floor(log10(rough))
    step = next(power * n for n in (1, 2, 5, 10) if power * n >= rough * (1 - 1e-9))
    first, last = floor(low / step + 1e-9), ceil(high / step - 1e-9)
    ticks = tuple(round(n * step, 10) for n in range(first, last + 1))
    return Scale(ticks[0], ticks[-1], ticks)


@dataclass(frozen=True)
class KeyLine:
    """A line of the key: what its swatch looks like, and its words."""

    words: str
    fill: str | None = None
    line: str | None = None
    dash: bool = False


class Chart:
    """A titled canvas on which panels are drawn from above to below."""

    def __init__(
        self, title: str, about: str, key: Sequence[KeyLine], panels: int, notes: int
    ) -> None:
        """Lay out title, explanation and key; `panels` and `notes` tell how much room is needed."""
        self._title = textwrap.wrap(title, 66)
        self._about = textwrap.wrap(about, 100)
        rows = _key_rows(key)
        top = 8 + 22 * len(self._title) + _LINE * len(self._about) + 18 * len(rows) + 14
        height = top + panels * (_HIGH + 66) + _LINE * notes + 8
        self.canvas = Canvas(WIDTH, height)
        self.canvas.rects([(0, 0, WIDTH, height)], "#ffffff")
        y = 4.0
        for words in self._title:
            y += 22
            self.canvas.text(0 + 8, y - 4, words, size=16, bold=True)
        for words in self._about:
            y += _LINE
            self.canvas.text(8, y, words, size=12, color=QUIET)
        for row in rows:
            y += 18
            for x, entry in row:
                self._swatch(x, y - 4, entry)
                self.canvas.text(x + 30, y, entry.words, size=12)
        self._top = top
        self._bottom = top

    def _swatch(self, x: float, y: float, entry: KeyLine) -> None:
        if entry.fill is not None:
            self.canvas.rects([(x, y - 6, 24, 11)], entry.fill, QUIET)
        if entry.line is not None:
            self.canvas.lines([(x, y, x + 24, y)], entry.line, 2.0, dash=entry.dash)

    def panel(self, across: Scale, up: Scale, across_words: str, up_words: str) -> Plot:
        """Begin a panel below the last one."""
        top = self._bottom + 18
        self._bottom = top + _HIGH + 48
        return Plot(self.canvas, top, across, up, across_words, up_words)

    def note(self, words: str) -> None:
        """Write a line below the panels."""
        self._bottom += _LINE
        self.canvas.text(8, self._bottom, words, size=12, color=QUIET)


def _key_rows(key: Sequence[KeyLine]) -> list[list[tuple[float, KeyLine]]]:
    rows: list[list[tuple[float, KeyLine]]] = [[]]
    x = 8.0
    for entry in key:
        wide = 44 + 12 * _LETTER * len(entry.words)
        if rows[-1] and x + wide > WIDTH:
            rows.append([])
            x = 8.0
        rows[-1].append((x, entry))
        x += wide
    return rows


class Plot:
    """One plot: ticks and grid are drawn when it is begun."""

    def __init__(
        self, canvas: Canvas, top: float, across: Scale, up: Scale, across_words: str, up_words: str
    ) -> None:
        self._canvas, self._top, self._across, self._up = canvas, top, across, up
        self._frame(across_words, up_words)

    def _frame(self, across_words: str, up_words: str) -> None:
        bottom = self._top + _HIGH
        canvas = self._canvas
        canvas.text(8, self._top - 8, up_words, size=12, bold=True)
        levels = [self.at(self._across.low, tick)[1] for tick in self._up.ticks]
        canvas.lines([(_LEFT, y, _RIGHT, y) for y in levels], GRID)
        for tick, y in zip(self._up.ticks, levels, strict=True):
            canvas.text(_LEFT - 8, y + 4, number(tick, 4), "right")
        for tick in self._across.ticks:
            canvas.text(self.at(tick, 0.0)[0], bottom + 17, number(tick, 4), "center")
        canvas.text((_LEFT + _RIGHT) / 2, bottom + 36, across_words, "center", size=12, bold=True)

    def axes(self) -> None:
        """Draw the two axes, over whatever areas were drawn."""
        bottom = self._top + _HIGH
        places = [self.at(tick, 0.0)[0] for tick in self._across.ticks]
        self._canvas.lines(
            [(_LEFT, bottom, _RIGHT, bottom), *((x, bottom, x, bottom + 4) for x in places)], INK
        )

    def at(self, value: float, height: float) -> Point:
        """Return where a point of the panel lies on the canvas."""
        x = _LEFT + self._across.share(value) * (_RIGHT - _LEFT)
        return x, self._top + _HIGH * (1 - self._up.share(height))

    def ground(self, points: Sequence[Point], fill: str) -> None:
        """Fill what lies between the lowest line and the points."""
        if len(points) > 1:
            base = self._up.low
            corners = [(points[0][0], base), *points, (points[-1][0], base)]
            self._canvas.area([self.at(*point) for point in corners], fill)

    def between(self, lower: Sequence[Point], upper: Sequence[Point], fill: str) -> None:
        """Fill what lies between two lines."""
        if len(lower) > 1:
            self._canvas.area([self.at(*p) for p in (*lower, *reversed(upper))], fill)

    def beyond(self, value: float, fill: str, *, above: bool) -> None:
        """Fill the panel from a value to its right end, if `above`, else to its left end."""
        x, top = self.at(value, self._up.high)
        first, last = (min(x, _RIGHT - 6), _RIGHT) if above else (_LEFT, max(x, _LEFT + 6))
        self._canvas.rects([(first, top, last - first, _HIGH)], fill)

    def line(self, points: Sequence[Point], color: str, *, dash: bool = False) -> None:
        """Draw a line through points."""
        places = [self.at(*point) for point in points]
        pairs = [(*a, *b) for a, b in pairwise(places)]
        self._canvas.lines(pairs, color, 2.0, dash=dash)

    def dots(self, points: Sequence[Point], color: str) -> None:
        """Draw a small square at each point."""
        places = [self.at(*point) for point in points]
        self._canvas.rects([(x - 3.5, y - 3.5, 7, 7) for x, y in places], color)

    def labels(self, points: Sequence[Point], texts: Sequence[str]) -> None:
        """Write a text above each point, but for what says the same as the one before it."""
        last, end = "", -1.0
        for point, words in zip(points, texts, strict=True):
            x, y = self.at(*point)
            half = 11 * _LETTER * len(words) / 2
            x = min(max(x, _LEFT + half + 2), _RIGHT - half)
            if words != last and x - half > end:
                # A ground of its own, so that a mark behind does not cross the figure.
                self._canvas.rects([(x - half, y - 18, 2 * half, 13)], "#ffffff")
                self._canvas.text(x, y - 8, words, "center")
                last, end = words, x + half

    def mark(self, value: float, color: str = QUIET) -> None:
        """Draw a dashed line upwards at a value."""
        (x, top), (_, bottom) = self.at(value, self._up.high), self.at(value, self._up.low)
        self._canvas.lines([(x, top, x, bottom)], color, 1.5, dash=True)

    def bars(self, edges: Sequence[float], counts: Sequence[float], fill: str) -> None:
        """Draw a bar between each two edges."""
        rects = []
        for (left, right), count in zip(pairwise(edges), counts, strict=True):
            (x0, y), (x1, base) = self.at(left, count), self.at(right, self._up.low)
            if count:
                rects.append((x0 + 0.5, y, x1 - x0 - 1, base - y))
        self._canvas.rects(rects, fill)
