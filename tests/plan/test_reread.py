"""A plan read back: all of it for its own problem, what still fits for another."""

from __future__ import annotations

from pathlib import Path

import pytest

from kitchens import write_kitchen
from planopt.pipeline import make_plan
from planopt.plan.reread import decisions_of
from planopt.problem.build import build_problem
from planopt.problem.decisions import cost_of
from planopt.scenario.reading.load import Kitchen, load_kitchen
from planopt.scenario.variants.apply import apply_variant
from planopt.scenario.variants.words import variant_of_words
from planopt.solve.engine.search import search
from planopt.solve.settings import SolveSettings

EXACT = SolveSettings(gap=0.0)


@pytest.fixture
def kitchen(tmp_path: Path) -> Kitchen:
    """Return the tiny kitchen."""
    return load_kitchen(write_kitchen(tmp_path))


def test_its_own_problem_gives_all_of_it_at_the_same_cost(kitchen: Kitchen) -> None:
    """Batches, portions and packs are all found, and cost what the plan says."""
    plan = make_plan(kitchen, EXACT)
    problem = build_problem(kitchen.catalog, kitchen.scenario)
    found = decisions_of(plan, problem)
    assert len(found.batches) == len(plan.batches)
    assert len(found.servings) == len(plan.portions) == len(problem.slots)
    assert len(found.packs) == len(plan.purchases)
    cost = cost_of(problem, found).objective
    assert cost == pytest.approx(float(plan.solution.objective), abs=0.005)


def test_another_problem_gives_what_still_fits(kitchen: Kitchen) -> None:
    """With the client away on the third day, exactly that day's portions are gone."""
    plan = make_plan(kitchen, EXACT)
    variant = variant_of_words(["ana away on day 3"], kitchen.catalog, kitchen.scenario)
    catalog, scenario = apply_variant(kitchen.catalog, kitchen.scenario, variant)
    problem = build_problem(catalog, scenario)
    found = decisions_of(plan, problem)
    expected = [p for p in plan.portions if p.day != 3]
    assert len(found.servings) == len(expected) < len(plan.portions)
    for (i, j), servings in found.servings.items():
        slot = problem.slots[i]
        dish = problem.dishes[slot.options[j].dish]
        (portion,) = [p for p in expected if (p.day, p.meal) == (slot.day, slot.meal)]
        assert (portion.recipe_id, portion.version) == dish.key
        assert portion.servings == servings


def test_a_search_that_begins_from_the_optimum_never_ends_dearer(kitchen: Kitchen) -> None:
    """One node of work is enough when the cheapest week is where the search starts."""
    plan = make_plan(kitchen, EXACT)
    problem = build_problem(kitchen.catalog, kitchen.scenario)
    start = decisions_of(plan, problem)
    quick = SolveSettings(gap=0.0, work_limit=1, threads=1)
    result = search(problem, quick, None, start)
    assert result.decisions is not None
    objective = cost_of(problem, result.decisions).objective
    assert objective == pytest.approx(cost_of(problem, start).objective, abs=1e-6)
