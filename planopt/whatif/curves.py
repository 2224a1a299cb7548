"""Curves: what a week costs against its budget, and against a window of one client.

Below the least cost at which a week complies, the budget curve tells by how much windows must be
missed, the most important nutrient first. Allergens and exclusions hold on every point, and so do
the floor of a day's energy and all rules that are no windows.

Method: a parametric sweep (`ladder.py`); below the least cost, goals in levels (lexicographic).
Source: Charnes and Cooper, Management Models and Industrial Applications of Linear Programming
(1961), from memory.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from decimal import Decimal
from math import inf
from time import perf_counter

from planopt.plan.records import Plan
from planopt.plan.reread import decisions_of, versions_in
from planopt.problem.build import build_problem
from planopt.problem.decisions import Decisions, cost_of
from planopt.problem.limits import Limit, least_value, limits_of, with_limits
from planopt.scenario.reading.changed import with_scenario
from planopt.scenario.reading.load import Kitchen
from planopt.scenario.records import Scenario
from planopt.scenario.references import guarded
from planopt.scenario.windows import ENERGY
from planopt.solve.engine.search import search
from planopt.solve.limits.elastic import ElasticModel, Give
from planopt.solve.settings import SolveSettings
from planopt.tolerances import GOAL_SHARE
from planopt.units import minor_digits, round_down, round_up
from planopt.whatif.ladder import Rung, climb
from planopt.whynot.leastbudget import groceries_only
from planopt.whynot.verify import audited
from planopt.whynot.witness import amount_of

_SHORT_POINTS = 0.4
_TOP = Decimal("1.25")


@dataclass(frozen=True)
class Least:
    """The least money for groceries with which some week exists: one that does, and a proof.

    Both are in units of the currency; `found` is None where no week was found in time.
    """

    found: Decimal | None
    bound: Decimal


@dataclass(frozen=True)
class Missed:
    """How much one nutrient misses its windows in all: sums over clients and days.

    `share` adds up each miss as a share of its limit; `bound` is what of it is proven not to be
    avoidable, given that more important nutrients miss no more than here. `amount` is in the
    nutrient's unit.
    """

    nutrients: tuple[str, ...]
    share: float
    bound: float
    amounts: tuple[float, ...]


@dataclass(frozen=True)
class ShortPoint:
    """A budget with which no week complies: the least miss, or `missed` None where none exists.

    `proven` tells that no week at all exists with this budget, where `missed` is None.
    """

    budget: Decimal
    missed: tuple[Missed, ...] | None
    proven: bool


@dataclass(frozen=True)
class BudgetCurve:
    """Cost against budget; `complies` and `exists` are the two budgets where something changes.

    `exists` is the least with which there is a week at all once windows may be missed.
    """

    complies: Least
    exists: Least
    points: tuple[Rung, ...]
    short: tuple[ShortPoint, ...]
    seconds: float


def importance_levels(scenario: Scenario) -> list[tuple[str, ...]]:
    """Return the nutrients that windows name, in levels of importance, the first the highest."""
    named = sorted({limit.key.what for limit in limits_of(scenario) if limit.key.kind == "window"})
    order = scenario.importance or (ENERGY, "protein_g")
    levels: list[tuple[str, ...]] = [(nutrient,) for nutrient in order if nutrient in named]
    rest = tuple(nutrient for nutrient in named if nutrient not in order)
    return [*levels, rest] if rest else levels


def missing_allowed(scenario: Scenario) -> Scenario:
    """Return the scenario with its windows open, but for the floor of a day's energy."""
    kept = []
    for limit in limits_of(scenario):
        if limit.key.kind != "window":
            kept.append(limit)
        elif limit.from_below and least_value(scenario, limit) > 0:
            kept.append(Limit(limit.key, least_value(scenario, limit)))
    return with_limits(scenario, kept)


def least_groceries(
    kitchen: Kitchen, scenario: Scenario, settings: SolveSettings, start: Decisions | None = None
) -> tuple[Least, Plan | None]:
    """Return the least groceries of a scenario, its budget aside, and a plan that needs no more."""
    problem = build_problem(kitchen.catalog, groceries_only(scenario))
    result = search(problem, settings, None, start)
    digits = minor_digits(scenario.currency)
    bound = Decimal(0)
    if 0 < result.bound < inf:
        bound = round_down(result.bound, digits)
    if result.decisions is None:
        return Least(None, bound), None
    cents = round(cost_of(problem, result.decisions).grocery, 6)
    found = round_up(cents, digits)
    free = scenario.model_copy(update={"budget": None})
    plan = audited(kitchen.catalog, free, problem, result.decisions)
    return Least(found, min(bound, found)), plan


