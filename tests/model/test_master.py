"""The master with every menu as a whole-number column is the plain model in other words."""

from __future__ import annotations

import numpy as np
import pytest

from model.chosen import Chosen
from model.everymenu import all_menus
from model.points import MONEY, optimum, real_optimum
from model.small import EXACT, random_kitchen
from planopt.model.daymenus import DayMenu
from planopt.model.kitchen import new_kitchen
from planopt.model.master import Master, new_master
from planopt.model.strengthen import Strengthening
from planopt.problem.build import Problem
from planopt.solve.highs.matrix import Matrix, to_matrix, with_columns
from planopt.solve.highs.solver import solve_matrix
from slow import few

KITCHENS = range(30)


def _full_master(
    problem: Problem, *, strengthen: bool = False
) -> tuple[Master, list[DayMenu], Matrix]:
    """Return a master, all its menus, and its arrays with all of them as columns."""
    kitchen = new_kitchen(problem)
    if strengthen:
        Strengthening(kitchen).add()
    master = new_master(kitchen)
    menus = [menu for g in range(len(problem.groups)) for menu in all_menus(problem, g)]
    days = [float(len(problem.groups[menu.group].days)) for menu in menus]
    columns = [master.column(menu) for menu in menus]
    return master, menus, with_columns(to_matrix(kitchen.lp), columns, days, "m")


@pytest.mark.parametrize("seed", few(KITCHENS, 6))
def test_all_menus_reach_the_optimum_of_the_plain_model(seed: int) -> None:
    """Same status and same optimum at gap 0, by turns with and without the strengthening rows."""
    full = optimum(_full_master(random_kitchen(seed).problem, strengthen=seed % 2 == 0)[2])
    real = real_optimum(seed)
    assert (full.objective is None) == (real is None)
    if real is not None:
        assert full.objective == pytest.approx(real, abs=MONEY)


@pytest.mark.parametrize("seed", KITCHENS[::3])
def test_prices_are_the_reduced_costs_of_columns(seed: int) -> None:
    """Menu price minus the dual of the group's row is minus column times duals, for any duals."""
    problem = random_kitchen(seed).problem
    master, menus, matrix = _full_master(problem)
    duals = np.random.default_rng(seed).normal(0, 3, len(matrix.row_lower))
    prices = master.prices(duals)
    for menu in menus[:200]:
        column = master.column(menu)
        reduced = -sum(value * duals[row] for row, value in column.items())
        price = sum(
            float(table[0, j] * servings + table[1, j])
            for table, (j, servings) in zip(prices[menu.group], menu.choice, strict=True)
        )
        expected = price - duals[master.group_row[menu.group]]
        assert reduced == pytest.approx(expected, abs=1e-6)


def _has_duals(seed: int) -> bool:
    matrix = _full_master(random_kitchen(seed).problem)[2]
    return solve_matrix(matrix.relaxed(), EXACT).row_duals is not None


WITH_DUALS = Chosen(_has_duals)


@pytest.mark.parametrize("nth", range(8))
def test_at_the_optimum_of_the_relaxation_no_menu_is_worth_adding(nth: int) -> None:
    """The solver's own duals price every menu at or above zero; so the sign of prices is right."""
    problem = random_kitchen(WITH_DUALS[nth]).problem
    master, menus, matrix = _full_master(problem)
    outcome = solve_matrix(matrix.relaxed(), EXACT)
    assert outcome.row_duals is not None
    free = matrix.columns - len(menus)
    at_most = matrix.upper[free:]
    assert outcome.values is not None
    for menu, value, most in zip(menus, outcome.values[free:], at_most, strict=True):
        column = master.column(menu)
        reduced = -sum(value * outcome.row_duals[row] for row, value in column.items())
        if value < most - 1e-6:  # a menu at its upper bound may be worth more of itself
            assert reduced >= -1e-6
