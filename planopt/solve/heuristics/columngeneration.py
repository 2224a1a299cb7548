"""A restricted master over some cookings: day menus priced in, then chosen in whole numbers.

Method: column generation. The LP over the menus known so far gives prices (duals); the menus with
the least reduced cost are found exactly by `MenuTable` and added, until none is negative or the
bound is within half a percent. Then HiGHS solves the restricted master in whole numbers.
Source: Dantzig and Wolfe, Decomposition principle for linear programs, Operations Research 8
(1960); Gilmore and Gomory, A linear programming approach to the cutting-stock problem, Operations
Research 9 (1961). Both from memory.
"""

from __future__ import annotations

from collections.abc import Container, Iterable
from dataclasses import dataclass
from time import perf_counter

import highspy
import numpy as np

from planopt.model.daymenus import DayMenu, MenuTable
from planopt.model.kitchen import new_kitchen, serving_value
from planopt.model.master import new_master
from planopt.model.strengthen import Strengthening
from planopt.problem.build import Option, Problem
from planopt.problem.decisions import Decisions
from planopt.solve.budget import Budget
from planopt.solve.endings import solver_ending
from planopt.solve.highs.matrix import Floats, Matrix, to_matrix, with_columns
from planopt.solve.highs.reading import kitchen_decisions
from planopt.solve.highs.solver import Watcher, new_solver, solve_matrix
from planopt.solve.settings import SolveSettings

_PENALTY = 1000.0
_PRICED = 100
_KEPT_A_ROUND = 10
_FIRST_KEPT = 25
_MISSED = 1e-6


@dataclass(frozen=True)
class Choice:
    """The result of a whole-number master; `finished` when HiGHS closed it within its gap."""

    decisions: Decisions | None
    finished: bool


