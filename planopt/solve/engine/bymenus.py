"""The search over day menus: a first week, then walks and rounds by turns, beside the bound."""

from __future__ import annotations

from planopt.deadlines import OutOfTime
from planopt.model.daymenus import MenuTable
from planopt.problem.build import Problem
from planopt.problem.decisions import Decisions
from planopt.solve.annealing.compiled import Compilation
from planopt.solve.annealing.memetic import suits
from planopt.solve.bounding.relaxations import Proof, WeeklyArrays, proofs_of, weekly_arrays
from planopt.solve.bounding.worker import BoundWorker, first_bound, safe_bound
from planopt.solve.budget import Budget
from planopt.solve.endings import INFEASIBLE_WORD
from planopt.solve.engine.annealturns import anneal_turn, annealed
from planopt.solve.engine.narrow import narrowed
from planopt.solve.engine.state import SearchState
from planopt.solve.engine.tabuturns import by_batches
from planopt.solve.engine.turns import Turns
from planopt.solve.engine.walks import first_walk, walk, whole_menus
from planopt.solve.heuristics.destroyrepair import LocalSearch
from planopt.solve.heuristics.diving import Dive, dive
from planopt.solve.heuristics.feasible import any_week
from planopt.solve.parameters import PARAMETERS
from planopt.solve.result import SearchResult, ending_of_search
from planopt.solve.settings import SolveSettings

_MENUS = PARAMETERS.menus


def search_menus(
    problem: Problem,
    settings: SolveSettings,
    budget: Budget,
    smaller: Problem | None = None,
    start: Decisions | None = None,
) -> SearchResult:
    """Search a problem of one dish a meal, from the menus of `start`; see `supports_menus`.

    With `smaller`, a restriction of the problem, plans are sought in that alone.

    Raises:
        BadOption: from the settings.
    """
    search = _MenuSearch(problem, settings, budget, smaller or problem, start)
    state, exists = search.state, True
    try:
        exists = search.run()
    except OutOfTime:
        # What was found before counts.
        state.tell("proving")
    finally:
        state.worker.stop()
    if not exists:
        return search.result(INFEASIBLE_WORD, infeasible=True)
    ended = state.worker.ended or "Stopped by the search"
    return search.result(ended, infeasible=state.impossible())


