"""Turns of the search over day menus once a first week was sought: walks or anneals, and rounds.

Rounds take what the relaxation likes. Where they bring nothing they become rare; where they do,
they alternate with walks.
"""

from __future__ import annotations

import logging
import random
from collections.abc import Callable

from planopt.problem.decisions import Decisions
from planopt.solve.budget import Budget
from planopt.solve.engine.annealturns import anneal_turn
from planopt.solve.engine.neighbourhoods import Around, next_neighbourhood, search_round
from planopt.solve.engine.state import SearchState
from planopt.solve.engine.tabuturns import by_batches
from planopt.solve.engine.walks import walk
from planopt.solve.heuristics.destroyrepair import LocalSearch
from planopt.solve.heuristics.diving import Dive
from planopt.solve.parameters import PARAMETERS

_MENUS, _ROUNDS = PARAMETERS.menus, PARAMETERS.rounds
_LOG = logging.getLogger("planopt.search")


class Turns:
    """Turns one after the other, within a budget once there is a plan, and the whole before."""

    def __init__(
        self, state: SearchState, local: LocalSearch, look: Callable[[], Dive], budget: Budget
    ) -> None:
        self.state = state
        self.local = local
        self._look = look
        self._budget = budget
        self._chance = random.Random(state.settings.seed)
        self._seen: Dive | None = None
        self._extras = self._round = self._since = 0
        self._wait = _MENUS.walk_every
        self._sizes = list(_ROUNDS.sizes)

    def run(self) -> bool:
        """Find a plan if there is none yet, then search around the best one.

        Returns False where the relaxation looked at has no point.
        """
        done = 0
        while not self.state.over() and self.left() > 0:
            if done >= self._budget.by_work(_MENUS.rounds_by_work):
                break
            done += 1
            if not self._turn():
                return False
        return True

    def left(self) -> float:
        """Return the seconds left: a bound is of little use without a plan, which may take all."""
        return (self.state.budget if self.state.best is None else self._budget).left()

    def _turn(self) -> bool:
        """Take a turn; False where the relaxation looked at has no point."""
        best = self.state.best
        if best is not None and self._since < self._wait - 1:
            self._since += 1
            self._improve(best)
        elif self._seen is None:
            self._seen = self._look()
            return not self._seen.infeasible
        elif best is None:
            self._first_round(self._seen)
        else:
            self._next_round(self._seen, best)
        return True

    def _improve(self, best: Decisions) -> None:
        """Anneal, or walk in what is cooked and then by whole days."""
        state, left = self.state, self.left()
        if state.compiled():
            short = left < 2 * _MENUS.round_s
            anneal_turn(state, left if short else _MENUS.anneal_share * left)
            return
        by_batches(state, self.local, best, min(_MENUS.batch_share * left, _MENUS.round_s))
        walk(state, self.local, min(self._budget.left(), 1.5 * _MENUS.round_s))

    def _first_round(self, seen: Dive) -> None:
        """Seek a plan among the cookings that the relaxation likes, more of them each time."""
        keep = frozenset(seen.cookings) | frozenset(seen.ranking[: self._extras])
        search_round(self.state, Around(keep), min(self.left(), 6.0 + self._extras / 6))
        self.state.tell("first plan")
        self._extras = 2 * self._extras + 12

    def _next_round(self, seen: Dive, best: Decisions) -> None:
        """Search around the best plan, further after rounds that were searched to their end."""
        state, kind = self.state, _MENUS.rounds[self._round % len(_MENUS.rounds)]
        self._since, self._round, before = 0, self._round + 1, state.objective
        size = self._sizes[kind]
        chosen, place = next_neighbourhood(state, best, seen, kind, size)
        around = chosen.draw(place, self._chance)
        finished = search_round(state, around, min(self.left(), _MENUS.round_s))
        self._sizes[kind] = (
            min(_ROUNDS.most_size, size * _ROUNDS.grow)
            if finished
            else max(_ROUNDS.least_size, size * _ROUNDS.shrink)
        )
        better = state.objective < before
        _LOG.debug("round of %s: ended %s, better %s", chosen.name, finished, better)
        self._wait = _MENUS.walk_every if better else min(_MENUS.rarely, 2 * self._wait)
