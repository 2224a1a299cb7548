"""Compare a variant's plan with the base plan: money, what is proven of it, food and windows."""

from __future__ import annotations

from collections import defaultdict
from dataclasses import dataclass, replace
from decimal import Decimal
from math import isnan
from typing import Any, Literal

from planopt.plan.records import Plan, Solution
from planopt.report.analysis.tables import day_totals, records, week_totals
from planopt.report.words.plain import dish_words, size_text
from planopt.scenario.reading.load import Kitchen
from planopt.tolerances import NO_PACKS
from planopt.whatif.direction import Direction

Verdict = Literal["certainly dearer", "certainly cheaper", "not certain"]


@dataclass(frozen=True)
class WindowRow:
    """One client's window of one nutrient: mean a day (or total of the plan) in both plans."""

    client: str
    nutrient: str
    unit: str
    per: Literal["day", "plan"]
    base: float | None
    variant: float | None
    window: str
    met: int
    of: int


@dataclass(frozen=True)
class ShoppingRow:
    """A kind of pack of which the variant buys more or less; `more` is in packs or steps."""

    pack_id: str
    text: str
    more: float
    money: Decimal


@dataclass(frozen=True)
class Comparison:
    """A variant's plan beside the base plan; money is in the plans' currency.

    The least cost of the base lies between its bound and its plan, that of the variant likewise,
    so the true difference lies between `least` and `most`; a side that logic rules out is cut at 0.
    `verdict` is certain only where that range does not hold 0. `repriced` is what packs bought in
    the same number cost more.
    """

    base: Solution
    variant: Solution
    difference: Decimal
    least: Decimal
    most: Decimal
    verdict: Verdict
    recipes_in: tuple[str, ...]
    recipes_out: tuple[str, ...]
    portions_moved: int
    portions: int
    shopping: tuple[ShoppingRow, ...]
    windows: tuple[WindowRow, ...]
    repriced: Decimal = Decimal(0)

    @property
    def windows_met(self) -> tuple[int, int]:
        """Return how many windows, of days and of the plan, the variant meets, and of how many."""
        return sum(row.met for row in self.windows), sum(row.of for row in self.windows)


def verdict(least: Decimal, most: Decimal) -> Verdict:
    """Return what a range of the true difference proves."""
    if least > 0:
        return "certainly dearer"
    return "certainly cheaper" if most < 0 else "not certain"


def compare(
    kitchen: Kitchen,
    base: Plan,
    changed: Kitchen,
    plan: Plan,
    bound: Decimal | None = None,
    way: Direction = "either",
) -> Comparison:
    """Return the comparison of two audited plans with the kitchens they are plans of.

    `bound` is a better lower limit of the variant than its plan tells, if one is known. Where the
    variant can move the least cost one `way` only, the range of the true difference ends at 0.
    """
    proven = plan.solution.best_bound if bound is None else bound
    least = proven - base.solution.objective
    most = plan.solution.objective - base.solution.best_bound
    if way == "tightens":
        least, most = max(least, Decimal(0)), max(most, Decimal(0))
    elif way == "loosens":
        least, most = min(least, Decimal(0)), min(most, Decimal(0))
    before, after = _dishes(kitchen, base), _dishes(changed, plan)
    shopping, repriced = _shopping(base, plan)
    plates_before, plates_after = _plates(base), _plates(plan)
    both = plates_before.keys() & plates_after.keys()
    return Comparison(
        base=base.solution,
        variant=plan.solution,
        difference=plan.solution.objective - base.solution.objective,
        least=least,
        most=most,
        verdict=verdict(least, most),
        recipes_in=tuple(sorted(after - before)),
        recipes_out=tuple(sorted(before - after)),
        portions_moved=sum(plates_before[key] != plates_after[key] for key in both)
        + len(plates_after.keys() - both),
        portions=len(plates_after),
        shopping=shopping,
        windows=_windows(kitchen, base, changed, plan),
        repriced=repriced,
    )


def _dishes(kitchen: Kitchen, plan: Plan) -> set[str]:
    return {
        dish_words(kitchen.catalog, batch.recipe_id, batch.recipe_name, batch.version)
        for batch in plan.batches
    }


def _plates(plan: Plan) -> dict[tuple[str, int, str], tuple[tuple[str, str, float], ...]]:
    """Return what lies on each plate: version and servings by client, day and meal."""
    found: defaultdict[tuple[str, int, str], list[tuple[str, str, float]]] = defaultdict(list)
    for portion in plan.portions:
        found[portion.client_id, portion.day, portion.meal].append(
            (portion.recipe_id, portion.version, round(portion.servings, 6))
        )
    return {key: tuple(sorted(plates)) for key, plates in found.items()}


def _shopping(base: Plan, plan: Plan) -> tuple[tuple[ShoppingRow, ...], Decimal]:
    """Return packs bought more or less, and what those in the same number cost more."""
    more: defaultdict[str, float] = defaultdict(float)
    money: defaultdict[str, Decimal] = defaultdict(Decimal)
    text = {}
    for sign, purchases in ((-1, base.purchases), (1, plan.purchases)):
        for bought in purchases:
            more[bought.pack_id] += sign * bought.count
            money[bought.pack_id] += sign * bought.price
            size = size_text(bought.size, bought.unit)
            text[bought.pack_id] = f"{bought.food_name}, {size}"
    rows = [
        ShoppingRow(pack_id, text[pack_id], round(count, 6), money[pack_id])
        for pack_id, count in more.items()
        if abs(count) > NO_PACKS
    ]
    repriced = sum(money.values(), Decimal(0)) - sum((row.money for row in rows), Decimal(0))
    return tuple(sorted(rows, key=lambda row: (row.more < 0, row.text, row.pack_id))), repriced


def _windows(kitchen: Kitchen, base: Plan, changed: Kitchen, plan: Plan) -> tuple[WindowRow, ...]:
    before = {(row.client, row.nutrient, row.per): row for row in _sums(kitchen, base)}
    rows = []
    for row in _sums(changed, plan):
        old = before.get((row.client, row.nutrient, row.per))
        rows.append(replace(row, base=old.variant if old is not None else None))
    return tuple(rows)


def _sums(kitchen: Kitchen, plan: Plan) -> list[WindowRow]:
    """Return a row for each window; what the plan gives stands as `variant`."""
    found: dict[tuple[str, str], list[dict[str, Any]]] = {}
    for row in records(day_totals(plan, kitchen.catalog, kitchen.scenario)):
        if row["met"] is not None:
            found.setdefault((row["client"], row["nutrient"]), []).append(row)
    rows = [
        WindowRow(
            client, nutrient, days[0]["unit"], "day", None,
            sum(day["amount"] for day in days) / len(days), _window_text(days),
            sum(bool(day["met"]) for day in days), len(days),
        )
        for (client, nutrient), days in found.items()
    ]  # fmt: skip
    for row in records(week_totals(plan, kitchen.catalog, kitchen.scenario)):
        rows.append(
            WindowRow(
                row["client"], row["nutrient"], row["unit"], "plan", None, row["amount"],
                _window_text([row]), int(row["met"]), 1,
            )
        )  # fmt: skip
    return rows


def _window_text(days: list[dict[str, Any]]) -> str:
    """Return a window as text; where it differs by day, from its least to its most."""
    lows = [day["min"] for day in days if not isnan(day["min"])]
    highs = [day["max"] for day in days if not isnan(day["max"])]
    low = f"{min(lows):g}" if lows else ""
    high = f"{max(highs):g}" if highs else ""
    return f"{low} to {high}" if low and high else f"from {low}" if low else f"up to {high}"
