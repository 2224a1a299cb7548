"""The weekly relaxation: how often each client eats each dish, without saying on which day.

Every compliant plan, summed over its days, satisfies these rows, so a bound proved here bounds the
real problem. Day windows are summed over the days they hold on.

Maths uses Y = times a client takes an option in a meal, Q = servings of it.
"""

from __future__ import annotations

from dataclasses import dataclass, field
from itertools import combinations
from math import ceil, inf

import pulp

from planopt.model.daymenus import portion_sizes
from planopt.model.kitchen import Kitchen
from planopt.problem.build import Option, Problem
from planopt.scenario.windows import window_bounds

Key = tuple[int, str, Option]


@dataclass
class Weekly:
    """Variables of the weekly relaxation by (client, meal, option), and rows tying `eaten`."""

    kitchen: Kitchen
    times: dict[Key, pulp.LpVariable] = field(default_factory=dict)
    servings: dict[Key, pulp.LpVariable] = field(default_factory=dict)
    eaten_row: list[int] = field(default_factory=list)


def add_weekly(kitchen: Kitchen, made: dict[str, pulp.LpVariable]) -> Weekly:
    """Add the weekly relaxation of all clients to a kitchen (one dish a meal, portions in steps).

    `made` holds a switch for each recipe, from the strengthening rows.
    """
    weekly = Weekly(kitchen)
    problem = kitchen.problem
    place = {cooking: n for n, cooking in enumerate(problem.cookings)}
    for c in range(len(problem.clients)):
        reach = _reach(problem, c)
        _meals(weekly, c, reach)
        _links(weekly, c, reach, place)
        _rules(weekly, c, place, made)
        _kinds(weekly, c, reach, made)
        _windows(weekly, c)
    terms: list[list[tuple[pulp.LpVariable, float]]] = [[] for _ in problem.cookings]
    for (_, _, option), servings in weekly.servings.items():
        terms[place[option]].append((servings, 1.0))
    for n, eaten in enumerate(kitchen.eaten):
        kitchen.row(
            pulp.LpAffineExpression([*terms[n], (eaten, -1.0)]) == 0,
            f"servings eaten of cooking {n}",
        )
        weekly.eaten_row.append(len(kitchen.lp.constraints) - 1)
    return weekly


def _reach(problem: Problem, c: int) -> dict[str, dict[Option, set[int]]]:
    """Return, for each meal, the days on which each option can be eaten."""
    found: dict[str, dict[Option, set[int]]] = {}
    for i in problem.slots_of_client[c]:
        slot = problem.slots[i]
        meal = found.setdefault(slot.meal, {})
        for option in slot.options:
            meal.setdefault(option, set()).add(slot.day)
    return found


def _repeats(problem: Problem, c: int) -> int:
    most = problem.clients[c].most_repeats
    return problem.scenario.days if most is None else most


def _meals(weekly: Weekly, c: int, reach: dict[str, dict[Option, set[int]]]) -> None:
    """Meals: smallest Y <= Q <= largest Y; sum of Y = meals; runs of days can be served (Hall)."""
    kitchen = weekly.kitchen
    problem = kitchen.problem
    client = problem.clients[c]
    sizes = portion_sizes(problem, c)
    for meal, options in reach.items():
        days = [
            problem.slots[i].day
            for i in problem.slots_of_client[c]
            if problem.slots[i].meal == meal
        ]
        for option, reached in options.items():
            what = f"{client.client_id} {meal}: {problem.dishes[option.dish].key} {option.cook}"
            most = min(len(reached), _repeats(problem, c))
            times = pulp.LpVariable(kitchen.names.new("y", f"times, {what}"), 0, most, "Integer")
            servings = pulp.LpVariable(kitchen.names.new("q", f"servings, {what}"), 0)
            weekly.times[c, meal, option] = times
            weekly.servings[c, meal, option] = servings
            kitchen.row(servings <= sizes[-1] * times, f"{what}: largest portion")
            kitchen.row(servings >= sizes[0] * times, f"{what}: smallest portion")
        every = pulp.lpSum(weekly.times[c, meal, option] for option in options)
        kitchen.row(every == len(days), f"{client.client_id} {meal}: every day")
        told = set()
        for start in range(len(days)):
            for stop in range(start + 1, len(days) + 1):
                run = set(days[start:stop])
                if len(run) == len(days):
                    continue
                serve = [option for option, reached in options.items() if reached & run]
                if len(serve) < len(options) and (frozenset(serve), len(run)) not in told:
                    told.add((frozenset(serve), len(run)))
                    kitchen.row(
                        pulp.lpSum(weekly.times[c, meal, option] for option in serve) >= len(run),
                        f"{client.client_id} {meal}: days {sorted(run)} are served",
                    )


def _links(
    weekly: Weekly, c: int, reach: dict[str, dict[Option, set[int]]], place: dict[Option, int]
) -> None:
    """Links: times a client eats a cooking <= most days x started."""
    kitchen = weekly.kitchen
    problem = kitchen.problem
    terms: dict[Option, list[pulp.LpVariable]] = {}
    days: dict[Option, set[int]] = {}
    for meal, options in reach.items():
        for option, reached in options.items():
            terms.setdefault(option, []).append(weekly.times[c, meal, option])
            days.setdefault(option, set()).update(reached)
    for option, members in terms.items():
        most = min(len(days[option]), _repeats(problem, c))
        kitchen.row(
            pulp.lpSum(members) - float(most) * kitchen.started[place[option]] <= 0,
            f"{problem.clients[c].client_id} eats cooking {place[option]} only if it is cooked",
        )


