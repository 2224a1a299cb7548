"""The search over day menus: dive, choose, then improve, while a worker raises the bound.

Each round takes some cookings (those of the best plan and promising others), generates the menus
that matter for them, and lets HiGHS choose batches, packs and days whole.
"""

from __future__ import annotations

import random
from dataclasses import dataclass
from math import inf

from planopt.model.daymenus import MenuTable
from planopt.problem.build import Problem, restrict
from planopt.problem.decisions import Decisions, cost_of
from planopt.solve.bound import BoundWorker, WeeklyArrays, safe_bound, weekly_arrays
from planopt.solve.clock import Clock
from planopt.solve.columns import MenuMaster, translate
from planopt.solve.dive import Dive, dive
from planopt.solve.result import SearchResult
from planopt.solve.settings import SolveSettings

_FIRST_EXTRAS = 36
_ROUNDS_BY_WORK = 6
_ROUND_SECONDS = 7.0
_WORKER_SHARE = 0.35


@dataclass
class _State:
    """What a search knows so far."""

    problem: Problem
    settings: SolveSettings
    clock: Clock
    worker: BoundWorker
    best: Decisions | None = None
    objective: float = inf
    bound: float = -inf
    guides_seen: int = 0

    def offer(self, decisions: Decisions) -> bool:
        """Take a plan if it is cheaper; its cost is recomputed from its numbers."""
        objective = cost_of(self.problem, decisions).objective
        if objective < self.objective - 1e-9:
            self.best, self.objective = decisions, objective
            return True
        return False

    def proven(self) -> float:
        """Return the best bound known."""
        return max(self.bound, self.worker.bound)

    def close_enough(self) -> bool:
        """Tell whether the gap asked for is proven."""
        if self.best is None:
            return False
        return self.objective - self.proven() <= self.settings.gap * abs(self.objective)

    def tell(self, phase: str) -> None:
        """Report progress."""
        best = None if self.best is None else self.objective
        bound = self.proven()
        self.clock.tell(phase, best, bound if bound > -inf else None)

    def over(self) -> bool:
        """Tell whether to stop: gap proven, time over, or interrupted."""
        return self.close_enough() or self.clock.over()


def search_menus(problem: Problem, settings: SolveSettings, clock: Clock) -> SearchResult:
    """Search a problem of one dish a meal; see `supports_menus`.

    Raises:
        BadOption: from the settings.
    """
    arrays = weekly_arrays(problem)
    tables = [MenuTable(problem, g) for g in range(len(problem.groups))]
    build_seconds = clock.seconds()
    state = _State(problem, settings, clock, BoundWorker())
    if any(table.empty for table in tables):
        return _result(state, "Infeasible", build_seconds, infeasible=True)
    single = settings.model_copy(update={"threads": 1})
    seen = dive(arrays, single)
    if seen.infeasible:
        return _result(state, "Infeasible", build_seconds, infeasible=True)
    state.bound = safe_bound(seen.objective)
    beside = settings.threads > 1 and settings.work_limit is None
    if beside:
        state.worker.start(arrays, _worker_settings(single, clock.left()))
    try:
        _improve(state, single, seen, clock.left() * (1.0 if beside else 1.0 - _WORKER_SHARE))
        if not beside and not state.over():
            _bound_after(state, arrays, single)
        while beside and not state.over() and state.worker.ended is None:
            state.worker.wait(0.2)
            state.tell("proving")
    finally:
        state.worker.stop()
    return _result(state, state.worker.ended or "Stopped by the search", build_seconds)


def _worker_settings(settings: SolveSettings, seconds: float) -> SolveSettings:
    return settings.model_copy(update={"time_limit_s": max(1.0, seconds), "gap": 0.0})


def _bound_after(state: _State, arrays: WeeklyArrays, settings: SolveSettings) -> None:
    """Raise the bound once the plan is found, with one core or a count of nodes."""
    state.worker.start(arrays, _worker_settings(settings, state.clock.left()))
    while state.worker.ended is None and not state.over():
        state.worker.wait(0.2)
        state.tell("proving")


