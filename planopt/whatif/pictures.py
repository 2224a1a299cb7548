"""Pictures of what was asked: the plan's cost over the ground on which no week can lie.

Each is an SVG file in the colours and type of the report, with its figures in words for those who
do not see it. SVG text is the same for the same figures: no dates, fixed ids.
"""

from __future__ import annotations

from collections.abc import Sequence
from decimal import Decimal

from planopt.report.page.figures import BAND, BAR, INK, PALE, QUIET, SOFT
from planopt.report.words.plain import money, number
from planopt.whatif.chart import Chart, KeyLine, Plot, scale
from planopt.whatif.curves import BudgetCurve
from planopt.whatif.findings import WhatIf
from planopt.whatif.ladder import Rung
from planopt.whatif.robust import Robustness
from planopt.whatif.windowcurve import WindowCurve

_BINS = 20
_PLAN = KeyLine("cheapest week found", line=BAR)
_GROUND = KeyLine("no week costs so little (proven)", fill=BAND)
_ROOM = KeyLine("a cheaper week may lie here", fill=SOFT)
_CLOSED = KeyLine("no week complies", fill=PALE)
_NOW = KeyLine("as it is now", line=QUIET, dash=True)


def pictures(found: WhatIf) -> dict[str, str]:
    """Return SVG texts by file name: one for each curve, and one of sampled prices."""
    drawn = {}
    if found.budget is not None:
        drawn["budget_curve.svg"] = _budget(found, found.budget)
    for curve in found.windows:
        name = f"window_{curve.client}_{curve.nutrient}_{curve.side}.svg"
        drawn[name] = _window(found, curve)
    if found.robust is not None:
        drawn["price_samples.svg"] = _samples(found, found.robust)
    return drawn


def _about(found: WhatIf) -> str:
    """Say which kitchen a picture is of, and what its money counts."""
    work = ", the cook's time and boxes" if found.base.solution.work_cost else ""
    return (
        f"{found.kitchen.scenario.name}. Costs are all counted, in "
        f"{found.kitchen.scenario.currency}: groceries, shop visits, weighed waste{work}."
    )


def _begins(low: float, unit: str) -> list[str]:
    """Say where the scale across begins, if not at zero."""
    if not low:
        return []
    return [f"The scale across begins at {number(low, 2)} {unit}, not at zero."]


def _costs(points: Sequence[Rung], currency: str, each: str) -> str:
    """Return the figures of a curve in words."""
    told = []
    for point in points:
        cost = {"no week": "no week complies", "open": "no week found in time"}.get(point.state, "")
        if point.objective is not None:
            limit = money(point.bound, currency)
            cost = f"{money(point.objective, currency)}, and no week below {limit}"
        told.append(f"at {number(point.value, 2)} {each}: {cost}")
    return f"Cost in {currency} {'; '.join(told)}."


def _closed(points: Sequence[Rung]) -> list[float]:
    return [point.value for point in points if point.state == "no week"]


def _key(points: Sequence[Rung]) -> list[KeyLine]:
    return [_PLAN, _GROUND, _ROOM, *([_CLOSED] if _closed(points) else [])]


def _draw_costs(
    panel: Plot, points: Sequence[Rung], currency: str, mark: float, *, rising: bool = False
) -> None:
    """Draw the proven ground, the room above it, and the cheapest weeks found.

    Where no week complies, none does with anything tighter: with more where the limit is `rising`.
    """
    closed = _closed(points)
    if closed:
        panel.beyond(min(closed) if rising else max(closed), PALE, above=rising)
    known = [point for point in points if point.objective is not None]
    cost = [(point.value, float(point.objective or 0)) for point in known]
    limit = [(point.value, float(min(point.bound, point.objective or 0))) for point in known]
    panel.between(limit, cost, SOFT)
    proven = [(p.value, float(min(p.bound, p.objective or p.bound))) for p in points]
    panel.ground([at for at, p in zip(proven, points, strict=True) if p.state != "no week"], BAND)
    panel.mark(mark)
    panel.line(cost, BAR)
    panel.dots(cost, BAR)
    panel.labels(cost, [money(point.objective or Decimal(0), currency) for point in known])
    panel.axes()


def _most(points: Sequence[Rung]) -> float:
    return max(float(max(point.bound, point.objective or 0)) for point in points)


