"""The search over day menus, end to end on small weeks: honest plans, bounds and endings."""

from __future__ import annotations

from dataclasses import replace

import pytest

from model.audited import audited
from model.small import EXACT, catalog, client, food, pack, random_kitchen, recipe
from model.small import scenario as scenario_of
from planopt.model.daymenus import MenuTable
from planopt.problem.build import Problem, build_problem
from planopt.problem.decisions import cost_of
from planopt.solve.budget import Budget
from planopt.solve.engine.bymenus import search_menus
from planopt.solve.engine.walks import whole_menus
from planopt.solve.highs.daymodel import search_plain
from planopt.solve.progress import Progress
from planopt.solve.result import SearchResult
from planopt.solve.settings import SolveSettings
from solve.smallweeks import least_cost, week

QUICK = SolveSettings(gap=0.0, time_limit_s=2.5)
BY_WORK = SolveSettings(gap=0.0, work_limit=40)
# Counts of nodes that end in a moment; the relaxation of OPEN proves far less than its least cost.
EASY = (2, 10)
OPEN = 10
FEASIBLE = tuple(seed for seed in range(8) if least_cost(seed) is not None)


def _search(problem: Problem, settings: SolveSettings) -> SearchResult:
    return search_menus(problem, settings, Budget(settings))


def _assert_honest(seed: int, result: SearchResult) -> float:
    """Assert a compliant plan and bound <= least cost <= objective; return the objective."""
    problem, least = week(seed), least_cost(seed)
    assert least is not None
    assert result.decisions is not None
    assert not result.infeasible
    objective = cost_of(problem, result.decisions).objective
    assert result.bound <= least + 1e-5
    assert objective >= least - 1e-4
    drawn = random_kitchen(seed)
    audited(problem, drawn.catalog, drawn.scenario, result.decisions, result.bound)
    return objective


def test_a_search_that_begins_from_a_week_given_is_never_dearer() -> None:
    """Counted by one node, the search ends at least as cheap as the week that it was given."""
    seed = FEASIBLE[0]
    problem = week(seed)
    best = search_plain(problem, EXACT).decisions
    assert best is not None
    settings = BY_WORK.model_copy(update={"work_limit": 1})
    result = search_menus(problem, settings, Budget(settings), start=best)
    assert result.decisions is not None
    objective = cost_of(problem, result.decisions).objective
    assert objective <= cost_of(problem, best).objective + 1e-6


def test_only_whole_days_within_their_windows_are_taken_over() -> None:
    """A day with a meal missing, or past a window of the new problem, is planned anew."""
    problem = week(FEASIBLE[0])
    best = search_plain(problem, EXACT).decisions
    assert best is not None
    tables = [MenuTable(problem, g) for g in range(len(problem.groups))]
    days = {(g, d) for g, group in enumerate(problem.groups) for d in range(len(group.days))}
    assert set(whole_menus(problem, problem, tables, best)) == days
    first = next(iter(best.servings))
    less = {key: amount for key, amount in best.servings.items() if key != first}
    assert len(whole_menus(problem, problem, tables, replace(best, servings=less))) == len(days) - 1
    narrow = tuple(
        replace(group, rules=tuple(replace(rule, low=0.0, high=1.0) for rule in group.rules[:1]))
        for group in problem.groups
    )
    narrowed = replace(problem, groups=narrow)
    assert whole_menus(problem, narrowed, tables, best) == {}


@pytest.mark.parametrize("seed", FEASIBLE[:3])
def test_a_timed_search_is_honest(seed: int) -> None:
    """With the bound worker beside: a compliant plan, and the least cost between bound and it."""
    settings = QUICK.model_copy(update={"gap": 0.01})
    result = _search(week(seed), settings)
    objective = _assert_honest(seed, result)
    if result.status == "optimal":
        assert objective - result.bound <= 0.01 * objective
    else:
        assert result.status == "time_limit"
        assert result.seconds < QUICK.time_limit_s + 3


