"""The order of meals as arrays: ties, days between, recipes at most, and what dishes are liked."""

from __future__ import annotations

from dataclasses import dataclass
from math import inf

import numpy as np
from numpy.typing import NDArray

from planopt.problem.build import Problem
from planopt.problem.order import counted_slots

Floats = NDArray[np.float64]
Ints = NDArray[np.int64]


@dataclass(frozen=True)
class OrderArrays:
    """What is asked of the order of a week.

    `counted` (P) is 1 where a place counts as a meal of its dish, 0 where a tied one does already;
    `tie_of` (P) the set of a place, -1 for none, of which `places` has those of each from `start`;
    `gaps` (C, R) days between, without rows where none are asked; `day_number` (D); `most_made`
    recipes; `taste` (C, N) money for a portion that is not a favourite, without rows where none is.
    """

    counted: Floats
    tie_of: Ints
    start: Ints
    places: Ints
    gaps: Ints
    day_number: Ints
    most_made: float
    taste: Floats


def no_order(places: int, days: int) -> OrderArrays:
    """Return arrays that ask for nothing."""
    none = np.zeros(0, np.int64)
    return OrderArrays(
        counted=np.ones(places),
        tie_of=np.full(places, -1, np.int64),
        start=np.zeros(1, np.int64),
        places=none,
        gaps=np.zeros((0, 0), np.int64),
        day_number=np.zeros(days, np.int64),
        most_made=inf,
        taste=np.zeros((0, 0)),
    )


def order_arrays(problem: Problem, places_a_slot: int) -> OrderArrays:
    """Return the arrays of a problem, with so many places for each slot."""
    order = problem.order
    count = len(problem.slots)
    counted, tie_of = np.zeros(count), np.full(count, -1, np.int64)
    for c in range(len(problem.clients)):
        counted[list(counted_slots(problem, c))] = 1.0
    for i, s in order.set_of().items():
        tie_of[i] = s
    rows = [[i * places_a_slot for i in slots] for slots in order.sets]
    start = np.concatenate([[0], np.cumsum([len(row) for row in rows])]).astype(np.int64)
    gaps = [
        [order.days_between(c, recipe_id) for recipe_id in problem.recipe_ids]
        for c in range(len(problem.clients))
        if any(any(days.values()) for days in order.apart)
    ]
    days = dict.fromkeys((slot.client, slot.day) for slot in problem.slots)
    taste = [
        [client.taste(problem.dishes[cooking.dish].recipe_id) for cooking in problem.cookings]
        for client in problem.clients
        if any(one.tastes for one in problem.clients)
    ]
    return OrderArrays(
        counted=np.repeat(counted, places_a_slot),
        tie_of=np.repeat(tie_of, places_a_slot),
        start=start,
        places=np.array([p for row in rows for p in row], np.int64),
        gaps=np.array(gaps, np.int64).reshape(len(gaps), len(problem.recipe_ids) if gaps else 0),
        day_number=np.array([day for _, day in days], np.int64),
        most_made=inf if problem.most_recipes is None else float(problem.most_recipes),
        taste=np.array(taste, float).reshape(len(taste), len(problem.cookings) if taste else 0),
    )