def _window(found: WhatIf, curve: WindowCurve) -> str:
    currency = found.kitchen.scenario.currency
    nutrient = found.kitchen.catalog.amounts[curve.nutrient].name.lower()
    side = "least" if curve.side == "min" else "most"
    at = "At least" if curve.side == "min" else "At most"
    title = f"What a week costs by the {side} {nutrient} a day for {curve.client_name}"
    across = scale([point.value for point in curve.points], zero=False)
    notes = _begins(across.low, curve.unit)
    chart = Chart(title, _about(found), [*_key(curve.points), _NOW], 1, len(notes))
    panel = chart.panel(
        across,
        scale([1.08 * _most(curve.points)], zero=True),
        f"{at} so much {nutrient}, {curve.unit} a day",
        f"Cost of the week, {currency}",
    )
    _draw_costs(panel, curve.points, currency, curve.now, rising=curve.side == "min")
    for note in notes:
        chart.note(note)
    now = f"Now it is {number(curve.now, 2)} {curve.unit}."
    words = _costs(curve.points, currency, f"{curve.unit} a day")
    return chart.canvas.file(title, f"{words} {now} {' '.join(notes)}".strip())


def _budget(found: WhatIf, curve: BudgetCurve) -> str:
    currency = found.kitchen.scenario.currency
    title = "What a week costs by the budget for groceries"
    short = [point for point in curve.short if point.missed is not None]
    missed = [(float(p.budget), 100 * sum(m.share for m in p.missed or ())) for p in short]
    bound = [(float(p.budget), 100 * sum(m.bound for m in p.missed or ())) for p in short]
    least = float(curve.complies.bound)
    values = [least, *(p.value for p in curve.points), *(float(p.budget) for p in curve.short)]
    across = scale(values, zero=False)
    notes = _begins(across.low, currency)
    below = KeyLine("below it no week complies", line=QUIET, dash=True)
    key = [*_key(curve.points), below]
    if short:
        key.append(KeyLine("least that windows are missed by, as found", line=INK))
    chart = Chart(title, _about(found), key, 2 if short else 1, len(notes))
    words = f"Budget for groceries, {currency}"
    if curve.points:
        top = scale([1.08 * _most(curve.points)], zero=True)
        panel = chart.panel(across, top, words, f"Cost of the week, {currency}")
        _draw_costs(panel, curve.points, currency, least)
    if short:
        top = scale([1.08 * max(high for _, high in missed)], zero=True)
        panel = chart.panel(across, top, words, "Windows missed, % of a limit, all days together")
        panel.between(bound, missed, SOFT)
        panel.ground(bound, BAND)
        panel.mark(least)
        panel.line(missed, INK)
        panel.dots(missed, INK)
        panel.labels(missed, [number(high, 1) for _, high in missed])
        panel.axes()
    for note in notes:
        chart.note(note)
    told = [f"{number(budget, 2)} misses {number(high, 1)} %" for budget, high in missed]
    misses = f" Below the least that complies, {'; '.join(told)} of a limit." if told else ""
    edge = f"No week complies below {money(curve.complies.bound, currency)}."
    costs = _costs(curve.points, currency, f"{currency} of budget") if curve.points else ""
    return chart.canvas.file(title, f"{costs} {edge}{misses} {' '.join(notes)}".strip())


def _samples(found: WhatIf, robust: Robustness) -> str:
    currency = found.kitchen.scenario.currency
    spread = number(100 * robust.spread, 1)
    title = f"What this plan costs when prices are up to {spread} % off"
    across = scale([robust.lowest, robust.highest, robust.planned], zero=False)
    low, high = robust.lowest, max(robust.highest, robust.lowest + 0.01)
    edges = [low + n * (high - low) / _BINS for n in range(_BINS + 1)]
    counts = [0.0] * _BINS
    for cost in robust.costs:
        counts[min(_BINS - 1, int((cost - low) / (high - low) * _BINS))] += 1
    notes = _begins(across.low, currency)
    samples = f"Samples of prices, {robust.samples} in all"
    key = [
        KeyLine("samples at that cost", fill=PALE),
        KeyLine("as priced now", line=INK, dash=True),
    ]
    chart = Chart(title, _about(found), key, 1, len(notes))
    panel = chart.panel(across, scale(counts, zero=True), f"Cost of the plan, {currency}", samples)
    panel.bars(edges, counts, PALE)
    panel.mark(robust.planned, INK)
    panel.axes()
    for note in notes:
        chart.note(note)
    words = (
        f"In {robust.samples} samples the plan costs {number(robust.lowest, 2)} to "
        f"{number(robust.highest, 2)} {currency}, in eight of ten {number(robust.low_tenth, 2)} to "
        f"{number(robust.high_tenth, 2)}; as priced now {number(robust.planned, 2)}."
    )
    return chart.canvas.file(title, f"{words} {' '.join(notes)}".strip())
