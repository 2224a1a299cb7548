"""The oracle: can some of a scenario's limits be met together? Yes with a week, no with a proof.

Answers are remembered with what follows from them: a week answers for every subset of the limits
it keeps, and a set that cannot be met cannot be met with more limits either.
"""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import dataclass, replace
from enum import Enum
from time import perf_counter

import numpy as np

from planopt.catalog.records import Catalog
from planopt.interrupts import stop_asked
from planopt.model.daymenus import MenuTable, supports_menus
from planopt.problem.build import Problem, build_problem
from planopt.problem.decisions import Decisions
from planopt.problem.limits import Limit, limits_of, with_limits
from planopt.scenario.records import Scenario
from planopt.solve.bounding.relaxations import merged_arrays
from planopt.solve.budget import Budget
from planopt.solve.engine.search import search
from planopt.solve.heuristics.fullmaster import AllMenus, every_menu
from planopt.solve.heuristics.tidy import tidied
from planopt.solve.highs.daymodel import build_plain
from planopt.solve.highs.solver import solve_matrix
from planopt.solve.settings import SolveSettings
from planopt.whynot.witness import limits_met

# Any week will do: the first one ends a search, as no week costs less than nothing.
_ANY_WEEK = 1.0
_MOST_MENUS = 6000
_LEAST_SECONDS = 0.3
_FOR_MENUS = 0.25
# A search for a week among many menus cannot end sooner than its first steps do.
_LEAST_SEARCH_SECONDS = 2.0
_ONE_SOLUTION = {"mip_max_improving_sols": 1}


class Answer(Enum):
    """Whether limits can be met together; `OPEN` when time was over before either was known."""

    YES = "yes"
    NO = "no"
    OPEN = "open"


@dataclass(frozen=True)
class WitnessWeek:
    """A week that keeps some limits: the problem it is a plan of, and its decisions."""

    problem: Problem
    decisions: Decisions


class Deadline:
    """The end of the time for an explanation; endless where work is counted instead."""

    def __init__(self, settings: SolveSettings, seconds: float) -> None:
        self._began = perf_counter()
        self._seconds = seconds
        self._share = 1.0
        self._counted = settings.work_limit is not None

    def share(self, share: float) -> None:
        """Let only a share of all the time be spent for now."""
        self._share = share

    def over(self) -> bool:
        """Tell whether the time is over."""
        return self.left() <= 0

    def spent(self) -> float:
        """Return the seconds spent."""
        return perf_counter() - self._began

    def left(self) -> float:
        """Return the seconds left; none once the command was asked to stop."""
        if stop_asked():
            return 0.0
        return 1e6 if self._counted else max(0.0, self._seconds * self._share - self.spent())


class Oracle:
    """Answers for one scenario, remembered. `solved` counts the questions that needed solving."""

    def __init__(
        self, catalog: Catalog, scenario: Scenario, settings: SolveSettings, deadline: Deadline
    ) -> None:
        self.catalog = catalog
        self.scenario = scenario
        self.settings = settings
        self.deadline = deadline
        self.limits = frozenset(limits_of(scenario))
        self.solved = 0
        self._met: list[tuple[frozenset[Limit], WitnessWeek]] = []
        self._unmet: list[frozenset[Limit]] = []
        self._open: dict[frozenset[Limit], float] = {}

    def week(self, kept: frozenset[Limit]) -> WitnessWeek | None:
        """Return a known week that keeps these limits."""
        return next((week for met, week in self._met if kept <= met), None)

    def assume_unmet(self, limits: Iterable[Limit]) -> None:
        """Take it as proven that these limits cannot be met together."""
        self._unmet.append(frozenset(limits))

    def learn(self, problem: Problem, decisions: Decisions) -> None:
        """Remember a week that was found elsewhere, with whatever limits it keeps."""
        met = limits_met(problem, decisions, self.limits)
        self._met.append((met, WitnessWeek(problem, decisions)))

    def ask(self, kept: Iterable[Limit], seconds: float) -> Answer:
        """Tell whether these limits can be met together, trying for some seconds at most."""
        wanted = frozenset(kept)
        if self.week(wanted) is not None:
            return Answer.YES
        if any(unmet <= wanted for unmet in self._unmet):
            return Answer.NO
        seconds = min(seconds, self.deadline.left())
        # Asking again pays only with clearly more time, and a moment is too short to begin.
        if seconds < _LEAST_SECONDS or seconds < 1.5 * self._open.get(wanted, 0.0):
            return Answer.OPEN
        self.solved += 1
        problem = build_problem(self.catalog, with_limits(self.scenario, wanted))
        start = next(
            (w.decisions for _, w in reversed(self._met) if alike(w.problem, problem)), None
        )
        result = first_week(problem, self.settings, seconds, start)
        if result.infeasible:
            self._unmet.append(wanted)
            return Answer.NO
        if result.decisions is None:
            self._open[wanted] = seconds
            return Answer.OPEN
        found = WitnessWeek(problem, result.decisions)
        met = limits_met(problem, result.decisions, self.limits) | wanted
        self._met.append((met, found))
        return Answer.YES


def alike(known: Problem, problem: Problem) -> bool:
    """Tell whether two problems have the same meals and dishes, so that decisions fit both.

    Where versions are left out, other limits may have other ones at hand.
    """
    return known.slots == problem.slots and (
        problem.outline is None
        or [dish.key for dish in known.dishes] == [dish.key for dish in problem.dishes]
    )


@dataclass(frozen=True)
class Found:
    """How the look for any week ended: with a week, with a proof that there is none, or open."""

    decisions: Decisions | None
    infeasible: bool


def first_week(
    problem: Problem, settings: SolveSettings, seconds: float, start: Decisions | None = None
) -> Found:
    """Look for any week, by whichever way proves most for a problem of this kind and size."""
    if any(not slot.options for slot in problem.bounding.slots):
        return Found(None, True)
    quick = settings.model_copy(
        update={"time_limit_s": max(0.1, seconds), "gap": _ANY_WEEK, "options": {}}
    )
    if problem.outline is not None:
        # Whatever else is asked below says nothing of the versions that are left out.
        result = search(problem, quick, None, start)
        return Found(result.decisions, result.infeasible)
    if not supports_menus(problem):
        model = build_plain(problem, strengthen=False)
        blank = replace(model.matrix, cost=np.zeros_like(model.matrix.cost))
        outcome = solve_matrix(blank, quick, extra=_ONE_SOLUTION)
        found = None if outcome.values is None else model.decisions(outcome.values)
        return Found(found and tidied(problem, found), outcome.infeasible)
    if solve_matrix(merged_arrays(problem).relaxed(), quick).infeasible:
        return Found(None, True)
    for g in range(len(problem.groups)):
        if not MenuTable(problem, g).possible():
            return Found(None, True)
    budget = Budget(quick)
    menus = every_menu(problem, _MOST_MENUS, budget.share(_FOR_MENUS))
    if menus is None and seconds < _LEAST_SEARCH_SECONDS:
        return Found(None, False)
    if menus is None:
        result = search(problem, budget.within(quick).single(), None, start)
        return Found(result.decisions, result.infeasible)
    if problem.budget is not None:
        # Too small a budget mostly shows in the LP with the rows on whole packs; a week is found
        # sooner without them.
        strong = AllMenus(problem, menus, strengthen=True)
        if solve_matrix(strong.matrix.relaxed(), quick).infeasible:
            return Found(None, True)
    ended = AllMenus(problem, menus, strengthen=False).solve(quick, extra=_ONE_SOLUTION)
    found = ended.decisions
    return Found(found and tidied(problem, found), ended.outcome.infeasible)
