"""Rules and windows over the whole plan, on totals that do not say which day.

Two relaxations share them: the weekly one, with cook days, and the merged one, without.
"""

from __future__ import annotations

from dataclasses import dataclass, field
from itertools import combinations
from math import ceil, inf

import pulp

from planopt.model.daymenus import portion_sizes
from planopt.model.kitchen import KitchenModel
from planopt.model.loose import EatenLines, line_terms, servings_with
from planopt.problem.build import Option, Problem
from planopt.problem.order import most_meals
from planopt.problem.rules import LinearRule

Key = tuple[int, str, Option]


@dataclass(frozen=True)
class Totals:
    """How often and how much each client eats of what, and the switches of what is cooked.

    `times` and `servings` are by (client, meal, option), of which servings may be of all meals
    together, under the meal "". `cooked` is by option, `made` by recipe, `loose` by client and
    option of an outline.
    """

    kitchen: KitchenModel
    times: dict[Key, pulp.LpVariable]
    servings: dict[Key, pulp.LpVariable]
    cooked: dict[Option, pulp.LpVariable]
    made: dict[str, pulp.LpVariable]
    loose: dict[tuple[int, Option], EatenLines] = field(default_factory=dict)

    def recipe_of(self, key: Key) -> str:
        """Return the recipe that a total is about."""
        return self.kitchen.problem.dishes[key[2].dish].recipe_id


def repeats_of(problem: Problem, c: int) -> int:
    """Return how many meals of one recipe a client may have, see `most_meals`."""
    return most_meals(problem, c)


def add_rules(totals: Totals, c: int) -> None:
    """Rules: repeats, variety, kinds, and all sums, those of days summed over their days."""
    kitchen = totals.kitchen
    problem = kitchen.problem
    client = problem.clients[c]
    who = client.client_id
    keys = [key for key in totals.times if key[0] == c]
    by_recipe: dict[str, list[Key]] = {}
    for key in keys:
        by_recipe.setdefault(totals.recipe_of(key), []).append(key)
    repeats = repeats_of(problem, c)
    seen, had = [], []
    for recipe_id, members in sorted(by_recipe.items()):
        total = pulp.lpSum(totals.times[key] for key in members)
        made = totals.made[recipe_id]
        kitchen.row(total - float(repeats) * made <= 0, f"{who}: repeats of {recipe_id}")
        if client.least_different_recipes > 0:
            eaten = pulp.LpVariable(kitchen.names.new("w", f"{who} eats {recipe_id}"), 0, 1)
            kitchen.row(eaten <= total, f"{who}: {recipe_id} seen")
            kitchen.row(eaten <= made, f"{who}: {recipe_id} seen only if made")
            seen.append(eaten)
        if client.most_different_recipes is not None:
            any_of_it = pulp.LpVariable(kitchen.names.new("w", f"{who} has {recipe_id}"), 0, 1)
            kitchen.row(total <= float(repeats) * any_of_it, f"{who}: {recipe_id} had")
            had.append(any_of_it)
    if client.most_different_recipes is not None:
        kitchen.row(pulp.lpSum(had) <= client.most_different_recipes, f"{who}: most recipes")
    if seen:
        kitchen.row(pulp.lpSum(seen) >= client.least_different_recipes, f"{who}: different recipes")
    mine = _mine(totals, c)
    for rule in problem.rules_of_client[c]:
        if rule.per == "meal":
            _meals(mine, rule)
        elif rule.counted:
            _range(mine, rule, rule.low, rule.high)
    _kinds(totals, c, keys)
    _days(mine, c)
    for rule in problem.rules_of_client[c]:
        if not rule.counted:
            _range(mine, rule, rule.low, rule.high)
    for rule in problem.soft_rules:
        if rule.client == c:
            kitchen.soft_row(rule, _terms(mine, rule), rule.words)


@dataclass(frozen=True)
class _Mine:
    """The totals of one client: keys of times and of servings, and lines of outlines by option."""

    totals: Totals
    times: list[Key]
    servings: list[Key]
    loose: list[tuple[Option, EatenLines]]


def _mine(totals: Totals, c: int) -> _Mine:
    return _Mine(
        totals,
        [key for key in totals.times if key[0] == c],
        [key for key in totals.servings if key[0] == c],
        [(option, lines) for (who, option), lines in totals.loose.items() if who == c],
    )


