"""Weeks that HiGHS takes day by day start from a week that was put together, and end no dearer."""

from __future__ import annotations

import math
from dataclasses import replace
from functools import lru_cache
from pathlib import Path
from typing import Any

import pytest
import yaml

from model.small import EXACT, random_kitchen
from planopt.faults import NoPlanInTime
from planopt.model.daymenus import MenuTable
from planopt.pipeline import _no_plan, make_plan
from planopt.problem.build import build_problem
from planopt.problem.decisions import cost_of
from planopt.scenario.reading.load import load_kitchen
from planopt.solve.bounding.worker import BoundWorker
from planopt.solve.budget import Budget
from planopt.solve.engine.search import search
from planopt.solve.engine.simpler import simpler_problems
from planopt.solve.engine.state import SearchState
from planopt.solve.engine.walks import realize
from planopt.solve.heuristics.destroyrepair import LocalSearch
from planopt.solve.heuristics.tidy import carried_out
from planopt.solve.highs.daymodel import build_plain, search_plain
from planopt.solve.highs.solver import solve_matrix
from planopt.solve.progress import Progress
from planopt.solve.result import SearchResult
from planopt.solve.settings import SolveSettings
from slow import few

ROOT = Path(__file__).resolve().parents[2]
CATALOG = ROOT / "catalogs"
DEMO = ROOT / "scenarios" / "demo_week.yaml"
COACHED = {
    "id": "ana",
    "name": "Ana",
    "allergens": ["peanut", "milk"],
    "windows_per_day": {"energy_kcal": {"min": 1400, "max": 1800}, "protein_g": {"min": 60}},
}


@lru_cache
def _demo() -> dict[str, Any]:
    found: dict[str, Any] = yaml.safe_load(DEMO.read_text(encoding="utf-8"))
    found.pop("variants")
    return {**found, "catalog": CATALOG.as_posix()}


def _file(folder: Path, keys: dict[str, Any]) -> Path:
    path = folder / "week.yaml"
    path.write_text(yaml.safe_dump(keys), encoding="utf-8")
    return path


@pytest.mark.parametrize(("days", "most"), few([(2, 50.0), (3, 60.0), (5, 90.0)], 1))
def test_a_short_week_buys_what_it_cooks(tmp_path: Path, days: int, most: float) -> None:
    """A few days of one client cost a few tens; the solver's own weeks had cost up to 2,089."""
    keys = {
        "name": "Short week", "catalog": CATALOG.as_posix(), "currency": "USD", "days": days,
        "start_date": "2026-11-30", "cook_days": [{"day": 0}], "clients": [COACHED],
        "meals": ["breakfast", "lunch", "dinner"],
    }  # fmt: skip
    kitchen = load_kitchen(_file(tmp_path, keys))
    plan = make_plan(kitchen, SolveSettings(time_limit_s=6))
    assert float(plan.solution.objective) < most
    assert {row.food_id for row in plan.purchases} <= {
        line.food_id for batch in plan.batches for line in batch.lines
    }


@pytest.mark.slow
@pytest.mark.parametrize("option", ["two dishes", "any amount"])
def test_documented_options_find_a_plan_in_ten_seconds(tmp_path: Path, option: str) -> None:
    """Two dishes a meal and portions of any amount had no plan of the demo week in 60 s."""
    keys = {**_demo(), "meal_defaults": "off", "work_prices": {}}
    if option == "two dishes":
        keys["most_dishes_per_meal"] = 2
    else:
        sizes = {"step": "any", "smallest": 0.5, "largest": 2}
        keys["clients"] = [{**one, "portions": sizes} for one in keys["clients"]]
    plan = make_plan(load_kitchen(_file(tmp_path, keys)), SolveSettings(time_limit_s=10))
    assert float(plan.solution.objective) < 400


def test_the_better_of_two_weeks_wins() -> None:
    """Whatever HiGHS ends with after a start, the answer is never above the constructed week."""
    for seed in range(0, 12):
        problem = random_kitchen(seed, one_dish=False).problem
        result = search(problem, EXACT)
        alone = search_plain(problem, EXACT)
        assert (result.decisions is None) == (alone.decisions is None)
        if result.decisions is not None and alone.decisions is not None:
            cost = cost_of(problem, result.decisions).objective
            assert cost <= cost_of(problem, alone.decisions).objective + 1e-6
            assert result.bound <= cost + 1e-6


