"""A PuLP problem as arrays that HiGHS takes in one call."""

from __future__ import annotations

from dataclasses import dataclass

import highspy
import numpy as np
import pulp
from numpy.typing import NDArray

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
