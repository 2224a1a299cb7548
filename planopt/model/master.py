"""The master: a kitchen whose clients eat day menus, menus entering as columns.

Maths uses m = days on which a group eats a menu. Rows are written in PuLP with no menu in them;
`Master.column` gives a menu's coefficients in those rows.
"""

from __future__ import annotations

from dataclasses import dataclass, field
from math import inf

import numpy as np
import pulp

from planopt.model.daymenus import DayMenu, Floats
from planopt.model.kitchen import Kitchen
from planopt.problem.build import Option, Problem
from planopt.scenario.windows import window_bounds


@dataclass
class Master:
    """Row numbers of a master by what they mean; see `new_master`."""

    kitchen: Kitchen
    eaten_row: list[int] = field(default_factory=list)
    taken_row: list[int] = field(default_factory=list)
    group_row: list[int] = field(default_factory=list)
    repeat_row: dict[tuple[int, str], int] = field(default_factory=dict)
    variety_row: dict[tuple[int, str], int] = field(default_factory=dict)
    link_row: dict[tuple[int, int], int] = field(default_factory=dict)
    food_row: dict[tuple[int, str], list[int]] = field(default_factory=dict)
    serving_row: dict[tuple[int, str], list[int]] = field(default_factory=dict)
    week_row: dict[int, dict[str, list[int]]] = field(default_factory=dict)
    _cooking: dict[Option, int] = field(default_factory=dict)

    @property
    def problem(self) -> Problem:
        """Return the problem the master stands for."""
        return self.kitchen.problem

    def cooking(self, option: Option) -> int:
        """Return the position of an option among the cookings."""
        return self._cooking[option]

    def option_rows(self, client: int, option: Option) -> tuple[dict[int, float], dict[int, float]]:
        """Return coefficients of eating an option once: per serving, and per meal, by row."""
        problem = self.problem
        dish = problem.dishes[option.dish]
        n = self._cooking[option]
        per_serving = {self.eaten_row[n]: 1.0}
        per_meal: dict[int, float] = {self.taken_row[n]: 1.0} if self.taken_row else {}
        for table in (self.repeat_row, self.variety_row):
            row = table.get((client, dish.recipe_id))
            if row is not None:
                per_meal[row] = 1.0
        link = self.link_row.get((client, n))
        if link is not None:
            per_meal[link] = 1.0
        for food_id in dish.grams:
            for row in self.food_row.get((client, food_id), ()):
                per_meal[row] = 1.0
        for row in self.serving_row.get((client, dish.recipe_id), ()):
            per_serving[row] = 1.0
        for nutrient_id, rows in self.week_row.get(client, {}).items():
            for row in rows:
                per_serving[row] = dish.nutrients[nutrient_id]
        return per_serving, per_meal

    def column(self, menu: DayMenu) -> dict[int, float]:
        """Return a menu's coefficients by row number."""
        group = self.problem.groups[menu.group]
        found: dict[int, float] = {self.group_row[menu.group]: 1.0}
        for slot, (j, servings) in zip(group.slots[0], menu.choice, strict=True):
            option = self.problem.slots[slot].options[j]
            per_serving, per_meal = self.option_rows(group.client, option)
            for row, value in per_serving.items():
                found[row] = found.get(row, 0.0) + value * servings
            for row, value in per_meal.items():
                found[row] = found.get(row, 0.0) + value
        return found

    def prices(self, duals: Floats) -> list[list[Floats]]:
        """Return prices for `MenuTable.cheapest`, by group and meal.

        The price of an option is minus the worth of its rows, so that menu price minus the dual of
        the group's row is the reduced cost of the menu's column.
        """
        known: dict[tuple[int, Option], tuple[float, float]] = {}
        table = []
        for group in self.problem.groups:
            meals = []
            for slot in group.slots[0]:
                options = self.problem.slots[slot].options
                price = np.zeros((2, len(options)))
                for j, option in enumerate(options):
                    key = (group.client, option)
                    if key not in known:
                        per_serving, per_meal = self.option_rows(group.client, option)
                        known[key] = (
                            -sum(value * duals[row] for row, value in per_serving.items()),
                            -sum(value * duals[row] for row, value in per_meal.items()),
                        )
                    price[:, j] = known[key]
                meals.append(price)
            table.append(meals)
        return table


