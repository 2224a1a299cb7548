"""The budget of a search and of its parts, and the neighbourhoods that a search destroys."""

from __future__ import annotations

import random
from math import inf
from time import sleep

from planopt.model.daymenus import MenuTable
from planopt.solve.budget import Budget
from planopt.solve.engine.neighbourhoods import ROUND_NEIGHBOURHOODS
from planopt.solve.heuristics.destroy import DAY_NEIGHBOURHOODS, DaysOfOneClient, draw_days
from planopt.solve.heuristics.destroyrepair import LocalSearch
from planopt.solve.parameters import PARAMETERS
from planopt.solve.progress import Progress
from planopt.solve.settings import SolveSettings
from solve.smallweeks import least_cost, week

TIMED = Budget(SolveSettings(time_limit_s=50_000))
COUNTED = Budget(SolveSettings(work_limit=3))


def test_a_part_ends_with_its_work_its_time_or_when_asked_to() -> None:
    """Whatever comes first; a count that only a work limit has is endless under a clock."""
    assert sum(1 for _ in TIMED.part(work=4).turns()) == 4
    assert sum(1 for _ in COUNTED.part(0.0, COUNTED.by_work(5)).turns()) == 5
    assert TIMED.by_work(5) == inf
    assert sum(1 for _ in TIMED.part(0.0).turns()) == 0
    asked = iter([False, False, True])
    assert sum(1 for _ in TIMED.part(stop=lambda: next(asked)).turns()) == 2


def test_a_part_of_a_part_ends_with_both() -> None:
    """The inner one has no more time than the outer one, and hears who asks that to stop."""
    outer = TIMED.part(5.0, stop=lambda: asked)
    inner = outer.part(20.0)
    asked = False
    assert not inner.over()
    assert inner.left() <= 5.0
    asked = True
    assert inner.over()


def test_what_is_spent_is_the_part_of_its_own_time_or_work() -> None:
    """By work in even steps, by time without a count; the time of the whole is none of its own."""
    part = TIMED.part(work=4)
    assert [part.spent() for _ in part.turns()] == [0.0, 0.25, 0.5, 0.75]
    brief = TIMED.part(0.001)
    sleep(0.002)
    assert brief.spent() == 1.0
    assert COUNTED.part(0.001).spent() == 0.0


def test_solvers_are_given_what_is_left_and_a_work_limit_no_time() -> None:
    """A proof goes on to the last gap; nobody is given nothing."""
    settings = SolveSettings(time_limit_s=50, gap=0.1, threads=2)
    assert TIMED.part(7.0).within(settings).time_limit_s <= 7.0
    assert TIMED.part(0.0).within(settings).time_limit_s > 0.0
    assert COUNTED.within(settings) == settings
    proof = TIMED.part(0.0).for_proof(settings.single())
    assert (proof.gap, proof.threads, proof.time_limit_s) == (0.0, 1, 1.0)


def test_a_part_tells_whoever_listens_to_the_whole() -> None:
    """With the seconds and the limit of the whole."""
    told: list[Progress] = []
    Budget(SolveSettings(time_limit_s=50), told.append).part(5.0).tell("seeking", 3.0, None)
    assert [(one.phase, one.best_objective, one.limit_s) for one in told] == [("seeking", 3.0, 50)]


def _planned() -> LocalSearch:
    seed = next(seed for seed in range(8) if least_cost(seed) is not None)
    problem = week(seed)
    tables = [MenuTable(problem, g) for g in range(len(problem.groups))]
    local = LocalSearch(problem, tables, 1)
    assert local.start()
    return local


def test_every_neighbourhood_has_a_name_and_frees_what_it_says() -> None:
    """Days that eat of what is to be avoided are opened, all of them, or days alone."""
    names = [one.name for one in (*DAY_NEIGHBOURHOODS, *ROUND_NEIGHBOURHOODS)]
    assert len(set(names)) == len(names)
    assert len(PARAMETERS.destroy.upto) == len(DAY_NEIGHBOURHOODS)
    assert max(PARAMETERS.menus.rounds) < len(ROUND_NEIGHBOURHOODS) == len(PARAMETERS.rounds.sizes)
    local = _planned()
    for one in DAY_NEIGHBOURHOODS:
        for seed in range(5):
            opened = one.draw(local, random.Random(seed))
            assert opened.days
            if opened.avoid:
                assert set(opened.days) == set(local.eating(opened.avoid))
            if isinstance(one, DaysOfOneClient):
                assert len({local.client_of(day) for day in opened.days}) == 1


def test_a_neighbourhood_of_too_many_days_gives_way_to_some_days() -> None:
    """Nothing is avoided then, and few days are opened."""
    local = _planned()
    chance = random.Random(1)
    most = max(PARAMETERS.destroy.most_opened, len(local.days) // 2)
    for _ in range(40):
        assert len(draw_days(local, chance).days) <= most
