"""The price of change, and what is bought and cooked, as arrays of the compiled search."""

from __future__ import annotations

from dataclasses import dataclass, field

import numpy as np
from numpy.typing import NDArray

from planopt.model.strengthen import Pool
from planopt.problem.build import Problem
from planopt.problem.byhand import lost_servings, standing_packs
from planopt.problem.change import Before, ChangePrices

Floats = NDArray[np.float64]

# Servings that are settled by hand are not for sale.
_NOT_FOR_SALE = 1000.0


@dataclass(frozen=True)
class ChangeCosts:
    """The price of change, by place: of none where an earlier plan does not count.

    `cost` (P, N) of a cooking that was not there; `size` (P) as it was, 0 = any; `portion` (P) is
    the price of another size of what was there.
    """

    cost: Floats = field(default_factory=lambda: np.zeros((0, 0)))
    size: Floats = field(default_factory=lambda: np.zeros(0))
    portion: Floats = field(default_factory=lambda: np.zeros(0))


def keeping_of(problem: Problem, before: Before, prices: ChangePrices) -> ChangeCosts:
    """Return the price of change of a problem of one dish a meal."""
    size, portion = np.zeros(len(problem.slots)), np.full(len(problem.slots), prices.portion)
    cost = np.zeros((len(problem.slots), len(problem.cookings)))
    keys = [problem.dishes[cooking.dish].key for cooking in problem.cookings]
    for i, plate in before.plates.items():
        cost[i] = [0.0 if key in plate else prices.dish for key in keys]
        size[i] = next(iter(plate.values()))
    for i, slot in enumerate(problem.slots):
        for rule in slot.puts:
            if rule.servings is not None:
                size[i], portion[i] = rule.servings, _NOT_FOR_SALE
    return ChangeCosts(cost, size, portion)


def servings_a_batch(problem: Problem, n: int, standing: dict[int, float]) -> float:
    """Return the servings of a batch of a cooking that can be eaten."""
    yields = problem.dishes[problem.cookings[n].dish].yield_servings
    return yields - lost_servings(problem, n) / standing[n] if n in standing else yields


def standing_g(problem: Problem, pool: Pool, standing: dict[int, float]) -> float:
    """Return grams of a pool that are bought already, less what is cooked of them already."""
    if not problem.done:
        return 0.0
    bought = sum(
        standing_packs(problem, s, o)[0] * offer.edible_g
        for s in pool.supplies
        for o, offer in enumerate(problem.offers[pool.food_id])
    )
    used = sum(
        batches * problem.dishes[problem.cookings[n].dish].grams.get(pool.food_id, 0.0)
        for n, batches in standing.items()
        if problem.cookings[n].cook in pool.cooks
    )
    return max(-pool.stock_g, bought - used)
