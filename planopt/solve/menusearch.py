"""The search over day menus: dive, choose, then improve, while a worker raises the bound.

Each round takes some cookings (those of the best plan and promising others), generates the menus
that matter for them, and lets HiGHS choose batches, packs and days whole.
"""

from __future__ import annotations

import random
from collections.abc import Sequence
from dataclasses import dataclass
from math import inf

import numpy as np
from numpy.typing import NDArray

from planopt.model.daymenus import DayMenu, MenuTable
from planopt.problem.build import Problem, restrict
from planopt.problem.decisions import Decisions, cost_of
from planopt.solve.batchwalk import BatchWalk
from planopt.solve.bound import BoundWorker, safe_bound
from planopt.solve.clock import Clock
from planopt.solve.columns import MenuMaster, translate
from planopt.solve.dive import Dive, dive
from planopt.solve.local import LocalSearch
from planopt.solve.relaxations import Proof, proofs_of, weekly_arrays
from planopt.solve.result import Ending, SearchResult
from planopt.solve.settings import SolveSettings

# Bounds are taken with a millionth off, so a gap of exactly 0 cannot be seen.
_TOLERANCE = 2e-6
_ROUNDS_BY_WORK = 6
_ROUND_SECONDS = 4.5
_WORKER_SHARE = 0.35
_STARTS, _START_SHARE = 2, 0.04
_WALK_SHARE = 0.15
_BATCH_SHARE = 0.4
_BATCH_SECONDS, _BATCH_MOVES, _BATCH_SLICES = 0.5, 60, 4
_SET_SECONDS = 0.8
_WALK_EVERY = 2
_RARELY = 8
_TURNS = (2, 2, 0, 2, 2, 1)
_WALK_MOVES = 200
_MOST_MOVES = 10**6
_REALIZE_SECONDS = 5.0
_GUIDE_EXTRAS = 10
_FIRST_TRIES = 8
_FIRST_MOVES = 15
_FIRST_SHARE = 0.3


@dataclass
class _State:
    """What a search knows so far; `problem` is `whole` or a restriction of it."""

    problem: Problem
    settings: SolveSettings
    clock: Clock
    worker: BoundWorker
    whole: Problem
    best: Decisions | None = None
    objective: float = inf
    bound: float = -inf
    guides_seen: int = 0
    guides_walked: int = 0
    local: LocalSearch | None = None
    batches: BatchWalk | None = None

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
        self.clock.tell(phase, best, bound if bound > -inf else None)

    def over(self) -> bool:
        """Tell whether to stop: gap proven, no week at all, time over, or interrupted."""
        return self.close_enough() or self.impossible() or self.clock.over()

    def impossible(self) -> bool:
        """Tell whether a relaxation proves that no week complies."""
        return self.best is None and self.worker.ended == "Infeasible"


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
    arrays = weekly_arrays(whole)
    proofs = proofs_of(whole, arrays)
    tables = [MenuTable(problem, g) for g in range(len(problem.groups))]
    build_seconds = clock.seconds()
    state = _State(problem, settings, clock, BoundWorker(), whole)
    if any(table.empty for table in tables) and problem is whole:
        return _result(state, "Infeasible", build_seconds, infeasible=True)
    single = settings.model_copy(update={"threads": 1})
    beside = settings.threads > 1 and settings.work_limit is None
    try:
        if beside:
            state.worker.start(proofs, _worker_settings(single, clock.left()))
        state.local = LocalSearch(problem, tables, settings.seed)
        seconds = clock.left() * (1.0 if beside else 1.0 - _WORKER_SHARE)
        until = clock.seconds() + seconds
        if start is not None:
            state.local.load(_whole_menus(whole, problem, tables, start))
        _first_walk(state, single, seconds)
        if state.best is not None:
            _by_batches(state, single, _BATCH_SHARE * seconds / len(problem.clients))
            _walks(state, single, seconds, anew=start is None)
        seen = dive(arrays if problem is whole else weekly_arrays(problem), single)
        if problem is whole:
            if seen.infeasible:
                return _result(state, "Infeasible", build_seconds, infeasible=True)
            state.bound = safe_bound(seen.objective)
        _improve(state, single, seen, until)
        if not beside and not state.over():
            _bound_after(state, proofs, single)
        while beside and not state.over() and state.worker.ended is None:
            state.worker.wait(0.2)
            state.tell("proving")
    finally:
        state.worker.stop()
    ended = state.worker.ended or "Stopped by the search"
    return _result(state, ended, build_seconds, infeasible=state.impossible())


