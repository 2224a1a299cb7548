"""Every compliant day of a group, by plain enumeration."""

from __future__ import annotations

from itertools import product
from math import inf

from planopt.model.daymenus import DayMenu, Floats, portion_sizes
from planopt.problem.build import Problem

WINDOW_SLACK = 1e-7


def complies(problem: Problem, menu: DayMenu) -> bool:
    """Tell whether a menu meets every window and has no recipe twice."""
    group = problem.groups[menu.group]
    dishes = [
        problem.dishes[problem.slots[i].options[j].dish]
        for i, (j, _) in zip(group.slots[0], menu.choice, strict=True)
    ]
    if len({dish.recipe_id for dish in dishes}) < len(dishes):
        return False
    for dish, i, (_, servings) in zip(dishes, group.slots[0], menu.choice, strict=True):
        slot = problem.slots[i]
        if servings < dish.smallest_portion - WINDOW_SLACK:
            return False
        for name, low, high in slot.windows:
            slack = WINDOW_SLACK * max(1.0, high if high < inf else low)
            each = (
                sum(dish.grams.values()) / dish.yield_servings
                if name == "plate_g"
                else dish.nutrients[name]
            )
            if not low - slack <= each * servings <= high + slack:
                return False
    for nutrient_id, (low, high) in group.windows.items():
        slack = WINDOW_SLACK * max(1.0, high if high < inf else low)
        total = sum(
            dish.nutrients[nutrient_id] * servings
            for dish, (_, servings) in zip(dishes, menu.choice, strict=True)
        )
        if not low - slack <= total <= high + slack:
            return False
    return True


def price_of(menu: DayMenu, prices: list[Floats]) -> float:
    """Return the price of a menu by prices as `MenuTable.cheapest` takes them."""
    return sum(
        float(price[0, j] * servings + price[1, j])
        for price, (j, servings) in zip(prices, menu.choice, strict=True)
    )


def all_menus(problem: Problem, group: int) -> list[DayMenu]:
    """Return every compliant menu of a group, one for each choice of options and portions."""
    row = problem.groups[group]
    sizes = portion_sizes(problem, row.client)
    items = [
        [(j, size) for j in range(len(problem.slots[i].options)) for size in sizes]
        for i in row.slots[0]
    ]
    menus = (DayMenu(group, choice) for choice in product(*items))
    return [menu for menu in menus if complies(problem, menu)]
