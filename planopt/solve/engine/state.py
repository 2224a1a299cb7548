"""What a search over day menus knows so far: the best plan, the bound, and who is at work."""

from __future__ import annotations

from dataclasses import dataclass
from math import inf

from planopt.problem.build import Problem
from planopt.problem.decisions import Decisions, cost_of
from planopt.problem.order import week_kept
from planopt.solve.annealing.compiled import Compilation
from planopt.solve.annealing.memetic import WeekSearch, suits
from planopt.solve.bounding.worker import BoundWorker
from planopt.solve.clock import Clock
from planopt.solve.endings import INFEASIBLE_WORD
from planopt.solve.heuristics.destroyrepair import LocalSearch
from planopt.solve.heuristics.tabu import BatchWalk
from planopt.solve.heuristics.tidy import tidied
from planopt.solve.settings import SolveSettings

# Bounds are taken with a millionth off, so a gap of exactly 0 cannot be seen.
_TOLERANCE = 2e-6


@dataclass
class SearchState:
    """What a search knows so far; `problem` is `whole` or a restriction of it."""

    problem: Problem
    settings: SolveSettings
    clock: Clock
    worker: BoundWorker
    whole: Problem
    best: Decisions | None = None
    objective: float = inf
    # Money is never negative.
    bound: float = 0.0
    guides_seen: int = 0
    guides_walked: int = 0
    local: LocalSearch | None = None
    batches: BatchWalk | None = None
    weeks: WeekSearch | None = None
    compilation: Compilation | None = None

    def offer(self, decisions: Decisions) -> bool:
        """Take a plan, tidied, if it is cheaper; its cost is recomputed from its numbers."""
        if not week_kept(self.problem, decisions):
            return False
        decisions = tidied(self.problem, decisions, thorough=False)
        objective = cost_of(self.problem, decisions).objective
        if objective < self.objective - 1e-9:
            self.best, self.objective = decisions, objective
            return True
        return False

    def compiled(self) -> bool:
        """Tell whether weeks can be annealed, and would not only be annealed again."""
        ready = self.compilation is not None and self.compilation.ready()
        return (
            ready and suits(self.problem) and not (self.weeks is not None and self.weeks.converged)
        )

    def proven(self) -> float:
        """Return the best bound known."""
        return max(self.bound, self.worker.bound)

    def close_enough(self) -> bool:
        """Tell whether the gap asked for is proven."""
        if self.best is None:
            return False
        gap = max(self.settings.gap, _TOLERANCE)
        return self.objective - self.proven() <= gap * abs(self.objective)

    def guide(self) -> frozenset[int]:
        """Return the newest guide of the worker, as cookings of `problem`."""
        newest = {self.whole.cookings[n] for n in self.worker.guides[-1]}
        return frozenset(n for n, cooking in enumerate(self.problem.cookings) if cooking in newest)

    def tell(self, phase: str) -> None:
        """Report progress."""
        best = None if self.best is None else self.objective
        bound = self.proven()
        if self.compilation is not None and self.compilation.running:
            phase = f"{phase}, compiling the faster search once"
        self.clock.tell(phase, best, bound if bound > 0 else None)

    def over(self) -> bool:
        """Tell whether to stop: gap proven, no week at all, time over, or interrupted."""
        return self.close_enough() or self.impossible() or self.clock.over()

    def impossible(self) -> bool:
        """Tell whether a relaxation proves that no week complies."""
        return self.best is None and self.worker.ended == INFEASIBLE_WORD
