"""The order of a week: which meals share a dish, and how far apart the meals of one dish are.

One dish is one recipe. Meals that are tied count as one meal where repeats are counted, and are
none of each other's business where days between are.
"""

from __future__ import annotations

from collections.abc import Iterable, Iterator, Mapping, Sequence
from dataclasses import dataclass, field
from math import ceil, inf
from typing import TYPE_CHECKING

from planopt.problem.limits import LimitKey, days_apart
from planopt.scenario.records import Scenario
from planopt.scenario.samedish import Plate, joined, tie_words, tied_by

if TYPE_CHECKING:
    from planopt.problem.build import Problem
    from planopt.problem.decisions import Decisions


@dataclass(frozen=True)
class Order:
    """What is asked of the order of a week.

    `ties` are pairs of slots with the limit that makes them share a dish; `sets` are all slots that
    share one, whichever limits say so, none of them in two sets. `apart` has, for each client, the
    days between meals of a recipe, "" for all that are not named.
    """

    ties: tuple[tuple[int, int, LimitKey], ...] = ()
    sets: tuple[tuple[int, ...], ...] = ()
    apart: tuple[Mapping[str, int], ...] = ()

    def __bool__(self) -> bool:
        """Tell whether anything is asked."""
        return bool(self.ties) or any(any(days.values()) for days in self.apart)

    def days_between(self, client: int, recipe_id: str) -> int:
        """Return the least days between two days on which a client has a recipe."""
        if not self.apart:
            return 0
        return self.apart[client].get(recipe_id, self.apart[client][""])

    def spacing_key(self, client: int, client_id: str, recipe_id: str) -> LimitKey:
        """Return the limit that says so."""
        named = recipe_id if recipe_id in self.apart[client] else ""
        return LimitKey("spacing", client_id, named)

    def set_of(self) -> dict[int, int]:
        """Return for each slot that is tied the position of its set."""
        return {i: s for s, slots in enumerate(self.sets) for i in slots}


NO_ORDER = Order()
# (client, day, meal, options, windows) of a slot, before dishes are numbered.
Raw = tuple[int, int, str, tuple[tuple[int, int], ...], object]


def order_of(scenario: Scenario, plates: Sequence[tuple[int, int, str]]) -> Order:
    """Return the order that a scenario asks for; `plates` are (client, day, meal) by slot."""
    names = [client.client_id for client in scenario.clients]
    place = {(names[c], day, meal): i for i, (c, day, meal) in enumerate(plates)}
    found: dict[tuple[int, int], LimitKey] = {}
    sets: list[tuple[Plate, ...]] = []
    for row in scenario.same_dish:
        key = LimitKey("same_dish", what=tie_words(row))
        for tied in tied_by(scenario, row):
            sets.append(tied)
            first, *others = sorted(place[plate] for plate in tied)
            for other in others:
                found.setdefault((first, other), key)
    return Order(
        ties=tuple((a, b, key) for (a, b), key in found.items()),
        sets=tuple(tuple(sorted(place[plate] for plate in one)) for one in joined(sets)),
        apart=tuple(days_apart(scenario, client) for client in scenario.clients),
    )


def shared_options(
    order: Order,
    found: Sequence[tuple[tuple[int, int], ...]],
    recipe_of: Sequence[str],
) -> list[tuple[tuple[int, int], ...]]:
    """Return the options of each slot, of tied ones those whose recipe each of them may have.

    Where they share no recipe all are left, and no week complies.
    """
    left = list(found)
    for slots in order.sets:
        each = [{recipe_of[d] for d, _ in found[i]} for i in slots]
        shared = set.intersection(*each)
        if not shared:
            continue
        for i in slots:
            left[i] = tuple(pair for pair in found[i] if recipe_of[pair[0]] in shared)
    return left


def counted_slots(problem: Problem, client: int) -> tuple[int, ...]:
    """Return the slots of a client that count as meals of a dish: of tied ones the first."""
    if not problem.order.sets:
        return problem.slots_of_client[client]
    later = {
        i
        for slots in problem.order.sets
        for i in [i for i in slots if problem.slots[i].client == client][1:]
    }
    return tuple(i for i in problem.slots_of_client[client] if i not in later)


