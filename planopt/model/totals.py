"""Rules and windows over the whole plan, on totals that do not say which day.

Two relaxations share them: the weekly one, with cook days, and the merged one, without.
"""

from __future__ import annotations

from dataclasses import dataclass, field
from itertools import combinations
from math import ceil, inf

import pulp

from planopt.model.daymenus import portion_sizes
from planopt.model.kitchen import Kitchen
from planopt.model.loose import EatenLines, nutrient_terms, servings_with
from planopt.problem.build import Option, Problem
from planopt.problem.dishes import Dish
from planopt.scenario.windows import window_bounds

Key = tuple[int, str, Option]


@dataclass(frozen=True)
class Totals:
    """How often and how much each client eats of what, and the switches of what is cooked.

    `times` and `servings` are by (client, meal, option), of which servings may be of all meals
    together, under the meal "". `cooked` is by option, `made` by recipe, `loose` by client and
    option of an outline.
    """

    kitchen: Kitchen
    times: dict[Key, pulp.LpVariable]
    servings: dict[Key, pulp.LpVariable]
    cooked: dict[Option, pulp.LpVariable]
    made: dict[str, pulp.LpVariable]
    loose: dict[tuple[int, Option], EatenLines] = field(default_factory=dict)

    def recipe_of(self, key: Key) -> str:
        """Return the recipe that a total is about."""
        return self.kitchen.problem.dishes[key[2].dish].recipe_id


def repeats_of(problem: Problem, c: int) -> int:
    """Return how many meals of one recipe a client may have."""
    most = problem.clients[c].most_repeats
    return problem.scenario.days if most is None else most


def add_rules(totals: Totals, c: int) -> None:
    """Rules: repeats, variety, kinds, dislikes, wants and servings of a recipe."""
    kitchen = totals.kitchen
    problem = kitchen.problem
    client = problem.clients[c]
    who = client.client_id
    keys = [key for key in totals.times if key[0] == c]
    by_recipe: dict[str, list[Key]] = {}
    for key in keys:
        by_recipe.setdefault(totals.recipe_of(key), []).append(key)
    repeats = repeats_of(problem, c)
    seen = []
    for recipe_id, members in sorted(by_recipe.items()):
        total = pulp.lpSum(totals.times[key] for key in members)
        made = totals.made[recipe_id]
        kitchen.row(total - float(repeats) * made <= 0, f"{who}: repeats of {recipe_id}")
        if client.least_different_recipes > 0:
            eaten = pulp.LpVariable(kitchen.names.new("w", f"{who} eats {recipe_id}"), 0, 1)
            kitchen.row(eaten <= total, f"{who}: {recipe_id} seen")
            kitchen.row(eaten <= made, f"{who}: {recipe_id} seen only if made")
            seen.append(eaten)
    if seen:
        kitchen.row(pulp.lpSum(seen) >= client.least_different_recipes, f"{who}: different recipes")
    for food_id, most in client.dislikes.items():
        having = [key for key in keys if food_id in problem.dishes[key[2].dish].grams]
        total = pulp.lpSum(totals.times[key] for key in having)
        # A meal has no more servings than the largest portion, with the food or without.
        lines = _held_loosely(totals, c, food_id, once=most > 0)
        total += pulp.lpSum(line[0] / portion_sizes(problem, c)[-1] for line in lines)
        kitchen.row(total <= most, f"{who}: meals with {food_id}, most")
    for food_id, least in client.wants.items():
        # Some version of an outline may have the food: that is enough.
        having = [key for key in keys if problem.dishes[key[2].dish].may_hold(food_id)]
        total = pulp.lpSum(totals.times[key] for key in having)
        kitchen.row(total >= least, f"{who}: meals with {food_id}, least")
        perhaps = _held_loosely(totals, c, food_id, once=False)
        if perhaps:
            # A meal with the food has at least the smallest portion of it.
            total = pulp.lpSum(
                totals.times[key] for key in having if food_id in problem.dishes[key[2].dish].grams
            )
            total += pulp.lpSum(line[0] / portion_sizes(problem, c)[0] for line in perhaps)
            kitchen.row(total >= least, f"{who}: servings with {food_id} for the least meals")
        if least > 0:
            cooked = {option: totals.cooked[option] for _, _, option in having}
            kitchen.row(
                pulp.lpSum(cooked.values()) >= 1, f"{who}: {food_id} is cooked at least once"
            )
    for recipe_id, window in client.recipe_servings.items():
        total = pulp.lpSum(
            servings
            for key, servings in totals.servings.items()
            if key[0] == c and totals.recipe_of(key) == recipe_id
        )
        kitchen.row(total >= window.min, f"{who}: servings of {recipe_id}, least")
        if window.max is not None:
            kitchen.row(total <= window.max, f"{who}: servings of {recipe_id}, most")
    _kinds(totals, c, keys)