def _rules(
    weekly: Weekly, c: int, place: dict[Option, int], made: dict[str, pulp.LpVariable]
) -> None:
    """Rules: repeats, variety, dislikes, wants and servings of a recipe, as in the full model."""
    kitchen = weekly.kitchen
    problem = kitchen.problem
    client = problem.clients[c]
    who = client.client_id
    keys = [key for key in weekly.times if key[0] == c]
    by_recipe: dict[str, list[Key]] = {}
    for key in keys:
        by_recipe.setdefault(problem.dishes[key[2].dish].recipe_id, []).append(key)
    repeats = _repeats(problem, c)
    seen = []
    for recipe_id, members in sorted(by_recipe.items()):
        total = pulp.lpSum(weekly.times[key] for key in members)
        kitchen.row(total - float(repeats) * made[recipe_id] <= 0, f"{who}: repeats of {recipe_id}")
        if client.least_different_recipes > 0:
            eaten = pulp.LpVariable(kitchen.names.new("w", f"{who} eats {recipe_id}"), 0, 1)
            kitchen.row(eaten <= total, f"{who}: {recipe_id} seen")
            kitchen.row(eaten <= made[recipe_id], f"{who}: {recipe_id} seen only if made")
            seen.append(eaten)
    if seen:
        kitchen.row(pulp.lpSum(seen) >= client.least_different_recipes, f"{who}: different recipes")
    for food_id, most in client.dislikes.items():
        total = pulp.lpSum(_with_food(weekly, keys, food_id))
        kitchen.row(total <= most, f"{who}: meals with {food_id}, most")
    for food_id, least in client.wants.items():
        total = pulp.lpSum(_with_food(weekly, keys, food_id))
        kitchen.row(total >= least, f"{who}: meals with {food_id}, least")
        dishes = problem.dishes
        cooked = sorted({place[key[2]] for key in keys if food_id in dishes[key[2].dish].grams})
        if least > 0:
            kitchen.row(
                pulp.lpSum(kitchen.started[n] for n in cooked) >= 1,
                f"{who}: {food_id} is cooked at least once",
            )
    for recipe_id, window in client.recipe_servings.items():
        total = pulp.lpSum(weekly.servings[key] for key in by_recipe.get(recipe_id, []))
        kitchen.row(total >= window.min, f"{who}: servings of {recipe_id}, least")
        if window.max is not None:
            kitchen.row(total <= window.max, f"{who}: servings of {recipe_id}, most")


def _kinds(
    weekly: Weekly,
    c: int,
    reach: dict[str, dict[Option, set[int]]],
    made: dict[str, pulp.LpVariable],
) -> None:
    """Kinds: meals / repeats, rounded up, different recipes are made for each set of meals."""
    kitchen = weekly.kitchen
    problem = kitchen.problem
    repeats = _repeats(problem, c)
    meals = sorted(reach)
    counts = {
        meal: sum(1 for i in problem.slots_of_client[c] if problem.slots[i].meal == meal)
        for meal in meals
    }
    for size in range(1, len(meals) + 1):
        for chosen in combinations(meals, size):
            recipes = {
                problem.dishes[option.dish].recipe_id for meal in chosen for option in reach[meal]
            }
            least = ceil(sum(counts[meal] for meal in chosen) / repeats)
            if size == len(meals):
                least = max(least, problem.clients[c].least_different_recipes)
            kitchen.row(
                pulp.lpSum(made[recipe_id] for recipe_id in sorted(recipes)) >= least,
                f"{problem.clients[c].client_id}: recipes made for {chosen}",
            )


def _with_food(weekly: Weekly, keys: list[Key], food_id: str) -> list[pulp.LpVariable]:
    dishes = weekly.kitchen.problem.dishes
    return [weekly.times[key] for key in keys if food_id in dishes[key[2].dish].grams]


def _windows(weekly: Weekly, c: int) -> None:
    """Windows: day windows summed over their days, and windows of the whole plan."""
    kitchen = weekly.kitchen
    problem = kitchen.problem
    client = problem.clients[c]
    eating = {problem.slots[i].day for i in problem.slots_of_client[c]}
    totals: dict[str, tuple[float, float, int]] = {}
    for group in problem.groups:
        if group.client != c:
            continue
        for nutrient_id, (low, high) in group.windows.items():
            old = totals.get(nutrient_id, (0.0, 0.0, 0))
            count = len(group.days)
            totals[nutrient_id] = (old[0] + low * count, old[1] + high * count, old[2] + count)
    keys = [key for key in weekly.servings if key[0] == c]
    for nutrient_id, (low, high, count) in totals.items():
        # A nutrient with a window on some days only has no upper limit on the rest.
        _range(weekly, keys, nutrient_id, low, high if count == len(eating) else inf)
    for nutrient_id, window in client.windows_per_week.items():
        _range(weekly, keys, nutrient_id, *window_bounds(window))


def _range(weekly: Weekly, keys: list[Key], nutrient_id: str, low: float, high: float) -> None:
    problem = weekly.kitchen.problem
    total = pulp.LpAffineExpression(
        [(weekly.servings[key], problem.dishes[key[2].dish].nutrients[nutrient_id]) for key in keys]
    )
    if low > 0:
        weekly.kitchen.row(total >= low, f"{nutrient_id} over the plan, least")
    if high < inf:
        weekly.kitchen.row(total <= high, f"{nutrient_id} over the plan, most")