def most_meals(problem: Problem, client: int) -> int:
    """Return a number of meals of one recipe that no client's week exceeds, tied meals counted.

    For relaxations: by the most repeats and by days between, each set of tied meals at its largest.
    """
    order, most = problem.order, problem.clients[client].most_repeats
    least = min(order.apart[client].values()) if order.apart else 0
    counted: float = inf if most is None else most
    counted = min(counted, ceil(problem.days / (least + 1)) if least else inf)
    if counted == inf:
        return problem.days
    sizes = [sum(problem.slots[i].client == client for i in slots) for slots in order.sets]
    sizes += [1] * int(counted)
    return min(problem.days, sum(sorted(sizes, reverse=True)[: int(counted)]))


@dataclass(frozen=True)
class Served:
    """Which recipes each slot of a week has, and what follows of its order."""

    problem: Problem
    recipes: dict[int, frozenset[str]] = field(default_factory=dict)

    def apart(self, a: int, b: int) -> bool:
        """Tell whether two slots have different recipes."""
        return self.recipes.get(a) != self.recipes.get(b)

    def nearest(self, client: int, recipe_id: str | None = None) -> float:
        """Return the fewest days between two meals of a dish, -1 within a day; endless for none.

        `recipe_id` is the recipe; None stands for all that are not named in the client's rule.
        """
        problem, sets = self.problem, self.problem.order.set_of()
        named = problem.order.apart[client] if problem.order.apart else {}
        eaten: dict[str, list[int]] = {}
        for i in problem.slots_of_client[client]:
            for name in self.recipes.get(i, ()):
                eaten.setdefault(name, []).append(i)
        least = inf
        for name, slots in eaten.items():
            if (name not in named) if recipe_id is None else (name == recipe_id):
                for a, b in _pairs(slots):
                    if a not in sets or sets[a] != sets.get(b):
                        days = abs(problem.slots[a].day - problem.slots[b].day)
                        least = min(least, days - 1.0)
        return least

    def kept(self) -> bool:
        """Tell whether the order is kept."""
        order = self.problem.order
        if any(self.apart(a, b) for a, b, _ in order.ties):
            return False
        return all(
            self.nearest(c, recipe_id or None) >= days
            for c, rows in enumerate(order.apart)
            for recipe_id, days in rows.items()
            if days > 0
        )


def _pairs(slots: Sequence[int]) -> Iterator[tuple[int, int]]:
    for n, a in enumerate(slots):
        for b in slots[n + 1 :]:
            yield a, b


def served_of(problem: Problem, decisions: Decisions) -> Served:
    """Return what a week has where."""
    found: dict[int, set[str]] = {}
    for i, j in decisions.servings:
        dish = problem.dishes[problem.slots[i].options[j].dish]
        found.setdefault(i, set()).add(dish.recipe_id)
    return Served(problem, {i: frozenset(names) for i, names in found.items()})


def kinds_of(problem: Problem, recipes: Mapping[int, Iterable[str]], client: int) -> int:
    """Return how many recipes a client has."""
    mine = problem.slots_of_client[client]
    return len({name for i in mine for name in recipes.get(i, ())})


def week_kept(problem: Problem, decisions: Decisions) -> bool:
    """Tell whether a week keeps its order, and the most recipes of clients and kitchen."""
    limited = [c for c, one in enumerate(problem.clients) if one.most_different_recipes is not None]
    if not problem.order and not limited and problem.most_recipes is None:
        return True
    served = served_of(problem, decisions)
    if problem.most_recipes is not None:
        cooked = {problem.dishes[problem.cookings[n].dish].recipe_id for n in decisions.batches}
        if len(cooked) > problem.most_recipes:
            return False
    few = all(
        kinds_of(problem, served.recipes, c) <= (problem.clients[c].most_different_recipes or 0)
        for c in limited
    )
    return few and served.kept()
