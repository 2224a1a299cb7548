"""Decisions: one answer to a problem in plain numbers, whichever search found it."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass
from datetime import date

from planopt.problem.build import Problem
from planopt.problem.limits import WHOLE_PLAN, Kind
from planopt.problem.rules import LinearRule
from planopt.problem.tolerances import GRAMS


@dataclass(frozen=True)
class Decisions:
    """What was decided, by position in the problem; zero entries are left out.

    `batches`: cooking -> batches. `servings`: (slot, option position) -> servings.
    `packs`: (supply, offer) -> packs or steps bought.
    """

    batches: dict[int, float]
    servings: dict[tuple[int, int], float]
    packs: dict[tuple[int, int], float]


@dataclass(frozen=True)
class Costs:
    """Exact-as-floats parts of the objective in units of the currency."""

    grocery: float
    visits: float
    waste: float
    missed: float
    taste: float
    work: float
    objective: float


def grams_used(problem: Problem, decisions: Decisions) -> dict[tuple[str, int], float]:
    """Return grams of each food cooked on each cook day position."""
    used: dict[tuple[str, int], float] = {}
    for n, batches in decisions.batches.items():
        cooking = problem.cookings[n]
        for food_id, grams in problem.dishes[cooking.dish].grams.items():
            key = (food_id, cooking.cook)
            used[key] = used.get(key, 0.0) + grams * batches
    return used


def allocate(problem: Problem, decisions: Decisions) -> dict[int, dict[int, float]]:
    """Return grams taken from each supply on each cook day position.

    The supply that expires first is used first. Supplies are usable over intervals, so this finds
    an allocation whenever one exists and wastes least.

    Raises:
        ValueError: some food is short by more than rounding error.
    """
    used = grams_used(problem, decisions)
    taken: dict[int, dict[int, float]] = {}
    of_food: dict[str, list[int]] = {}
    for s, supply in enumerate(problem.supplies):
        of_food.setdefault(supply.food_id, []).append(s)
    for food_id in problem.foods:
        rows = of_food.get(food_id, [])
        remaining = {s: available_g(problem, decisions, s) for s in rows}
        order = sorted(
            rows,
            key=lambda s: (
                problem.supplies[s].usable_until is None,
                problem.supplies[s].usable_until or date.min,
                s,
            ),
        )
        for k, cook in enumerate(problem.cook_days):
            need = used.get((food_id, k), 0.0)
            short = need
            for s in order:
                if cook.day in problem.supplies[s].cook_days and short > 0:
                    take = min(short, remaining[s])
                    if take > 0:
                        remaining[s] -= take
                        short -= take
                        taken.setdefault(s, {})[k] = take
            if short > GRAMS * max(1.0, need):
                raise ValueError(f"{food_id}: {short:.6g} g short on cook day {cook.day}")
    return taken


def available_g(problem: Problem, decisions: Decisions, supply: int) -> float:
    """Return edible grams of a supply: stock on hand, or what was bought."""
    row = problem.supplies[supply]
    if row.stock_index is not None:
        return row.available_g
    return sum(
        decisions.packs.get((supply, o), 0.0) * offer.edible_g
        for o, offer in enumerate(problem.offers[row.food_id])
    )


def servings_eaten(problem: Problem, decisions: Decisions) -> dict[int, float]:
    """Return servings eaten of each cooking."""
    position = {cooking: n for n, cooking in enumerate(problem.cookings)}
    eaten: dict[int, float] = {}
    for (i, j), servings in decisions.servings.items():
        n = position[problem.slots[i].options[j]]
        eaten[n] = eaten.get(n, 0.0) + servings
    return eaten


def counted(problem: Problem, decisions: Decisions, rule: LinearRule) -> float:
    """Return the sum over what its client eats that a rule limits.

    It is of the rule's meal, of its day, or of the plan.
    """
    total = 0.0
    meals: set[int] = set()
    for (i, j), servings in decisions.servings.items():
        slot = problem.slots[i]
        here = slot.client == rule.client and rule.key.day in (WHOLE_PLAN, slot.day)
        here = here and rule.key.meal in ("", slot.meal)
        if here and slot.options[j].dish in rule.coefficients:
            times = servings if rule.per == "serving" else 1.0
            total += times * rule.coefficients[slot.options[j].dish]
            meals.add(i)
    return float(len(meals)) if rule.counted and rule.per == "meal" else total


def missed_cost(problem: Problem, decisions: Decisions, kind: Kind | None = None) -> float:
    """Return what the soft rules that are missed cost, in units of the currency.

    Ready portions that are eaten at a price are among them, ratings are not; `kind` are those of
    one kind alone.
    """
    return _soft_cost(
        problem, decisions, lambda one: one == kind if kind is not None else one != "rating"
    )


def taste_cost(problem: Problem, decisions: Decisions) -> float:
    """Return what counts for portions that are no favourites, by the clients' ratings."""
    return _soft_cost(problem, decisions, lambda kind: kind == "rating")


def _soft_cost(problem: Problem, decisions: Decisions, of: Callable[[Kind], bool]) -> float:
    return sum(
        rule.price * rule.outside(counted(problem, decisions, rule))
        for rule in problem.soft_rules
        if of(rule.key.kind)
    )


def work_cost(problem: Problem, decisions: Decisions) -> float:
    """Return what the cook's work and the boxes cost, in units of the currency."""
    cooked = sum(
        problem.work[problem.cookings[n].dish].of_batches(batches)
        for n, batches in decisions.batches.items()
    )
    boxes = sum(
        problem.work[problem.slots[i].options[j].dish].portion for i, j in decisions.servings
    )
    return cooked + boxes


def cost_of(problem: Problem, decisions: Decisions) -> Costs:
    """Return what the decisions cost, computed from their numbers and not from a solver."""
    scale = float(problem.minor_units)
    grocery = 0.0
    visits = set()
    for (s, o), count in decisions.packs.items():
        supply = problem.supplies[s]
        offer = problem.offers[supply.food_id][o]
        grocery += count * offer.price_minor
        visits.add((offer.seller_id, supply.shop_day))
    visit_cost = problem.visit_cost * max(0, len(visits) - 1)
    taken = allocate(problem, decisions)
    waste = 0.0
    for s, supply in enumerate(problem.supplies):
        if supply.wasted:
            left = available_g(problem, decisions, s) - sum(taken.get(s, {}).values())
            waste += max(0.0, left) * problem.value_minor_per_g[supply.food_id]
    eaten = servings_eaten(problem, decisions)
    for n, batches in decisions.batches.items():
        dish = problem.dishes[problem.cookings[n].dish]
        left = batches * dish.yield_servings - eaten.get(n, 0.0)
        value = sum(g * problem.value_minor_per_g.get(f, 0.0) for f, g in dish.grams.items())
        waste += max(0.0, left) * value / dish.yield_servings
    grocery /= scale
    waste /= scale
    missed = missed_cost(problem, decisions)
    taste = taste_cost(problem, decisions)
    work = work_cost(problem, decisions)
    return Costs(
        grocery=grocery,
        visits=visit_cost,
        waste=waste,
        missed=missed,
        taste=taste,
        work=work,
        objective=grocery + visit_cost + problem.waste_weight * waste + missed + taste + work,
    )
