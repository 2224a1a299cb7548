"""What a search over day menus knows so far: the best plan, the bound, and who is at work."""

from __future__ import annotations

from dataclasses import dataclass
from math import inf, isfinite

from planopt.problem.build import Problem
from planopt.problem.decisions import Decisions, cost_of
from planopt.problem.order import week_kept
from planopt.solve.annealing.compiled import Compilation
from planopt.solve.annealing.memetic import WeekSearch, suits
from planopt.solve.bounding.worker import BoundWorker
from planopt.solve.budget import Budget, BudgetPart
from planopt.solve.endings import INFEASIBLE_WORD
from planopt.solve.heuristics.columngeneration import translate
from planopt.solve.heuristics.tabu import BatchWalk
from planopt.solve.heuristics.tidy import tidied
from planopt.solve.settings import SolveSettings
from planopt.tolerances import CHEAPER, LEAST_GAP


@dataclass
class SearchState:
    """What a search knows so far; `problem` is `whole` or a restriction of it.

    `best` is a plan of `problem`; a cheaper one that goes beyond that is `beyond`, a plan of
    `whole`. `objective` is what the cheaper of them costs.
    """

    problem: Problem
    settings: SolveSettings
    budget: Budget
    worker: BoundWorker
    whole: Problem
    best: Decisions | None = None
    beyond: Decisions | None = None
    objective: float = inf
    # Money is never negative.
    bound: float = 0.0
    guides_seen: int = 0
    guides_walked: int = 0
    batches: BatchWalk | None = None
    weeks: WeekSearch | None = None
    compilation: Compilation | None = None

    def offer(self, decisions: Decisions) -> bool:
        """Take a plan, tidied, if it is cheaper; its cost is recomputed from its numbers."""
        if not week_kept(self.problem, decisions):
            return False
        decisions = tidied(self.problem, decisions, thorough=False)
        objective = cost_of(self.problem, decisions).objective
        if objective < self.objective - CHEAPER:
            self.best, self.beyond, self.objective = decisions, None, objective
            return True
        return False

    def offer_of_whole(self, decisions: Decisions) -> bool:
        """Take a plan of the whole problem, as `offer` does."""
        mine = set(self.problem.cookings)
        if all(self.whole.cookings[n] in mine for n in decisions.batches):
            return self.offer(translate(decisions, self.whole, self.problem))
        decisions = tidied(self.whole, decisions, thorough=False)
        objective = cost_of(self.whole, decisions).objective
        if objective < self.objective - CHEAPER:
            self.beyond, self.objective = decisions, objective
            return True
        return False

    def narrow(self, smaller: Problem) -> None:
        """Seek plans in another restriction of the whole, which holds the best one."""
        best = self.plan()
        self.problem, self.beyond = smaller, None
        self.best = None if best is None else translate(best, self.whole, smaller)

    def plan(self) -> Decisions | None:
        """Return the best plan, in terms of the whole problem."""
        if self.beyond is not None or self.best is None:
            return self.beyond
        return translate(self.best, self.problem, self.whole)

    def found(self) -> bool:
        """Tell whether there is a plan."""
        return isfinite(self.objective)

    def compiled(self) -> bool:
        """Tell whether weeks can be annealed, and would not only be annealed again."""
        ready = self.compilation is not None and self.compilation.ready()
        return ready and suits(self.whole) and not (self.weeks is not None and self.weeks.converged)

    def batch_walk(self) -> BatchWalk:
        """Return the walk over what is cooked, made when it is first asked for."""
        if self.batches is None:
            self.batches = BatchWalk(self.problem, self.settings.single())
        return self.batches

    def proven(self) -> float:
        """Return the best bound known."""
        return max(self.bound, self.worker.bound)

    def close_enough(self) -> bool:
        """Tell whether the gap asked for is proven."""
        if not self.found():
            return False
        gap = max(self.settings.gap, LEAST_GAP)
        return self.objective - self.proven() <= gap * abs(self.objective)

    def guide(self) -> frozenset[int]:
        """Return the newest guide of the worker, as cookings of `problem`."""
        newest = {self.whole.cookings[n] for n in self.worker.guides[-1]}
        return frozenset(n for n, cooking in enumerate(self.problem.cookings) if cooking in newest)

    def tell(self, phase: str = "") -> None:
        """Report progress, by default of looking for a first plan, or for a better one."""
        best = self.objective if self.found() else None
        bound = self.proven()
        phase = phase or ("improving" if self.found() else "first plan")
        if self.compilation is not None and self.compilation.running:
            phase = f"{phase}, compiling the faster search once"
        self.budget.tell(phase, best, bound if bound > 0 else None)

    def over(self) -> bool:
        """Tell whether to stop: gap proven, no week at all, time over, or interrupted."""
        return self.close_enough() or self.impossible() or self.budget.over()

    def part(self, seconds: float = inf, work: float = inf, phase: str = "") -> BudgetPart:
        """Return a part of the budget that tells progress when asked, and ends with the search."""

        def stop() -> bool:
            self.tell(phase)
            return self.over()

        return self.budget.part(seconds, work, stop)

    def impossible(self) -> bool:
        """Tell whether a relaxation proves that no week complies."""
        return not self.found() and self.worker.ended == INFEASIBLE_WORD
