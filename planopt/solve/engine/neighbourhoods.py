"""Rounds: some cookings around the best plan, searched in whole numbers over day menus."""

from __future__ import annotations

import random
from dataclasses import dataclass

from planopt.faults import SolverFailed
from planopt.problem.decisions import Decisions
from planopt.problem.restricted import restrict
from planopt.solve.engine.state import SearchState
from planopt.solve.heuristics.columngeneration import MenuMaster, translate
from planopt.solve.heuristics.destroy import Neighbourhood
from planopt.solve.heuristics.diving import Dive
from planopt.solve.parameters import PARAMETERS

_ROUNDS = PARAMETERS.rounds
_MISSED = 1e-6


@dataclass(frozen=True)
class Around:
    """Cookings to consider; of the best plan, those that stay on and groups that keep menus.

    `anew` looks at the cookings alone, without the best plan.
    """

    keep: frozenset[int]
    fixed_on: frozenset[int] = frozenset()
    fixed_groups: frozenset[int] = frozenset()
    anew: bool = False


@dataclass(frozen=True)
class RoundPlace:
    """Where a round begins: the best plan, and what the relaxation likes, best first.

    `size` grows while rounds are closed and shrinks when not.
    """

    state: SearchState
    best: Decisions
    ranking: tuple[int, ...]
    size: float

    def cookings(self, chance: random.Random) -> frozenset[int]:
        """Return the cookings of the best plan with some that are liked and some by chance."""
        count = len(self.state.problem.cookings)
        extra = max(4, int(12 * self.size))
        weights = [1.0 / (4.0 + place) for place in range(count)]
        keep = frozenset(self.best.batches) | frozenset(
            chance.choices(self.ranking, weights, k=extra)
        )
        return keep | frozenset(chance.sample(range(count), k=min(count, max(2, extra // 2))))


class SomeClients(Neighbourhood[RoundPlace, Around]):
    """All days of some clients; the others keep their menus."""

    name = "some clients"

    def draw(self, place: RoundPlace, chance: random.Random) -> Around:
        """Draw the clients by chance, as many as the size says."""
        problem, keep = place.state.problem, place.cookings(chance)
        clients = range(len(problem.clients))
        free = set(chance.sample(clients, k=min(len(clients), max(1, int(place.size)))))
        kept = (g for g, group in enumerate(problem.groups) if group.client not in free)
        return Around(keep, fixed_groups=frozenset(kept))


class SomeGroups(Neighbourhood[RoundPlace, Around]):
    """Some groups of alike days; the others keep their menus."""

    name = "some groups of days"

    def draw(self, place: RoundPlace, chance: random.Random) -> Around:
        """Draw a third of the groups by chance, times the size."""
        keep, groups = place.cookings(chance), range(len(place.state.problem.groups))
        most = max(1, int(len(groups) * place.size / 3))
        free = chance.sample(groups, k=min(len(groups), most))
        return Around(keep, fixed_groups=frozenset(groups) - frozenset(free))


class SomeCookings(Neighbourhood[RoundPlace, Around]):
    """Some cookings of the best plan; the others stay on, and all menus are free."""

    name = "some cookings"

    def draw(self, place: RoundPlace, chance: random.Random) -> Around:
        """Draw by chance which cookings stay, fewer the larger the size."""
        keep, mine = place.cookings(chance), frozenset(place.best.batches)
        stay = max(0, int(len(mine) * (1.0 - 0.5 * place.size)))
        return Around(keep, fixed_on=frozenset(chance.sample(sorted(mine), k=stay)))


class GuidedCookings(Neighbourhood[RoundPlace, Around]):
    """Everything: the cookings of the newest guide, and those that the relaxation likes best."""

    name = "the newest guide"

    def draw(self, place: RoundPlace, chance: random.Random) -> Around:
        """Take the guide; nothing is left to chance."""
        liked = frozenset(place.ranking[: _ROUNDS.guide_extras])
        return Around(place.state.guide() | liked, anew=True)


# By the numbers in `MenuParameters.rounds`.
ROUND_NEIGHBOURHOODS: tuple[Neighbourhood[RoundPlace, Around], ...] = (
    SomeClients(),
    SomeGroups(),
    SomeCookings(),
)
_WITH_A_GUIDE = GuidedCookings()


def next_neighbourhood(
    state: SearchState, best: Decisions, seen: Dive, kind: int, size: float
) -> tuple[Neighbourhood[RoundPlace, Around], RoundPlace]:
    """Choose where to look next: around a new guide of the relaxation, or by kind."""
    place = RoundPlace(state, best, seen.ranking, size)
    guides = state.worker.guides
    if len(guides) > state.guides_seen:
        state.guides_seen = len(guides)
        return _WITH_A_GUIDE, place
    return ROUND_NEIGHBOURHOODS[kind], place


def search_round(state: SearchState, around: Around, seconds: float) -> bool:
    """Search the plans around the best one for some seconds; tell whether that came to its end.

    Raises:
        SolverFailed: the solver fails and there is no plan yet; with one, the round is lost alone.
    """
    try:
        return _searched(state, around, seconds)
    except SolverFailed:
        if state.best is None:
            raise
        return False


def _searched(state: SearchState, around: Around, seconds: float) -> bool:
    problem = state.problem
    smaller = restrict(problem, {problem.cookings[n] for n in around.keep})
    master = MenuMaster(smaller, state.settings.single())
    if master.empty_groups():
        return True
    place = {cooking: n for n, cooking in enumerate(smaller.cookings)}
    start = None
    if state.best is not None and not around.anew:
        start = translate(state.best, problem, smaller)
        for menu in master.menu_counts(start):
            master.add_menu(menu)
    budget = state.part(seconds)
    master.add_cheapest(master.first_duals(), first=True)
    if master.generate(_ROUNDS.generations, budget.share(0.5)) > _MISSED:
        return True
    extra: dict[str, object] = {"mip_rel_gap": min(0.002, state.settings.gap / 4)}
    if state.best is None:
        extra["mip_max_improving_sols"] = 2
    if not budget.counted:
        extra["time_limit"] = max(1.0, budget.left())
    choice = master.choose(
        _ROUNDS.most_columns,
        extra=extra,
        start=start,
        watch=lambda *_: budget.over(),
        fixed_on=[place[problem.cookings[n]] for n in sorted(around.fixed_on)],
        fixed_groups=around.fixed_groups,
    )
    if choice.decisions is not None:
        state.offer(translate(choice.decisions, smaller, problem))
        state.tell("improving")
    return choice.finished
