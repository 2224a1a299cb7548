"""A PuLP problem as arrays that HiGHS takes in one call."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass

import highspy
import numpy as np
import pulp
from numpy.typing import NDArray

from planopt.deadlines import go_on

Floats = NDArray[np.float64]
Ints = NDArray[np.int32]


@dataclass(frozen=True)
class Matrix:
    """A minimization MIP: cost, bounds, integrality by column; rows in compressed row form."""

    names: tuple[str, ...]
    cost: Floats
    offset: float
    lower: Floats
    upper: Floats
    integer: NDArray[np.bool_]
    row_lower: Floats
    row_upper: Floats
    start: Ints
    index: Ints
    value: Floats

    @property
    def columns(self) -> int:
        """Return the number of variables."""
        return len(self.names)

    def relaxed(self) -> Matrix:
        """Return the LP relaxation."""
        fields = {**self.__dict__, "integer": np.zeros_like(self.integer)}
        return Matrix(**fields)

    def as_highs(self) -> highspy.HighsLp:
        """Return the arrays as a HiGHS model."""
        lp = highspy.HighsLp()
        lp.num_col_ = self.columns
        lp.num_row_ = len(self.row_lower)
        lp.col_cost_ = self.cost
        lp.offset_ = self.offset
        lp.col_lower_ = self.lower
        lp.col_upper_ = self.upper
        lp.row_lower_ = self.row_lower
        lp.row_upper_ = self.row_upper
        lp.a_matrix_.format_ = highspy.MatrixFormat.kRowwise
        lp.a_matrix_.start_ = self.start
        lp.a_matrix_.index_ = self.index
        lp.a_matrix_.value_ = self.value
        if self.integer.any():
            kinds = (highspy.HighsVarType.kContinuous, highspy.HighsVarType.kInteger)
            lp.integrality_ = [kinds[int(flag)] for flag in self.integer]
        return lp


def to_matrix(lp: pulp.LpProblem) -> Matrix:
    """Convert a PuLP minimization; columns in PuLP's own order, rows in order of addition."""
    variables = lp.variables()
    place = {variable.name: i for i, variable in enumerate(variables)}
    inf = highspy.kHighsInf
    lower = np.array([-inf if v.lowBound is None else v.lowBound for v in variables], float)
    upper = np.array([inf if v.upBound is None else v.upBound for v in variables], float)
    integer = np.array([v.cat == pulp.LpInteger for v in variables], bool)
    cost = np.zeros(len(variables))
    offset = 0.0
    if lp.objective is not None:
        offset = float(lp.objective.constant)
        for variable, coefficient in lp.objective.items():
            cost[place[variable.name]] = coefficient
    start = [0]
    index: list[int] = []
    value: list[float] = []
    row_lower: list[float] = []
    row_upper: list[float] = []
    for row in lp.constraints.values():
        go_on()
        for variable, coefficient in row.items():
            index.append(place[variable.name])
            value.append(coefficient)
        start.append(len(index))
        right = -float(row.constant)
        row_lower.append(-inf if row.sense == pulp.LpConstraintLE else right)
        row_upper.append(inf if row.sense == pulp.LpConstraintGE else right)
    return Matrix(
        names=tuple(v.name for v in variables),
        cost=cost,
        offset=offset,
        lower=lower,
        upper=upper,
        integer=integer,
        row_lower=np.array(row_lower, float),
        row_upper=np.array(row_upper, float),
        start=np.array(start, np.int32),
        index=np.array(index, np.int32),
        value=np.array(value, float),
    )


def matrix_of_rows(
    rows: Sequence[Mapping[int, float]],
    *,
    names: tuple[str, ...],
    cost: Sequence[float],
    integer: Sequence[bool],
    row_lower: Sequence[float],
    row_upper: Sequence[float],
) -> Matrix:
    """Return arrays of rows given as coefficient by column number; columns are never negative."""
    index = [column for row in rows for column in row]
    value = [coefficient for row in rows for coefficient in row.values()]
    return Matrix(
        names=names,
        cost=np.array(cost, float),
        offset=0.0,
        lower=np.zeros(len(names)),
        upper=np.full(len(names), np.inf),
        integer=np.array(integer, bool),
        row_lower=np.array(row_lower, float),
        row_upper=np.array(row_upper, float),
        start=np.cumsum([0, *(len(row) for row in rows)]).astype(np.int32),
        index=np.array(index, np.int32),
        value=np.array(value, float),
    )


def with_columns(
    matrix: Matrix, columns: list[dict[int, float]], upper: list[float], prefix: str
) -> Matrix:
    """Return the arrays with whole-number columns added, free of cost.

    Args:
        matrix: the arrays to extend.
        columns: for each new column, coefficient by row number.
        upper: for each new column, its most; the least is 0.
        prefix: of the new names.
    """
    count = len(columns)
    rows = len(matrix.row_lower)
    old_row = np.repeat(np.arange(rows), np.diff(matrix.start))
    new_row = np.array([row for column in columns for row in column], np.int64)
    new_index = np.array(
        [matrix.columns + j for j, column in enumerate(columns) for _ in column], np.int64
    )
    new_value = np.array([value for column in columns for value in column.values()], float)
    row = np.concatenate([old_row, new_row])
    order = np.argsort(row, kind="stable")
    start = np.concatenate([[0], np.cumsum(np.bincount(row, minlength=rows))])
    return Matrix(
        names=(*matrix.names, *(f"{prefix}{j}" for j in range(count))),
        cost=np.concatenate([matrix.cost, np.zeros(count)]),
        offset=matrix.offset,
        lower=np.concatenate([matrix.lower, np.zeros(count)]),
        upper=np.concatenate([matrix.upper, np.array(upper, float)]),
        integer=np.concatenate([matrix.integer, np.ones(count, bool)]),
        row_lower=matrix.row_lower,
        row_upper=matrix.row_upper,
        start=start.astype(np.int32),
        index=np.concatenate([matrix.index, new_index])[order].astype(np.int32),
        value=np.concatenate([matrix.value, new_value])[order],
    )


def with_row(matrix: Matrix, row: Mapping[int, float], lower: float, upper: float) -> Matrix:
    """Return the arrays with one more row, given as coefficient by column number."""
    fields = {
        **matrix.__dict__,
        "row_lower": np.append(matrix.row_lower, lower),
        "row_upper": np.append(matrix.row_upper, upper),
        "start": np.append(matrix.start, matrix.start[-1] + len(row)).astype(np.int32),
        "index": np.concatenate([matrix.index, np.array(list(row), np.int32)]).astype(np.int32),
        "value": np.concatenate([matrix.value, np.array(list(row.values()), float)]),
    }
    return Matrix(**fields)
