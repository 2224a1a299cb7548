"""Simpler problems whose weeks are weeks of the real one: one dish a meal, portions on a grid.

Where meals hold several dishes, or portions are of any amount, day menus cannot be listed. They
can for the same kitchen with one dish a meal and with portions that go by steps within the
client's own least and largest; where no day of one dish a meal is within its windows, each meal
is taken as two helpings of one dish each.

Method: restriction, so that what is found needs no proof of its own. Source: none is followed.
"""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass, replace
from math import ceil, floor

from planopt.model.daymenus import supports_menus
from planopt.problem.build import Problem
from planopt.problem.decisions import Decisions
from planopt.problem.people import Eater, PortionRange
from planopt.solve.engine.narrow import narrowed
from planopt.solve.parameters import PARAMETERS

_EPS = 1e-9
_CHOOSING = PARAMETERS.choosing
_NICE = (5.0, 2.5, 2.0, 1.0)


@dataclass(frozen=True)
class Simpler:
    """A simpler problem, the part of it to search, and how many helpings it makes of a meal."""

    problem: Problem
    searched: Problem
    helpings: int = 1

    def lifted(self, found: Decisions) -> Decisions | None:
        """Return a week of it as a week of the real problem; None if wants count otherwise there.

        Two helpings with a food are two meals to the simpler problem, and one to the real one.
        """
        if self.helpings == 1:
            return found
        servings = {(i // self.helpings, j): amount for (i, j), amount in found.servings.items()}
        week = Decisions(found.batches, servings, found.packs)
        return week if self._wants_met(week) else None

    def _wants_met(self, week: Decisions) -> bool:
        problem = self.problem
        for rule in problem.rules:
            if rule.per != "meal" or rule.low <= 0:
                continue
            meals = set()
            for i, j in week.servings:
                slot = problem.slots[i * self.helpings]
                if slot.client == rule.client and slot.options[j].dish in rule.coefficients:
                    meals.add(i)
            if len(meals) < rule.low:
                return False
        return True


def simpler_problems(problem: Problem) -> Iterator[Simpler]:
    """Yield simpler problems to seek a week in, the one that is quickest to search first."""
    amounts = any(client.portions.step == "any" for client in problem.clients)
    grids = _CHOOSING.grid_sizes if amounts else _CHOOSING.grid_sizes[:1]
    several = problem.most_dishes_per_meal != 1
    for helpings in (1, 2) if several else (1,):
        for sizes in grids:
            simple = _on_grid(problem, sizes)
            if helpings > 1:
                simple = _in_helpings(simple, helpings)
            searched = simple if supports_menus(simple) else narrowed(simple)
            if searched is not None:
                yield Simpler(simple, searched, helpings)


def _on_grid(problem: Problem, sizes: int) -> Problem:
    """Return the problem with one dish a meal and about so many portion sizes."""
    clients = tuple(_client_on_grid(client, sizes) for client in problem.clients)
    return replace(problem, most_dishes_per_meal=1, clients=clients)


def _client_on_grid(client: Eater, sizes: int) -> Eater:
    portions = client.portions
    if portions.step != "any":
        return client
    least = min(portions.smallest, portions.largest)
    step = _nice_step((portions.largest - least) / max(1, sizes - 1), portions.largest)
    low, high = max(1, ceil(least / step - _EPS)), floor(portions.largest / step + _EPS)
    if low > high:
        step, low, high = portions.largest, 1, 1
    # Finer than people may write it, where smallest and largest are near to each other.
    return replace(client, portions=PortionRange(step, low * step, high * step))


def _nice_step(span: float, largest: float) -> float:
    """Return a round number at or below a span; the largest portion where there is no span."""
    if span <= _EPS:
        return largest
    power = 1.0
    while power > span:
        power /= 10
    while power * 10 <= span:
        power *= 10
    return next(power * nice for nice in _NICE if power * nice <= span + _EPS)


def _in_helpings(problem: Problem, helpings: int) -> Problem:
    """Return the problem with each meal as several helpings of one dish each."""
    slots = tuple(
        replace(slot, windows=tuple((n, a / helpings, b / helpings) for n, a, b in slot.windows))
        for slot in problem.slots
        for _ in range(helpings)
    )
    groups = tuple(
        replace(
            group,
            slots=tuple(
                tuple(helpings * i + h for i in members for h in range(helpings))
                for members in group.slots
            ),
        )
        for group in problem.groups
    )
    return replace(problem, slots=slots, groups=groups)
