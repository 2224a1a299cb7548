"""The weekly relaxation bounds the real problem: every plan, summed over its days, satisfies it."""

from __future__ import annotations

from collections import Counter

import pytest

from model.points import MONEY, check_totals, optimum, real_optimum, whole
from model.small import random_kitchen
from planopt.model.kitchen import KitchenModel, new_kitchen
from planopt.model.strengthen import Strengthening
from planopt.model.weekly import Weekly, add_weekly
from planopt.problem.build import Problem
from planopt.solve.highs.daymodel import PlainModel, build_plain
from planopt.solve.highs.matrix import Floats, Matrix, to_matrix
from slow import few

KITCHENS = range(30)


def _weekly(problem: Problem) -> tuple[Weekly, Matrix]:
    kitchen = new_kitchen(problem)
    rows = Strengthening(kitchen)
    rows.add()
    weekly = add_weekly(kitchen, rows.made)
    return weekly, to_matrix(kitchen.lp)


def _totals(weekly: Weekly, plain: PlainModel, point: Floats) -> dict[str, float]:
    """Return the weekly variables' values for a day-by-day point, and its kitchen's whole ones."""
    times: Counter[str] = Counter()
    servings: Counter[str] = Counter()
    for (i, j), amount in plain.decisions(point).servings.items():
        slot = weekly.kitchen.problem.slots[i]
        key = (slot.client, slot.meal, slot.options[j])
        times[weekly.times[key].name] += 1
        servings[weekly.servings[key].name] += amount
    known = _kitchen_part(plain.kitchen, whole(plain.matrix, point))
    for table, found in ((weekly.times, times), (weekly.servings, servings)):
        known.update({variable.name: found[variable.name] for variable in table.values()})
    return known


def _kitchen_part(kitchen: KitchenModel, values: dict[str, float]) -> dict[str, float]:
    lone = [*kitchen.units, *kitchen.started]
    variables = [*lone, *kitchen.packs.values(), *kitchen.visits.values()]
    return {v.name: values[v.name] for v in variables if v.name in values}


@pytest.mark.parametrize("seed", few(KITCHENS, 5))
def test_the_weekly_optimum_never_exceeds_the_real_one(seed: int) -> None:
    """Its optimum is at most that of the plain model, and it is feasible whenever that is."""
    relaxed = optimum(_weekly(random_kitchen(seed).problem)[1])
    real = real_optimum(seed)
    if real is not None:
        assert relaxed.objective is not None
        assert relaxed.objective <= real + MONEY


@pytest.mark.parametrize("seed", few(KITCHENS, 8))
def test_the_totals_of_a_plan_are_a_point_of_the_relaxation(seed: int) -> None:
    """The cheapest plan and random ones, summed over their days, stay feasible at the same cost."""
    problem = random_kitchen(seed).problem
    plain = build_plain(problem, strengthen=False)
    weekly, matrix = _weekly(problem)
    check_totals(plain, matrix, lambda point: _totals(weekly, plain, point), seed)