def _meals(mine: _Mine, rule: LinearRule) -> None:
    """Meals that count towards a rule, of outlines as well as their lines can tell."""
    totals = mine.totals
    kitchen, problem = totals.kitchen, totals.kitchen.problem
    sizes = portion_sizes(problem, rule.client)
    held = pulp.lpSum(totals.times[k] for k in mine.times if k[2].dish in rule.coefficients)
    if rule.high < inf:
        # A meal has no more servings than the largest portion, whatever counts of them.
        lines = _held_loosely(mine, rule, once=rule.high > 0)
        total = held + pulp.lpSum(line[0] / sizes[-1] for line in lines)
        kitchen.row(total <= rule.high, f"{rule.words}, most")
    if rule.low <= 0:
        return
    # Some version of an outline may count: that is enough.
    dishes = problem.dishes
    having = [k for k in mine.times if rule.may_count(dishes[k[2].dish], k[2].dish)]
    total = pulp.lpSum(totals.times[key] for key in having)
    kitchen.row(total >= rule.low, f"{rule.words}, least")
    perhaps = _held_loosely(mine, rule, once=False)
    if perhaps:
        # A meal that counts has at least the smallest portion of what counts.
        total = held + pulp.lpSum(line[0] / sizes[0] for line in perhaps)
        kitchen.row(total >= rule.low, f"{rule.words}, servings for the least meals")
    cooked = {option: totals.cooked[option] for _, _, option in having}
    kitchen.row(pulp.lpSum(cooked.values()) >= 1, f"{rule.words}, something is cooked")


def _held_loosely(mine: _Mine, rule: LinearRule, *, once: bool) -> list[list[pulp.LpVariable]]:
    """Return what a client eats of outlines that may count, `once` for each outline.

    Outlines that count for certain are left out.
    """
    found: list[list[pulp.LpVariable]] = []
    for option, eaten in mine.loose:
        if option.dish not in rule.coefficients:
            lines = servings_with(eaten, rule)
            found += lines[:1] if once else lines
    return found


def _days(mine: _Mine, c: int) -> None:
    """Rules of days, summed over their days."""
    problem = mine.totals.kitchen.problem
    eating = {problem.slots[i].day for i in problem.slots_of_client[c]}
    sums: dict[tuple[str, str], tuple[LinearRule, float, float, int]] = {}
    for group in problem.groups:
        for rule in group.rules if group.client == c else ():
            _, low, high, count = sums.get(rule.column, (rule, 0.0, 0.0, 0))
            days = len(group.days)
            low, high = low + rule.low * days, high + rule.high * days
            sums[rule.column] = (rule, low, high, count + days)
    for rule, low, high, count in sums.values():
        # What is limited on some days only has no upper limit on the rest.
        _range(mine, rule, low, high if count == len(eating) else inf)


def _terms(mine: _Mine, rule: LinearRule) -> list[tuple[pulp.LpVariable, float]]:
    """Return what counts towards a rule over the plan, by servings or by meals."""
    totals, of_meal = mine.totals, rule.per == "meal"
    terms = [
        ((totals.times if of_meal else totals.servings)[key], rule.coefficients[key[2].dish])
        for key in (mine.times if of_meal else mine.servings)
        if key[2].dish in rule.coefficients
    ]
    dishes = mine.totals.kitchen.problem.dishes
    for option, eaten in mine.loose:
        terms += line_terms(eaten, rule, dishes[option.dish])
    return terms


def _range(mine: _Mine, rule: LinearRule, low: float, high: float) -> None:
    kitchen, total = mine.totals.kitchen, pulp.LpAffineExpression(_terms(mine, rule))
    if low > 0:
        kitchen.row(total >= low, f"{rule.words}, summed, least")
    if high < inf:
        kitchen.row(total <= high, f"{rule.words}, summed, most")


def _kinds(totals: Totals, c: int, keys: list[Key]) -> None:
    """Kinds: meals / repeats, rounded up, different recipes are made for each set of meals."""
    kitchen = totals.kitchen
    problem = kitchen.problem
    client = problem.clients[c]
    recipes: dict[str, set[str]] = {}
    for key in keys:
        recipes.setdefault(key[1], set()).add(totals.recipe_of(key))
    counts: dict[str, int] = {}
    for i in problem.slots_of_client[c]:
        counts[problem.slots[i].meal] = counts.get(problem.slots[i].meal, 0) + 1
    meals = sorted(counts)
    for size in range(1, len(meals) + 1):
        for chosen in combinations(meals, size):
            able: set[str] = set().union(*(recipes.get(meal, set()) for meal in chosen))
            least = ceil(sum(counts[meal] for meal in chosen) / repeats_of(problem, c))
            if size == len(meals):
                least = max(least, client.least_different_recipes)
            kitchen.row(
                pulp.lpSum(totals.made[recipe_id] for recipe_id in sorted(able)) >= least,
                f"{client.client_id}: recipes made for {chosen}",
            )
