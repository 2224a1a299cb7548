"""The search for weeks that HiGHS takes day by day: small ones, and those of several dishes a meal.

HiGHS may prove a small week in a moment. Where it does not, its own weeks are poor, so weeks are
annealed, or put together over day menus, of the problem itself or of a simpler one (`simpler.py`).
Then HiGHS goes on from the best, first among its cookings, then in the whole problem. Meanwhile a
process of its own proves the bound; the best bound and the best week count.

Method: restriction, and a start for branch and bound. Source: none is followed.
"""

from __future__ import annotations

from contextlib import suppress
from dataclasses import replace
from math import inf

from planopt.deadlines import OutOfTime
from planopt.model.daymenus import MenuTable, supports_menus, supports_totals
from planopt.problem.build import Problem
from planopt.problem.decisions import Decisions, cost_of
from planopt.problem.order import week_kept
from planopt.problem.restricted import restrict
from planopt.solve.annealing.compiled import Compilation
from planopt.solve.annealing.memetic import WeekSearch, suits
from planopt.solve.bounding.relaxations import Proof, proofs_of, weekly_arrays
from planopt.solve.bounding.worker import BoundWorker, first_bound
from planopt.solve.budget import Budget, BudgetPart
from planopt.solve.endings import INFEASIBLE_WORD
from planopt.solve.engine.annealturns import anneal_weeks, annealed
from planopt.solve.engine.bymenus import search_menus
from planopt.solve.engine.simpler import simpler_problems
from planopt.solve.engine.state import SearchState
from planopt.solve.engine.tabuturns import by_batches
from planopt.solve.engine.walks import first_walk, walk
from planopt.solve.heuristics.columngeneration import translate
from planopt.solve.heuristics.destroyrepair import LocalSearch
from planopt.solve.heuristics.feasible import any_week
from planopt.solve.heuristics.tidy import tidied
from planopt.solve.highs.daymodel import PlainModel, build_plain, search_plain
from planopt.solve.parameters import PARAMETERS
from planopt.solve.result import SearchResult, ending_of_search
from planopt.solve.settings import SolveSettings
from planopt.tolerances import CHEAPER, LEAST_GAP

_DAYS = PARAMETERS.days
_COMPOSITION = "HiGHS branch and bound on the day-by-day model"


class _Days:
    """What a search day by day knows so far."""

    def __init__(self, problem: Problem, settings: SolveSettings, budget: Budget) -> None:
        self.problem = problem
        self.settings = settings
        self.budget = budget
        self.best: Decisions | None = None
        self.objective = inf
        # Money is never negative.
        self.bound = 0.0
        self.build_seconds = 0.0
        self.infeasible = False
        self.proven = False
        self.ended = "Time limit reached"
        self.found_by = ""
        self.composition = _COMPOSITION
        self.worker = BoundWorker()
        self.weeks: WeekSearch | None = None
        # Whether weeks in order were annealed until restarts agreed.
        self.orderly = False

    def offer(self, week: Decisions | None) -> None:
        """Take a week, tidied, if it is cheaper than the best one."""
        if week is None or not week_kept(self.problem, week):
            return
        week = tidied(self.problem, week)
        objective = cost_of(self.problem, week).objective
        if objective < self.objective - CHEAPER:
            self.best, self.objective = week, objective

    def hear_worker(self) -> None:
        """Take over what is proved beside the search."""
        if self.worker.bound > self.bound:
            self.bound, self.composition = self.worker.bound, _COMPOSITION
        self.infeasible |= self.best is None and self.worker.ended == INFEASIBLE_WORD

    def over(self) -> bool:
        """Tell whether to stop: gap proven, no week at all, time over, or interrupted."""
        self.hear_worker()
        return self.infeasible or self.close_enough() or self.budget.over()

    def close_enough(self) -> bool:
        """Tell whether the gap asked for is proven."""
        if self.proven:
            return True
        gap = max(self.settings.gap, LEAST_GAP)
        return self.best is not None and self.objective - self.bound <= gap * self.objective

    def watch(self, _: float, best: float | None, bound: float | None) -> bool:
        """Tell progress while HiGHS runs; its week may be dearer than the best one."""
        self.hear_worker()
        known = min(inf if best is None else best, self.objective)
        proven = max(0.0 if bound is None else bound, self.bound)
        self.budget.tell(
            "day by day", None if known == inf else known, proven if proven > 0 else None
        )
        return self.budget.interrupted or self.infeasible or self.close_enough()

    def part(self, seconds: float) -> BudgetPart:
        """Return a part of the budget that tells progress when asked, and ends with the search."""
        return self.budget.part(seconds, stop=lambda: self.watch(0.0, None, None) or self.over())

    def within(self, seconds: float = inf) -> SolveSettings:
        """Return the settings with so many seconds of those left; with a work limit none."""
        return self.budget.part(seconds).within(self.settings)

    def take(self, result: SearchResult) -> None:
        """Take the end of a search of the problem itself."""
        self.offer(result.decisions)
        if result.bound > self.bound:
            self.bound, self.composition = result.bound, result.composition
        self.infeasible = self.infeasible or (result.infeasible and self.best is None)
        self.proven = self.proven or result.status == "optimal"
        self.ended = result.solver_status
        self.build_seconds += result.build_seconds
        self.found_by = result.found_by or self.found_by


