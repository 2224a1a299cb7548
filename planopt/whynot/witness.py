"""Which limits a week meets, from its decisions alone."""

from __future__ import annotations

from collections import Counter, defaultdict
from collections.abc import Callable, Iterable
from math import inf

from planopt.catalog.records import NOT_KNOWN
from planopt.problem.build import Problem
from planopt.problem.decisions import Decisions, cost_of, counted
from planopt.problem.limits import Limit, LimitKey
from planopt.problem.order import counted_slots, served_of
from planopt.problem.rules import MINUTES, TALLIES, Coefficients
from planopt.problem.tolerances import SHARE
from planopt.scenario.windows import ENERGY


def limits_met(problem: Problem, decisions: Decisions, limits: Iterable[Limit]) -> frozenset[Limit]:
    """Return those of the limits that a week keeps; the limits may be of another scenario.

    Raises:
        ValueError: a food is short, so these decisions are no week at all.
    """
    amounts = _Amounts(problem, decisions)
    met = []
    for limit in limits:
        amount = amounts.of(limit.key)
        slack = SHARE * max(1.0, abs(limit.value))
        miss = limit.value - amount if limit.from_below else amount - limit.value
        if miss <= slack:
            met.append(limit)
    return frozenset(met)


class _Amounts:
    """What limits limit in one week: sums by the rules, all else counted here."""

    def __init__(self, problem: Problem, decisions: Decisions) -> None:
        self._problem, self._decisions = problem, decisions
        self._table = Coefficients(problem.dishes)
        self._client = {client.client_id: c for c, client in enumerate(problem.clients)}
        self._known: dict[LimitKey, float] = _others(problem, decisions)
        for client in problem.clients:
            floor = LimitKey("energy_floor", client.client_id, ENERGY)
            self._known[floor] = _leanest(problem, client.client_id, self.of)

    def of(self, key: LimitKey) -> float:
        """Return what counts towards a limit; a dish of unknown allergens may hold each of them."""
        key = key.of_side("")
        if key.kind in ("spacing", "same_dish"):
            return self._ordered(key)
        if key not in self._known:
            self._known[key] = self._sum(key) if key.kind in TALLIES else 0.0
        if key.kind == "allergen":
            return self._known[key] + self._known.get(
                LimitKey("allergen", key.client, NOT_KNOWN), 0.0
            )
        return self._known[key]

    def _ordered(self, key: LimitKey) -> float:
        """Return the fewest days between meals of a dish, or how many tied meals differ."""
        served = served_of(self._problem, self._decisions)
        if key.kind == "spacing":
            client = self._client.get(key.client)
            return inf if client is None else served.nearest(client, key.what or None)
        tied = [(a, b) for a, b, limit in self._problem.order.ties if limit == key]
        # Of what this problem does not tie nothing is known.
        return float(sum(served.apart(a, b) for a, b in tied)) if tied else 1.0

    def _sum(self, key: LimitKey) -> float:
        if key.client not in self._client:
            return 0.0
        # A catalog need not tell energy; then no day has any that is known.
        if key.kind == "window" and any(key.what not in d.nutrients for d in self._problem.dishes):
            return 0.0
        rule = self._table.rule(key, self._client[key.client])
        return counted(self._problem, self._decisions, rule)


def _others(problem: Problem, decisions: Decisions) -> dict[LimitKey, float]:
    """Return what no sum over dishes tells: exclusions, repeats, variety, budget, cook days."""
    found: defaultdict[LimitKey, float] = defaultdict(float)
    meals: dict[str, dict[str, set[int]]] = {client.client_id: {} for client in problem.clients}
    for eater in problem.clients:
        found[LimitKey("not_again", eater.client_id)] = inf
    for i, j in decisions.servings:
        slot = problem.slots[i]
        dish = problem.dishes[slot.options[j].dish]
        who = problem.clients[slot.client].client_id
        meals[who].setdefault(dish.recipe_id, set()).add(i)
        before = problem.clients[slot.client].had.get(dish.recipe_id)
        if before is not None:
            again = LimitKey("not_again", who)
            found[again] = min(found[again], slot.day - before - 1)
        for food_id in dish.contents:
            found[LimitKey("excluded_food", who, food_id)] += 1
        for allergen in dish.allergens:
            found[LimitKey("allergen", who, allergen)] += 1
        found[LimitKey("excluded_recipe", who, dish.recipe_id)] += 1
    for c, client in enumerate(problem.clients):
        who, counted_here = client.client_id, set(counted_slots(problem, c))
        recipes = meals[who]
        eaten = (len(slots & counted_here) for slots in recipes.values())
        found[LimitKey("repeats", who)] = max(eaten, default=0)
        found[LimitKey("variety", who)] = found[LimitKey("most_kinds", who)] = len(recipes)
    found[LimitKey("budget")] = cost_of(problem, decisions).grocery
    _kitchen(problem, decisions, found)
    return dict(found)


def _leanest(problem: Problem, who: str, amount: Callable[[LimitKey], float]) -> float:
    """Return the energy of the leanest day, as much as a full day would have; endless with none."""
    eaten = Counter(s.day for s in problem.slots if problem.clients[s.client].client_id == who)
    days = [
        amount(LimitKey("window", who, ENERGY, day)) * len(problem.meals) / meals
        for day, meals in eaten.items()
    ]
    return min(days, default=inf)


def _kitchen(problem: Problem, decisions: Decisions, found: defaultdict[LimitKey, float]) -> None:
    cooked: set[tuple[int, str]] = set()
    for n, batches in decisions.batches.items():
        cooking = problem.cookings[n]
        dish = problem.dishes[cooking.dish]
        day = problem.cook_days[cooking.cook].day
        for kind, one in MINUTES.items():
            once, each, more = one.of_dish(dish)
            spent = once + each * batches + more * max(0.0, batches - 1.0)
            found[LimitKey(kind, day=day)] += spent
        cooked.add((day, dish.recipe_id))
    found[LimitKey("most_kinds")] = len({recipe_id for _, recipe_id in cooked})
    for day, _ in cooked:
        found[LimitKey("most_recipes", day=day)] += 1


def amount_of(problem: Problem, decisions: Decisions, key: LimitKey) -> float:
    """Return the amount in a week that the limit with this key is about.

    Raises:
        ValueError: a food is short, so these decisions are no week at all.
    """
    return _Amounts(problem, decisions).of(key)