class MenuMaster:
    """Columns, prices and plans of a problem whose clients eat day menus."""

    def __init__(self, problem: Problem, settings: SolveSettings) -> None:
        began = perf_counter()
        self.problem = problem
        self.settings = settings
        kitchen = new_kitchen(problem)
        Strengthening(kitchen).add()
        self.master = new_master(kitchen)
        self.matrix = to_matrix(kitchen.lp)
        self.place = {name: i for i, name in enumerate(self.matrix.names)}
        self.tables = [MenuTable(problem, g) for g in range(len(problem.groups))]
        self.menus: list[DayMenu] = []
        self.columns: list[dict[int, float]] = []
        self._known: dict[DayMenu, int] = {}
        self._solver = new_solver(settings)
        self._solver.passModel(self.matrix.relaxed().as_highs())
        self._artificial = 0
        self._add_artificials()
        self.lp_bound = -np.inf
        self.build_seconds = perf_counter() - began

    def empty_groups(self) -> list[int]:
        """Return groups of days that no menu can serve."""
        return [g for g, table in enumerate(self.tables) if table.empty]

    def _add_artificials(self) -> None:
        """Let rows be missed at a high price, so that the LP has a point before there are menus."""
        master = self.master
        rows = [*master.group_row, *master.variety_row.values()]
        rows += [row for _, some in master.rule_rows for row in some]
        for row in rows:
            sign = -1.0 if self.matrix.row_lower[row] < -1e20 else 1.0
            self._solver.addCol(
                _PENALTY, 0.0, highspy.kHighsInf, 1, np.array([row], np.int32), np.array([sign])
            )
            self._artificial += 1

    def add_menu(self, menu: DayMenu) -> bool:
        """Add a menu as a column; False when it is already there."""
        if menu in self._known:
            return False
        self._known[menu] = len(self.menus)
        column = self.master.column(menu)
        self.menus.append(menu)
        self.columns.append(column)
        rows = np.array(sorted(column), np.int32)
        # No upper bound: the group's row gives one, and a second would take part of its dual.
        self._solver.addCol(
            0.0,
            0.0,
            highspy.kHighsInf,
            len(rows),
            rows,
            np.array([column[int(row)] for row in rows]),
        )
        return True

    def add_cheapest(self, duals: Floats, *, first: bool = False) -> tuple[int, float]:
        """Add the menus cheapest at `duals`; return how many, and what the LP bound still lacks."""
        prices = self.master.prices(duals)
        added, lacking = 0, 0.0
        for g, table in enumerate(self.tables):
            worth = np.inf if first else float(duals[self.master.group_row[g]]) - 1e-7
            found = table.cheapest(prices[g], _PRICED * (5 if first else 1), worth)
            if found and not first:
                lacking += len(self.problem.groups[g].days) * (found[0][0] - worth)
            added += self._add_varied(
                (menu for _, menu in found), _FIRST_KEPT if first else _KEPT_A_ROUND
            )
        return added, lacking

    def _add_varied(self, menus: Iterable[DayMenu], most: int) -> int:
        """Add menus whose dishes differ, not only their portions."""
        seen: set[tuple[int, ...]] = set()
        added = 0
        for menu in menus:
            dishes = tuple(j for j, _ in menu.choice)
            if dishes in seen:
                continue
            seen.add(dishes)
            added += self.add_menu(menu)
            if len(seen) >= most:
                break
        return added

    def first_duals(self) -> Floats:
        """Return first prices, before any LP: each serving costs the value of its food."""
        duals = np.zeros(len(self.matrix.row_lower))
        for n, cooking in enumerate(self.problem.cookings):
            duals[self.master.eaten_row[n]] = -serving_value(self.problem, cooking.dish)
        return duals

    def generate(self, rounds: int, budget: Budget) -> float:
        """Generate columns by price; return by how much rows are still missed in the last LP.

        It stops once the budget is spent, no menu has a negative reduced cost, or the bound is
        within half a percent.
        """
        missed = np.inf
        for _ in range(rounds):
            self._solver.run()
            if solver_ending(self._solver) != "optimal":
                return missed
            base = self.matrix.columns
            values = np.array(self._solver.getSolution().col_value)
            missed = float(values[base : base + self._artificial].sum())
            objective = float(self._solver.getInfo().objective_function_value)
            duals = np.array(self._solver.getSolution().row_dual)
            added, lacking = self.add_cheapest(duals)
            self.lp_bound = max(self.lp_bound, objective + lacking)
            near = missed <= _MISSED and -lacking <= 0.005 * abs(objective)
            if added == 0 or near or budget.over():
                break
        return missed

    def best_columns(self, most: int) -> list[int]:
        """Return positions of the menus with the least reduced cost in the last LP."""
        self._solver.run()
        base = self.matrix.columns + self._artificial
        reduced = np.array(self._solver.getSolution().col_dual)[base:]
        if len(reduced) != len(self.menus):
            return list(range(len(self.menus)))[:most]
        return [int(i) for i in np.argsort(reduced, kind="stable")[:most]]

    def choose(
        self,
        most: int,
        *,
        extra: dict[str, object],
        start: Decisions | None = None,
        watch: Watcher | None = None,
        fixed_on: Iterable[int] = (),
        fixed_groups: Container[int] = (),
    ) -> Choice:
        """Solve the whole-number master over the best menus.

        `start` is a plan of the same problem to begin from. `fixed_on` are cookings that stay
        switched on, `fixed_groups` groups of days that keep the menus of `start`.
        """
        counts = {} if start is None else self.menu_counts(start)
        for menu in counts:
            self.add_menu(menu)
        mine = {self._known[menu] for menu in counts}
        groups = self.problem.groups
        chosen = sorted(
            mine | {i for i in self.best_columns(most) if self.menus[i].group not in fixed_groups}
        )
        days = [float(len(groups[self.menus[i].group].days)) for i in chosen]
        matrix = with_columns(self.matrix, [self.columns[i] for i in chosen], days, "m")
        for n in fixed_on:
            matrix.lower[self.place[self.master.kitchen.started[n].name]] = 1.0
        for position, i in enumerate(chosen):
            if self.menus[i].group in fixed_groups:
                column = self.matrix.columns + position
                matrix.lower[column] = matrix.upper[column] = counts[self.menus[i]]
        point = None if start is None else self._point(matrix, chosen, start, counts)
        outcome = solve_matrix(matrix, self.settings, start=point, watch=watch, extra=extra)
        found = None if outcome.values is None else self._decisions(outcome.values, chosen)
        return Choice(found, outcome.ending in ("optimal", "infeasible"))

    def realize(self, servings: dict[tuple[int, int], float], seconds: float) -> Decisions | None:
        """Return the cheapest plan that serves exactly these servings, or None if none does."""
        wanted = Decisions(batches={}, servings=servings, packs={})
        counts = self.menu_counts(wanted)
        for menu in counts:
            self.add_menu(menu)
        chosen = [self._known[menu] for menu in counts]
        days = [float(count) for count in counts.values()]
        matrix = with_columns(self.matrix, [self.columns[i] for i in chosen], days, "m")
        matrix.lower[self.matrix.columns :] = days
        extra: dict[str, object] = {"mip_rel_gap": 1e-4}
        if self.settings.work_limit is None:
            extra["time_limit"] = seconds
        outcome = solve_matrix(matrix, self.settings, extra=extra)
        return None if outcome.values is None else self._decisions(outcome.values, chosen)

    def menu_counts(self, decisions: Decisions) -> dict[DayMenu, int]:
        """Return how many days each menu of a plan is eaten."""
        chosen = {slot: (j, servings) for (slot, j), servings in decisions.servings.items()}
        counts: dict[DayMenu, int] = {}
        for g, group in enumerate(self.problem.groups):
            for members in group.slots:
                menu = DayMenu(g, tuple(chosen[slot] for slot in members))
                counts[menu] = counts.get(menu, 0) + 1
        return counts

    def _point(
        self, matrix: Matrix, chosen: list[int], start: Decisions, counts: dict[DayMenu, int]
    ) -> Floats:
        point = np.full(matrix.columns, np.nan)
        kitchen = self.master.kitchen
        for n, unit in enumerate(kitchen.units):
            step = self.problem.dishes[self.problem.cookings[n].dish].batch_step or 1.0
            units = round(start.batches.get(n, 0.0) / step)
            point[self.place[unit.name]] = units
            point[self.place[kitchen.started[n].name]] = float(units > 0)
        for key, pack in kitchen.packs.items():
            point[self.place[pack.name]] = start.packs.get(key, 0.0)
        for position, i in enumerate(chosen):
            point[self.matrix.columns + position] = counts.get(self.menus[i], 0)
        return point

    def _decisions(self, values: Floats, chosen: list[int]) -> Decisions:
        servings: dict[tuple[int, int], float] = {}
        free = [list(group.slots) for group in self.problem.groups]
        for position, i in enumerate(chosen):
            menu = self.menus[i]
            for _ in range(round(values[self.matrix.columns + position])):
                members = free[menu.group].pop(0)
                for slot, (j, amount) in zip(members, menu.choice, strict=True):
                    servings[slot, j] = amount
        return kitchen_decisions(self.master.kitchen, self.place, values, servings)


def translate(decisions: Decisions, source: Problem, target: Problem) -> Decisions:
    """Return decisions about one restriction of a problem as decisions about another.

    Both must share dishes, supplies and slots; every cooking used must be in the target.
    """
    place = {cooking: n for n, cooking in enumerate(target.cookings)}
    where: list[dict[Option, int]] = [
        {option: j for j, option in enumerate(slot.options)} for slot in target.slots
    ]
    return Decisions(
        batches={place[source.cookings[n]]: b for n, b in decisions.batches.items()},
        servings={
            (i, where[i][source.slots[i].options[j]]): amount
            for (i, j), amount in decisions.servings.items()
        },
        packs=decisions.packs,
    )
