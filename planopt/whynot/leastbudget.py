"""The least budget: cheapest groceries found with all other limits kept, and a proven lower limit.

A budget below the proven limit is the clash itself, whatever else may clash.

Method: the search with groceries as its only cost; its bound is the proof.
Source: no paper is followed.
"""

from __future__ import annotations

from dataclasses import dataclass
from decimal import Decimal
from math import inf

from planopt.model.daymenus import one_dish_in_steps
from planopt.problem.build import Problem, build_problem
from planopt.problem.decisions import Decisions, cost_of
from planopt.problem.limits import with_limits
from planopt.scenario.records import Scenario
from planopt.scenario.workplace import WorkPrices
from planopt.solve.bounding.relaxations import merged_arrays
from planopt.solve.bounding.worker import safe_bound
from planopt.solve.engine.search import search
from planopt.solve.highs.solver import solve_matrix
from planopt.units import minor_digits, round_down, round_up
from planopt.whynot.conflict import Conflict
from planopt.whynot.oracle import Oracle, alike
from planopt.whynot.rules import Rule, limits_in, rules_of

_FOR_FEWER = 0.6


@dataclass(frozen=True)
class LeastBudget:
    """The cheapest groceries of a week that keeps all limits but the budget.

    `found` is the cost of a week that was found, rounded up to whole coins, or None. No week
    costs less than `proven`. `infeasible`: no week exists whatever the budget.
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
            "clients": tuple(c.model_copy(update={"ratings": {}}) for c in scenario.clients),
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
    found, digits = None, minor_digits(scenario.currency)
    proven = Decimal(0)
    if 0 < result.bound < inf:
        proven = round_down(result.bound, digits)
    if result.decisions is not None:
        cost = round(cost_of(problem, result.decisions).grocery, 6)
        found = round_up(cost, digits)
        proven = min(proven, found)
        oracle.learn(problem, result.decisions)
    if result.infeasible:
        oracle.assume_unmet(rest)
    least = LeastBudget(found, proven, problem, result.decisions, result.infeasible)
    if scenario.budget is not None and least.forbids(float(scenario.budget)):
        oracle.assume_unmet(oracle.limits)
    return least


def budget_conflict(oracle: Oracle, least: LeastBudget) -> Conflict:
    """Return the budget and the limits that together prove it too small.

    The budget is tried alone, then with energy, then with all windows. From the first of these
    that gives a proof, limits are left out while the proof holds and time lasts. The week found
    shows that the budget is needed; of the other limits, fewer may do.
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
