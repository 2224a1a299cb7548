"""No phase ignores the time limit: what is being built is given up, what was found is kept."""

from __future__ import annotations

from math import inf
from time import perf_counter, process_time

import pytest

from model.small import client, random_kitchen, scenario
from planopt.deadlines import OutOfTime, ending_at, go_on
from planopt.model.covers import cover_table
from planopt.model.daymenus import MenuTable
from planopt.model.kitchen import new_kitchen
from planopt.problem.build import Problem, build_problem
from planopt.solve.budget import Budget
from planopt.solve.engine.search import search
from planopt.solve.highs.matrix import to_matrix
from planopt.solve.settings import SolveSettings
from published.catalogtables import shipped


def _crowd(clients: int) -> Problem:
    """Return a week of the shipped recipes for many clients, each with a window of their own."""
    people = [
        client(
            f"c{n}",
            windows_per_day={"energy_kcal": {"min": 1500 + n, "max": 2500}},
            portions={"step": 0.5, "smallest": 0.5, "largest": 2},
        )
        for n in range(clients)
    ]
    meals = ["breakfast", "lunch", "dinner"]
    cooks = [{"day": 1}, {"day": 4}]
    return build_problem(shipped(), scenario(days=7, meals=meals, cook_days=cooks, clients=people))


def test_an_end_holds_within_it_and_the_earlier_one_of_two() -> None:
    """Outside there is none."""
    go_on()
    with ending_at(perf_counter() - 1.0):
        with pytest.raises(OutOfTime):
            go_on()
        with ending_at(inf), pytest.raises(OutOfTime):
            go_on()
    with ending_at(inf):
        go_on()
    go_on()


def test_whatever_writes_rows_tables_or_menus_stops_at_the_end() -> None:
    """Models, arrays, pack covers and day menus."""
    problem = random_kitchen(1).problem
    written = new_kitchen(problem).lp
    table = MenuTable(problem, 0)
    with ending_at(perf_counter() - 1.0):
        with pytest.raises(OutOfTime):
            new_kitchen(problem)
        with pytest.raises(OutOfTime):
            to_matrix(written)
        with pytest.raises(OutOfTime):
            cover_table([(7.1, 1.0), (3.3, 0.5)], 991.0)
        with pytest.raises(OutOfTime):
            MenuTable(problem, 0)
        with pytest.raises(OutOfTime):
            table.cheapest(table.no_prices(), 1, inf)
    # What was given up is not remembered as if it were whole.
    assert cover_table([(7.1, 1.0), (3.3, 0.5)], 991.0).grams[-1] >= 991.0


def test_a_search_that_cannot_even_be_written_ends_with_the_limit() -> None:
    """A hundred and fifty clients take seconds to write; the search has a twentieth of one."""
    problem = _crowd(150)
    began = process_time()
    result = search(problem, SolveSettings(time_limit_s=0.05, threads=1))
    assert process_time() - began < 3.0
    assert result.status == "time_limit"
    assert not result.infeasible
    assert result.decisions is None
    assert result.bound == 0.0


def test_time_counts_from_when_the_work_began() -> None:
    """What was spent before the search is off its limit; a work limit has none."""
    settings = SolveSettings(time_limit_s=5.0)
    assert Budget(settings, None, perf_counter() - 4.0).left() <= 1.0
    assert Budget(settings).left() > 4.0
    assert Budget(settings.model_copy(update={"work_limit": 3}), None, 0.0).end() == inf
    problem = random_kitchen(1).problem
    late = search(problem, settings, began=perf_counter() - 60.0)
    assert late.seconds >= 60.0
    assert late.seconds < 64.0