def search_days(
    problem: Problem,
    settings: SolveSettings,
    budget: Budget,
    start: Decisions | None = None,
    *,
    few: bool,
) -> SearchResult:
    """Search a problem that HiGHS takes day by day, from the menus of `start` if given.

    `few` tells that its options are few, so that HiGHS may prove it at once.

    Raises:
        BadOption: from the settings.
    """
    days = _Days(problem, settings, budget)
    try:
        # What was found before time was over counts, whatever was being built then.
        with suppress(OutOfTime):
            _search_within(days, start, few=few)
    finally:
        days.worker.stop()
    return _result(days)


def _search_within(days: _Days, start: Decisions | None, *, few: bool) -> None:
    """Search as `search_days` says, and let `days` know."""
    problem, budget = days.problem, days.budget
    model = None
    if few:
        model = build_plain(problem)
        seconds = min(_DAYS.look_s, _DAYS.look_share * budget.left())
        days.take(search_plain(problem, days.within(seconds), days.watch, start, model=model))
    if days.over():
        return
    annealed_here = _can_anneal(days)
    if not annealed_here and supports_menus(problem):
        part = budget.share(_DAYS.menu_share)
        days.take(search_menus(problem, days.settings, part, None, start))
    else:
        if annealed_here and model is None:
            # A first week is not kept waiting for the model to be built.
            _anneal(days, _DAYS.first_anneal_s, start)
            if problem.order and supports_totals(problem) and not days.over():
                _in_order(days, start)
        if days.over() or (days.orderly and budget.counted):
            return
        model = _search_beside(days, start, model, annealed_here=annealed_here)
    if not days.over() and (model is None or not budget.counted):
        begin = start if days.best is None else days.best
        model = build_plain(problem) if model is None else model
        whole = days.best is not None
        days.take(search_plain(problem, days.within(), days.watch, begin, model=model, whole=whole))


def _search_beside(
    days: _Days, start: Decisions | None, model: PlainModel | None, *, annealed_here: bool
) -> PlainModel:
    """Seek weeks while the bound is being proved, and let HiGHS polish them; return its model."""
    model = build_plain(days.problem) if model is None else model
    if not days.orderly:
        _prove_beside(days, model)
    if annealed_here and not days.orderly:
        _anneal(days, _DAYS.anneal_share * days.budget.left(), start)
    if days.best is None and not days.over():
        _construct(days, _DAYS.first_share * days.budget.left())
    if days.best is not None and not days.over():
        _polish(days, days.best, _DAYS.polish_share * days.budget.left())
    return model


def _in_order(days: _Days, start: Decisions | None) -> None:
    """Anneal weeks of a problem that asks for an order, with the relaxations proved beside.

    Where no week turns up soon, it is for the day-by-day model to say whether there is one.
    """
    budget, settings = days.budget, days.settings
    _anneal(days, _DAYS.together_share * budget.left(), start)
    if days.best is None or days.over():
        return
    proofs = proofs_of(days.problem, weekly_arrays(days.problem))
    single = settings.single()
    if settings.threads > 1 and not budget.counted:
        days.worker.start(proofs, budget.for_proof(single))
    else:
        days.bound = max(days.bound, first_bound(proofs[0], budget.within(single))[0])
    while not days.over() and days.weeks is not None and not days.weeks.converged:
        _anneal(days, budget.left(), start)
        if budget.counted:
            break
    days.orderly = True


