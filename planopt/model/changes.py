"""The price of change in the day-by-day model: what a plate keeps, batches and packs beside before.

Maths uses z = 1 if a plate keeps dishes and portions, w = 1 if it keeps its dishes, and the excess
of batches and packs above and below what they were.
"""

from __future__ import annotations

import pulp

from planopt.model.menus import Menus
from planopt.problem.change import Before, ChangePrices, Plate


def add_change_price(menus: Menus, before: Before, prices: ChangePrices) -> float:
    """Add the price of change to a model's objective; return the part of it that is constant.

    What the whole change is taken to cost is that constant plus the terms added.
    """
    kitchen = menus.kitchen
    terms: list[tuple[pulp.LpVariable, float]] = []
    constant = 0.0
    for i, plate in sorted(before.plates.items()):
        if kept := _kept(menus, i, plate):
            same, dishes = kept
            terms += [(same, -prices.portion), (dishes, prices.portion - prices.dish)]
        constant += prices.dish
    for n, unit in enumerate(kitchen.units):
        step = kitchen.problem.dishes[kitchen.problem.cookings[n].dish].batch_step or 1.0
        was = before.batches.get(n, 0.0) / step
        constant += _moved(menus, unit, was, prices.batch * step, terms)
    for key, pack in kitchen.packs.items():
        constant += _moved(menus, pack, before.packs.get(key, 0.0), prices.pack, terms)
    assert kitchen.lp.objective is not None
    kitchen.lp.objective += pulp.LpAffineExpression(terms)
    return constant


def _moved(
    menus: Menus,
    variable: pulp.LpVariable,
    was: float,
    price: float,
    terms: list[tuple[pulp.LpVariable, float]],
) -> float:
    """Price |variable - was|; of what was nothing, the variable itself is the change."""
    if price == 0:
        return 0.0
    if was == 0:
        terms.append((variable, price))
        return 0.0
    kitchen = menus.kitchen
    more = pulp.LpVariable(kitchen.names.new("c", f"more than {was:g} of {variable.name}"), 0)
    kitchen.row(more >= variable - was, f"{variable.name}: more than before")
    # |x - was| = 2 x excess - (x - was).
    terms += [(more, 2 * price), (variable, -price)]
    return price * was


def _kept(menus: Menus, i: int, plate: Plate) -> tuple[pulp.LpVariable, pulp.LpVariable] | None:
    """Return whether a plate keeps all, and whether it keeps its dishes; None if it cannot."""
    kitchen = menus.kitchen
    problem = kitchen.problem
    slot = problem.slots[i]
    of_dish: dict[tuple[str, str], list[int]] = {key: [] for key in plate}
    others: list[int] = []
    for j, option in enumerate(slot.options):
        of_dish.get(problem.dishes[option.dish].key, others).append(j)
    if not all(of_dish.values()) or any((i, j) not in menus.pick for j in others):
        return None
    what = f"plate {i}"
    client, step = problem.clients[slot.client], menus.step[slot.client]
    same = pulp.LpVariable(kitchen.names.new("z", f"{what} stays"), cat="Binary")
    dishes = pulp.LpVariable(kitchen.names.new("w", f"{what} keeps its dishes"), 0, 1)
    kitchen.row(same <= dishes, f"{what}: stays only with its dishes")
    for key, members in of_dish.items():
        picked = pulp.lpSum(menus.pick[i, j] for j in members)
        served = pulp.lpSum(menus.portion[i, j] * step for j in members)
        kitchen.row(dishes <= picked, f"{what}: keeps {key[0]}")
        low, high = (
            min(client.portions.smallest, plate[key]),
            max(client.portions.largest, plate[key]),
        )
        kitchen.row(
            served >= plate[key] * same + low * (picked - same), f"{what}: least of {key[0]}"
        )
        kitchen.row(
            served <= plate[key] * same + high * (picked - same), f"{what}: most of {key[0]}"
        )
    if problem.most_dishes_per_meal != 1:
        for j in others:
            kitchen.row(dishes <= 1 - menus.pick[i, j], f"{what}: nothing beside")
    return same, dishes
