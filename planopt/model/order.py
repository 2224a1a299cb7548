"""The order of meals in the day-by-day model: shared dishes, days between, and recipes at most."""

from __future__ import annotations

from collections.abc import Callable
from typing import TYPE_CHECKING

import pulp

from planopt.problem.limits import LimitKey

if TYPE_CHECKING:
    from planopt.model.kitchen import KitchenModel
    from planopt.model.menus import Menus

Members = list[tuple[int, int]]
Count = Callable[["Menus", Members, str, bool], pulp.LpAffineExpression]


def add_order(menus: Menus, count: Count) -> None:
    """State the order of a problem; `count` gives how many of some meals hold one of their dishes.

    Ties: a meal holds a recipe if the other one does. Days between: of the meals with a recipe on
    so many days in a row, tied ones taken as one, at most one.
    """
    problem = menus.kitchen.problem
    for a, b, key in problem.order.ties:
        _tie(menus, a, b, key)
    for c in range(len(problem.clients) if problem.order else 0):
        _apart(menus, c, count)


def _by_recipe(menus: Menus, slot: int) -> dict[str, Members]:
    problem = menus.kitchen.problem
    found: dict[str, Members] = {}
    for j, option in enumerate(problem.slots[slot].options):
        found.setdefault(problem.dishes[option.dish].recipe_id, []).append((slot, j))
    return found


def _tie(menus: Menus, a: int, b: int, key: LimitKey) -> None:
    one, other = _by_recipe(menus, a), _by_recipe(menus, b)
    for recipe_id in dict.fromkeys((*one, *other)):
        what = f"{key.what}: {recipe_id} in meals {a} and {b}"
        here = _held(menus, one.get(recipe_id, []), what)
        there = _held(menus, other.get(recipe_id, []), what)
        menus.kitchen.row(here - there == 0, f"{what} alike", key)


def _held(menus: Menus, members: Members, what: str) -> pulp.LpAffineExpression:
    """Return 1 for a meal that holds one of these dishes, else 0."""
    kitchen = menus.kitchen
    picks = [menus.pick[ij] for ij in members]
    if kitchen.problem.most_dishes_per_meal == 1 or len(picks) < 2:
        return pulp.lpSum(picks)
    held = pulp.LpVariable(kitchen.names.new("h", f"{what}: meal holds it"), 0, 1)
    for pick in picks:
        kitchen.row(held >= pick, f"{what}: held if picked")
    kitchen.row(held <= pulp.lpSum(picks), f"{what}: held only if picked")
    return pulp.LpAffineExpression([(held, 1.0)])


def _apart(menus: Menus, c: int, count: Count) -> None:
    """Days between, recipe by recipe; a window of days within another says nothing more."""
    problem = menus.kitchen.problem
    who, sets = problem.clients[c].client_id, problem.order.set_of()
    eaten: dict[str, Members] = {}
    for i in problem.slots_of_client[c]:
        for recipe_id, members in _by_recipe(menus, i).items():
            eaten.setdefault(recipe_id, []).extend(members)
    days = sorted({problem.slots[i].day for i in problem.slots_of_client[c]})
    for recipe_id, members in eaten.items():
        between = problem.order.days_between(c, recipe_id)
        told: set[frozenset[tuple[int, int]]] = set()
        for first in days if between else ():
            here = [ij for ij in members if first <= problem.slots[ij[0]].day <= first + between]
            firsts: dict[object, int] = {}
            for i, _ in here:
                firsts.setdefault(sets.get(i, ("alone", i)), i)
            kept = [ij for ij in here if ij[0] in firsts.values()]
            if len(firsts) < 2 or any(told_of >= set(kept) for told_of in told):
                continue
            told.add(frozenset(kept))
            what = f"{who}: {recipe_id} from day {first} to {first + between}"
            key = problem.order.spacing_key(c, who, recipe_id)
            menus.kitchen.row(count(menus, kept, what, True) <= 1, f"{what}: most 1", key)


def most_recipes(kitchen: KitchenModel) -> None:
    """Recipes: no more different ones are cooked than may be."""
    problem = kitchen.problem
    if problem.most_recipes is None:
        return
    of_recipe: dict[str, list[pulp.LpVariable]] = {}
    for n, started in enumerate(kitchen.started):
        recipe_id = problem.dishes[problem.cookings[n].dish].recipe_id
        of_recipe.setdefault(recipe_id, []).append(started)
    cooked = []
    for recipe_id, members in of_recipe.items():
        any_day = pulp.LpVariable(kitchen.names.new("k", f"{recipe_id} is cooked at all"), 0, 1)
        for started in members:
            kitchen.row(any_day >= started, f"{recipe_id}: cooked on some day")
        cooked.append(any_day)
    total = pulp.lpSum(cooked)
    kitchen.row(total <= problem.most_recipes, "most recipes of the plan", LimitKey("most_kinds"))


def most_kinds(menus: Menus, c: int, by_recipe: dict[str, Members]) -> None:
    """Kinds: a client has no more different recipes than may be."""
    kitchen = menus.kitchen
    client = kitchen.problem.clients[c]
    if client.most_different_recipes is None:
        return
    who, had = client.client_id, []
    for recipe_id, members in by_recipe.items():
        eaten = pulp.LpVariable(kitchen.names.new("w", f"{who} has {recipe_id} at all"), 0, 1)
        for ij in members:
            kitchen.row(eaten >= menus.pick[ij], f"{who}: {recipe_id} had")
        had.append(eaten)
    key = LimitKey("most_kinds", who)
    kitchen.row(pulp.lpSum(had) <= client.most_different_recipes, f"{who}: most recipes", key)
