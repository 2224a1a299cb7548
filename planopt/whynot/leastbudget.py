"""The least budget: the cheapest groceries found with all other limits, and what none is below.

A budget below the proven limit is the clash itself, whatever else may clash.
"""

from __future__ import annotations

from dataclasses import dataclass
from decimal import ROUND_CEILING, ROUND_FLOOR, Decimal
from math import inf

from planopt.model.daymenus import one_dish_in_steps
from planopt.problem.build import Problem, build_problem
from planopt.problem.decisions import Decisions, cost_of
from planopt.problem.limits import with_limits
from planopt.scenario.records import Scenario, WorkPrices
from planopt.solve.bounding.relaxations import merged_arrays
from planopt.solve.bounding.worker import safe_bound
from planopt.solve.engine.search import search
from planopt.solve.highs.solver import solve_matrix
from planopt.units import minor_digits
from planopt.whynot.conflict import Conflict
from planopt.whynot.oracle import Oracle, alike
from planopt.whynot.rules import Rule, limits_in, rules_of

_FOR_FEWER = 0.6


@dataclass(frozen=True)
class LeastBudget:
    """Groceries of a week that keeps all limits but the budget.

    `found` is what a week was found for, rounded up to what can be paid, None where none was;
    below `proven` there is none. `infeasible`: no week exists whatever the budget.
    """

    found: Decimal | None
    proven: Decimal
    problem: Problem
    decisions: Decisions | None
    infeasible: bool

    def forbids(self, budget: float) -> bool:
        """Tell whether a budget is proven to be too small."""
        return float(self.proven) > budget


def budget_rule(scenario: Scenario) -> Rule | None:
    """Return the budget as a rule, None where there is none."""
    return next((rule for rule in rules_of(scenario) if rule.key.kind == "budget"), None)


def groceries_only(scenario: Scenario) -> Scenario:
    """Return the scenario in which only groceries cost anything, and no budget limits them."""
    return scenario.model_copy(
        update={
            "waste_weight": 0.0,
            "visit_cost": Decimal(0),
            "budget": None,
            "work_prices": WorkPrices(),
        }
    )


def least_budget(oracle: Oracle, seconds: float) -> LeastBudget:
    """Look for the least groceries, and let the oracle know what was found and proven."""
    scenario = oracle.scenario
    rest = frozenset(limit for limit in oracle.limits if limit.key.kind != "budget")
    problem = build_problem(oracle.catalog, groceries_only(with_limits(scenario, rest)))
    week = oracle.week(rest)
    start = week.decisions if week is not None and alike(week.problem, problem) else None
    quick = oracle.settings.model_copy(
        update={"time_limit_s": max(0.1, seconds), "gap": 0.0, "options": {}}
    )
    result = search(problem, quick, None, start)
    found, step = None, Decimal(1).scaleb(-minor_digits(scenario.currency))
    proven = Decimal(0)
    if 0 < result.bound < inf:
        proven = Decimal(repr(result.bound)).quantize(step, rounding=ROUND_FLOOR)
    if result.decisions is not None:
        cost = round(cost_of(problem, result.decisions).grocery, 6)
        found = Decimal(repr(cost)).quantize(step, rounding=ROUND_CEILING)
        proven = min(proven, found)
        oracle.learn(problem, result.decisions)
    if result.infeasible:
        oracle.assume_unmet(rest)
    least = LeastBudget(found, proven, problem, result.decisions, result.infeasible)
    if scenario.budget is not None and least.forbids(float(scenario.budget)):
        oracle.assume_unmet(oracle.limits)
    return least


def budget_conflict(oracle: Oracle, least: LeastBudget) -> Conflict:
    """Return the budget and the limits that a proof of its being too small makes use of.

    Few kinds of limits are tried before all: no other, then energy, then all windows; of the first
    that does, each is left out that the proof can do without, as long as there is time. That the
    budget is needed is shown by the week found; of the others, fewer may do.
    """
    budget = budget_rule(oracle.scenario)
    assert budget is not None
    others = [rule for rule in rules_of(oracle.scenario) if rule != budget]
    windows = [rule for rule in others if rule.key.kind == "window"]
    energy = [rule for rule in windows if rule.key.what == "energy_kcal"]
    proven = (budget,) if least.decisions is not None else ()
    for used in ([], energy, windows):
        if oracle.deadline.over():
            break
        if _costs_at_least(oracle, used) > budget.value:
            oracle.deadline.share(_FOR_FEWER)
            for rule in list(used):
                fewer = [other for other in used if other != rule]
                if not oracle.deadline.over() and _costs_at_least(oracle, fewer) > budget.value:
                    used = fewer
            return Conflict((budget, *used), proven, ())
    return Conflict((budget, *others), proven, ())


def _costs_at_least(oracle: Oracle, used: list[Rule]) -> float:
    """Return a lower limit of the groceries of weeks that keep some rules, by an LP."""
    scenario = groceries_only(with_limits(oracle.scenario, limits_in(used)))
    problem = build_problem(oracle.catalog, scenario)
    if not one_dish_in_steps(problem):
        # The relaxation speaks of one dish a meal.
        return -inf
    quick = oracle.settings.model_copy(
        update={"time_limit_s": max(0.1, oracle.deadline.left()), "options": {}}
    )
    outcome = solve_matrix(merged_arrays(problem.bounding).relaxed(), quick)
    return safe_bound(outcome.bound) if outcome.ending == "optimal" else -inf
