"""The master: a kitchen whose clients eat day menus, menus entering as columns.

Maths uses m = days on which a group eats a menu. Rows are written in PuLP with no menu in them;
`Master.column` gives a menu's coefficients in those rows.
"""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import dataclass, field
from math import inf

import numpy as np
import pulp

from planopt.model.daymenus import DayMenu, Floats
from planopt.model.kitchen import KitchenModel
from planopt.problem.build import Option, Problem
from planopt.problem.rules import LinearRule


@dataclass
class Master:
    """Row numbers of a master by what they mean; see `new_master`."""

    kitchen: KitchenModel
    eaten_row: list[int] = field(default_factory=list)
    taken_row: list[int] = field(default_factory=list)
    group_row: list[int] = field(default_factory=list)
    repeat_row: dict[tuple[int, str], int] = field(default_factory=dict)
    variety_row: dict[tuple[int, str], int] = field(default_factory=dict)
    kinds_row: dict[tuple[int, str], int] = field(default_factory=dict)
    link_row: dict[tuple[int, int], int] = field(default_factory=dict)
    rule_rows: list[tuple[LinearRule, list[int]]] = field(default_factory=list)
    _cooking: dict[Option, int] = field(default_factory=dict)
    _of_dish: dict[tuple[int, int], list[tuple[int, float, bool]]] = field(default_factory=dict)

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
        for table in (self.repeat_row, self.variety_row, self.kinds_row):
            row = table.get((client, dish.recipe_id))
            if row is not None:
                per_meal[row] = 1.0
        link = self.link_row.get((client, n))
        if link is not None:
            per_meal[link] = 1.0
        for row, value, meal in self._of_dish.get((client, option.dish), ()):
            (per_meal if meal else per_serving)[row] = value
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


def new_master(kitchen: KitchenModel) -> Master:
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
        _rule_rows(master, c)
    return master


def _row(kitchen: KitchenModel, constraint: pulp.LpConstraint, meaning: str) -> int:
    kitchen.row(constraint, meaning)
    return len(kitchen.lp.constraints) - 1


def _both(kitchen: KitchenModel, low: float, high: float, meaning: str) -> list[int]:
    rows = []
    empty = pulp.LpAffineExpression()
    if low > 0:
        rows.append(_row(kitchen, empty >= low, f"{meaning}: least"))
    if high < inf:
        rows.append(_row(kitchen, empty <= high, f"{meaning}: most"))
    return rows


def _client_rows(master: Master, c: int) -> None:
    """Repeats, variety, and cooked-if-eaten links.

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
    repeats = client.most_repeats if client.most_repeats is not None else problem.days
    for recipe_id in sorted(days_of):
        if len(days_of[recipe_id]) > repeats:
            master.repeat_row[c, recipe_id] = _row(
                kitchen, empty <= repeats, f"{who}: repeats of {recipe_id}"
            )
    if client.least_different_recipes > 0:
        _variety_rows(master, c, days_of, days_of_cooking)
    if client.most_different_recipes is not None:
        _kinds_rows(master, c, days_of, repeats)
    for n, days in sorted(days_of_cooking.items()):
        most = min(len(days), repeats)
        master.link_row[c, n] = _row(
            kitchen,
            -float(most) * kitchen.started[n] <= 0,
            f"{who}: eats cooking {n} only if it is cooked",
        )


def _variety_rows(
    master: Master, c: int, days_of: dict[str, set[int]], cookings: Iterable[int]
) -> None:
    """At least so many different recipes, each seen only if one of its cookings is cooked."""
    kitchen, problem, client = master.kitchen, master.problem, master.problem.clients[c]
    who, seen = client.client_id, []
    for recipe_id in sorted(days_of):
        eaten = pulp.LpVariable(kitchen.names.new("w", f"{who} eats {recipe_id}"), 0, 1)
        master.variety_row[c, recipe_id] = _row(
            kitchen, -1.0 * eaten >= 0, f"{who}: {recipe_id} seen"
        )
        made = pulp.lpSum(
            kitchen.started[n]
            for n in sorted(cookings)
            if problem.dishes[problem.cookings[n].dish].recipe_id == recipe_id
        )
        kitchen.row(eaten <= made, f"{who}: {recipe_id} seen only if cooked")
        seen.append(eaten)
    kitchen.row(pulp.lpSum(seen) >= client.least_different_recipes, f"{who}: different recipes")


def _kinds_rows(master: Master, c: int, days_of: dict[str, set[int]], repeats: int) -> None:
    """At most so many different recipes, each had as often as it may be."""
    kitchen, client = master.kitchen, master.problem.clients[c]
    who, had = client.client_id, []
    for recipe_id, days in sorted(days_of.items()):
        name = kitchen.names.new("w", f"{who} has {recipe_id} at all")
        some = pulp.LpVariable(name, cat="Binary")
        most = min(len(days), repeats)
        master.kinds_row[c, recipe_id] = _row(
            kitchen, -float(most) * some <= 0, f"{who}: {recipe_id} had"
        )
        had.append(some)
    kitchen.row(pulp.lpSum(had) <= client.most_different_recipes, f"{who}: most recipes")


def _rule_rows(master: Master, c: int) -> None:
    """State a client's rules of the whole plan, and note what a dish counts in which row."""
    kitchen, problem = master.kitchen, master.problem
    for rule in (rule for rule in problem.rules if rule.client == c):
        if rule.soft:
            rows = kitchen.soft_row(rule, [], rule.words)
        else:
            rows = _both(kitchen, rule.low, rule.high, rule.words)
        master.rule_rows.append((rule, rows))
        for d, value in rule.coefficients.items():
            mine = master._of_dish.setdefault((rule.client, d), [])
            mine += [(row, value, rule.per == "meal") for row in rows]
