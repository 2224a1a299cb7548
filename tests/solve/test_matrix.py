"""PuLP problems become the same arrays that PuLP itself writes to a file and HiGHS reads."""

from __future__ import annotations

from math import inf
from pathlib import Path

import highspy
import numpy as np
import pulp
import pytest
from hypothesis import HealthCheck, given, settings
from hypothesis import strategies as st
from scipy.optimize import Bounds, LinearConstraint, milp
from scipy.sparse import csr_array

from model.small import random_kitchen
from planopt.solve.highs.daymodel import build_plain
from planopt.solve.highs.matrix import Matrix, to_matrix, with_columns
from planopt.solve.highs.solver import solve_matrix
from planopt.solve.settings import SolveSettings

EXACT = SolveSettings(gap=0.0)
EASE = settings(
    max_examples=60, deadline=None, derandomize=True,
    suppress_health_check=[HealthCheck.function_scoped_fixture],
)  # fmt: skip
SENSES = [pulp.LpConstraintLE, pulp.LpConstraintGE, pulp.LpConstraintEQ]
EIGHTHS = st.integers(-40, 40).map(lambda n: n / 8)


@st.composite
def problems(draw: st.DrawFn) -> pulp.LpProblem:
    """Draw a bounded minimization with all kinds of rows, bounds and constants."""
    lp = pulp.LpProblem("drawn", pulp.LpMinimize)
    columns = []
    for i in range(draw(st.integers(1, 5))):
        low = draw(st.one_of(st.none(), st.integers(-3, 2)))
        high = draw(st.one_of(st.none(), st.integers(3, 9)))
        kind = draw(st.sampled_from(["Continuous", "Integer", "Binary"]))
        columns.append(pulp.LpVariable(f"c{i}", low, high, kind))
    lp.setObjective(_expression(draw, columns) + pulp.lpSum(0 * c for c in columns))
    for i in range(draw(st.integers(1, 5))):
        left = _expression(draw, columns)
        right = draw(EIGHTHS)
        sense = draw(st.sampled_from(SENSES))
        lp.addConstraint(pulp.LpConstraint(left, sense, f"r{i}", right))
    return lp


def _expression(draw: st.DrawFn, columns: list[pulp.LpVariable]) -> pulp.LpAffineExpression:
    chosen = draw(st.lists(st.sampled_from(columns), min_size=1, unique_by=id))
    terms = [(column, draw(EIGHTHS.filter(bool))) for column in chosen]
    return pulp.LpAffineExpression(terms) + draw(EIGHTHS)


def _rows(matrix: Matrix) -> csr_array:
    shape = (len(matrix.row_lower), matrix.columns)
    return csr_array((matrix.value, matrix.index, matrix.start), shape=shape)


def _read(lp: pulp.LpProblem, folder: Path) -> tuple[highspy.HighsLp, list[int]]:
    """Return what HiGHS reads of PuLP's own file, and the place of each column of `to_matrix`."""
    path = folder / "model.mps"
    lp.writeMPS(str(path))
    solver = highspy.Highs()
    solver.setOptionValue("output_flag", False)
    assert solver.readModel(str(path)) == highspy.HighsStatus.kOk
    read = solver.getLp()
    names = list(read.col_names_)
    return read, [names.index(variable.name) for variable in lp.variables()]


def _dense(read: highspy.HighsLp) -> np.ndarray:
    table = np.zeros((read.num_row_, read.num_col_))
    start, index = read.a_matrix_.start_, read.a_matrix_.index_
    for column in range(read.num_col_):
        for place in range(start[column], start[column + 1]):
            table[index[place], column] = read.a_matrix_.value_[place]
    return table


@EASE
@given(problems())
def test_arrays_equal_what_highs_reads_of_pulps_file(tmp_path: Path, lp: pulp.LpProblem) -> None:
    """Costs, bounds, whole columns, rows and their sides are those of the MPS file."""
    matrix = to_matrix(lp)
    read, place = _read(lp, tmp_path)
    assert matrix.names == tuple(variable.name for variable in lp.variables())
    assert matrix.offset == lp.objective.constant  # which PuLP leaves out of the file
    assert matrix.cost == pytest.approx(np.array(read.col_cost_)[place])
    assert matrix.lower == pytest.approx(np.array(read.col_lower_)[place])
    assert matrix.upper == pytest.approx(np.array(read.col_upper_)[place])
    kinds = list(read.integrality_) or [highspy.HighsVarType.kContinuous] * read.num_col_
    assert list(matrix.integer) == [kinds[i] == highspy.HighsVarType.kInteger for i in place]
    assert matrix.row_lower == pytest.approx(np.array(read.row_lower_))
    assert matrix.row_upper == pytest.approx(np.array(read.row_upper_))
    assert _rows(matrix).toarray() == pytest.approx(_dense(read)[:, place])


def _by_scipy(matrix: Matrix) -> float | None:
    """Return scipy's optimum of the arrays, None when there is none."""
    answer = milp(
        matrix.cost,
        integrality=matrix.integer.astype(int),
        bounds=Bounds(matrix.lower, matrix.upper),
        constraints=LinearConstraint(_rows(matrix), matrix.row_lower, matrix.row_upper),
        options={"mip_rel_gap": 0.0},
    )
    return None if answer.x is None else float(answer.fun) + matrix.offset


@pytest.mark.parametrize("seed", range(12))
def test_a_kitchen_costs_the_same_by_scipy(seed: int) -> None:
    """Our run and scipy's, each from the arrays, end with one optimum."""
    matrix = build_plain(random_kitchen(seed).problem, strengthen=False).matrix
    ours = solve_matrix(matrix, EXACT).objective
    assert ours == (pytest.approx(_by_scipy(matrix), abs=1e-5) if ours is not None else None)


def test_the_relaxation_differs_in_nothing_but_whole_numbers() -> None:
    """Every array is the same; no column must be whole."""
    matrix = build_plain(random_kitchen(1).problem).matrix
    relaxed = matrix.relaxed()
    assert matrix.integer.any()
    assert not relaxed.integer.any()
    for name in ("names", "cost", "lower", "upper", "row_lower", "row_upper", "index", "value"):
        assert np.array_equal(getattr(matrix, name), getattr(relaxed, name))


def test_added_columns_stand_in_their_rows_only() -> None:
    """Old coefficients stay; each new column is whole, free, bounded, and in the rows it names."""
    lp = pulp.LpProblem("base", pulp.LpMinimize)
    x, y = pulp.LpVariable("x", 0, 4), pulp.LpVariable("y", 0)
    lp.setObjective(x + 2 * y)
    lp.addConstraint(x + y >= 3, "r0")
    lp.addConstraint(pulp.LpAffineExpression() <= 2, "r1")
    lp.addConstraint(x - y <= 1, "r2")
    matrix = with_columns(to_matrix(lp), [{2: -1.0, 0: 2.0}, {1: 5.0}, {}], [1.0, inf, 3.0], "m")
    assert matrix.names == ("x", "y", "m0", "m1", "m2")
    assert _rows(matrix).toarray().tolist() == [
        [1, 1, 2, 0, 0],
        [0, 0, 0, 5, 0],
        [1, -1, -1, 0, 0],
    ]
    assert list(matrix.cost) == [1, 2, 0, 0, 0]
    assert list(matrix.upper) == [4, inf, 1, inf, 3]
    assert list(matrix.lower) == [0, 0, 0, 0, 0]
    assert list(matrix.integer) == [False, False, True, True, True]
    assert list(matrix.row_lower) == [3, -inf, -inf]
    assert list(matrix.row_upper) == [inf, 2, 1]
