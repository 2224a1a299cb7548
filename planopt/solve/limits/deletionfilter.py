"""A smallest set of limits that clashes in the LP relaxation already, found by deletion.

The proof of each clash, a dual ray, tells which limits it does not use; they leave together. One
HiGHS instance keeps its basis from question to question. What clashes in the relaxation clashes in
whole numbers too.

Method: irreducible infeasible subset by a deletion filter, sped up by the support of Farkas rays.
Source: Chinneck and Dravnieks, Locating minimal infeasible constraint sets in linear programs, ORSA
Journal on Computing 3 (1991). From memory.
"""

from __future__ import annotations

from collections.abc import Callable, Sequence

import numpy as np

from planopt.problem.build import Problem
from planopt.problem.limits import Limit
from planopt.solve.endings import solver_ending
from planopt.solve.highs.daymodel import build_plain
from planopt.solve.highs.solver import new_solver
from planopt.solve.settings import SolveSettings

_LONG = 1e6
_ZERO = 1e-9


class LpCore:
    """The relaxed day-by-day model of a problem, with groups of limits to switch off and on."""

    def __init__(
        self, problem: Problem, groups: Sequence[Sequence[Limit]], settings: SolveSettings
    ) -> None:
        model = build_plain(problem.bounding, strengthen=False)
        self._matrix = model.matrix.relaxed()
        self._matrix.cost[:] = 0.0
        # HiGHS counts its time limit over all runs of an instance; `over` is asked instead.
        self._solver = new_solver(settings.model_copy(update={"time_limit_s": _LONG}))
        # Only a run without presolve tells which rows its proof is made of.
        self._solver.setOptionValue("presolve", "off")
        self._solver.passModel(self._matrix.as_highs())
        known = model.kitchen.limit_rows
        self._rows = [
            sorted({row for limit in group for row in known.get(limit.key, ())}) for group in groups
        ]

    def clashes(self) -> bool:
        """Tell whether the limits now switched on are proven to clash."""
        self._solver.run()
        return solver_ending(self._solver) == "infeasible"

    def _switch(self, position: int, on: bool) -> None:
        for row in self._rows[position]:
            low, high = self._matrix.row_lower[row], self._matrix.row_upper[row]
            self._solver.changeRowBounds(row, low if on else -np.inf, high if on else np.inf)

    def core(self, over: Callable[[], bool]) -> list[int] | None:
        """Return positions of groups that clash, none of which can go; None if nothing clashes.

        Groups without rows, such as exclusions, are never in it: they hold in the problem itself.
        Once `over` says so, what is left is returned as it is.
        """
        if not self._matrix.columns or not self.clashes():
            # Without columns nothing can be cooked, whatever the limits are.
            return None
        kept = [n for n, rows in enumerate(self._rows) if rows]
        kept = self._without_idle(kept)
        position = len(kept) - 1
        while position >= 0 and not over():
            n = kept[position]
            self._switch(n, on=False)
            if self.clashes():
                kept.remove(n)
                kept = self._without_idle(kept)
            else:
                self._switch(n, on=True)
            position = min(position, len(kept)) - 1
        return kept

    def _without_idle(self, kept: list[int]) -> list[int]:
        """Switch off the groups that the present proof does not use, if the rest still clashes.

        A dual ray is a sum of rows that cannot be met; rows with a zero in it play no part.
        """
        # highspy has the call without naming it in its types.
        _, has_ray, ray = self._solver.getDualRay()  # type: ignore[attr-defined]
        if not has_ray:
            return kept
        idle = [n for n in kept if all(abs(ray[row]) <= _ZERO for row in self._rows[n])]
        for n in idle:
            self._switch(n, on=False)
        if self.clashes():
            return [n for n in kept if n not in idle]
        for n in idle:
            self._switch(n, on=True)
        self._solver.run()
        return kept
