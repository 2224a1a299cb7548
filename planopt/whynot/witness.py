"""Which limits a week meets, from its decisions alone."""

from __future__ import annotations

from collections import Counter, defaultdict
from collections.abc import Iterable, Mapping
from math import inf

from planopt.catalog.records import NOT_KNOWN
from planopt.problem.build import Problem
from planopt.problem.decisions import Decisions, cost_of
from planopt.problem.limits import Limit, LimitKey
from planopt.scenario.mealwindows import PLATE
from planopt.scenario.records import Client
from planopt.scenario.windows import ENERGY, share_of_day

_DUST = 1e-7


def limits_met(problem: Problem, decisions: Decisions, limits: Iterable[Limit]) -> frozenset[Limit]:
    """Return those of the limits that a week keeps; the limits may be of another scenario.

    Raises:
        ValueError: a food is short, so these decisions are no week at all.
    """
    amounts = _amounts(problem, decisions)
    met = []
    for limit in limits:
        amount = _counted(amounts, limit.key)
        slack = _DUST * max(1.0, abs(limit.value))
        miss = limit.value - amount if limit.from_below else amount - limit.value
        if miss <= slack:
            met.append(limit)
    return frozenset(met)


def _counted(amounts: dict[LimitKey, float], key: LimitKey) -> float:
    """Return what counts towards a limit; a dish of unknown allergens may hold each of them."""
    amount = amounts.get(_counted_by(key), 0.0)
    if key.kind == "allergen":
        amount += amounts.get(LimitKey("allergen", key.client, NOT_KNOWN), 0.0)
    return amount


def _counted_by(key: LimitKey) -> LimitKey:
    if key.kind in ("window", "meal_window", "servings"):
        return key.of_side("")
    if key.kind in ("dislike", "want"):
        return LimitKey("want", key.client, key.what)
    return key


def _amounts(problem: Problem, decisions: Decisions) -> dict[LimitKey, float]:
    """Return what limits limit, by key; a missing key stands for nothing."""
    found: defaultdict[LimitKey, float] = defaultdict(float)
    recipes: dict[str, Counter[str]] = {client.client_id: Counter() for client in problem.clients}
    held: set[tuple[str, int, str]] = set()
    times: set[tuple[str, int, str]] = set()
    for (i, j), amount in decisions.servings.items():
        slot = problem.slots[i]
        dish = problem.dishes[slot.options[j].dish]
        who = problem.clients[slot.client].client_id
        for nutrient, per_serving in dish.nutrients.items():
            found[LimitKey("window", who, nutrient, slot.day)] += per_serving * amount
            found[LimitKey("window", who, nutrient)] += per_serving * amount
        for name in (*dish.nutrients, PLATE):
            key = LimitKey("meal_window", who, name, slot.day, meal=slot.meal)
            found[key] += dish.amount(name) * amount
        found[LimitKey("servings", who, dish.recipe_id)] += amount
        times.add((who, i, dish.recipe_id))
        for food_id in dish.grams:
            held.add((who, i, food_id))
            found[LimitKey("excluded_food", who, food_id)] += 1
        for allergen in dish.allergens:
            found[LimitKey("allergen", who, allergen)] += 1
        found[LimitKey("excluded_recipe", who, dish.recipe_id)] += 1
    for who, _, recipe_id in times:
        recipes[who][recipe_id] += 1
    for who, _, food_id in held:
        found[LimitKey("want", who, food_id)] += 1
    for who, counts in recipes.items():
        found[LimitKey("repeats", who)] = max(counts.values(), default=0)
        found[LimitKey("variety", who)] = len(counts)
    for client in problem.clients:
        found[LimitKey("energy_floor", client.client_id, ENERGY)] = _leanest(problem, client, found)
    found[LimitKey("budget")] = cost_of(problem, decisions).grocery
    _kitchen(problem, decisions, found)
    return found


def _leanest(problem: Problem, client: Client, found: Mapping[LimitKey, float]) -> float:
    """Return the energy of the leanest day, as much as a full day would have; endless with none."""
    who = client.client_id
    shares = {
        day: share_of_day(problem.scenario, client, day)
        for day in range(1, problem.scenario.days + 1)
    }
    days = [
        found.get(LimitKey("window", who, ENERGY, day), 0.0) / share
        for day, share in shares.items()
        if share > 0
    ]
    return min(days, default=inf)


def _kitchen(problem: Problem, decisions: Decisions, found: defaultdict[LimitKey, float]) -> None:
    cooked: set[tuple[int, str]] = set()
    for n, batches in decisions.batches.items():
        cooking = problem.cookings[n]
        dish = problem.dishes[cooking.dish]
        day = problem.cook_days[cooking.cook].day
        extra = dish.hands_on_extra * max(0.0, batches - 1.0)
        found[LimitKey("hands_on_minutes", day=day)] += dish.hands_on + extra
        found[LimitKey("oven_minutes", day=day)] += dish.oven_minutes * batches
        found[LimitKey("hob_minutes", day=day)] += dish.hob_minutes * batches
        cooked.add((day, dish.recipe_id))
    for day, _ in cooked:
        found[LimitKey("most_recipes", day=day)] += 1


def amount_of(problem: Problem, decisions: Decisions, key: LimitKey) -> float:
    """Return the amount in a week that a limit of that key limits.

    Raises:
        ValueError: a food is short, so these decisions are no week at all.
    """
    return _counted(_amounts(problem, decisions), key)
