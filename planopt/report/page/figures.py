"""Inline SVG by Matplotlib: few shapes, text as text, the same bytes for the same figure.

Lengths are in CSS pixels of the figure's own width. Matplotlib draws shapes and sets text; words
go in afterwards, escaped, so that no name is read as markup or as a formula and no font of this
computer matters.
"""

from __future__ import annotations

import io
import re
from collections.abc import Iterable, Sequence
from functools import cache
from typing import TYPE_CHECKING, Literal

from markupsafe import Markup, escape

from planopt.report.page.parts import clean

if TYPE_CHECKING:
    import numpy as np
    from matplotlib.backend_bases import RendererBase
    from matplotlib.font_manager import FontProperties
    from matplotlib.text import Text

Rect = tuple[float, float, float, float]
Point = tuple[float, float]
Anchor = Literal["left", "center", "right"]

INK = "#22303a"
QUIET = "#56656f"
BAR = "#2f5d7c"
BAND = "#dcd3bf"
EDGE = "#8a7d62"
PALE = "#a9c3d3"
GRID = "#d9dee2"
SOFT = "#eef2f4"
# The type of every page (page.css), for figures that stand alone.
TYPE = 'system-ui, "Segoe UI", Roboto, "Helvetica Neue", Arial, sans-serif'

_POINTS_PER_INCH = 72.0
_PLACE = re.compile(r"\bzq(\d+)qz\b")
_HEAD = re.compile(r"^.*?(?=<svg)", re.DOTALL)
_METADATA = re.compile(r"<metadata>.*?</metadata>", re.DOTALL)
_IDS = re.compile(r' id="([^"]*)"')
_REFERENCES = re.compile(r'(?:href="#|url\(#)([^")]+)')
# The page says what its fonts are; a style sheet inside would rule the whole page; bare groups and
# default values say nothing.
_IDLE = re.compile(
    r" font-family: [^;\"]*;| stroke-linejoin: miter| text-anchor: start;"
    r"| transform=\"rotate\(-?0 [^)]*\)\"|<defs>\s*<style.*?</style>\s*</defs>|</?g>",
    re.DOTALL,
)
_BETWEEN = re.compile(r">\s+<")
_BREAKS = re.compile(r"\s*\n\s*")


@cache
def _font(size: float, bold: bool) -> FontProperties:
    from matplotlib.font_manager import FontProperties

    return FontProperties(size=size, weight="bold" if bold else "normal")


@cache
def _line_of_text() -> type[Text]:
    """Return a text that is written where it stands, by the anchors that SVG knows itself."""
    from matplotlib.text import Text

    class LineOfText(Text):
        """One line; its width is the browser's business, so that nothing is laid out here."""

        def draw(self, renderer: RendererBase) -> None:
            """Write the line."""
            context = renderer.new_gc()
            context.set_foreground(self.get_color())
            x, up = self.get_transform().transform(self.get_unitless_position())
            down = renderer.get_canvas_width_height()[1] - up
            renderer.draw_text(
                context, x, down, self.get_text(), self.get_fontproperties(), 0, mtext=self
            )
            context.restore()

    return LineOfText


