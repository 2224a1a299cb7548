"""The search over day menus: a first week, then walks and rounds by turns, beside the bound."""

from __future__ import annotations

import random
from collections.abc import Callable, Sequence

from planopt.deadlines import OutOfTime
from planopt.model.daymenus import MenuTable
from planopt.problem.build import Problem
from planopt.problem.decisions import Decisions
from planopt.solve.annealing.compiled import Compilation
from planopt.solve.annealing.memetic import suits
from planopt.solve.bounding.relaxations import Proof, proofs_of, weekly_arrays
from planopt.solve.bounding.worker import BoundWorker, first_bound, safe_bound
from planopt.solve.clock import Clock, for_proof, in_time
from planopt.solve.endings import INFEASIBLE_WORD
from planopt.solve.engine.annealturns import anneal_turn, annealed
from planopt.solve.engine.neighbourhoods import Neighbourhood, next_neighbourhood, search_round
from planopt.solve.engine.state import SearchState
from planopt.solve.engine.tabuturns import by_batches
from planopt.solve.engine.walks import first_walk, walk, whole_menus
from planopt.solve.heuristics.columngeneration import translate
from planopt.solve.heuristics.destroyrepair import LocalSearch
from planopt.solve.heuristics.diving import Dive, dive
from planopt.solve.heuristics.feasible import any_week
from planopt.solve.result import SearchResult, ending_of_search
from planopt.solve.settings import SolveSettings

_ROUNDS_BY_WORK = 6
_ROUND_SECONDS = 4.5
_WORKER_SHARE = 0.35
_STARTS, _START_SHARE = 2, 0.04
_ANY_SHARE = 0.6
_WALK_SHARE = 0.15
_ANNEAL_SHARE = 0.6
_FIRST_ANNEAL = 1.0
# All cores anneal at first: a good week makes each later second of the proof worth more.
_TOGETHER_SHARE = 0.25
_BATCH_SHARE, _SHARED_BATCH_SHARE = 0.4, 0.15
_WALK_EVERY = 2
_RARELY = 8
_TURNS = (2, 2, 0, 2, 2, 1)


def search_menus(
    problem: Problem,
    settings: SolveSettings,
    clock: Clock,
    smaller: Problem | None = None,
    start: Decisions | None = None,
) -> SearchResult:
    """Search a problem of one dish a meal, from the menus of `start`; see `supports_menus`.

    With `smaller`, a restriction of the problem, plans are sought in that alone.

    Raises:
        BadOption: from the settings.
    """
    whole = problem
    problem = whole if smaller is None else smaller
    build_seconds = clock.seconds()
    compilation = Compilation()
    state = SearchState(problem, settings, clock, BoundWorker(), whole, compilation=compilation)
    single = settings.model_copy(update={"threads": 1})
    beside = settings.threads > 1 and settings.work_limit is None
    try:
        if suits(problem):
            compilation.begin()
            if settings.work_limit is not None:
                # The same moves on any machine, whenever it was compiled.
                compilation.wait()
        first = start if problem is whole else None
        if beside and state.compiled():
            _together(state, settings, first)
        began = clock.seconds()
        arrays = weekly_arrays(whole)
        tables = [MenuTable(problem, g) for g in range(len(problem.groups))]
        build_seconds += clock.seconds() - began
        if any(table.empty for table in tables) and problem is whole:
            return _result(state, INFEASIBLE_WORD, build_seconds, infeasible=True)
        proofs = proofs_of(whole, arrays)
        if beside:
            state.worker.start(proofs, for_proof(single, clock.left()))
        elif _first_bound(state, proofs[0], in_time(single, clock)):
            return _result(state, INFEASIBLE_WORD, build_seconds, infeasible=True)
        state.local = LocalSearch(problem, tables, settings.seed)
        seconds = clock.left() * (1.0 if beside else 1.0 - _WORKER_SHARE)
        until = clock.seconds() + seconds
        if start is not None:
            state.local.load(whole_menus(whole, problem, tables, start))
        if state.compiled() and state.weeks is None:
            anneal_turn(state, settings, min(_FIRST_ANNEAL, _ANNEAL_SHARE * seconds), first)
        if state.best is None and not state.over():
            first_walk(state, single, seconds)
        if state.compiled() and not state.over():
            anneal_turn(state, settings, _ANNEAL_SHARE * seconds)
        if state.best is None and not state.over():
            week = any_week(problem, single, clock, _ANY_SHARE * clock.left())
            if week is not None:
                state.offer(week)
        if state.best is not None and state.weeks is None:
            share = _BATCH_SHARE if len(problem.clients) == 1 else _SHARED_BATCH_SHARE
            by_batches(state, single, share * seconds)
            _walks(state, single, seconds, anew=start is None)

        def look() -> Dive:
            looked_at = arrays if problem is whole else weekly_arrays(problem)
            seen = dive(looked_at, in_time(single, clock), deep=state.best is None)
            if problem is whole and not seen.infeasible:
                state.bound = max(state.bound, safe_bound(seen.objective))
            return seen

        if not _improve(state, single, look, until) and problem is whole:
            return _result(state, INFEASIBLE_WORD, build_seconds, infeasible=True)
        if not beside and not state.over():
            _bound_after(state, proofs, single)
        while beside and not state.over() and state.worker.ended is None:
            state.worker.wait(0.2)
            state.tell("proving")
    except OutOfTime:
        # What was found before counts.
        state.tell("proving")
    finally:
        state.worker.stop()
    ended = state.worker.ended or "Stopped by the search"
    return _result(state, ended, build_seconds, infeasible=state.impossible())


