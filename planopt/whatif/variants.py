"""Solve variants of a kitchen from its base plan, and say of each what is known for certain."""

from __future__ import annotations

from collections.abc import Callable, Sequence
from contextlib import suppress
from dataclasses import dataclass, replace
from decimal import Decimal
from time import perf_counter

from planopt.catalog.records import Catalog
from planopt.faults import NoCompliantWeek, NoPlanInTime, StoppedByUser
from planopt.pipeline import make_plan, refit
from planopt.plan.records import Plan, Solution
from planopt.plan.reread import whole_decisions
from planopt.problem.build import build_problem
from planopt.problem.decisions import cost_of
from planopt.problem.limits import limits_of
from planopt.scenario.changed import changed_kitchen
from planopt.scenario.changing import apply_variant
from planopt.scenario.load import Kitchen
from planopt.scenario.records import Scenario, Variant
from planopt.scenario.references import guarded
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


def only_tightens(catalog: Catalog, scenario: Scenario, variant: Variant) -> bool:
    """Tell whether every week of the variant is one of the scenario, at no lower cost.

    Then what is proven for the scenario holds for the variant as well. Only changes of which that
    is certain count: a lower budget, narrower windows, recipes out, prices up, and foods that are
    gone from the shops. What is on hand of such a food would lose its value, and so cost no waste;
    then it does not count.
    """
    kept = Variant(
        name=variant.name,
        budget=variant.budget,
        windows=variant.windows,
        recipes_out=variant.recipes_out,
        prices=variant.prices,
        unavailable=variant.unavailable,
    )
    rising = all((p.percent or 0) >= 0 and (p.amount or 0) >= 0 for p in variant.prices)
    on_hand = {stock.food for stock in scenario.stock}
    if variant != kept or not rising or on_hand & set(variant.unavailable):
        return False
    _, changed = apply_variant(catalog, scenario, variant)
    new = {limit.key: limit for limit in limits_of(guarded(catalog, changed))}
    for limit in limits_of(guarded(catalog, scenario)):
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
    """Solve each variant within the time limit of `settings`, from the cheapest week at hand.

    That is the base plan or a plan of a variant before it. Ctrl-C ends the variant at work with
    what it has, and leaves out those after it.

    Raises:
        AuditFailed: a plan found does not hold.
    """
    results: list[VariantResult] = []
    for variant in variants:
        if told is not None:
            told(variant.name)
        others = [result.plan for result in results if result.plan is not None]
        results.append(solve_variant(kitchen, base, variant, settings, others))
        if results[-1].stopped:
            break
    return results


def solve_variant(
    kitchen: Kitchen,
    base: Plan,
    variant: Variant,
    settings: SolveSettings,
    others: Sequence[Plan] = (),
) -> VariantResult:
    """Solve one variant from the cheapest of the base plan and `others` that holds in it."""
    began = perf_counter()
    changed = changed_kitchen(kitchen, variant)
    bound = Decimal(0)
    if only_tightens(kitchen.catalog, kitchen.scenario, variant):
        bound = base.solution.best_bound
    known = base.solution.model_copy(update={"best_bound": bound, "status": "time_limit"})
    start = cheapest_week(changed, known, [base, *others])
    plan, explanation, note = start, None, ""
    try:
        plan = make_plan(changed, settings, None, start or base, explain_s=0.0)
        plan = cheapest_week(changed, plan.solution, [plan, *others, base]) or plan
        bound = min(max(bound, plan.solution.best_bound), plan.solution.objective)
    except NoCompliantWeek:
        # A week at hand was audited in exact numbers, and outweighs a proof in floating-point ones.
        if start is None:
            seconds = min(EXPLAIN_SECONDS, settings.time_limit_s)
            explanation = explain(
                changed.catalog, changed.scenario, settings, seconds=seconds, proven=True
            )
            note = "no week complies"
    except StoppedByUser:
        note = _STOPPED
        if start is not None:
            stopped = start.solution.model_copy(update={"status": "interrupted"})
            plan, note = start.model_copy(update={"solution": stopped}), ""
    except NoPlanInTime:
        note = "" if start is not None else "no plan found in time"
    comparison = None
    if plan is not None:
        comparison = compare(kitchen, base, changed, plan, bound)
    seconds = perf_counter() - began
    return VariantResult(variant, changed, plan, bound, comparison, explanation, note, seconds)


def cheapest_week(kitchen: Kitchen, proven: Solution, plans: Sequence[Plan]) -> Plan | None:
    """Return the cheapest week of some plans that holds in a kitchen, as a plan of that kitchen."""
    problem = build_problem(kitchen.catalog, kitchen.scenario)
    costs: dict[int, float] = {}
    for n, plan in enumerate(plans):
        decisions = whole_decisions(plan, problem)
        if decisions is not None:
            with suppress(ValueError):
                costs[n] = cost_of(problem, decisions).objective
    # Costs are quickly had; the audit of a week is not, so the cheapest comes first.
    ranked = (refit(kitchen, plans[n], proven) for n in sorted(costs, key=lambda n: costs[n]))
    return next((week for week in ranked if week is not None), None)


def settled(
    kitchen: Kitchen, base: Plan, results: Sequence[VariantResult], *, keep_base: bool = False
) -> tuple[Plan, list[VariantResult]]:
    """Give the base and every variant the cheapest week that any of them has found.

    A week found under a change may be cheaper without it than the base plan, which was sought in
    limited time. With `keep_base` the base plan stays as it is.
    """
    weeks = [base, *(result.plan for result in results if result.plan is not None)]
    if not keep_base:
        base = cheapest_week(kitchen, base.solution, weeks) or base
    found = []
    for result in results:
        plan = result.plan
        if plan is not None:
            plan = cheapest_week(result.kitchen, plan.solution, weeks) or plan
            comparison = compare(kitchen, base, result.kitchen, plan, result.bound)
            result = replace(result, plan=plan, comparison=comparison)
        found.append(result)
    return base, found