class _MenuSearch:
    """One search: plans of `problem`, which is `whole` or a restriction of it, and its bound."""

    def __init__(
        self,
        whole: Problem,
        settings: SolveSettings,
        budget: Budget,
        problem: Problem,
        start: Decisions | None,
    ) -> None:
        self.whole = whole
        self.problem = problem
        self.settings = settings
        self.budget = budget
        self.start = start
        self.single = settings.single()
        self.beside = settings.threads > 1 and not budget.counted
        self.build_seconds = budget.seconds()
        self.state = SearchState(
            problem, settings, budget, BoundWorker(), whole, compilation=Compilation()
        )

    def run(self) -> bool:
        """Search until the budget is spent; False where it is proven that no week complies."""
        self._compile()
        self._before_menus()
        began = self.budget.seconds()
        arrays = weekly_arrays(self.whole)
        tables = [MenuTable(self.problem, g) for g in range(len(self.problem.groups))]
        self.build_seconds += self.budget.seconds() - began
        if any(table.empty for table in tables) and self.problem is self.whole:
            return False
        proofs = proofs_of(self.whole, arrays)
        if not self._bound_begun(proofs):
            return False
        local = LocalSearch(self.problem, tables, self.settings.seed)
        part = self.budget.share(1.0 if self.beside else 1.0 - _MENUS.worker_share)
        seconds = part.left()
        if self.start is not None:
            local.load(whole_menus(self.whole, self.problem, tables, self.start))
        self._first_week(local, seconds)
        feasible = Turns(self.state, local, lambda: self._look(arrays), part).run()
        if not feasible and self.problem is self.whole:
            return False
        self._prove_to_the_end(proofs)
        return True

    def _compile(self) -> None:
        """Let the faster search be compiled, if it suits the problem."""
        compilation = self.state.compilation
        if compilation is not None and suits(self.whole):
            compilation.begin()
            if self.budget.counted:
                # The same moves on any machine, whenever it was compiled.
                compilation.wait()

    def _before_menus(self) -> None:
        """Anneal before menus are listed: for long with all cores, for a moment with one.

        Whatever is narrowed is narrowed again, to keep what was found.
        """
        if not self.state.compiled():
            return
        if self.beside:
            self._together()
        elif self.problem is not self.whole:
            anneal_turn(self.state, self._moment(self.budget.left()), self.start)
        found = self.state.plan()
        if self.problem is not self.whole and found is not None:
            smaller = narrowed(self.whole, found)
            if smaller is not None:
                self.problem = smaller
                self.state.narrow(smaller)

    def _together(self) -> None:
        """Let all cores anneal before the proof begins: shortly, then longer if there is a week."""
        together = _MENUS.together_share * self.budget.left()
        anneal_turn(self.state, min(_MENUS.first_anneal_s, together / 2), self.start)
        # Without a week by then it may be the proof that is needed.
        rest = together - _MENUS.first_anneal_s
        if self.state.found() and rest > 0 and not self.state.over():
            anneal_turn(self.state, rest, horizon_s=self.budget.left())

    def _moment(self, seconds: float) -> float:
        """Return the seconds of a first anneal, of so many."""
        return min(_MENUS.first_anneal_s, _MENUS.anneal_share * seconds)

    def _bound_begun(self, proofs: tuple[Proof, ...]) -> bool:
        """Begin the proof beside, or solve the LP of the first relaxation; False without a point.

        With one core time may be short for more.
        """
        if self.beside:
            self.state.worker.start(proofs, self.budget.for_proof(self.single))
            return True
        bound, infeasible = first_bound(proofs[0], self.budget.within(self.single))
        self.state.bound = max(self.state.bound, bound)
        return not infeasible

    def _first_week(self, local: LocalSearch, seconds: float) -> None:
        """Seek a first week by every means, and improve it by those that are quick."""
        state = self.state
        if state.compiled() and state.weeks is None:
            anneal_turn(state, self._moment(seconds), self.start)
        if not state.found() and not state.over():
            first_walk(state, local, seconds)
        if state.compiled() and not state.over():
            anneal_turn(state, _MENUS.anneal_share * seconds)
        if not state.found() and not state.over():
            week = any_week(self.problem, self.single, self.budget, _MENUS.any_share)
            if week is not None:
                state.offer(week)
        if state.best is not None and state.weeks is None:
            alone = len(self.problem.clients) == 1
            share = _MENUS.batch_share if alone else _MENUS.shared_batch_share
            by_batches(state, local, state.best, share * seconds)
            self._walks(local, seconds)

    def _walks(self, local: LocalSearch, seconds: float) -> None:
        """Walk from several starts if none was given, then longer from the best week."""
        for _ in range(_MENUS.starts if self.start is None else 0):
            if not self.state.over():
                walk(self.state, local, _MENUS.start_share * seconds, anew=True)
        if not self.state.over():
            walk(self.state, local, _MENUS.walk_share * seconds)

    def _look(self, arrays: WeeklyArrays) -> Dive:
        """Look at the relaxation for what it likes; of the whole problem its value is a bound."""
        whole = self.problem is self.whole
        looked_at = arrays if whole else weekly_arrays(self.problem)
        deep = self.state.best is None
        seen = dive(looked_at, self.budget.within(self.single), deep=deep)
        if whole and not seen.infeasible:
            self.state.bound = max(self.state.bound, safe_bound(seen.objective))
        return seen

    def _prove_to_the_end(self, proofs: tuple[Proof, ...]) -> None:
        """Wait for the bound, or raise it now with one core or a count of nodes."""
        state, worker = self.state, self.state.worker
        if not self.beside and not state.over():
            part = state.part(phase="proving")
            worker.run_here(proofs, self.budget.for_proof(self.single), part.over)
        while self.beside and not state.over() and worker.ended is None:
            worker.wait(0.2)
            state.tell("proving")

    def result(self, solver_status: str, *, infeasible: bool) -> SearchResult:
        """Return how the search has ended."""
        state = self.state
        return SearchResult(
            status=ending_of_search(
                self.settings,
                infeasible=infeasible,
                proven=state.close_enough(),
                interrupted=self.budget.interrupted,
            ),
            solver_status=solver_status,
            decisions=state.plan(),
            bound=state.proven(),
            composition=(
                "the best of HiGHS's dual bounds of weekly relaxations with pack-cover rows (every "
                "compliant plan satisfies them), less 1e-6 of itself for tolerances"
            ),
            infeasible=infeasible,
            seconds=self.budget.seconds(),
            build_seconds=self.build_seconds,
            found_by="weeks by day walks" if state.weeks is None else annealed(),
        )