def budget_curve(
    kitchen: Kitchen,
    settings: SolveSettings,
    base: Plan,
    *,
    points: int = 12,
    seconds: float = 60.0,
) -> BudgetCurve:
    """Return the budget curve of a kitchen, at least `points` budgets in about that many seconds.

    Raises:
        AuditFailed: a plan found does not hold.
    """
    began = perf_counter()
    # Limits of a guard are windows like others, so that they can be missed with them.
    kitchen = with_scenario(kitchen, guarded(kitchen.catalog, kitchen.scenario))
    quick = settings.model_copy(update={"time_limit_s": 0.15 * seconds, "gap": 0.0})
    complies, cheapest = least_groceries(kitchen, kitchen.scenario, quick)
    open_scenario = missing_allowed(kitchen.scenario)
    exists, week = least_groceries(kitchen, open_scenario, quick)
    low = complies.found or base.solution.grocery_cost
    first = exists.found if exists.found is not None else exists.bound
    step = Decimal(1).scaleb(-minor_digits(kitchen.scenario.currency))
    # Between the two least budgets windows must be missed; without such budgets, all comply.
    last = complies.bound - step
    below = round(points * _SHORT_POINTS) if last > first else 0
    top = max(base.solution.grocery_cost, low * _TOP)
    budgets = _between(low, top, points - below, kitchen)
    loosest_first = [(float(budget), _with_budget(kitchen, budget)) for budget in reversed(budgets)]
    share = 0.4 if below else 0.65
    known = [base] if cheapest is None else [base, cheapest]
    own = kitchen.scenario.budget
    tighter = [float(budget) for budget in budgets if own is None or budget <= own]
    proven = {max(tighter): base.solution.best_bound} if tighter else {}
    rungs = climb(loosest_first, settings, known, share * seconds, proven)
    short_budgets = _between(first, last, below, kitchen) if below else []
    left = max(1.0, seconds - (perf_counter() - began))
    short = _short_points(kitchen, short_budgets, settings, week, left)
    return BudgetCurve(
        complies, exists, tuple(reversed(rungs)), tuple(short), perf_counter() - began
    )


def _between(low: Decimal, high: Decimal, count: int, kitchen: Kitchen) -> list[Decimal]:
    digits = minor_digits(kitchen.scenario.currency)
    span = (high - low) / max(1, count - 1)
    found = [round_up(low + n * span, digits) for n in range(max(1, count))]
    return sorted(set(found))


def _with_budget(kitchen: Kitchen, budget: Decimal) -> Kitchen:
    return with_scenario(kitchen, kitchen.scenario.model_copy(update={"budget": budget}))


def _short_points(
    kitchen: Kitchen,
    budgets: Sequence[Decimal],
    settings: SolveSettings,
    week: Plan | None,
    seconds: float,
) -> list[ShortPoint]:
    """Return the least misses, from the largest budget down."""
    levels = importance_levels(kitchen.scenario)
    found: list[ShortPoint] = []
    none_below = False
    for left, budget in zip(range(len(budgets), 0, -1), reversed(budgets), strict=True):
        if none_below:
            found.append(ShortPoint(budget, None, proven=True))
            continue
        began = perf_counter()
        share = seconds / left / max(1, len(levels))
        quick = settings.model_copy(update={"time_limit_s": max(0.3, share), "gap": 0.0})
        point = short_point(kitchen, budget, levels, quick, week)
        none_below = point.missed is None and point.proven
        found.append(point)
        seconds = max(0.0, seconds - (perf_counter() - began))
    return list(reversed(found))


def short_point(
    kitchen: Kitchen,
    budget: Decimal,
    levels: Sequence[tuple[str, ...]],
    settings: SolveSettings,
    week: Plan | None = None,
) -> ShortPoint:
    """Return by how much windows must be missed with a budget, level after level.

    `week` is a plan of the scenario with its windows open, to begin from. The time limit of
    `settings` holds for each level.
    """
    scenario = kitchen.scenario.model_copy(update={"budget": budget})
    windows = [limit for limit in limits_of(scenario) if limit.key.kind == "window"]
    gives = []
    for limit in windows:
        room = limit.value - least_value(scenario, limit) if limit.from_below else inf
        gives.append(Give(((limit, 1.0),), room, 1.0 / max(limit.value, 1.0)))
    problem = build_problem(kitchen.catalog, scenario, versions_in(week))
    model = ElasticModel(problem, gives)
    start = None if week is None else decisions_of(week, problem)
    missed = []
    for level in levels:
        mine = {n: gives[n].weight for n, w in enumerate(windows) if w.key.what in level}
        given = model.least(settings, mine, start)
        if given.decisions is None or given.amounts is None:
            return ShortPoint(budget, None, proven=given.infeasible)
        start = given.decisions
        total = sum(weight * given.amounts[n] for n, weight in mine.items())
        model.hold(mine, total + GOAL_SHARE)
        missed.append((level, total, max(0.0, min(given.bound, total))))
    assert start is not None
    rows = []
    for level, total, bound in missed:
        amounts = tuple(
            sum(
                _miss(limit, amount_of(problem, start, limit.key))
                for limit in windows
                if limit.key.what == nutrient
            )
            for nutrient in level
        )
        rows.append(Missed(level, total, bound, amounts))
    return ShortPoint(budget, tuple(rows), proven=False)


def _miss(limit: Limit, amount: float) -> float:
    miss = limit.value - amount if limit.from_below else amount - limit.value
    return miss if miss > GOAL_SHARE * max(1.0, limit.value) else 0.0
