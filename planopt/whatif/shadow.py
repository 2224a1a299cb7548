"""Shadow prices in the user's terms: local estimates, and for the largest the solved truth.

Method: duals at the plan (`solve/limits/duals.py`), then the limit moved by a twentieth and solved.
Source: common practice, no source.
"""

from __future__ import annotations

from dataclasses import dataclass
from decimal import Decimal

from planopt.faults import NoCompliantWeek, NoPlanInTime
from planopt.pipeline import make_plan
from planopt.plan.records import Plan
from planopt.plan.reread import decisions_of, versions_in
from planopt.problem.build import Problem, build_problem
from planopt.problem.decisions import Decisions
from planopt.problem.limits import Limit, least_value
from planopt.scenario.reading.changed import with_scenario
from planopt.scenario.reading.load import Kitchen
from planopt.scenario.references import guarded
from planopt.solve.limits.duals import limit_duals
from planopt.solve.settings import SolveSettings
from planopt.tolerances import NO_PRICE
from planopt.whatif.compare import Verdict, verdict
from planopt.whynot.moving import moved_scenario, outward
from planopt.whynot.rules import Rule, rules_of
from planopt.whynot.witness import amount_of

MOVED_BY = 0.05
_RESOLVED = 3


@dataclass(frozen=True)
class Resolved:
    """What solving with a moved limit gave: the two plans' difference, and the proven range."""

    after: float
    difference: Decimal
    least: Decimal
    most: Decimal
    verdict: Verdict


@dataclass(frozen=True)
class ShadowPrice:
    """What one unit of a rule is worth near the plan, if each of its days moves alike.

    `per_unit` is money saved for each unit by which the rule gives. `estimate` is that for the
    move from the rule's value to `after`, and `resolved` what solving it anew found, for the
    rules that matter most.
    """

    rule: Rule
    per_unit: float
    after: float
    estimate: float
    resolved: Resolved | None


def shadow_prices(
    kitchen: Kitchen, plan: Plan, settings: SolveSettings, *, resolve: int = _RESOLVED
) -> list[ShadowPrice]:
    """Return the rules that bind near a plan, the most valuable first.

    The value is that of a move by a twentieth. Where fewer than `resolve` rules bind, those that
    the plan comes nearest to follow. The first `resolve` are solved anew from the plan, each
    within the time limit of `settings`.

    Raises:
        AuditFailed: a plan found does not hold.
    """
    kitchen = with_scenario(kitchen, guarded(kitchen.catalog, kitchen.scenario))
    problem = build_problem(kitchen.catalog, kitchen.scenario, versions_in(plan))
    decisions = decisions_of(plan, problem)
    duals = limit_duals(problem, decisions, settings)
    found = []
    for rule in rules_of(kitchen.scenario):
        per_unit = sum(
            abs(duals.get(limit.key, 0.0)) * (limit.value / rule.value if rule.value else 1.0)
            for limit in rule.limits
        )
        if rule.relaxable:
            after = _given(kitchen, rule)
            room = min(_room(problem, decisions, limit) for limit in rule.limits)
            estimate = per_unit * abs(after - rule.value)
            found.append((room, ShadowPrice(rule, per_unit, after, estimate, None)))
    found.sort(key=lambda pair: (-round(pair[1].estimate, 6), round(pair[0], 6), pair[1].rule.key))
    ranked = [price for _, price in found]
    return [
        ShadowPrice(p.rule, p.per_unit, p.after, p.estimate, _resolved(kitchen, plan, p, settings))
        if n < resolve and p.after != p.rule.value
        else p
        for n, p in enumerate(ranked)
        if n < resolve or p.per_unit > NO_PRICE
    ]


def _room(problem: Problem, decisions: Decisions, limit: Limit) -> float:
    """Return how far a plan is from a limit, as a share of it."""
    amount = amount_of(problem, decisions, limit.key)
    return abs(amount - limit.value) / max(abs(limit.value), 1.0)


def _given(kitchen: Kitchen, rule: Rule) -> float:
    """Return the rule's value relaxed by a twentieth; a count gives at least one."""
    by = MOVED_BY * rule.value
    digits = 2 if rule.key.kind in ("budget", "window") else 0
    if rule.key.kind not in ("budget", "window", "servings"):
        by = max(1.0, by)
    sign = -1.0 if rule.limits[0].from_below else 1.0
    after = outward(rule, rule.value + sign * by, digits)
    if sign < 0:
        floors = [least_value(kitchen.scenario, limit) for limit in rule.limits]
        shares = [limit.value / rule.value if rule.value else 1.0 for limit in rule.limits]
        after = max(after, *(floor / share for floor, share in zip(floors, shares, strict=True)))
    return after


def _resolved(
    kitchen: Kitchen, plan: Plan, price: ShadowPrice, settings: SolveSettings
) -> Resolved | None:
    scenario = moved_scenario(kitchen.scenario, [(price.rule, (), price.after)])
    try:
        other = make_plan(with_scenario(kitchen, scenario), settings, None, plan, explain_s=0.0)
    except (NoCompliantWeek, NoPlanInTime):
        return None
    # The plan itself complies with the looser limit, so the search may end no dearer than it.
    objective = min(other.solution.objective, plan.solution.objective)
    least = other.solution.best_bound - plan.solution.objective
    most = min(Decimal(0), objective - plan.solution.best_bound)
    return Resolved(
        price.after, objective - plan.solution.objective, least, most, verdict(least, most)
    )