def _prove_beside(days: _Days, model: PlainModel) -> None:
    """Let a process of its own prove the bound, or with one core take that of the first LP."""
    settings, problem = days.settings, days.problem
    proofs: list[Proof] = []
    if supports_totals(problem):
        relaxed = proofs_of(problem, weekly_arrays(problem))
        proofs += [
            replace(proof, share=share, started=())
            for proof, share in zip(relaxed, _DAYS.relaxed_shares, strict=True)
        ]
    proofs.append(Proof(model.matrix))
    single = days.within().single()
    if settings.threads > 1 and not days.budget.counted:
        days.worker.start(proofs, single.model_copy(update={"gap": 0.0}))
        return
    bound, infeasible = first_bound(proofs[0], single)
    days.bound = max(days.bound, bound)
    days.infeasible |= infeasible


def _can_anneal(days: _Days) -> bool:
    """Tell whether the compiled search counts as the problem does, and is ready."""
    compilation = Compilation()
    if not suits(days.problem):
        return False
    compilation.begin()
    if days.budget.counted:
        compilation.wait()
    return compilation.ready()


def _anneal(days: _Days, seconds: float, start: Decisions | None) -> None:
    """Anneal weeks of the problem for some seconds, or until restarts agree."""
    days.found_by = annealed()
    part = days.part(seconds)
    if days.weeks is None:
        days.weeks = WeekSearch(days.problem, days.settings.seed, days.settings.threads)
        if start is not None:
            days.weeks.add(start)
    # The worker has the other core.
    days.weeks.use(1 if days.worker.process_id is not None else days.settings.threads)
    anneal_weeks(days.problem, days.weeks, part, seconds, days.offer)


def _construct(days: _Days, seconds: float) -> None:
    """Put a first week together in a simpler problem; more time for it while there is none."""
    # A simpler problem knows nothing of the order of meals.
    for simple in () if days.problem.order else simpler_problems(days.problem):
        if days.over():
            return
        week: Decisions | None = None
        part = days.budget.part(max(seconds, _DAYS.first_share * days.budget.left()))
        found = walked_week(simple.searched, days.settings, part)
        if found is not None:
            week = translate(found, simple.searched, simple.problem)
        elif not part.over():
            week = search_menus(simple.problem, days.settings, part, simple.searched).decisions
        if week is not None:
            days.offer(simple.lifted(week))
        if days.best is not None:
            return


def walked_week(problem: Problem, settings: SolveSettings, budget: Budget) -> Decisions | None:
    """Return a week of a problem of one dish a meal by walks alone, without any proof."""
    tables = [MenuTable(problem, g) for g in range(len(problem.groups))]
    if any(table.empty for table in tables):
        return None
    state = SearchState(problem, settings, budget, BoundWorker(), problem)
    local = LocalSearch(problem, tables, settings.seed)
    first_walk(state, local, budget.left())
    if state.best is None and not state.over():
        week = any_week(problem, settings.single(), budget, _DAYS.any_share)
        if week is not None:
            state.offer(week)
    turns = 0
    while state.best is not None and not state.over():
        turns += 1
        seconds = min(_DAYS.turn_share * budget.left(), _DAYS.turn_s)
        by_batches(state, local, state.best, seconds)
        walk(state, local, min(budget.left(), 1.5 * _DAYS.turn_s))
        if turns >= budget.by_work(_DAYS.turns_by_work):
            break
    return state.best


def _polish(days: _Days, best: Decisions, seconds: float) -> None:
    """Let HiGHS go on from the best week among its cookings alone."""
    problem = days.problem
    smaller = restrict(problem, {problem.cookings[n] for n in best.batches})
    begin = translate(best, problem, smaller)
    found = search_plain(smaller, days.within(seconds), days.watch, begin, whole=True)
    if found.decisions is not None:
        days.offer(translate(found.decisions, smaller, problem))


def _result(days: _Days) -> SearchResult:
    return SearchResult(
        status=ending_of_search(
            days.settings,
            infeasible=days.infeasible,
            proven=days.close_enough(),
            interrupted=days.budget.interrupted,
        ),
        solver_status=days.ended,
        decisions=days.best,
        bound=days.bound,
        composition=days.composition,
        infeasible=days.infeasible,
        seconds=days.budget.seconds(),
        build_seconds=days.build_seconds,
        found_by=days.found_by,
    )
