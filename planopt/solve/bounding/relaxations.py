"""The relaxations as arrays, and the tree searches over them that prove the bound.

Method: relaxations tightened by valid inequalities (covering knapsacks of whole packs), each solved
by branch and bound, first with few whole numbers and then with more.
Source: planopt/model/ALGEBRA.md says why they are valid; branch and bound is that of Land and Doig,
An automatic method of solving discrete programming problems, Econometrica 28 (1960), from memory.
"""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import dataclass, replace

import numpy as np

from planopt.model.dishtotals import Merged
from planopt.model.kitchen import KitchenModel, new_kitchen
from planopt.model.merged import merged_relaxation
from planopt.model.strengthen import Strengthening
from planopt.model.weekly import add_weekly
from planopt.problem.build import Problem
from planopt.solve.highs.matrix import Matrix, to_matrix

# A tree search that does not end proves less than an easier one that does.
_SHARE = 0.9
_FOODS_IN_PACKS = 10


@dataclass(frozen=True)
class WeeklyArrays:
    """The weekly relaxation as arrays; `started` are the columns of the cookings' switches.

    `loose` are the columns of what is cooked with each option of an outline, in order.
    """

    matrix: Matrix
    started: tuple[int, ...]
    loose: tuple[int, ...] = ()


@dataclass(frozen=True)
class Proof:
    """A relaxation to solve in whole numbers for at most a `share` of the time that is left.

    `started` gives the columns that switch cookings on, so that its points guide the search (or
    those of loose lines, whose points are versions); without them it looks for no points but those
    it meets.
    """

    matrix: Matrix
    share: float = 1.0
    started: tuple[int, ...] = ()


def weekly_arrays(problem: Problem) -> WeeklyArrays:
    """Write the weekly relaxation of a problem and turn it into arrays."""
    kitchen = new_kitchen(problem)
    rows = Strengthening(kitchen)
    rows.add()
    add_weekly(kitchen, rows.made)
    matrix = to_matrix(kitchen.lp)
    place = {name: i for i, name in enumerate(matrix.names)}
    started = tuple(place[v.name] for v in kitchen.started)
    return WeeklyArrays(matrix, started, loose_columns(kitchen, matrix))


def loose_columns(kitchen: KitchenModel, matrix: Matrix) -> tuple[int, ...]:
    """Return the columns of what is cooked with each option: by cooking, line and option."""
    place = {name: i for i, name in enumerate(matrix.names)}
    lines = [line for n in sorted(kitchen.loose) for line in kitchen.loose[n]]
    return tuple(place[one.units.name] for line in lines for one in line)


def merged_arrays(problem: Problem) -> Matrix:
    """Write the merged relaxation of a problem and turn it into arrays."""
    return to_matrix(merged_relaxation(problem).lp)


def proofs_of(problem: Problem, weekly: WeeklyArrays) -> tuple[Proof, ...]:
    """Return the relaxations to solve in turn: each is nearer to the problem, and slower.

    First which dishes and foods, then how many steps of each, then the packs of foods that dishes
    share, all without cook days; then the whole weekly relaxation.
    """
    merged = merged_relaxation(problem)
    matrix = to_matrix(merged.lp)
    switches = [variable.name for variable in merged.switches()]
    counted = merged_relaxation(problem, _FOODS_IN_PACKS)
    return (
        Proof(whole_only(matrix, switches), _SHARE),
        Proof(whole_only(matrix, _whole_names(merged)), _SHARE),
        Proof(whole_only(to_matrix(counted.lp), _whole_names(counted)), _SHARE),
        Proof(weekly.matrix, 1.0, weekly.started),
    )


def _whole_names(merged: Merged) -> list[str]:
    """Return the columns that are whole once dishes and foods are chosen, and those."""
    whole = (*merged.switches(), *merged.steps(), *merged.loose(), *merged.packs)
    return [variable.name for variable in whole]


def whole_only(matrix: Matrix, names: Iterable[str]) -> Matrix:
    """Return arrays in which these columns alone are whole."""
    place = {name: i for i, name in enumerate(matrix.names)}
    integer = np.zeros_like(matrix.integer)
    integer[[place[name] for name in names]] = True
    return replace(matrix, integer=integer)
