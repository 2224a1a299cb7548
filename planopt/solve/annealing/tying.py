"""Meals that share a dish, before weeks are annealed: drawn together, looked at, and tied up."""

from __future__ import annotations

import numpy as np

from planopt.problem.build import Problem
from planopt.problem.portions import sizes_in
from planopt.solve.annealing.arrays import Floats, Ints, WeekArrays


def shareable(problem: Problem) -> bool:
    """Tell whether meals that share a dish may have some dish, each in a size that is tried."""
    for slots in problem.order.sets:
        each = []
        for i in slots:
            slot = problem.slots[i]
            portions = problem.clients[slot.client].portions
            dishes = [problem.dishes[d] for d in {option.dish for option in slot.options}]
            each.append(
                {
                    dish.recipe_id
                    for dish in dishes
                    if portions.step == "any" or sizes_in(portions, dish, slot.windows)
                }
            )
        if not set.intersection(*each):
            return False
    return True


def tied_by_chance(
    arrays: WeekArrays, dish: Ints, size: Floats, rng: np.random.Generator
) -> list[set[int]]:
    """Fill meals that share a dish; return the recipes that each day has by then."""
    menu, order, recipe = arrays.menu, arrays.order, arrays.larder.recipe
    taken: list[set[int]] = [set() for _ in menu.client_of_day]
    for first, last in zip(order.start[:-1], order.start[1:], strict=True):
        members = order.places[first:last]
        slots = menu.place_slot[members]
        each = [set(recipe[menu.allowed[kind]]) for kind in menu.slot_kind[slots]]
        shared = sorted(set.intersection(*each))
        days = menu.slot_day[slots]
        shared = [r for r in shared if not any(r in taken[d] for d in days)] or shared
        if not shared:
            continue
        chosen = shared[int(rng.integers(len(shared)))]
        for p, kind, d in zip(members, menu.slot_kind[slots], days, strict=True):
            row = np.flatnonzero(menu.allowed[kind] & (recipe == chosen))
            dish[p] = row[int(rng.integers(len(row)))]
            size[p] = menu.sizes[int(rng.integers(*menu.size_span[kind, dish[p]]))]
            taken[d].add(int(chosen))
    return taken


def ties_hold(arrays: WeekArrays, dish: Ints) -> bool:
    """Tell whether places that share a dish do so, given the cooking at each place."""
    order = arrays.order
    for first, last in zip(order.start[:-1], order.start[1:], strict=True):
        found = dish[order.places[first:last]]
        if (found < 0).any() or len(set(arrays.larder.recipe[found])) > 1:
            return False
    return True


def tied_up(arrays: WeekArrays, dish: Ints, size: Floats) -> tuple[Ints, Floats]:
    """Return a week whose tied meals have the dish of the first of them, where they may."""
    menu, order, recipe = arrays.menu, arrays.order, arrays.larder.recipe
    for first, last in zip(order.start[:-1], order.start[1:], strict=True):
        leader, *others = order.places[first:last]
        for p in others:
            kind = menu.slot_kind[menu.place_slot[p]]
            if dish[leader] < 0 or recipe[dish[p]] == recipe[dish[leader]]:
                continue
            like = np.flatnonzero(menu.allowed[kind] & (recipe == recipe[dish[leader]]))
            if len(like):
                dish[p] = dish[leader] if dish[leader] in like else like[0]
                size[p] = menu.sizes[menu.size_span[kind, dish[p], 0]]
    return dish, size