@pytest.mark.parametrize("seed", EASY)
def test_an_easy_week_is_planned_at_its_least_cost_and_again_the_same(seed: int) -> None:
    """Counted in nodes, the search ends by itself at the optimum of the day-by-day model.

    No clock and no second process has a say in what is found, so a second run finds the same.
    """
    result = _search(week(seed), BY_WORK)
    least = least_cost(seed)
    assert _assert_honest(seed, result) == pytest.approx(least, abs=1e-4)
    assert result.status in ("optimal", "work_limit")
    again = _search(week(seed), BY_WORK)
    assert (again.decisions, again.bound) == (result.decisions, result.bound)


def test_one_thread_is_enough() -> None:
    """With one thread the bound is raised after the plan is found; nothing else changes."""
    settings = QUICK.model_copy(update={"threads": 1})
    result = _search(week(FEASIBLE[0]), settings)
    _assert_honest(FEASIBLE[0], result)
    # With room for a slow machine.
    assert result.seconds < settings.time_limit_s + 60


@pytest.mark.slow
def test_a_wide_gap_ends_at_the_first_good_plan() -> None:
    """A gap that the first bounds prove ends the search long before its time."""
    settings = SolveSettings(gap=0.9, time_limit_s=600.0)
    result = _search(week(FEASIBLE[0]), settings)
    objective = _assert_honest(FEASIBLE[0], result)
    assert result.status == "optimal"
    assert objective - result.bound <= 0.9 * objective
    assert result.seconds < 300


@pytest.mark.parametrize("threads", [1, 2])
def test_an_interrupted_search_returns_its_best_plan(threads: int) -> None:
    """Asked to stop once a plan is known, the search ends soon, with that plan and its bound."""
    settings = SolveSettings(gap=0.0, time_limit_s=600.0, threads=threads)
    told: list[Progress] = []

    def listen(progress: Progress) -> None:
        told.append(progress)
        if progress.best_objective is not None:
            budget.stop()

    budget = Budget(settings, listen)
    result = search_menus(week(OPEN), settings, budget)
    _assert_honest(OPEN, result)
    assert result.status == "interrupted"
    assert result.seconds < 300
    assert all(progress.seconds >= 0 for progress in told)


def test_an_interrupt_before_any_plan_claims_nothing() -> None:
    """Stopped before it began, the search has no plan and does not call the week impossible."""
    budget = Budget(QUICK)
    budget.stop()
    result = search_menus(week(FEASIBLE[0]), QUICK, budget)
    assert result.status in ("interrupted", "optimal")
    assert not result.infeasible


def test_progress_never_goes_back() -> None:
    """Told from the first plan on, plans only get cheaper and bounds only rise."""
    told: list[Progress] = []
    settings = SolveSettings(gap=0.0, time_limit_s=2.0)
    search_menus(week(OPEN), settings, Budget(settings, told.append))
    plans = [p.best_objective for p in told if p.best_objective is not None]
    bounds = [p.best_bound for p in told if p.best_bound is not None]
    assert plans == sorted(plans, reverse=True)
    assert bounds == sorted(bounds)
    assert plans


def _stew(**keys: object) -> Problem:
    dish = recipe("stew", {"beans": 100}, yield_servings=1)
    other = recipe("soup", {"beans": 150}, yield_servings=1)
    foods, packs = [food("beans", kcal=500)], [pack("beans", 100, "1.00")]
    return build_problem(catalog(foods, packs, [dish, other]), scenario_of(days=2, **keys))


@pytest.mark.parametrize(
    "keys",
    [
        {"clients": [client(windows_per_day={"energy_kcal": {"min": 5000}})]},
        {"cook_days": [{"day": 1, "hands_on_minutes": 5}]},
        {"clients": [client(windows_per_week={"energy_kcal": {"min": 1600}})]},
        {"budget": "1.50"},
    ],
    ids=["day window", "minutes", "plan window", "budget"],
)
def test_a_proof_that_no_week_complies_is_told(keys: dict[str, object]) -> None:
    """Day windows, cook-day limits, plan windows or budget out of reach end without a plan."""
    settings = EXACT.model_copy(update={"time_limit_s": 10.0})
    result = _search(_stew(**keys), settings)
    assert result.decisions is None
    assert result.infeasible
    assert result.status != "optimal"
