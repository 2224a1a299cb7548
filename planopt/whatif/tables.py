"""What-if findings as neutral tables: pandas frames, units in the column names."""

from __future__ import annotations

from collections.abc import Iterable
from decimal import Decimal

import pandas as pd

from planopt.whatif.findings import WhatIf
from planopt.whatif.ladder import Rung
from planopt.whynot.words import RuleWords


def _frame(columns: tuple[str, ...], rows: Iterable[tuple[object, ...]]) -> pd.DataFrame:
    return pd.DataFrame(list(rows), columns=list(columns), dtype=object)


def variants(found: WhatIf) -> pd.DataFrame:
    """Return one row for the base and for each variant."""
    s = found.base.solution
    rows: list[tuple[object, ...]] = [
        ("base", "", s.objective, s.best_bound, s.grocery_cost, s.waste_cost, Decimal(0),
         None, None, "", "", "", 0, "")
    ]  # fmt: skip
    for result in found.variants:
        name, c = result.variant.name, result.comparison
        if c is None:
            rows.append((name, result.note, *[None] * 7, "", "", "", None, ""))
            continue
        v = c.variant
        met, of = c.windows_met
        rows.append(
            (name, result.note, v.objective, result.bound, v.grocery_cost, v.waste_cost,
             c.difference, c.least, c.most, c.verdict, "; ".join(c.recipes_in),
             "; ".join(c.recipes_out), c.portions_moved, f"{met} of {of}")
        )  # fmt: skip
    return _frame(
        ("variant", "note", "all_counted", "lower_limit", "groceries", "waste", "difference",
         "difference_at_least", "difference_at_most", "verdict", "recipes_in", "recipes_out",
         "portions_moved", "windows_met"),
        rows,
    )  # fmt: skip


def shopping(found: WhatIf) -> pd.DataFrame:
    """Return what each variant buys more (or, with a minus, less) than the base."""
    return _frame(
        ("variant", "pack_id", "pack", "more_packs", "more_money"),
        (
            (result.variant.name, row.pack_id, row.text, row.more, row.money)
            for result in found.variants
            if result.comparison is not None
            for row in result.comparison.shopping
        ),
    )


def windows(found: WhatIf) -> pd.DataFrame:
    """Return each window with what the base plan and each variant's plan give."""
    return _frame(
        ("variant", "client", "nutrient", "unit", "per", "window", "base_amount",
         "variant_amount", "days_met", "days"),
        (
            (result.variant.name, row.client, row.nutrient, row.unit, row.per, row.window,
             row.base, row.variant, row.met, row.of)
            for result in found.variants
            if result.comparison is not None
            for row in result.comparison.windows
        ),
    )  # fmt: skip


def _rungs(points: Iterable[Rung]) -> Iterable[tuple[object, ...]]:
    for point in points:
        yield point.value, point.state, point.objective, point.bound, point.gap


def budget_curve(found: WhatIf) -> pd.DataFrame:
    """Return the budgets with what a week costs, or with what must be missed."""
    rows: list[tuple[object, ...]] = []
    if found.budget is not None:
        for short in found.budget.short:
            if short.missed is None:
                state = "no week" if short.proven else "open"
                rows.append((float(short.budget), state, None, None, None, "", None, None))
            for missed in short.missed or ():
                rows.append(
                    (float(short.budget), "windows missed", None, None, None,
                     "; ".join(missed.nutrients), missed.share, missed.bound)
                )  # fmt: skip
        rows += [(*row, "", None, None) for row in _rungs(found.budget.points)]
    return _frame(
        ("budget", "state", "all_counted", "lower_limit", "gap", "missed_nutrients",
         "missed_share", "missed_share_lower_limit"),
        rows,
    )  # fmt: skip


def window_curves(found: WhatIf) -> pd.DataFrame:
    """Return what a week costs against the targets asked for."""
    return _frame(
        ("client", "nutrient", "unit", "side", "value", "state", "all_counted", "lower_limit",
         "gap"),
        (
            (curve.client, curve.nutrient, curve.unit, curve.side, *row)
            for curve in found.windows
            for row in _rungs(curve.points)
        ),
    )  # fmt: skip


def shadow_prices(found: WhatIf) -> pd.DataFrame:
    """Return the local estimates, and beside the first what solving anew found."""
    words = RuleWords(found.kitchen.catalog, found.kitchen.scenario)
    rows = []
    for price in found.prices or ():
        (text,) = words.rules([price.rule])
        r = price.resolved
        solved = (None,) * 3 if r is None else (r.difference, r.least, r.most)
        rows.append(
            (text, price.per_unit, price.after, price.estimate, *solved,
             "" if r is None else r.verdict)
        )  # fmt: skip
    return _frame(
        ("limit", "estimate_per_unit", "moved_to", "estimate_of_move", "solved_difference",
         "solved_at_least", "solved_at_most", "verdict"),
        rows,
    )  # fmt: skip


def price_samples(found: WhatIf) -> pd.DataFrame:
    """Return what the base plan costs at each sample of prices."""
    costs = () if found.robust is None else found.robust.costs
    return _frame(("sample", "all_counted"), enumerate((round(cost, 4) for cost in costs), 1))
