"""Solve variants of a kitchen from its base plan, and say of each what is known for certain."""

from __future__ import annotations

import hashlib
from collections.abc import Callable, Sequence
from dataclasses import dataclass, replace
from decimal import Decimal
from time import perf_counter

from planopt.catalog.records import Catalog
from planopt.faults import NoCompliantWeek, NoPlanInTime, StoppedByUser
from planopt.pipeline import make_plan
from planopt.plan.records import Plan
from planopt.problem.limits import limits_of
from planopt.scenario.changing import apply_variant
from planopt.scenario.load import Kitchen
from planopt.scenario.records import Scenario, Variant
from planopt.solve.settings import SolveSettings
from planopt.whatif.compare import Comparison, compare
from planopt.whynot.explain import EXPLAIN_SECONDS, Explanation, explain

Told = Callable[[str], None]


_STOPPED = "stopped before a plan was found"


@dataclass(frozen=True)
class VariantResult:
    """How a variant ended.

    Without a plan either no week complies, and `explanation` says why, or time was short.
    `bound` is the best proven lower limit of all counted, also by what the base proves for it.
    """

    variant: Variant
    kitchen: Kitchen
    plan: Plan | None
    bound: Decimal
    comparison: Comparison | None
    explanation: Explanation | None
    note: str
    seconds: float

    @property
    def stopped(self) -> bool:
        """Tell whether the user's Ctrl-C ended it."""
        interrupted = self.plan is not None and self.plan.solution.status == "interrupted"
        return interrupted or self.note == _STOPPED


def changed_kitchen(kitchen: Kitchen, variant: Variant) -> Kitchen:
    """Return the kitchen with a variant's changes made; its hashes tell what it holds now."""
    catalog, scenario = apply_variant(kitchen.catalog, kitchen.scenario, variant)
    return with_scenario(replace(kitchen, catalog=catalog), scenario)


def with_scenario(kitchen: Kitchen, scenario: Scenario) -> Kitchen:
    """Return the kitchen with another scenario."""

    def digest(text: str) -> str:
        return hashlib.sha256(text.encode()).hexdigest()

    return replace(
        kitchen,
        scenario=scenario,
        scenario_sha256=digest(scenario.model_dump_json(by_alias=True)),
        catalog_sha256=digest(kitchen.catalog_sha256 + kitchen.catalog.model_dump_json()),
    )


def only_tightens(catalog: Catalog, scenario: Scenario, variant: Variant) -> bool:
    """Tell whether every week of the variant is one of the scenario, at no lower cost.

    Then what is proven for the scenario holds for the variant as well. Only changes of which that
    is certain count: a lower budget, narrower windows, recipes out, prices up.
    """
    kept = Variant(
        name=variant.name,
        budget=variant.budget,
        windows=variant.windows,
        recipes_out=variant.recipes_out,
        prices=variant.prices,
    )
    rising = all((p.percent or 0) >= 0 and (p.amount or 0) >= 0 for p in variant.prices)
    if variant != kept or not rising:
        return False
    _, changed = apply_variant(catalog, scenario, variant)
    new = {limit.key: limit for limit in limits_of(changed)}
    for limit in limits_of(scenario):
        other = new.get(limit.key)
        if other is None:
            return False
        if limit.from_below and other.value < limit.value:
            return False
        if not limit.from_below and other.value > limit.value:
            return False
    return True


def solve_variants(
    kitchen: Kitchen,
    base: Plan,
    variants: Sequence[Variant],
    settings: SolveSettings,
    told: Told | None = None,
) -> list[VariantResult]:
    """Solve each variant from the base plan within the time limit of `settings` for each.

    Ctrl-C ends the variant at work with what it has, and leaves out those after it.

    Raises:
        AuditFailed: a plan found does not hold.
    """
    results = []
    for variant in variants:
        if told is not None:
            told(variant.name)
        results.append(solve_variant(kitchen, base, variant, settings))
        if results[-1].stopped:
            break
    return results


def solve_variant(
    kitchen: Kitchen, base: Plan, variant: Variant, settings: SolveSettings
) -> VariantResult:
    """Solve one variant from the base plan."""
    began = perf_counter()
    changed = changed_kitchen(kitchen, variant)
    bound = Decimal(0)
    if only_tightens(kitchen.catalog, kitchen.scenario, variant):
        bound = base.solution.best_bound
    plan, explanation, note = None, None, ""
    try:
        plan = make_plan(changed, settings, None, base, explain_s=0.0)
        bound = min(max(bound, plan.solution.best_bound), plan.solution.objective)
    except NoCompliantWeek:
        seconds = min(EXPLAIN_SECONDS, settings.time_limit_s)
        explanation = explain(
            changed.catalog, changed.scenario, settings, seconds=seconds, proven=True
        )
        note = "no week complies"
    except StoppedByUser:
        note = _STOPPED
    except NoPlanInTime:
        note = "no plan found in time"
    comparison = None
    if plan is not None:
        comparison = compare(kitchen, base, changed, plan, bound)
    seconds = perf_counter() - began
    return VariantResult(variant, changed, plan, bound, comparison, explanation, note, seconds)
