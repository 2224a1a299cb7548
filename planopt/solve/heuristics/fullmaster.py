"""Every day menu as a column: where there are few enough, a small and exact model of the week.

Method: the master of a column generation with all columns written out, solved as a MIP.
Source: Dantzig and Wolfe, Operations Research 8 (1960), from memory.
"""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass, replace
from itertools import product
from math import inf

import numpy as np

from planopt.model.daymenus import DayMenu, MenuTable
from planopt.model.kitchen import new_kitchen
from planopt.model.master import new_master
from planopt.model.strengthen import Strengthening
from planopt.problem.build import Problem
from planopt.problem.decisions import Decisions
from planopt.solve.budget import Budget
from planopt.solve.highs.matrix import Floats, Matrix, to_matrix, with_columns, with_row
from planopt.solve.highs.reading import kitchen_decisions
from planopt.solve.highs.solver import Outcome, solve_matrix
from planopt.solve.settings import SolveSettings


def every_menu(problem: Problem, most: int, budget: Budget | None = None) -> list[DayMenu] | None:
    """Return all menus of all groups of days; None when more than `most`, or time is over.

    A group without a menu has none in the list; then no week complies.
    """
    found: list[DayMenu] = []
    for g, group in enumerate(problem.groups):
        if budget is not None and budget.over():
            return None
        table = MenuTable(problem, g)
        table.tighten()
        room = most - len(found)
        dishes = table.cheapest(table.no_prices(), room + 1, inf)
        if len(dishes) > room:
            return None
        # The table stands each dish for one cook day; here every cook day counts.
        alike = [
            {
                j: [x for x, other in enumerate(options) if other.dish == option.dish]
                for j, option in enumerate(options)
            }
            for options in (problem.slots[i].options for i in group.slots[0])
        ]
        for _, menu in dishes:
            days = [alike[m][j] for m, (j, _) in enumerate(menu.choice)]
            for chosen in product(*days):
                amounts = (amount for _, amount in menu.choice)
                found.append(DayMenu(g, tuple(zip(chosen, amounts, strict=True))))
            if len(found) > most:
                return None
    return found


@dataclass(frozen=True)
class MenuOutcome:
    """How a solve ended, with the decisions of its week if it has one."""

    outcome: Outcome
    decisions: Decisions | None


class AllMenus:
    """The master with every menu as a column; exact, so infeasible means that no week complies."""

    def __init__(self, problem: Problem, menus: list[DayMenu], *, strengthen: bool) -> None:
        self.problem = problem
        self.menus = menus
        kitchen = new_kitchen(problem)
        if strengthen:
            Strengthening(kitchen).add()
        self._master = new_master(kitchen)
        base = to_matrix(kitchen.lp)
        self._place = {name: i for i, name in enumerate(base.names)}
        self._first = base.columns
        columns = [self._master.column(menu) for menu in menus]
        days = [float(len(problem.groups[menu.group].days)) for menu in menus]
        self.matrix: Matrix = with_columns(base, columns, days, "m")

    @property
    def empty(self) -> bool:
        """Tell whether some days have no menu at all."""
        return len({menu.group for menu in self.menus}) < len(self.problem.groups)

    def hold(self, menu_cost: Floats, most: float) -> None:
        """Keep the sum of a cost of the menus at or below `most` from now on."""
        row = {self._first + n: float(cost) for n, cost in enumerate(menu_cost) if cost}
        self.matrix = with_row(self.matrix, row, -np.inf, most)

    def solve(
        self,
        settings: SolveSettings,
        menu_cost: Floats | None = None,
        *,
        cost_weight: float = 0.0,
        start: Decisions | None = None,
        extra: Mapping[str, object] | None = None,
    ) -> MenuOutcome:
        """Make the menus' cost plus `cost_weight` times the problem's own objective the least."""
        own = self.matrix.cost[: self._first] * cost_weight
        menus = np.zeros(len(self.menus)) if menu_cost is None else menu_cost
        matrix = replace(
            self.matrix,
            cost=np.concatenate([own, menus]),
            offset=self.matrix.offset * cost_weight,
        )
        point = None if start is None else self._point(start)
        outcome = solve_matrix(matrix, settings, start=point, extra=extra)
        found = None if outcome.values is None else self._decisions(outcome.values)
        return MenuOutcome(outcome, found)

    def _point(self, start: Decisions) -> Floats:
        chosen = {slot: (j, servings) for (slot, j), servings in start.servings.items()}
        counts: dict[DayMenu, int] = {}
        for g, group in enumerate(self.problem.groups):
            for members in group.slots:
                if all(slot in chosen for slot in members):
                    menu = DayMenu(g, tuple(chosen[slot] for slot in members))
                    counts[menu] = counts.get(menu, 0) + 1
        point = np.full(self.matrix.columns, np.nan)
        point[self._first :] = [counts.get(menu, 0) for menu in self.menus]
        return point

    def _decisions(self, values: Floats) -> Decisions:
        servings: dict[tuple[int, int], float] = {}
        free = [list(group.slots) for group in self.problem.groups]
        for position, menu in enumerate(self.menus):
            for _ in range(round(values[self._first + position])):
                members = free[menu.group].pop(0)
                for slot, (j, amount) in zip(members, menu.choice, strict=True):
                    servings[slot, j] = amount
        return kitchen_decisions(self._master.kitchen, self._place, values, servings)
