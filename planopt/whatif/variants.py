"""Solve variants of a kitchen from its base plan, and say of each what is known for certain."""

from __future__ import annotations

from collections.abc import Callable, Sequence
from contextlib import suppress
from dataclasses import dataclass, replace
from decimal import Decimal
from time import perf_counter

from planopt.faults import NoCompliantWeek, NoPlanInTime, StoppedByUser
from planopt.pipeline import make_plan, refit
from planopt.plan.records import Plan, Solution
from planopt.plan.reread import versions_in, whole_decisions
from planopt.problem.build import build_problem
from planopt.problem.decisions import cost_of
from planopt.scenario.reading.changed import changed_kitchen
from planopt.scenario.reading.load import Kitchen
from planopt.scenario.records import Variant
from planopt.solve.settings import SolveSettings
from planopt.whatif.compare import Comparison, compare
from planopt.whatif.direction import direction_of
from planopt.whynot.explain import EXPLAIN_SECONDS, Explanation, explain

Told = Callable[[str], None]


_STOPPED = "stopped before a plan was found"


@dataclass(frozen=True)
class VariantResult:
    """How a variant ended.

    Without a plan either no week complies, and `explanation` says why, or time was short.
    `bound` is the best proven lower limit of all counted, proofs of the base included.
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
    way = direction_of(kitchen.catalog, kitchen.scenario, variant)
    if way == "tightens":
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
        comparison = compare(kitchen, base, changed, plan, bound, way)
    seconds = perf_counter() - began
    return VariantResult(variant, changed, plan, bound, comparison, explanation, note, seconds)


def cheapest_week(kitchen: Kitchen, proven: Solution, plans: Sequence[Plan]) -> Plan | None:
    """Return the cheapest week of some plans that holds in a kitchen, as a plan of that kitchen."""
    problem = build_problem(kitchen.catalog, kitchen.scenario, versions_in(*plans))
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
            way = direction_of(kitchen.catalog, kitchen.scenario, result.variant)
            comparison = compare(kitchen, base, result.kitchen, plan, result.bound, way)
            result = replace(result, plan=plan, comparison=comparison)
        found.append(result)
    return base, found
