"""Small weeks for tests of the search: kitchens by seed, their optimum, and menus drawn."""

from __future__ import annotations

from functools import lru_cache
from random import Random

from model.everymenu import all_menus
from model.small import EXACT, random_kitchen
from planopt.model.daymenus import DayMenu, supports_menus
from planopt.problem.build import Problem
from planopt.solve.highs.daymodel import search_plain


@lru_cache
def week(seed: int) -> Problem:
    """Return a random problem of one dish a meal."""
    problem = random_kitchen(seed).problem
    assert supports_menus(problem)
    return problem


@lru_cache
def least_cost(seed: int) -> float | None:
    """Return the proven least cost of a random week by the day-by-day model, None if none is."""
    result = search_plain(week(seed), EXACT)
    assert result.status == "optimal" or result.infeasible
    return None if result.infeasible else result.bound


@lru_cache
def menus_of(seed: int) -> tuple[tuple[DayMenu, ...], ...]:
    """Return every compliant menu of each group of days."""
    problem = week(seed)
    return tuple(tuple(all_menus(problem, g)) for g in range(len(problem.groups)))


def drawn_days(seed: int, draw: int) -> dict[tuple[int, int], DayMenu] | None:
    """Return a compliant menu for every (group, day position), None when a group has none."""
    rng = Random(1000 * seed + draw)
    menus = menus_of(seed)
    if not all(menus):
        return None
    return {
        (g, d): rng.choice(menus[g])
        for g, group in enumerate(week(seed).groups)
        for d in range(len(group.days))
    }


def servings_of(
    problem: Problem, days: dict[tuple[int, int], DayMenu]
) -> dict[tuple[int, int], float]:
    """Return the days as servings by (slot, option position)."""
    return {
        (slot, j): amount
        for (g, d), menu in days.items()
        for slot, (j, amount) in zip(problem.groups[g].slots[d], menu.choice, strict=True)
    }
