"""Decisions: one answer to a problem in plain numbers, whichever search found it."""

from __future__ import annotations

from dataclasses import dataclass

from planopt.problem.build import Problem
from planopt.problem.work import boxes_cost, work_price
from planopt.units import minor_digits


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
                problem.supplies[s].usable_until or problem.scenario.start_date,
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
            if short > 1e-6 * max(1.0, need):
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


def missed_cost(problem: Problem, decisions: Decisions) -> float:
    """Return what the soft limits that are missed cost, in units of the currency."""
    if not problem.soft_limits:
        return 0.0
    wanted = {soft.nutrient_id for soft in problem.soft_limits}
    totals: dict[tuple[int, str], float] = {}
    for (i, j), servings in decisions.servings.items():
        slot = problem.slots[i]
        dish = problem.dishes[slot.options[j].dish]
        for nutrient_id in wanted:
            key = (slot.client, nutrient_id)
            totals[key] = totals.get(key, 0.0) + servings * dish.nutrients[nutrient_id]
    return sum(
        soft.price * soft.missed(totals.get((soft.client, soft.nutrient_id), 0.0))
        for soft in problem.soft_limits
    )


def work_cost(problem: Problem, decisions: Decisions) -> float:
    """Return what the cook's work and the boxes cost, in units of the currency."""
    scenario = problem.scenario
    total = 0.0
    for n, batches in decisions.batches.items():
        dish = problem.dishes[problem.cookings[n].dish]
        total += work_price(scenario, dish).of_batches(batches)
    if boxes_cost(scenario):
        for i, j in decisions.servings:
            dish = problem.dishes[problem.slots[i].options[j].dish]
            total += work_price(scenario, dish).portion
    return total


def cost_of(problem: Problem, decisions: Decisions) -> Costs:
    """Return what the decisions cost, computed from their numbers and not from a solver."""
    scale = float(10 ** minor_digits(problem.scenario.currency))
    grocery = 0.0
    visits = set()
    for (s, o), count in decisions.packs.items():
        supply = problem.supplies[s]
        offer = problem.offers[supply.food_id][o]
        grocery += count * offer.price_minor
        visits.add((offer.seller_id, supply.shop_day))
    visit_cost = float(problem.scenario.visit_cost) * max(0, len(visits) - 1)
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
    work = work_cost(problem, decisions)
    return Costs(
        grocery=grocery,
        visits=visit_cost,
        waste=waste,
        missed=missed,
        work=work,
        objective=grocery + visit_cost + problem.scenario.waste_weight * waste + missed + work,
    )