def _improve(state: _State, settings: SolveSettings, seen: Dive, seconds: float) -> None:
    """Find a first plan, then search around the best one until time or rounds are over."""
    chance = random.Random(settings.seed)
    until = state.clock.seconds() + seconds
    extras = _FIRST_EXTRAS
    rounds = 0
    misses = 0
    while not state.over() and state.clock.seconds() < until:
        if settings.work_limit is not None and rounds >= _ROUNDS_BY_WORK:
            return
        rounds += 1
        left = until - state.clock.seconds()
        if state.best is None:
            keep = set(seen.cookings) | set(seen.ranking[:extras])
            found = _round(state, settings, keep, (), min(left, 12.0 + extras / 6))
            if not found:
                if len(keep) == len(state.problem.cookings):
                    misses += 1
                    if misses > 3:
                        return
                extras *= 2
            continue
        keep, fixed = _neighbourhood(state, seen, chance, rounds)
        _round(state, settings, keep, fixed, min(left, _ROUND_SECONDS))


def _neighbourhood(
    state: _State, seen: Dive, chance: random.Random, rounds: int
) -> tuple[set[int], set[int]]:
    """Return cookings to consider, and those of the best plan that stay switched on."""
    assert state.best is not None
    mine = set(state.best.batches)
    keep = set(mine)
    count = len(state.problem.cookings)
    guides = state.worker.guides
    if len(guides) > state.guides_seen:
        state.guides_seen = len(guides)
        keep |= guides[-1]
        return keep, set()
    weights = [1.0 / (4.0 + place) for place in range(count)]
    keep |= set(chance.choices(seen.ranking, weights, k=min(count, 14)))
    keep |= set(chance.sample(range(count), k=min(count, 6)))
    if rounds % 3 == 0:
        return keep, set()
    stay = chance.sample(sorted(mine), k=len(mine) // 2)
    return keep, set(stay)


def _round(
    state: _State,
    settings: SolveSettings,
    keep: set[int],
    fixed: set[int] | tuple[()],
    seconds: float,
) -> bool:
    """Search the plans made of some cookings; tell whether one was found that is cheaper."""
    problem = state.problem
    cookings = {problem.cookings[n] for n in keep}
    smaller = restrict(problem, cookings)
    master = MenuMaster(smaller, settings)
    if master.empty_groups():
        return False
    place = {cooking: n for n, cooking in enumerate(smaller.cookings)}
    start = None
    if state.best is not None:
        start = translate(state.best, problem, smaller)
        for menu in master.menu_counts(start):
            master.add_menu(menu)
    stop = state.clock.seconds() + seconds
    master.add_cheapest(master.first_duals(), first=True)
    master.generate(14, state.clock.at(min(stop, state.clock.seconds() + seconds / 2)))
    extra: dict[str, object] = {"mip_rel_gap": min(0.002, settings.gap / 4)}
    if settings.work_limit is None:
        extra["time_limit"] = max(1.0, stop - state.clock.seconds())

    def watch(_: float, best: float | None, __: float | None) -> bool:
        state.tell("improving" if state.best is not None else "first plan")
        return state.over()

    decisions = master.choose(
        400,
        extra=extra,
        start=start,
        watch=watch,
        fixed_on=[place[problem.cookings[n]] for n in fixed],
    )
    if decisions is None:
        return False
    better = state.offer(translate(decisions, smaller, problem))
    state.tell("improving")
    return better


def _result(
    state: _State, solver_status: str, build_seconds: float, *, infeasible: bool = False
) -> SearchResult:
    if state.close_enough():
        status = "optimal"
    elif state.clock.interrupted:
        status = "interrupted"
    elif state.settings.work_limit is not None:
        status = "work_limit"
    else:
        status = "time_limit"
    return SearchResult(
        status=status,
        solver_status=solver_status,
        decisions=state.best,
        bound=state.proven(),
        composition=(
            "HiGHS's dual bound of the weekly relaxation with pack-cover rows (every compliant "
            "plan satisfies it), less 1e-6 of itself for tolerances"
        ),
        infeasible=infeasible,
        seconds=state.clock.seconds(),
        build_seconds=build_seconds,
    )
