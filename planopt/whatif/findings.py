"""Everything that was asked of one kitchen, together, and as plain data."""

from __future__ import annotations

from dataclasses import asdict, dataclass
from typing import Any

from planopt.plan.records import Plan, Solution
from planopt.scenario.reading.load import Kitchen
from planopt.whatif.compare import Comparison
from planopt.whatif.curves import BudgetCurve, Least
from planopt.whatif.ladder import Rung
from planopt.whatif.robust import Robustness
from planopt.whatif.shadow import ShadowPrice
from planopt.whatif.variants import VariantResult
from planopt.whatif.windowcurve import WindowCurve
from planopt.whynot.explain import rule_dict

FORMAT_VERSION = 1


@dataclass(frozen=True)
class WhatIf:
    """The base plan of a kitchen and what was asked about it; what was not asked is empty."""

    kitchen: Kitchen
    base: Plan
    variants: tuple[VariantResult, ...] = ()
    budget: BudgetCurve | None = None
    windows: tuple[WindowCurve, ...] = ()
    prices: tuple[ShadowPrice, ...] | None = None
    robust: Robustness | None = None

    def as_dict(self) -> dict[str, Any]:
        """Return all of it as plain data, for JSON; money is text."""
        return {
            "format_version": FORMAT_VERSION,
            "scenario_name": self.kitchen.scenario.name,
            "scenario_sha256": self.kitchen.scenario_sha256,
            "currency": self.kitchen.scenario.currency,
            "base": _solution(self.base.solution),
            "variants": [_variant(result) for result in self.variants],
            "budget_curve": None if self.budget is None else _budget(self.budget),
            "window_curves": [
                {
                    "client": curve.client,
                    "nutrient": curve.nutrient,
                    "unit": curve.unit,
                    "side": curve.side,
                    "now": curve.now,
                    "points": [_rung(point) for point in curve.points],
                    "seconds": round(curve.seconds, 3),
                }
                for curve in self.windows
            ],
            "shadow_prices": None
            if self.prices is None
            else [_price(price) for price in self.prices],
            "robustness": None if self.robust is None else asdict(self.robust),
        }


def _solution(solution: Solution) -> dict[str, Any]:
    return {
        "groceries": str(solution.grocery_cost),
        "visits": str(solution.visit_cost),
        "waste": str(solution.waste_cost),
        "work": str(solution.work_cost),
        "taste": str(solution.taste_cost),
        "objective": str(solution.objective),
        "best_bound": str(solution.best_bound),
        "proven_gap": solution.proven_gap,
        "status": solution.status,
    }


def _variant(result: VariantResult) -> dict[str, Any]:
    return {
        "variant": result.variant.model_dump(mode="json", by_alias=True, exclude_defaults=True),
        "solution": None if result.plan is None else _solution(result.plan.solution),
        "bound": str(result.bound),
        "note": result.note,
        "comparison": None if result.comparison is None else _comparison(result.comparison),
        "explanation": None if result.explanation is None else result.explanation.as_dict(),
        "seconds": round(result.seconds, 3),
    }


def _comparison(found: Comparison) -> dict[str, Any]:
    return {
        "difference": str(found.difference),
        "difference_at_least": str(found.least),
        "difference_at_most": str(found.most),
        "verdict": found.verdict,
        "recipes_in": list(found.recipes_in),
        "recipes_out": list(found.recipes_out),
        "portions_moved": found.portions_moved,
        "portions": found.portions,
        "windows_met": found.windows_met[0],
        "windows": found.windows_met[1],
        "shopping": [{**asdict(row), "money": str(row.money)} for row in found.shopping],
        "window_means": [asdict(row) for row in found.windows],
    }


def _rung(point: Rung) -> dict[str, Any]:
    return {
        "value": point.value,
        "state": point.state,
        "objective": None if point.objective is None else str(point.objective),
        "best_bound": str(point.bound),
        "gap": point.gap,
    }


def _least(least: Least) -> dict[str, Any]:
    return {
        "found": None if least.found is None else str(least.found),
        "best_bound": str(least.bound),
    }


def _budget(curve: BudgetCurve) -> dict[str, Any]:
    return {
        "least_that_complies": _least(curve.complies),
        "least_with_windows_missed": _least(curve.exists),
        "points": [_rung(point) for point in curve.points],
        "short": [
            {
                "budget": str(point.budget),
                "no_week_proven": point.proven,
                "missed": None
                if point.missed is None
                else [asdict(missed) for missed in point.missed],
            }
            for point in curve.short
        ],
        "seconds": round(curve.seconds, 3),
    }


def _price(price: ShadowPrice) -> dict[str, Any]:
    found = price.resolved
    return {
        "rule": rule_dict(price.rule),
        "local_estimate_per_unit": price.per_unit,
        "moved_to": price.after,
        "local_estimate_of_move": price.estimate,
        "solved_anew": None
        if found is None
        else {
            "difference": str(found.difference),
            "difference_at_least": str(found.least),
            "difference_at_most": str(found.most),
            "verdict": found.verdict,
        },
    }