def _worker_settings(settings: SolveSettings, seconds: float) -> SolveSettings:
    return settings.model_copy(update={"time_limit_s": max(1.0, seconds), "gap": 0.0})


def _bound_after(state: _State, proofs: Sequence[Proof], settings: SolveSettings) -> None:
    """Raise the bound once the plan is found, with one core or a count of nodes."""

    def over() -> bool:
        state.tell("proving")
        return state.over()

    state.worker.run_here(proofs, _worker_settings(settings, state.clock.left()), over)


def _by_batches(state: _State, settings: SolveSettings, seconds: float) -> None:
    """Search over what is cooked, and split the best sets of cookings that turn up into days."""
    clocked = settings.work_limit is None
    began = state.clock.seconds()
    if state.batches is None:
        state.batches = BatchWalk(state.problem, settings)
    assert state.best is not None
    walk = state.batches
    walk.begin(state.best.batches)

    def left() -> float:
        return seconds - (state.clock.seconds() - began)

    for _ in range(_MOST_MOVES if clocked else _BATCH_SLICES):
        stop = state.clock.seconds() + min(_BATCH_SECONDS, left())

        def over(stop: float = stop) -> bool:
            state.tell("improving")
            return state.over() or (clocked and state.clock.seconds() > stop)

        walk.walk(over, _MOST_MOVES if clocked else _BATCH_MOVES)
        keep = walk.promising(state.objective)
        if keep is not None and not state.over():
            _split(state, settings, walk.found[keep][1])
            walk.tried(keep)
        if state.over() or (clocked and left() <= 0):
            return


def _split(state: _State, settings: SolveSettings, steps: NDArray[np.int64]) -> None:
    """Put a week together from these batches, and improve it for a moment."""
    local = state.local
    assert local is not None
    clocked = settings.work_limit is None
    began = state.clock.seconds()
    if not local.start_from(steps):
        return

    def over() -> bool:
        state.tell("improving")
        return state.over() or (clocked and state.clock.seconds() > began + _SET_SECONDS)

    def spent() -> float:
        return (state.clock.seconds() - began) / _SET_SECONDS

    if clocked:
        local.improve(over, _MOST_MOVES, spent)
    else:
        local.improve(over, _WALK_MOVES)
    if local.cost() < state.objective:
        _realize(state, settings)


def _walks(state: _State, settings: SolveSettings, seconds: float, *, anew: bool) -> None:
    """Walk from several starts if asked to, then longer from the best week."""
    for _ in range(_STARTS if anew else 0):
        if not state.over():
            _walk(state, settings, _START_SHARE * seconds, anew=True)
    if not state.over():
        _walk(state, settings, _WALK_SHARE * seconds)


def _improve(state: _State, settings: SolveSettings, seen: Dive, until: float) -> None:
    """Find a plan if there is none yet, then search around the best one until a time or rounds."""
    chance = random.Random(settings.seed)
    extras, rounds, turn, wait = 0, 0, 0, _WALK_EVERY
    since = wait
    sizes = [1.0, 1.0, 0.6]
    while not state.over() and state.clock.seconds() < until:
        if settings.work_limit is not None and rounds >= _ROUNDS_BY_WORK:
            return
        rounds += 1
        left = until - state.clock.seconds()
        if state.best is None:
            keep = frozenset(seen.cookings) | frozenset(seen.ranking[:extras])
            _round(state, settings, _Neighbourhood(keep), min(left, 6.0 + extras / 6))
            state.tell("first plan")
            extras = 2 * extras + 12
            continue
        if since < wait - 1:
            since += 1
            _by_batches(state, settings, min(left, _ROUND_SECONDS / len(state.problem.clients)))
            _walk(state, settings, min(left, 1.5 * _ROUND_SECONDS))
            continue
        kind = _TURNS[turn % len(_TURNS)]
        since, turn, before = 0, turn + 1, state.objective
        around = _neighbourhood(state, seen, chance, kind, sizes[kind])
        finished = _round(state, settings, around, min(left, _ROUND_SECONDS)).finished
        sizes[kind] = min(4.0, sizes[kind] * 1.3) if finished else max(0.2, sizes[kind] * 0.75)
        # Rounds that bring nothing become rare; where they do, they alternate with walks.
        wait = _WALK_EVERY if state.objective < before else min(_RARELY, 2 * wait)