@pytest.mark.parametrize("seed", few(range(20), 8))
def test_weeks_of_simpler_problems_are_weeks_of_the_real_one(seed: int) -> None:
    """One dish a meal, or two helpings, on a grid of portions: lifted, HiGHS can complete them."""
    problem = random_kitchen(seed, one_dish=False).problem
    for simple in simpler_problems(problem):
        result = search(simple.searched, SolveSettings(gap=0.5, time_limit_s=5, threads=1))
        week = None if result.decisions is None else simple.lifted(result.decisions)
        if week is None:
            continue
        # Held to the portions of the week, the whole model still has a point.
        model = build_plain(problem)
        place = {name: i for i, name in enumerate(model.matrix.names)}
        for (i, j), portion in model.menus.portion.items():
            amount = week.servings.get((i, j), 0.0) / model.menus.servings(i, j)[1]
            column = place[portion.name]
            model.matrix.lower[column] = model.matrix.upper[column] = amount
        assert solve_matrix(model.matrix, EXACT).status == "Optimal"


def test_portions_of_any_amount_stay_between_smallest_and_largest() -> None:
    """The grid of a simpler problem lies within the client's own sizes."""
    for smallest, largest in ((0.5, 2.0), (0.3, 0.9), (0.0, 1.0), (0.75, 0.75), (0.4, 0.45)):
        sizes = {"step": "any", "smallest": smallest, "largest": largest}
        drawn = random_kitchen(3)
        scenario = drawn.scenario.model_copy(
            update={
                "clients": tuple(
                    one.model_copy(update={"portions": type(one.portions).model_validate(sizes)})
                    for one in drawn.scenario.clients
                )
            }
        )
        for simple in simpler_problems(build_problem(drawn.catalog, scenario)):
            for one in simple.problem.clients:
                assert one.portions.step != "any"
                assert smallest - 1e-9 <= one.portions.smallest
                assert one.portions.smallest <= one.portions.largest <= largest + 1e-9


def test_a_bound_below_nothing_is_never_told(tmp_path: Path) -> None:
    """No week costs less than nothing, so a solver's bound of -12434.37 is no news."""
    keys = {**_demo(), "most_dishes_per_meal": 2}
    kitchen = load_kitchen(_file(tmp_path, keys))
    problem = build_problem(kitchen.catalog, kitchen.scenario)
    told: list[Progress] = []
    result = search(problem, SolveSettings(time_limit_s=0.05), told.append)
    assert result.bound >= 0
    assert all(one.best_bound is None or one.best_bound > 0 for one in told)
    for bound in (-12434.37, -math.inf, math.nan, 0.0):
        ended = SearchResult("time_limit", "Time limit reached", None, bound, "", False, 1.0, 1.0)
        assert "No plan can cost less" not in str(_no_plan(ended, "USD"))
    ended = SearchResult("time_limit", "Time limit reached", None, 24.0, "", False, 1.0, 1.0)
    assert "No plan can cost less than 24.00 USD" in str(_no_plan(ended, "USD"))
    with pytest.raises(NoPlanInTime) as raised:
        make_plan(kitchen, SolveSettings(time_limit_s=0.05))
    assert "-" not in str(raised.value).replace("--time-limit", "")


def test_a_part_of_the_clock_ends_with_itself_or_the_whole() -> None:
    """A part has at most its own seconds, never more than the whole has, and hears Ctrl-C."""
    budget = Budget(SolveSettings(time_limit_s=50), None)
    part = budget.part(5)
    assert 4 < part.left() <= 5
    assert 49 < budget.part(500).left() <= 50
    assert not part.over()
    budget.stop()
    assert part.over()
    assert Budget(SolveSettings(work_limit=3)).part(1).left() == math.inf


def test_a_walk_that_breaks_a_rule_gives_no_week() -> None:
    """What the kitchen could cook is no plan where a client's own rules are broken."""
    seen = 0
    for seed in range(40):
        problem = random_kitchen(seed).problem
        rules = {"least_different_recipes": 4, "most_repeats": 1}
        strict = replace(problem, clients=tuple(replace(one, **rules) for one in problem.clients))
        tables = [MenuTable(strict, g) for g in range(len(strict.groups))]
        if any(table.empty for table in tables):
            continue
        settings = SolveSettings(time_limit_s=5)
        budget = Budget(settings)
        state = SearchState(strict, settings, budget, BoundWorker(), strict)
        local = LocalSearch(strict, tables, seed)
        if not local.start() or local.within_rules():
            continue
        seen += carried_out(strict, local.servings()) is not None
        realize(state, local)
        assert state.best is None
    assert seen > 3