class Canvas:
    """A sheet of `width` by `height` pixels; the origin is the upper left corner."""

    def __init__(self, width: float, height: float) -> None:
        # Matplotlib takes half a second to import, and only a written plan needs it.
        from planopt.drawing import Affine2D, Figure

        self.width, self.height = width, height
        size = (width / _POINTS_PER_INCH, height / _POINTS_PER_INCH)
        # No axes: they would cost more than all that is drawn. Matplotlib counts from below.
        self._figure = Figure(figsize=size, dpi=_POINTS_PER_INCH)
        self._figure.patch.set_visible(False)
        self._pixels = Affine2D().scale(1, -1).translate(0, height)
        self._texts: list[str] = []

    def rects(self, rects: Iterable[Rect], fill: str | None, line: str | None = None) -> None:
        """Draw rectangles (left, top, width, height) as one shape."""
        from matplotlib.path import Path

        parts = [((x, y), (x + w, y), (x + w, y + h), (x, y + h), (x, y)) for x, y, w, h in rects]
        codes = [Path.MOVETO, *[Path.LINETO] * 3, Path.CLOSEPOLY]
        if parts:
            self._shape([p for part in parts for p in part], codes * len(parts), fill, line)

    def lines(
        self,
        lines: Iterable[tuple[float, float, float, float]],
        color: str,
        width: float = 1.0,
        *,
        dash: bool = False,
    ) -> None:
        """Draw straight lines (from x, from y, to x, to y) as one shape."""
        from matplotlib.path import Path

        points = [p for x0, y0, x1, y1 in lines for p in ((x0, y0), (x1, y1))]
        if points:
            codes = [Path.MOVETO, Path.LINETO] * (len(points) // 2)
            self._shape(points, codes, None, color, width, dash=dash)

    def area(self, corners: Sequence[Point], fill: str) -> None:
        """Fill the shape whose corners these are."""
        from matplotlib.path import Path

        codes = [Path.MOVETO, *[Path.LINETO] * (len(corners) - 1), Path.CLOSEPOLY]
        self._shape([*corners, corners[0]], codes, fill, None)

    def _shape(
        self,
        points: Sequence[Point],
        codes: Sequence[np.uint8],
        fill: str | None,
        line: str | None,
        width: float = 1.0,
        *,
        dash: bool = False,
    ) -> None:
        from matplotlib.patches import PathPatch
        from matplotlib.path import Path

        self._figure.add_artist(
            PathPatch(
                Path(points, codes),
                facecolor=fill or "none",
                edgecolor=line or "none",
                linewidth=width if line else 0,
                linestyle=(0, (2.5, 2)) if dash else "-",
                fill=fill is not None,
                transform=self._pixels,
            )
        )

    def text(
        self,
        x: float,
        y: float,
        words: str,
        anchor: Anchor = "left",
        size: float = 11,
        color: str = INK,
        bold: bool = False,
    ) -> None:
        """Write a line of text with its baseline at `y`."""
        place = f"zq{len(self._texts)}qz"
        self._texts.append(words)
        self._figure.add_artist(
            _line_of_text()(
                x, y, place, ha=anchor, va="baseline", color=color,
                fontproperties=_font(size, bold), transform=self._pixels,
            )
        )  # fmt: skip

    def svg(self, name: str, title: str, description: str) -> Markup:
        """Return the figure as inline SVG.

        Args:
            name: id of the figure, unique in the document; letters, digits and hyphens.
            title: its accessible name.
            description: what it shows, for those who do not see it.
        """
        import matplotlib

        out = io.StringIO()
        with matplotlib.rc_context(
            {"svg.fonttype": "none", "svg.hashsalt": name, "path.simplify": False}
        ):
            nothing = dict.fromkeys(("Date", "Creator", "Format", "Type"))
            self._figure.savefig(out, format="svg", metadata=nothing)
        return Markup(self._slim(out.getvalue(), name, title, description))

    def file(self, title: str, description: str) -> str:
        """Return the figure as an SVG file of its own, with the type of the report."""
        text = str(self.svg("figure", title, description))
        own = (
            f'width="{self.width:g}" height="{self.height:g}" '
            f'font-family="{escape(TYPE)}" style="background:#ffffff" '
        )
        return text.replace('class="figure" ', own, 1) + "\n"

    def _slim(self, text: str, name: str, title: str, description: str) -> str:
        text = _METADATA.sub("", _HEAD.sub("", text))
        used = set(_REFERENCES.findall(text))
        text = _IDS.sub(lambda m: f' id="{name}-{m[1]}"' if m[1] in used else "", text)
        text = re.sub(r'(href="#|url\(#)', rf"\1{name}-", text)
        text = _BREAKS.sub(" ", _BETWEEN.sub("><", _IDLE.sub("", text)))
        head = (
            f'<svg xmlns="http://www.w3.org/2000/svg" class="figure" role="img" '
            f'viewBox="0 0 {self.width:g} {self.height:g}" '
            f'aria-labelledby="{name}-t" aria-describedby="{name}-d">'
            f'<title id="{name}-t">{escape(clean(title))}</title>'
            f'<desc id="{name}-d">{escape(clean(description))}</desc>'
        )
        # Words last, the title apart from them: no name can pass for the place of another.
        text = re.sub(r"^<svg[^>]*>", "", text.strip(), count=1)
        return head + _PLACE.sub(lambda m: str(escape(clean(self._texts[int(m[1])]))), text)
