"""Small models with known endings, and one that no computer ends in a moment."""

from __future__ import annotations

from collections.abc import Sequence
from math import inf

import numpy as np

from planopt.solve.highs.matrix import Matrix


def matrix(
    cost: Sequence[float],
    rows: Sequence[tuple[float, Sequence[float], float]],
    *,
    integer: bool,
    upper: float = inf,
    offset: float = 0.0,
) -> Matrix:
    """Return dense arrays: `rows` are (lower, coefficients, upper), variables from 0 to `upper`."""
    count = len(cost)
    return Matrix(
        names=tuple(f"x{i}" for i in range(count)),
        cost=np.array(cost, float),
        offset=offset,
        lower=np.zeros(count),
        upper=np.full(count, upper),
        integer=np.full(count, integer),
        row_lower=np.array([low for low, _, _ in rows], float),
        row_upper=np.array([high for _, _, high in rows], float),
        start=np.arange(0, count * len(rows) + 1, count, dtype=np.int32),
        index=np.tile(np.arange(count, dtype=np.int32), len(rows)),
        value=np.array([value for _, values, _ in rows for value in values], float),
    )


def long_search(seed: int = 1, items: int = 80, limits: int = 30) -> Matrix:
    """Return a choice of items under many limits: any point is easy, the proof takes long."""
    rng = np.random.default_rng(seed)
    weights = rng.integers(5, 100, (limits, items)).astype(float)
    return matrix(
        cost=-rng.integers(50, 120, items).astype(float),
        rows=[(-inf, row, float(row.sum()) * 0.4) for row in weights],
        integer=True,
        upper=1.0,
    )