def _walk(state: _State, settings: SolveSettings, seconds: float, *, anew: bool = False) -> None:
    """Search by whole days from the best plan, or anew, then make its packs exact."""
    local = state.local
    assert local is not None
    began = state.clock.seconds()
    clocked = settings.work_limit is None

    def over() -> bool:
        state.tell("improving" if state.best is not None else "first plan")
        return state.over() or (clocked and state.clock.seconds() > began + seconds)

    def spent() -> float:
        return (state.clock.seconds() - began) / max(seconds, 1e-9)

    guides = state.worker.guides
    if anew:
        local.clear()
        if not local.start():
            return
    elif len(guides) > state.guides_walked:
        # A week that the relaxation likes: start anew from its cookings alone.
        state.guides_walked = len(guides)
        local.clear()
        if not local.start(frozenset(range(len(state.problem.cookings))) - state.guide()):
            return
    elif state.best is not None:
        local.load_servings(state.best.servings)
    elif len(local.menus) < len(local.days):
        return
    if clocked:
        local.improve(over, _MOST_MOVES, spent)
    else:
        local.improve(over, _WALK_MOVES)
    _realize(state, settings)


def _whole_menus(
    whole: Problem, problem: Problem, tables: list[MenuTable], start: Decisions
) -> dict[tuple[int, int], DayMenu]:
    """Return the days of a week that are whole and within the windows of this problem.

    `start` is in terms of `whole`, of which `problem` is a restriction.
    """
    chosen = {}
    for (i, j), amount in start.servings.items():
        option = whole.slots[i].options[j]
        if option in problem.slots[i].options:
            chosen[i] = (problem.slots[i].options.index(option), amount)
    found = {}
    for g, group in enumerate(problem.groups):
        for d, slots in enumerate(group.slots):
            if not all(i in chosen and chosen[i][1] in tables[g].sizes for i in slots):
                continue
            amounts = [
                (problem.dishes[problem.slots[i].options[chosen[i][0]].dish], chosen[i][1])
                for i in slots
            ]
            if len({dish.recipe_id for dish, _ in amounts}) == len(amounts) and all(
                low - 1e-7 <= sum(dish.nutrients[n] * amount for dish, amount in amounts)
                and sum(dish.nutrients[n] * amount for dish, amount in amounts) <= high + 1e-7
                for n, (low, high) in group.windows.items()
            ):
                found[g, d] = DayMenu(g, tuple(chosen[i] for i in slots))
    return found


def _first_walk(state: _State, settings: SolveSettings, seconds: float) -> None:
    """Put a first week together, and mend it until the kitchen can carry it out."""
    local = state.local
    assert local is not None
    if not local.start():
        return

    def over() -> bool:
        state.tell("first plan")
        return state.over()

    began, tries = state.clock.seconds(), 0
    while tries < _FIRST_TRIES or (
        settings.work_limit is None and state.clock.seconds() < began + _FIRST_SHARE * seconds
    ):
        tries += 1
        if local.sound():
            _realize(state, settings)
        if state.best is not None or over():
            return
        local.improve(over, _FIRST_MOVES)


def _realize(state: _State, settings: SolveSettings) -> None:
    local = state.local
    assert local is not None
    problem = state.problem
    servings = local.servings()
    used = {problem.slots[i].options[j] for i, j in servings}
    smaller = restrict(problem, used)
    wanted = translate(Decisions({}, servings, {}), problem, smaller)
    found = MenuMaster(smaller, settings).realize(wanted.servings, _REALIZE_SECONDS)
    if found is not None:
        state.offer(translate(found, smaller, problem))
        state.tell("improving")


@dataclass(frozen=True)
class _Neighbourhood:
    """Cookings to consider; of the best plan, those that stay on and groups that keep menus.

    `anew` looks at the cookings alone, without the best plan.
    """

    keep: frozenset[int]
    fixed_on: frozenset[int] = frozenset()
    fixed_groups: frozenset[int] = frozenset()
    anew: bool = False


