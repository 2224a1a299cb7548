"""Integer points of a model: the cheapest, random ones, and arrays with a point held fast."""

from __future__ import annotations

from collections.abc import Callable, Mapping
from dataclasses import replace
from functools import lru_cache
from random import Random

import numpy as np

from model.small import EXACT, random_kitchen
from planopt.solve.highs.daymodel import PlainModel, build_plain
from planopt.solve.highs.matrix import Floats, Matrix
from planopt.solve.highs.solver import Outcome, solve_matrix

MONEY = 1e-5
_MOST_UNITS = 6.0
_POINTS = 2
_ANY_POINT = EXACT.model_copy(update={"gap": 0.5, "work_limit": 5})


def optimum(matrix: Matrix) -> Outcome:
    """Solve to the end: proven optimal, or proven infeasible."""
    outcome = solve_matrix(matrix, EXACT)
    assert outcome.status in ("Optimal", "Infeasible")
    return outcome


@lru_cache
def real_optimum(seed: int) -> float | None:
    """Return the least cost of a random kitchen by the unstrengthened model, None if none is."""
    return optimum(build_plain(random_kitchen(seed).problem, strengthen=False).matrix).objective


def random_point(matrix: Matrix, rng: Random) -> Floats | None:
    """Return a feasible integer point far from cheap: random prices, purchases kept finite."""
    cost = np.array([rng.uniform(-1, 1) if flag else 0.0 for flag in matrix.integer])
    upper = np.where(matrix.integer, np.minimum(matrix.upper, _MOST_UNITS), matrix.upper)
    return solve_matrix(replace(matrix, cost=cost, upper=upper), _ANY_POINT).values


def some_points(plain: PlainModel, seed: int, count: int) -> list[Floats]:
    """Return the cheapest point and up to `count` random ones; none when nothing is feasible."""
    best = optimum(plain.matrix)
    if best.values is None:
        return []
    rng = Random(seed)
    found = [random_point(plain.matrix, rng) for _ in range(count)]
    return [best.values, *(point for point in found if point is not None)]


def whole(matrix: Matrix, point: Floats) -> dict[str, float]:
    """Return the integer columns of a point by name, rounded to what they stand for."""
    return {
        name: float(round(point[i])) for i, name in enumerate(matrix.names) if matrix.integer[i]
    }


def held(matrix: Matrix, known: Mapping[str, float]) -> Matrix:
    """Return the arrays with the columns of `known` that they have held fast; the rest is free."""
    lower, upper = matrix.lower.copy(), matrix.upper.copy()
    for i, name in enumerate(matrix.names):
        if name in known:
            lower[i] = upper[i] = known[name]
    return replace(matrix, lower=lower, upper=upper)


def check_totals(
    plain: PlainModel, relaxed: Matrix, totals: Callable[[Floats], Mapping[str, float]], seed: int
) -> None:
    """Check that the cheapest plan and random ones, summed up, stay feasible and cost no more."""
    for point in some_points(plain, seed, _POINTS):
        real = optimum(held(plain.matrix, whole(plain.matrix, point)))
        summed = optimum(held(relaxed, totals(point)))
        assert summed.status == "Optimal", "the relaxation cuts off this plan"
        assert real.objective is not None
        assert summed.objective is not None
        assert summed.objective <= real.objective + MONEY
