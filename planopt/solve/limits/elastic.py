"""Elastic limits: by how much the user's limits must give for a week to exist.

The day-by-day model gets a column t >= 0 for each limit that may give; a least amount becomes
sum + share x t >= least, a most becomes sum - share x t <= most. Several limits may share a column.

Method: elastic constraints, their weighted slack made least; level by level where some matter more.
Source: elastic programming as in Chinneck, Feasibility and Infeasibility in Optimization (2008);
goals in levels as in Charnes and Cooper, Management Models and Industrial Applications of Linear
Programming (1961). Both from memory.
"""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass, replace

import numpy as np

from planopt.problem.build import Problem
from planopt.problem.decisions import Decisions
from planopt.problem.limits import Limit
from planopt.solve.highs.daymodel import PlainModel, build_plain
from planopt.solve.highs.matrix import Matrix, with_columns, with_row
from planopt.solve.highs.solver import solve_matrix
from planopt.solve.settings import SolveSettings


@dataclass(frozen=True)
class Give:
    """Limits that give together: each by its share of one amount, up to `most` of it."""

    limits: tuple[tuple[Limit, float], ...]
    most: float
    weight: float = 1.0


@dataclass(frozen=True)
class Given:
    """How an elastic solve ended: the amounts given, their weighted sum, its proven lower limit.

    `decisions`, of `problem`, and `amounts` are None without a week; `infeasible` means that none
    exists however much the limits give.
    """

    amounts: tuple[float, ...] | None
    total: float
    bound: float
    problem: Problem | None
    decisions: Decisions | None
    infeasible: bool
    optimal: bool


class ElasticModel:
    """A day-by-day model whose limits may give; what was given can be held at its least."""

    def __init__(self, problem: Problem, gives: Sequence[Give]) -> None:
        self.problem = problem
        self.gives = tuple(gives)
        self.model: PlainModel = build_plain(problem)
        rows = self.model.kitchen.limit_rows
        columns = []
        for give in self.gives:
            column: dict[int, float] = {}
            for limit, share in give.limits:
                for row in rows.get(limit.key, ()):
                    column[row] = share if limit.from_below else -share
            columns.append(column)
        base = self.model.matrix
        matrix = with_columns(base, columns, [give.most for give in self.gives], "t")
        integer = matrix.integer.copy()
        integer[base.columns :] = False
        self.matrix: Matrix = replace(matrix, integer=integer)
        self._first = base.columns

    def least(
        self,
        settings: SolveSettings,
        weights: Mapping[int, float] | None = None,
        start: Decisions | None = None,
        cost_weight: float = 0.0,
    ) -> Given:
        """Make the weighted sum of what is given as small as possible.

        `weights` by position in `gives` replace the gives' own; `cost_weight` adds that much of
        the model's own objective.
        """
        own = self.matrix.cost[: self._first] * cost_weight
        cost = np.concatenate([own, np.zeros(len(self.gives))])
        for n, give in enumerate(self.gives):
            cost[self._first + n] = give.weight if weights is None else weights.get(n, 0.0)
        matrix = replace(self.matrix, cost=cost, offset=self.matrix.offset * cost_weight)
        point = None
        if start is not None and matrix.integer.any():
            point = np.full(matrix.columns, np.nan)
            point[: self._first] = self.model.point(start)
        outcome = solve_matrix(matrix, settings, start=point)
        values = outcome.values
        # Of versions that are left out nothing is proven here.
        proven = self.problem.outline is None
        return Given(
            amounts=None if values is None else tuple(float(v) for v in values[self._first :]),
            total=float("inf") if outcome.objective is None else outcome.objective,
            bound=outcome.bound if proven else -np.inf,
            problem=None if values is None else self.problem,
            decisions=None if values is None else self.model.decisions(values),
            infeasible=outcome.infeasible and proven,
            optimal=outcome.ending == "optimal" and proven,
        )

    def hold(self, weights: Mapping[int, float], most: float) -> None:
        """Keep a weighted sum of what is given at or below `most` from now on."""
        row = {self._first + n: weight for n, weight in weights.items()}
        self.matrix = with_row(self.matrix, row, -np.inf, most)