def _neighbourhood(
    state: _State, seen: Dive, chance: random.Random, kind: int, size: float
) -> _Neighbourhood:
    """Choose where to look next. `size` grows while rounds are closed and shrinks when not.

    Kinds: 0 frees some clients, 1 frees some groups of days, 2 frees some cookings.
    """
    assert state.best is not None
    problem = state.problem
    mine = frozenset(state.best.batches)
    count = len(problem.cookings)
    guides = state.worker.guides
    if len(guides) > state.guides_seen:
        state.guides_seen = len(guides)
        return _Neighbourhood(state.guide() | frozenset(seen.ranking[:_GUIDE_EXTRAS]), anew=True)
    extra = max(4, int(12 * size))
    weights = [1.0 / (4.0 + place) for place in range(count)]
    keep = mine | frozenset(chance.choices(seen.ranking, weights, k=extra))
    keep |= frozenset(chance.sample(range(count), k=min(count, max(2, extra // 2))))
    groups = range(len(problem.groups))
    if kind == 0:
        clients = range(len(problem.clients))
        free = set(chance.sample(clients, k=min(len(clients), max(1, int(size)))))
        return _Neighbourhood(
            keep,
            fixed_groups=frozenset(g for g in groups if problem.groups[g].client not in free),
        )
    if kind == 1:
        free = set(chance.sample(groups, k=min(len(groups), max(1, int(len(groups) * size / 3)))))
        return _Neighbourhood(keep, fixed_groups=frozenset(groups) - frozenset(free))
    stay = max(0, int(len(mine) * (1.0 - 0.5 * size)))
    return _Neighbourhood(keep, fixed_on=frozenset(chance.sample(sorted(mine), k=stay)))


@dataclass(frozen=True)
class _Round:
    """How a round ended: `finished` if searched to its end, `barren` if then without any plan."""

    finished: bool
    barren: bool


def _round(
    state: _State, settings: SolveSettings, around: _Neighbourhood, seconds: float
) -> _Round:
    """Search the plans of a neighbourhood."""
    problem = state.problem
    smaller = restrict(problem, {problem.cookings[n] for n in around.keep})
    master = MenuMaster(smaller, settings)
    if master.empty_groups():
        return _Round(True, True)
    place = {cooking: n for n, cooking in enumerate(smaller.cookings)}
    start = None
    if state.best is not None and not around.anew:
        start = translate(state.best, problem, smaller)
        for menu in master.menu_counts(start):
            master.add_menu(menu)
    stop = state.clock.seconds() + seconds
    master.add_cheapest(master.first_duals(), first=True)
    # With a work limit no decision may hang on the clock.
    half = inf if settings.work_limit is not None else state.clock.seconds() + seconds / 2
    missed = master.generate(14, state.clock.at(half))
    if missed > 1e-6:
        return _Round(True, True)
    extra: dict[str, object] = {"mip_rel_gap": min(0.002, settings.gap / 4)}
    if state.best is None:
        extra["mip_max_improving_sols"] = 2
    if settings.work_limit is None:
        extra["time_limit"] = max(1.0, stop - state.clock.seconds())

    def watch(_: float, best: float | None, __: float | None) -> bool:
        state.tell("improving" if state.best is not None else "first plan")
        return state.over()

    choice = master.choose(
        400,
        extra=extra,
        start=start,
        watch=watch,
        fixed_on=[place[problem.cookings[n]] for n in sorted(around.fixed_on)],
        fixed_groups=around.fixed_groups,
    )
    if choice.decisions is not None:
        state.offer(translate(choice.decisions, smaller, problem))
        state.tell("improving")
    return _Round(choice.finished, choice.finished and choice.decisions is None)


def _result(
    state: _State, solver_status: str, build_seconds: float, *, infeasible: bool = False
) -> SearchResult:
    status: Ending
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
        decisions=None if state.best is None else translate(state.best, state.problem, state.whole),
        bound=state.proven(),
        composition=(
            "the best of HiGHS's dual bounds of weekly relaxations with pack-cover rows (every "
            "compliant plan satisfies them), less 1e-6 of itself for tolerances"
        ),
        infeasible=infeasible,
        seconds=state.clock.seconds(),
        build_seconds=build_seconds,
    )
