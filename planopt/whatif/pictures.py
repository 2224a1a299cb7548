"""Pictures of the curves: plan and proven lower limit, the room between them shaded.

SVG text is the same for the same figures: no dates, fixed ids.
"""

from __future__ import annotations

import io
from collections.abc import Sequence
from typing import Any

from planopt.drawing import Axes, Figure, FigureCanvasSVG, mpl
from planopt.whatif.findings import WhatIf
from planopt.whatif.ladder import Rung

_SIZE_IN = (7.0, 4.2)
_STYLE: Any = {"svg.hashsalt": "planopt", "font.size": 10.0, "svg.fonttype": "none"}
# Grey shades and line styles tell the series apart, so that print and any eye will do.
_PLAN: dict[str, Any] = {"color": "black", "marker": "o", "markersize": 4.0, "linewidth": 1.4}
_LIMIT: dict[str, Any] = {"color": "black", "linestyle": "--", "linewidth": 1.0}
_SHADE: dict[str, Any] = {"color": "0.85", "linewidth": 0.0}


def pictures(found: WhatIf) -> dict[str, str]:
    """Return SVG texts by file name: one for each curve, and one of sampled prices."""
    drawn = {}
    currency = found.kitchen.scenario.currency
    names = found.kitchen.catalog.amounts
    with mpl.rc_context(_STYLE):
        if found.budget is not None:
            drawn["budget_curve.svg"] = _budget(found, currency)
        for curve in found.windows:
            figure, axes = _blank()
            _cost_lines(axes, curve.points, currency)
            axes.axvline(curve.now, color="0.5", linewidth=0.8, linestyle=":", label="now")
            side = "At least" if curve.side == "min" else "At most"
            name = names[curve.nutrient].name.lower()
            axes.set_xlabel(f"{side} {name} for {curve.client} ({curve.unit} a day)")
            _legend(figure, *axes.get_legend_handles_labels())
            drawn[f"window_{curve.client}_{curve.nutrient}_{curve.side}.svg"] = _svg(figure)
        if found.robust is not None:
            figure, axes = _blank()
            axes.hist(found.robust.costs, bins=20, color="0.75", edgecolor="black", linewidth=0.6)
            axes.axvline(found.robust.planned, color="black", linestyle="--", label="as priced")
            axes.set_xlabel(f"All counted ({currency})")
            axes.set_ylabel(f"Samples of {found.robust.samples}")
            _legend(figure, *axes.get_legend_handles_labels())
            drawn["price_samples.svg"] = _svg(figure)
    return drawn


def _blank() -> tuple[Figure, Axes]:
    figure = Figure(figsize=_SIZE_IN, layout="constrained")
    FigureCanvasSVG(figure)
    axes = figure.add_subplot()
    axes.spines[["top", "right"]].set_visible(False)
    return figure, axes


def _cost_lines(axes: Axes, points: Sequence[Rung], currency: str) -> None:
    known = [point for point in points if point.objective is not None]
    x = [point.value for point in known]
    cost = [float(point.objective or 0) for point in known]
    limit = [float(point.bound) for point in known]
    axes.fill_between(x, limit, cost, label="proven room between", **_SHADE)
    axes.plot(x, cost, label="plan found", **_PLAN)
    axes.plot(x, limit, label="no week costs less", **_LIMIT)
    closed = [point.value for point in points if point.state == "no week"]
    if closed:
        axes.axvspan(min(closed), max(closed), hatch="///", facecolor="none", edgecolor="0.6",
                     linewidth=0.0, label="no week complies")  # fmt: skip
    axes.set_ylabel(f"All counted ({currency})")


def _budget(found: WhatIf, currency: str) -> str:
    curve = found.budget
    assert curve is not None
    figure, axes = _blank()
    _cost_lines(axes, curve.points, currency)
    axes.set_xlabel(f"Budget for groceries ({currency})")
    axes.axvline(float(curve.complies.bound), color="0.5", linewidth=0.8, linestyle=":",
                 label="no week complies below")  # fmt: skip
    handles, labels = axes.get_legend_handles_labels()
    short = [point for point in curve.short if point.missed is not None]
    if short:
        other = axes.twinx()
        other.spines[["top"]].set_visible(False)
        x = [float(point.budget) for point in short]
        share = [100 * sum(part.share for part in point.missed or ()) for point in short]
        bound = [100 * sum(part.bound for part in point.missed or ()) for point in short]
        other.fill_between(x, bound, share, color="0.92", linewidth=0.0)
        other.plot(x, share, color="black", marker="s", markersize=4.0, linewidth=1.0,
                   label="windows missed (right)")  # fmt: skip
        other.plot(x, bound, **_LIMIT)
        other.set_ylabel("Windows missed (% of a limit, all days)")
        other.set_ylim(bottom=0)
        more, names = other.get_legend_handles_labels()
        handles, labels = handles + more, labels + names
    _legend(figure, handles, labels)
    return _svg(figure)


def _legend(figure: Figure, handles: Sequence[Any], labels: Sequence[str]) -> None:
    """Put the legend above the axes, where it hides no figure."""
    figure.legend(handles, labels, frameon=False, loc="outside upper center", ncols=3)


def _svg(figure: Figure) -> str:
    out = io.StringIO()
    figure.savefig(out, format="svg", metadata={"Date": None, "Creator": "planopt"})
    return out.getvalue()
