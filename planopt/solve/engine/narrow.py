"""A large recipe book narrowed to dishes that are cheap for what the clients need.

Plans are sought among these; the bound is still proved over the whole book.
"""

from __future__ import annotations

from math import inf

from planopt.model.daymenus import supports_menus
from planopt.model.kitchen import serving_value
from planopt.problem.build import Problem
from planopt.problem.decisions import Decisions
from planopt.problem.restricted import restrict
from planopt.solve.parameters import PARAMETERS

_CHOOSING = PARAMETERS.choosing


def narrowed(problem: Problem, start: Decisions | None = None) -> Problem | None:
    """Return the problem with as many dishes as day menus can be searched for, or None if none.

    The dishes of `start`, a week of the problem, stay.
    """
    served = [] if start is None else list(start.servings)
    mine = {problem.slots[i].options[j].dish for i, j in served}
    most = float(_CHOOSING.most_a_meal)
    while most >= _CHOOSING.least_a_meal:
        smaller = _with_dishes(problem, int(most), mine)
        if supports_menus(smaller):
            return smaller
        most *= _CHOOSING.step
    return None


def _with_dishes(problem: Problem, most: int, mine: set[int]) -> Problem:
    """Keep `mine`, and for each client and meal what gives most of each nutrient for its cost.

    Nutrients are those with a least amount in a window; without one, the cost alone counts.
    """
    value = [serving_value(problem, d) for d in range(len(problem.dishes))]
    kept = set(mine)
    for group in problem.groups:
        needed = [nutrient_id for nutrient_id, (low, _) in group.windows.items() if low > 0]
        for slot in group.slots[0]:
            dishes = sorted({option.dish for option in problem.slots[slot].options})
            names: list[str | None] = [*needed] or [None]
            ranked = [_ranked(problem, value, dishes, name) for name in names]
            for order in ranked:
                kept |= set(order[: -(-most // len(ranked))])
    return restrict(problem, {option for option in problem.cookings if option.dish in kept})


def _ranked(
    problem: Problem, value: list[float], dishes: list[int], nutrient_id: str | None
) -> list[int]:
    """Return dishes by cost of a serving, or by cost for each unit of a nutrient."""

    def price(d: int) -> float:
        if nutrient_id is None:
            return value[d]
        amount = problem.dishes[d].nutrients[nutrient_id]
        return value[d] / amount if amount > 0 else inf

    return sorted(dishes, key=price)