def _together(state: SearchState, settings: SolveSettings, start: Decisions | None) -> None:
    """Let all cores anneal before the proof begins: shortly, then longer if there is a week."""
    together = _TOGETHER_SHARE * state.clock.left()
    anneal_turn(state, settings, min(_FIRST_ANNEAL, together / 2), start)
    # Without a week by then it may be the proof that is needed.
    if state.best is not None and together > _FIRST_ANNEAL and not state.over():
        anneal_turn(state, settings, together - _FIRST_ANNEAL, horizon_s=state.clock.left())


def _first_bound(state: SearchState, proof: Proof, settings: SolveSettings) -> bool:
    """Solve the LP of a relaxation, as time may be short for more; tell whether it has no point."""
    bound, infeasible = first_bound(proof, settings)
    state.bound = max(state.bound, bound)
    return infeasible


def _bound_after(state: SearchState, proofs: Sequence[Proof], settings: SolveSettings) -> None:
    """Raise the bound once the plan is found, with one core or a count of nodes."""

    def over() -> bool:
        state.tell("proving")
        return state.over()

    state.worker.run_here(proofs, for_proof(settings, state.clock.left()), over)


def _walks(state: SearchState, settings: SolveSettings, seconds: float, *, anew: bool) -> None:
    """Walk from several starts if asked to, then longer from the best week."""
    for _ in range(_STARTS if anew else 0):
        if not state.over():
            walk(state, settings, _START_SHARE * seconds, anew=True)
    if not state.over():
        walk(state, settings, _WALK_SHARE * seconds)


def _improve(
    state: SearchState, settings: SolveSettings, look: Callable[[], Dive], until: float
) -> bool:
    """Find a plan if there is none yet, then search around the best one until a time or rounds.

    Returns False where the relaxation looked at has no point.
    """
    chance = random.Random(settings.seed)
    extras, rounds, turn, wait = 0, 0, 0, _WALK_EVERY
    since, seen = 0, None
    sizes = [1.0, 1.0, 0.6]
    # A bound is of little use without a plan, which may take all the time there is.
    while not state.over() and (state.best is None or state.clock.seconds() < until):
        if settings.work_limit is not None and rounds >= _ROUNDS_BY_WORK:
            break
        rounds += 1
        left = state.clock.left() if state.best is None else until - state.clock.seconds()
        if state.best is not None and since < wait - 1:
            since += 1
            if state.compiled():
                turn_seconds = left if left < 2 * _ROUND_SECONDS else _ANNEAL_SHARE * left
                anneal_turn(state, state.settings, turn_seconds)
                continue
            by_batches(state, settings, min(_BATCH_SHARE * left, _ROUND_SECONDS))
            left = until - state.clock.seconds()
            walk(state, settings, min(left, 1.5 * _ROUND_SECONDS))
            continue
        if seen is None:
            seen = look()
            if seen.infeasible:
                return False
            continue
        if state.best is None:
            keep = frozenset(seen.cookings) | frozenset(seen.ranking[:extras])
            search_round(state, settings, Neighbourhood(keep), min(left, 6.0 + extras / 6))
            state.tell("first plan")
            extras = 2 * extras + 12
            continue
        kind = _TURNS[turn % len(_TURNS)]
        since, turn, before = 0, turn + 1, state.objective
        around = next_neighbourhood(state, seen, chance, kind, sizes[kind])
        finished = search_round(state, settings, around, min(left, _ROUND_SECONDS))
        sizes[kind] = min(4.0, sizes[kind] * 1.3) if finished else max(0.2, sizes[kind] * 0.75)
        # Rounds that bring nothing become rare; where they do, they alternate with walks.
        wait = _WALK_EVERY if state.objective < before else min(_RARELY, 2 * wait)
    return True


def _result(
    state: SearchState, solver_status: str, build_seconds: float, *, infeasible: bool = False
) -> SearchResult:
    return SearchResult(
        status=ending_of_search(
            state.settings,
            infeasible=infeasible,
            proven=state.close_enough(),
            interrupted=state.clock.interrupted,
        ),
        solver_status=solver_status,
        decisions=None if state.best is None else translate(state.best, state.problem, state.whole),
        bound=state.proven(),
        composition=(
            "the best of HiGHS's dual bounds of weekly relaxations with pack-cover rows (every "
            "compliant plan satisfies them), less 1e-6 of itself for tolerances"
        ),
        infeasible=infeasible,
        seconds=state.clock.seconds(),
        build_seconds=build_seconds,
        found_by="weeks by day walks" if state.weeks is None else annealed(),
    )
