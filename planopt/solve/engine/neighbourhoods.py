"""Rounds: some cookings around the best plan, searched in whole numbers over day menus."""

from __future__ import annotations

import random
from dataclasses import dataclass
from math import inf

from planopt.faults import SolverFailed
from planopt.problem.restricted import restrict
from planopt.solve.engine.state import SearchState
from planopt.solve.heuristics.columngeneration import MenuMaster, translate
from planopt.solve.heuristics.diving import Dive
from planopt.solve.settings import SolveSettings

_GUIDE_EXTRAS = 10
_MISSED = 1e-6


@dataclass(frozen=True)
class Neighbourhood:
    """Cookings to consider; of the best plan, those that stay on and groups that keep menus.

    `anew` looks at the cookings alone, without the best plan.
    """

    keep: frozenset[int]
    fixed_on: frozenset[int] = frozenset()
    fixed_groups: frozenset[int] = frozenset()
    anew: bool = False


def next_neighbourhood(
    state: SearchState, seen: Dive, chance: random.Random, kind: int, size: float
) -> Neighbourhood:
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
        return Neighbourhood(state.guide() | frozenset(seen.ranking[:_GUIDE_EXTRAS]), anew=True)
    extra = max(4, int(12 * size))
    weights = [1.0 / (4.0 + place) for place in range(count)]
    keep = mine | frozenset(chance.choices(seen.ranking, weights, k=extra))
    keep |= frozenset(chance.sample(range(count), k=min(count, max(2, extra // 2))))
    groups = range(len(problem.groups))
    if kind == 0:
        clients = range(len(problem.clients))
        free = set(chance.sample(clients, k=min(len(clients), max(1, int(size)))))
        return Neighbourhood(
            keep,
            fixed_groups=frozenset(g for g in groups if problem.groups[g].client not in free),
        )
    if kind == 1:
        free = set(chance.sample(groups, k=min(len(groups), max(1, int(len(groups) * size / 3)))))
        return Neighbourhood(keep, fixed_groups=frozenset(groups) - frozenset(free))
    stay = max(0, int(len(mine) * (1.0 - 0.5 * size)))
    return Neighbourhood(keep, fixed_on=frozenset(chance.sample(sorted(mine), k=stay)))


def search_round(
    state: SearchState, settings: SolveSettings, around: Neighbourhood, seconds: float
) -> bool:
    """Search the plans of a neighbourhood; tell whether it was searched to its end.

    Raises:
        SolverFailed: the solver fails and there is no plan yet; with one, the round is lost alone.
    """
    try:
        return _searched(state, settings, around, seconds)
    except SolverFailed:
        if state.best is None:
            raise
        return False


def _searched(
    state: SearchState, settings: SolveSettings, around: Neighbourhood, seconds: float
) -> bool:
    problem = state.problem
    smaller = restrict(problem, {problem.cookings[n] for n in around.keep})
    master = MenuMaster(smaller, settings)
    if master.empty_groups():
        return True
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
    if missed > _MISSED:
        return True
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
    return choice.finished
