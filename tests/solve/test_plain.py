"""The day-by-day model handed whole to HiGHS, and its points read back as decisions."""

from __future__ import annotations

from math import inf

import numpy as np
import pytest

from model.small import EXACT, catalog, client, food, pack, random_kitchen, recipe, scenario
from planopt.problem.build import Problem, build_problem
from planopt.problem.decisions import cost_of
from planopt.solve.highs.daymodel import build_plain, search_plain
from planopt.solve.highs.reading import kitchen_decisions
from planopt.solve.settings import SolveSettings


def _porridge(**keys: object) -> Problem:
    """Return a kitchen with one food, one dish in half batches, and one way to feed the client."""
    dish = recipe(
        "porridge", {"oats": 100}, yield_servings=1, batch={"step": "half", "most_per_cook_day": 3}
    )
    return build_problem(
        catalog([food("oats", kcal=380)], [pack("oats", 500, "1.60")], [dish]), scenario(**keys)
    )


def test_a_week_reckoned_by_hand() -> None:
    """One serving takes two half batches and a pack of 500 g; what is left of it is carried."""
    result = search_plain(_porridge(), EXACT)
    assert (result.status, result.solver_status) == ("optimal", "Optimal")
    assert not result.infeasible
    assert result.bound == pytest.approx(1.6)
    assert result.decisions is not None
    assert result.decisions.batches == {0: 1.0}
    assert result.decisions.servings == {(0, 0): 1.0}
    assert result.decisions.packs == {(0, 0): 1.0}
    assert result.build_seconds >= 0
    assert result.seconds >= 0


def test_an_impossible_week_is_proven_and_has_no_decisions() -> None:
    """A window out of reach ends as infeasible, with nothing to read."""
    eater = client(windows_per_day={"energy_kcal": {"min": 5000}})
    result = search_plain(_porridge(clients=[eater]), EXACT)
    assert result.infeasible
    assert result.decisions is None


def test_no_time_means_no_claim() -> None:
    """Stopped at once, the search says so: no plan, no proof of either kind."""
    quick = SolveSettings(gap=0.0, time_limit_s=1e-9)
    result = search_plain(random_kitchen(1).problem, quick)
    assert result.status == "time_limit"
    assert result.decisions is None
    assert not result.infeasible
    assert result.bound == -inf


def test_a_watcher_is_handed_on() -> None:
    """The plain search stops when its watcher says so."""
    result = search_plain(random_kitchen(1).problem, EXACT, watch=lambda *_: True)
    assert result.status in ("interrupted", "optimal")  # a kitchen may end before the first look


@pytest.mark.parametrize("seed", range(16))
def test_decisions_cost_what_the_solver_says(seed: int) -> None:
    """Read back, the point costs the solver's objective; with any kind of portions and meals."""
    problem = random_kitchen(seed, one_dish=seed % 2 == 0).problem
    result = search_plain(problem, EXACT)
    if result.decisions is not None:
        assert cost_of(problem, result.decisions).objective == pytest.approx(result.bound, abs=1e-4)


def test_whole_numbers_are_rounded_to_what_they_stand_for() -> None:
    """Solver noise of a ten-millionth goes; steps become batches; any amount stays as it is."""
    model = build_plain(_porridge(), strengthen=False)
    column = {name: i for i, name in enumerate(model.matrix.names)}
    values = np.zeros(model.matrix.columns)
    values[column[model.kitchen.units[0].name]] = 2.9999999
    values[column[model.kitchen.packs[0, 0].name]] = 1.0000001
    read = kitchen_decisions(model.kitchen, column, values, {(0, 0): 0.75})
    assert read.batches == {0: 1.5}
    assert read.packs == {(0, 0): 1.0}
    assert read.servings == {(0, 0): 0.75}


def test_noise_around_nothing_is_nothing() -> None:
    """A trace of a pack or a batch does not enter the decisions."""
    model = build_plain(_porridge(), strengthen=False)
    column = {name: i for i, name in enumerate(model.matrix.names)}
    read = kitchen_decisions(model.kitchen, column, np.full(model.matrix.columns, 1e-7), {})
    assert (read.batches, read.packs, read.servings) == ({}, {}, {})
