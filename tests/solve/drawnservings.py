"""Servings drawn at random for small kitchens, and the least that the kitchen can make them for."""

from __future__ import annotations

from random import Random

from model.small import EXACT
from planopt.model.kitchen import new_kitchen
from planopt.problem.build import Problem
from planopt.problem.decisions import Decisions, servings_eaten
from planopt.solve.highs.matrix import to_matrix
from planopt.solve.highs.solver import solve_matrix

Servings = dict[tuple[int, int], float]


def drawn_servings(problem: Problem, draw: int) -> Servings | None:
    """Return one dish for each meal, in a portion of the client's; None if a meal has no dish."""
    rng = Random(draw)
    found = {}
    for i, slot in enumerate(problem.slots):
        if not slot.options:
            return None
        portions = problem.clients[slot.client].portions
        step = portions.step
        if step == "any":
            amount = round(rng.uniform(0.1, portions.largest), 3)
        else:
            low = max(1, round(portions.smallest / step))
            amount = step * rng.randint(low, max(low, round(portions.largest / step)))
        found[i, rng.randrange(len(slot.options))] = amount
    return found


def least_cost_of(problem: Problem, servings: Servings) -> float | None:
    """Return the least that serving exactly this costs, None if the kitchen cannot.

    Batches, packs and visits are all left to HiGHS, none of them to tables.
    """
    kitchen = new_kitchen(problem)
    matrix = to_matrix(kitchen.lp)
    place = {name: i for i, name in enumerate(matrix.names)}
    eaten = servings_eaten(problem, Decisions({}, servings, {}))
    for n, variable in enumerate(kitchen.eaten):
        column = place[variable.name]
        matrix.lower[column] = matrix.upper[column] = eaten.get(n, 0.0)
    outcome = solve_matrix(matrix, EXACT)
    if outcome.infeasible:
        return None
    assert outcome.status == "Optimal"
    return outcome.objective
