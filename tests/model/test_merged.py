"""The merged relaxation bounds the real problem: every plan, summed over all days, satisfies it."""

from __future__ import annotations

from collections import Counter

import pytest

from model.points import MONEY, check_totals, optimum, real_optimum
from model.small import random_kitchen
from planopt.model.merged import Merged, merged_relaxation
from planopt.problem.build import Problem
from planopt.solve.highs.daymodel import PlainModel, build_plain
from planopt.solve.highs.matrix import Floats, to_matrix
from slow import few

KITCHENS = range(40)


def _totals(merged: Merged, problem: Problem, plain: PlainModel, point: Floats) -> dict[str, float]:
    """Return the merged variables' values for a day-by-day point: steps, times and servings."""
    decisions = plain.decisions(point)
    times: Counter[tuple[int, str, int]] = Counter()
    servings: Counter[tuple[int, int]] = Counter()
    for (i, j), amount in decisions.servings.items():
        slot = problem.slots[i]
        times[slot.client, slot.meal, slot.options[j].dish] += 1
        servings[slot.client, slot.options[j].dish] += amount
    known = {v.name: times[c, meal, o.dish] for (c, meal, o), v in merged.times.items()}
    known |= {v.name: servings[c, o.dish] for (c, _, o), v in merged.servings.items()}
    units: Counter[int] = Counter()
    for n, batches in decisions.batches.items():
        dish = problem.cookings[n].dish
        units[dish] += batches / (problem.dishes[dish].batch_step or 1.0)
    for d, cooked in merged.cooked.items():
        known[cooked.switch.name] = float(units[d] > 1e-9)
        steps = round(units[d])
        for j, step in enumerate(cooked.steps, 1):
            known[step.name] = float(j <= steps)
        if cooked.tail is not None:
            known[cooked.tail.name] = float(max(0, steps - len(cooked.steps)))
    return {name: float(value) for name, value in known.items()}


@pytest.mark.parametrize("seed", few(KITCHENS, 10))
def test_the_merged_optimum_never_exceeds_the_real_one(seed: int) -> None:
    """Its optimum is at most that of the plain model, and it is feasible whenever that is."""
    relaxed = optimum(to_matrix(merged_relaxation(random_kitchen(seed).problem).lp))
    real = real_optimum(seed)
    if real is not None:
        assert relaxed.objective is not None
        assert relaxed.objective <= real + MONEY


@pytest.mark.parametrize("seed", few(KITCHENS, 10))
def test_the_totals_of_a_plan_are_a_point_of_the_relaxation(seed: int) -> None:
    """The cheapest plan and random ones, summed over the plan, stay feasible and cost no more."""
    problem = random_kitchen(seed).problem
    plain = build_plain(problem, strengthen=False)
    merged = merged_relaxation(problem)
    matrix = to_matrix(merged.lp)
    check_totals(plain, matrix, lambda point: _totals(merged, problem, plain, point), seed)


def test_its_switches_and_steps_are_whole_numbers_of_the_arrays() -> None:
    """What the proofs hold whole is there, by name, and binary."""
    for seed in KITCHENS:
        merged = merged_relaxation(random_kitchen(seed).problem)
        names = set(to_matrix(merged.lp).names)
        for variable in (*merged.switches(), *merged.steps()):
            assert variable.name in names
            assert (variable.lowBound, variable.upBound, variable.cat) == (0, 1, "Integer")