def new_master(kitchen: Kitchen) -> Master:
    """Add the clients' rows to a kitchen, ready for menu columns."""
    problem = kitchen.problem
    master = Master(kitchen)
    master._cooking = {cooking: n for n, cooking in enumerate(problem.cookings)}
    for n, eaten in enumerate(kitchen.eaten):
        master.eaten_row.append(_row(kitchen, -1.0 * eaten == 0, f"servings eaten of cooking {n}"))
    for n, taken in enumerate(kitchen.taken):
        what = f"portions taken of cooking {n}"
        master.taken_row.append(_row(kitchen, -1.0 * taken == 0, what))
    for group in problem.groups:
        who = problem.clients[group.client].client_id
        empty = pulp.LpAffineExpression()
        master.group_row.append(
            _row(kitchen, empty == len(group.days), f"{who}: menus of days {group.days}")
        )
    for c in range(len(problem.clients)):
        _client_rows(master, c)
    return master


def _row(kitchen: Kitchen, constraint: pulp.LpConstraint, meaning: str) -> int:
    kitchen.row(constraint, meaning)
    return len(kitchen.lp.constraints) - 1


def _both(kitchen: Kitchen, low: float, high: float, meaning: str) -> list[int]:
    rows = []
    empty = pulp.LpAffineExpression()
    if low > 0:
        rows.append(_row(kitchen, empty >= low, f"{meaning}: least"))
    if high < inf:
        rows.append(_row(kitchen, empty <= high, f"{meaning}: most"))
    return rows


def _client_rows(master: Master, c: int) -> None:
    """Repeats, variety, dislikes, wants, servings, whole-plan windows, and cooked-if-eaten links.

    Link: days on which a client eats a cooking <= most days x started. It is implied by the plain
    rows for whole menus, and cuts off a fraction of a batch that feeds somebody for days.
    """
    kitchen = master.kitchen
    problem = master.problem
    client = problem.clients[c]
    who = client.client_id
    days_of: dict[str, set[int]] = {}
    days_of_cooking: dict[int, set[int]] = {}
    for i in problem.slots_of_client[c]:
        slot = problem.slots[i]
        for option in slot.options:
            days_of.setdefault(problem.dishes[option.dish].recipe_id, set()).add(slot.day)
            days_of_cooking.setdefault(master.cooking(option), set()).add(slot.day)
    empty = pulp.LpAffineExpression()
    repeats = client.most_repeats if client.most_repeats is not None else problem.scenario.days
    for recipe_id in sorted(days_of):
        if len(days_of[recipe_id]) > repeats:
            master.repeat_row[c, recipe_id] = _row(
                kitchen, empty <= repeats, f"{who}: repeats of {recipe_id}"
            )
    if client.least_different_recipes > 0:
        seen = []
        for recipe_id in sorted(days_of):
            eaten = pulp.LpVariable(kitchen.names.new("w", f"{who} eats {recipe_id}"), 0, 1)
            master.variety_row[c, recipe_id] = _row(
                kitchen, -1.0 * eaten >= 0, f"{who}: {recipe_id} seen"
            )
            kitchen.row(
                eaten
                <= pulp.lpSum(
                    kitchen.started[n]
                    for n in sorted(days_of_cooking)
                    if problem.dishes[problem.cookings[n].dish].recipe_id == recipe_id
                ),
                f"{who}: {recipe_id} seen only if cooked",
            )
            seen.append(eaten)
        kitchen.row(pulp.lpSum(seen) >= client.least_different_recipes, f"{who}: different recipes")
    for n, days in sorted(days_of_cooking.items()):
        most = min(len(days), repeats)
        master.link_row[c, n] = _row(
            kitchen,
            -float(most) * kitchen.started[n] <= 0,
            f"{who}: eats cooking {n} only if it is cooked",
        )
    limits: dict[str, tuple[float, float]] = {}
    for food_id, most_meals in client.dislikes.items():
        limits[food_id] = (0.0, float(most_meals))
    for food_id, least_meals in client.wants.items():
        limits[food_id] = (float(least_meals), limits.get(food_id, (0.0, inf))[1])
    for food_id, (low, high) in limits.items():
        master.food_row[c, food_id] = _both(kitchen, low, high, f"{who}: meals with {food_id}")
    for recipe_id, servings in client.recipe_servings.items():
        high = inf if servings.max is None else servings.max
        master.serving_row[c, recipe_id] = _both(
            kitchen, servings.min, high, f"{who}: servings of {recipe_id}"
        )
    week = master.week_row.setdefault(c, {})
    for nutrient_id, window in client.windows_per_week.items():
        low, high = window_bounds(window)
        week[nutrient_id] = _both(kitchen, low, high, f"{who}: {nutrient_id}, whole plan")
    for soft in problem.soft_limits:
        if soft.client == c:
            kitchen.soft_row(soft, [], f"{who}: {soft.nutrient_id}, whole plan, {soft.side}")
            week.setdefault(soft.nutrient_id, []).append(len(kitchen.lp.constraints) - 1)