def _held_loosely(
    totals: Totals, c: int, food_id: str, *, once: bool
) -> list[list[pulp.LpVariable]]:
    """Return what a client eats of outlines with a food on a loose line, `once` for each outline.

    Outlines that have the food for certain are left out.
    """
    dishes = totals.kitchen.problem.dishes
    found: list[list[pulp.LpVariable]] = []
    for (who, option), eaten in totals.loose.items():
        if who == c and food_id not in dishes[option.dish].grams:
            lines = servings_with(eaten, food_id)
            found += lines[:1] if once else lines
    return found


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


def add_windows(totals: Totals, c: int) -> None:
    """Windows: day windows summed over their days, and windows of the whole plan."""
    problem = totals.kitchen.problem
    client = problem.clients[c]
    eating = {problem.slots[i].day for i in problem.slots_of_client[c]}
    sums: dict[str, tuple[float, float, int]] = {}
    for group in problem.groups:
        if group.client != c:
            continue
        for nutrient_id, (low, high) in group.windows.items():
            old = sums.get(nutrient_id, (0.0, 0.0, 0))
            count = len(group.days)
            sums[nutrient_id] = (old[0] + low * count, old[1] + high * count, old[2] + count)
    keys = [key for key in totals.servings if key[0] == c]
    lines = [
        (problem.dishes[option.dish], eaten)
        for (who, option), eaten in totals.loose.items()
        if who == c
    ]
    for nutrient_id, (low, high, count) in sums.items():
        # A nutrient with a window on some days only has no upper limit on the rest.
        high = high if count == len(eating) else inf
        _range(totals, keys, lines, nutrient_id, low, high)
    for nutrient_id, window in client.windows_per_week.items():
        _range(totals, keys, lines, nutrient_id, *window_bounds(window))
    for soft in problem.soft_limits:
        if soft.client == c:
            terms = _terms(totals, keys, lines, soft.nutrient_id)
            totals.kitchen.soft_row(soft, terms, f"{soft.nutrient_id} over the plan {soft.side}")


def _terms(
    totals: Totals, keys: list[Key], lines: list[tuple[Dish, EatenLines]], nutrient_id: str
) -> list[tuple[pulp.LpVariable, float]]:
    """Return how much of a nutrient is eaten over the plan, by servings."""
    dishes = totals.kitchen.problem.dishes
    terms = [(totals.servings[key], dishes[key[2].dish].nutrients[nutrient_id]) for key in keys]
    for dish, eaten in lines:
        terms += nutrient_terms(eaten, nutrient_id, dish)
    return terms


def _range(
    totals: Totals,
    keys: list[Key],
    lines: list[tuple[Dish, EatenLines]],
    nutrient_id: str,
    low: float,
    high: float,
) -> None:
    total = pulp.LpAffineExpression(_terms(totals, keys, lines, nutrient_id))
    if low > 0:
        totals.kitchen.row(total >= low, f"{nutrient_id} over the plan, least")
    if high < inf:
        totals.kitchen.row(total <= high, f"{nutrient_id} over the plan, most")
