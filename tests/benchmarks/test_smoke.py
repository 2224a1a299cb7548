"""The benchmarks still run: the smallest kitchen of each kind gives plans that the audit accepts.

Nothing here looks at a clock.
"""

from __future__ import annotations

from dataclasses import asdict, replace
from math import inf
from pathlib import Path

import pytest

from benchmarks.ablation import VARIANTS, weekly_matrix
from benchmarks.bench import Bench, Options, Table, first_plans, gap_at, trouble
from benchmarks.cbclog import cbc_bound, cbc_first_plan
from benchmarks.households import roster_text, write_households
from benchmarks.instances import (
    Shape,
    book,
    kcal_per_serving,
    knobs,
    make_instance,
    shared,
    single,
)
from benchmarks.measure import Job, read_kitchen, relative_gap, run_job
from benchmarks.others import NOT_AVAILABLE, SOLVERS
from benchmarks.run import table_text
from benchmarks.tables import TABLES
from planopt.problem.build import build_problem
from planopt.scenario.households.parties import load_kitchens
from planopt.solve.highs.solver import solve_matrix
from slow import few

SMALLEST: dict[str, Shape] = {
    "single": replace(single(), recipes=30, foods=50),
    "shared": replace(shared(2), recipes=12, foods=30, days=2),
    "book": replace(book(12), days=2),
    "one cook day": Shape(recipes=12, foods=30, days=2, cook_days=1),
    "three meals": Shape(recipes=12, foods=30, days=2, meals=3),
}
KNOBS = {label: replace(shape, recipes=20, foods=50) for label, shape in knobs().items()}


@pytest.mark.parametrize("name", few(SMALLEST, 0))
def test_the_search_finds_a_plan_that_the_audit_accepts(name: str) -> None:
    """The first plan is enough: any proven gap ends the search."""
    figures = run_job(Job("search", asdict(SMALLEST[name]), seconds=60, gap=0.95))
    assert figures["objective"] is not None, figures["status"]
    assert figures["findings"] == []
    assert figures["bound"] <= figures["objective"]
    assert 0 <= figures["gap"] <= 1


def test_every_way_to_plan_gives_audited_plans() -> None:
    """The day-by-day model goes whole to HiGHS, and to other solvers where they are installed."""
    shape = asdict(Shape(recipes=10, foods=30, days=2, meals=2))
    for way in ("plain", "strong", *SOLVERS):
        figures = run_job(Job(way, shape, seconds=60, gap=0.5))
        if figures["status"] != NOT_AVAILABLE:
            assert figures["objective"] is not None, way
            assert figures["findings"] == [], way
            assert figures["bound"] <= figures["objective"] + 1e-6, way
            assert figures["peak_mb"] > 0


@pytest.mark.parametrize("label", KNOBS)
def test_every_meal_of_a_generated_kitchen_has_options(label: str) -> None:
    """Recipes look like recipes, and no meal is without a dish."""
    instance = make_instance(KNOBS[label])
    for recipe in instance.catalog.recipes.values():
        assert 4 <= len(recipe.lines) <= 9
        assert 250 <= kcal_per_serving(recipe, instance.catalog.foods) <= 700
    problem = build_problem(instance.catalog, instance.scenario)
    assert len(problem.slots) == 28
    assert all(slot.options for slot in problem.slots)


def test_a_seed_is_one_kitchen() -> None:
    """Same shape, same kitchen; another seed, another one."""
    assert make_instance(book(20)) == make_instance(book(20))
    assert make_instance(book(20, 2)).catalog != make_instance(book(20)).catalog


def test_what_is_left_out_weakens_the_relaxation() -> None:
    """No variant's LP is above that with all rows, and some rows are worth something."""
    job = Job("ablation", asdict(Shape(recipes=20, foods=50)))
    _, _, problem, _ = read_kitchen(job)
    lp = {
        name: solve_matrix(weekly_matrix(problem, name).relaxed(), job.settings()).bound
        for name in VARIANTS
    }
    assert max(lp.values()) <= lp["all rows"] + 1e-6
    assert lp["no strengthening"] < lp["all rows"]
    assert all(value > 0 for value in lp.values())


def test_a_run_in_a_process_of_its_own_becomes_a_row() -> None:
    """A job goes out and comes back; a failing one is told as such."""
    bench = Bench(Options(seeds=1, seconds=5))
    shape = asdict(Shape(recipes=10, foods=30, days=2, meals=2))
    assert bench.run("build", "small", bench.job("build", shape))["plain_s"] > 0
    assert "unknown" in bench.run("build", "wrong", bench.job("unknown", shape))["error"]
    assert [run["label"] for run in bench.done] == ["small", "wrong"]
    text = table_text(Table("title", ("way", "gap %"), [["search", "1.0"]], ("a note",)))
    assert text.splitlines()[0] == "title"
    assert text.splitlines()[-1] == "- a note"
    assert set(TABLES) >= {"demo", "single", "clients", "recipes", "build", "ablation", "memory"}


def test_invented_households_are_sound_and_stay_the_same(tmp_path: Path) -> None:
    """Every household can be planned as far as its data goes, and more of them change none."""
    kitchens = load_kitchens(write_households(tmp_path, 6))
    assert [part.kitchen_id for part in kitchens.parts] == [f"h{n:04d}" for n in range(6)]
    assert all(part.scenario is not None and not part.left_out for part in kitchens.parts)
    assert roster_text(8).startswith(roster_text(6))
    assert roster_text(6, seed=2) != roster_text(6)


def test_gaps_are_read_at_a_moment() -> None:
    """Before the first plan there is no gap, and without a bound it is the whole."""
    result = {"events": [(1.0, None, 5.0), (2.0, 10.0, 5.0), (4.0, 8.0, 6.0)]}
    assert gap_at(result, 1.5) == float("inf")
    assert gap_at(result, 3.0) == 50.0
    assert gap_at(result, 9.0) == 25.0
    assert relative_gap(10.0, None) == 1.0


def test_the_log_of_cbc_is_read() -> None:
    """Bound and first plan stand in lines of their own."""
    log = (
        "Cbc0038I After 1.25 seconds - Feasibility pump exiting with objective of 12.5 - took 1 s\n"
        "Cbc0012I Integer solution of 11.5 found by rounding after 7 iterations (2.75 seconds)\n"
        "Objective value:                11.50000000\n"
        "Lower bound:                    9.500\n"
    )
    assert cbc_first_plan(log) == 1.25
    assert cbc_bound(log) == 9.5
    assert cbc_first_plan("") is None
    assert cbc_bound("") is None


def test_tables_name_solvers_that_are_missing_and_times_that_are_not_told() -> None:
    """A solver that is not installed is no solver without a plan, nor is an untold time zero."""
    absent = {"status": NOT_AVAILABLE, "objective": None, "bound": None}
    untold = {"status": "FEASIBLE", "objective": 12.0, "first_s": None}
    timed = {"status": "Optimal", "objective": 11.0, "first_s": 0.5}
    assert trouble([("SCIP", absent), ("CP-SAT", untold)]) == (
        "SCIP: this solver is not installed",
    )
    assert first_plans([absent, untold, timed]) == [inf, 0.5]
