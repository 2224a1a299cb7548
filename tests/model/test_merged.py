"""The merged relaxation bounds the real problem: every plan, summed over all days, satisfies it."""

from __future__ import annotations

from collections import Counter

import pytest

from model.points import MONEY, check_totals, optimum, real_optimum
from model.small import catalog, client, food, pack, random_kitchen, recipe, scenario
from planopt.model.merged import Merged, merged_relaxation
from planopt.problem.build import Problem, build_problem
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
def test_with_packs_counted_it_says_more_and_never_too_much(seed: int) -> None:
    """Whole packs of shared foods add rows: the optimum rises, and stays below the real one."""
    problem = random_kitchen(seed).problem
    plain = optimum(to_matrix(merged_relaxation(problem).lp)).objective
    counted = optimum(to_matrix(merged_relaxation(problem, 99).lp)).objective
    real = real_optimum(seed)
    if plain is not None and counted is not None:
        assert counted >= plain - MONEY
    if real is not None:
        assert counted is not None
        assert counted <= real + MONEY


def test_packs_that_two_dishes_share_are_bought_whole() -> None:
    """Two dishes of 250 g each share packs of 400 g: the hull pays 1.25 packs, counting two."""
    foods = [food("rice", kcal=100.0), food("beans", kcal=100.0), food("peas", kcal=100.0)]
    packs = [pack("rice", 400, "4.00"), pack("beans", 100, "0.01"), pack("peas", 100, "0.01")]
    dishes = [
        recipe("rice_beans", {"rice": 250, "beans": 100}, meals=["lunch"]),
        recipe("rice_peas", {"rice": 250, "peas": 100}, meals=["dinner"]),
    ]
    built = build_problem(
        catalog(foods, packs, dishes),
        scenario(
            days=1,
            meals=["lunch", "dinner"],
            waste_weight=0.0,
            clients=[client(medically_supervised=True)],
        ),
    )
    plain, counted = (
        optimum(to_matrix(merged_relaxation(built, packs).lp)).objective for packs in (0, 5)
    )
    assert counted == pytest.approx(8.02)
    assert plain is not None
    assert plain < 6.0


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
