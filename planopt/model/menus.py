"""The clients' part of the model, day by day: who eats which dish, and how much of it.

Maths uses y = 1 if a slot takes an option, q = portion of it in steps (or servings if any amount).
"""

from __future__ import annotations

from dataclasses import dataclass, field
from math import ceil, floor, inf, prod

import pulp

from planopt.model.kitchen import Kitchen
from planopt.model.loose import EatenLines, EatenTies, eaten_lines, nutrient_terms, servings_with
from planopt.problem.build import Option, Problem
from planopt.problem.dishes import Dish
from planopt.problem.limits import LimitKey
from planopt.problem.work import boxes_cost
from planopt.scenario.records import Client
from planopt.scenario.windows import window_bounds

_EPS = 1e-9
# A dish that counts as eaten is eaten: where any amount goes and the client's smallest portion is
# nothing, at least this many servings.
_LEAST_PORTION = 0.01


@dataclass
class Menus:
    """Variables of the menus: `pick` and `portion` by (slot, option position).

    `pick` has no entry where nothing counts meals; `servings` turns a portion into servings.
    `loose` has the lines of portions of outlines.
    """

    kitchen: Kitchen
    pick: dict[tuple[int, int], pulp.LpVariable] = field(default_factory=dict)
    portion: dict[tuple[int, int], pulp.LpVariable] = field(default_factory=dict)
    step: list[float] = field(default_factory=list)
    loose: dict[tuple[int, int], EatenLines] = field(default_factory=dict)

    def servings(self, slot: int, option: int) -> tuple[pulp.LpVariable, float]:
        """Return the portion variable and the servings one unit of it stands for."""
        client = self.kitchen.problem.slots[slot].client
        return self.portion[slot, option], self.step[client]


def counts_meals(problem: Problem, client: Client) -> bool:
    """Tell whether some rule needs to know which meals a dish is eaten in."""
    return (
        problem.scenario.most_dishes_per_meal != "any"
        or client.most_repeats is not None
        or client.least_different_recipes > 0
        or bool(client.dislikes)
        or bool(client.wants)
        or client.portions.smallest > 0
        or any(dish.smallest_portion > 0 for dish in problem.dishes)
        or boxes_cost(problem.scenario)
    )


def add_menus(kitchen: Kitchen) -> Menus:
    """Add slots, windows, repeats and variety to a kitchen, and tie what is eaten to batches."""
    menus = Menus(kitchen)
    _slots(menus)
    _windows(menus)
    for c in range(len(kitchen.problem.clients)):
        _rules(menus, c)
    _eaten(menus)
    return menus


def _slots(menus: Menus) -> None:
    """Slots: smallest x y <= q <= largest x y; sum of y = 1 (or 1 to most dishes).

    A window of a meal: least <= sum of nutrient (or grams) x step x q <= most.
    """
    kitchen = menus.kitchen
    problem = kitchen.problem
    for client in problem.clients:
        menus.step.append(1.0 if client.portions.step == "any" else client.portions.step)
    for i, slot in enumerate(problem.slots):
        client = problem.clients[slot.client]
        step = menus.step[slot.client]
        continuous = client.portions.step == "any"
        where = f"{client.client_id} day {slot.day} {slot.meal}"
        counted = counts_meals(problem, client)
        low = client.portions.smallest / step
        high = client.portions.largest / step
        if continuous:
            low = max(low, min(_LEAST_PORTION, high))
        else:
            low, high = float(max(1, ceil(low - _EPS))), float(floor(high + _EPS))
        for j, option in enumerate(slot.options):
            dish = problem.dishes[option.dish]
            what = f"{where}: {dish.recipe_id} {dish.version} cook {option.cook}"
            least = max(low, _smallest_units(client, dish, step, high))
            top = _most_units(problem, option.dish, high, step)
            portion = pulp.LpVariable(
                kitchen.names.new("q", f"portion, {what}"),
                0,
                top,
                "Continuous" if continuous else "Integer",
            )
            menus.portion[i, j] = portion
            if dish.loose:
                served = pulp.LpAffineExpression([(portion, step)])
                menus.loose[i, j] = eaten_lines(
                    kitchen.lp, kitchen.names, client, dish, served, what
                )
            if counted:
                pick = pulp.LpVariable(kitchen.names.new("y", f"eaten, {what}"), cat="Binary")
                menus.pick[i, j] = pick
                kitchen.row(portion <= top * pick, f"{what}: portion only if eaten")
                kitchen.row(portion >= least * pick, f"{what}: smallest portion")
        for name, least_of, most_of in slot.windows:
            key = LimitKey("meal_window", client.client_id, name, slot.day, meal=slot.meal)
            terms = _nutrient_terms(menus, (i,), name)
            _range(kitchen, terms, least_of, most_of, f"{where} {name}", key)
        if problem.scenario.most_dishes_per_meal != 1:
            _one_dish_many_days(menus, i, high, where)
        if counted and problem.scenario.most_dishes_per_meal != "any":
            picked = pulp.lpSum(menus.pick[i, j] for j in range(len(slot.options)))
            if problem.scenario.most_dishes_per_meal == 1:
                kitchen.row(picked == 1, f"{where}: one dish")
            else:
                kitchen.row(picked >= 1, f"{where}: at least one dish")
                kitchen.row(picked <= problem.scenario.most_dishes_per_meal, f"{where}: dishes")


def _smallest_units(client: Client, dish: Dish, step: float, high: float) -> float:
    """Return the smallest portion that a recipe allows, in steps, never above the largest."""
    if dish.smallest_portion <= 0:
        return 0.0
    units = dish.smallest_portion / step
    return min(high, units if client.portions.step == "any" else float(ceil(units - _EPS)))


def _most_units(problem: Problem, d: int, high: float, step: float) -> float:
    """Return the largest portion of a dish in steps; of an outline, of all versions in one meal."""
    dish, most = problem.dishes[d], problem.scenario.most_dishes_per_meal
    if not dish.loose or most == 1:
        return high
    versions = prod(len(line) for line in dish.loose) if most == "any" else most
    cooked = ceil(dish.yield_servings * dish.most_per_cook_day / step)
    return max(high, min(high * versions, float(cooked)))


def _one_dish_many_days(menus: Menus, i: int, high: float, where: str) -> None:
    """Of one dish in one meal: one cook day where dishes are counted; largest holds for all."""
    kitchen = menus.kitchen
    problem = kitchen.problem
    of_dish: dict[int, list[int]] = {}
    for j, option in enumerate(problem.slots[i].options):
        of_dish.setdefault(option.dish, []).append(j)
    for d, members in of_dish.items():
        # Versions of an outline are several dishes.
        if len(members) == 1 or problem.dishes[d].loose:
            continue
        what = f"{where}: {problem.dishes[d].recipe_id} {problem.dishes[d].version}"
        if problem.scenario.most_dishes_per_meal == "any":
            total = pulp.lpSum(menus.portion[i, j] for j in members)
            kitchen.row(total <= high, f"{what}: largest portion from all cook days")
        else:
            picked = pulp.lpSum(menus.pick[i, j] for j in members)
            kitchen.row(picked <= 1, f"{what}: from one cook day")


def _nutrient_terms(
    menus: Menus, slots: tuple[int, ...], nutrient_id: str
) -> list[tuple[pulp.LpVariable, float]]:
    problem = menus.kitchen.problem
    terms = [
        (
            menus.portion[i, j],
            problem.dishes[option.dish].amount(nutrient_id) * menus.step[problem.slots[i].client],
        )
        for i in slots
        for j, option in enumerate(problem.slots[i].options)
    ]
    for i in slots if menus.loose else ():
        for j in range(len(problem.slots[i].options)):
            dish = problem.dishes[problem.slots[i].options[j].dish]
            terms += nutrient_terms(menus.loose.get((i, j), []), nutrient_id, dish)
    return terms


def _windows(menus: Menus) -> None:
    """Windows: min <= sum of nutrient x step x q <= max, per day and over the plan."""
    kitchen = menus.kitchen
    problem = kitchen.problem
    for group in problem.groups:
        client = problem.clients[group.client]
        for day, members in zip(group.days, group.slots, strict=True):
            for nutrient_id, (low, high) in group.windows.items():
                terms = _nutrient_terms(menus, members, nutrient_id)
                key = LimitKey("window", client.client_id, nutrient_id, day)
                what = f"{client.client_id} day {day} {nutrient_id}"
                _range(kitchen, terms, low, high, what, key)
    for c, client in enumerate(problem.clients):
        for nutrient_id, window in client.windows_per_week.items():
            low, high = window_bounds(window)
            terms = _nutrient_terms(menus, problem.slots_of_client[c], nutrient_id)
            key = LimitKey("window", client.client_id, nutrient_id)
            _range(kitchen, terms, low, high, f"{client.client_id} whole plan {nutrient_id}", key)
    for soft in problem.soft_limits:
        terms = _nutrient_terms(menus, problem.slots_of_client[soft.client], soft.nutrient_id)
        who = problem.clients[soft.client].client_id
        kitchen.soft_row(soft, terms, f"{who} whole plan {soft.nutrient_id} {soft.side}")


def _range(
    kitchen: Kitchen,
    terms: list[tuple[pulp.LpVariable, float]],
    low: float,
    high: float,
    what: str,
    key: LimitKey,
) -> None:
    total = pulp.LpAffineExpression(terms)
    least, most = key.of_side("min"), key.of_side("max")
    if low == high:
        kitchen.row(total == low, f"{what}: exactly", least, most)
        return
    if low > 0:
        kitchen.row(total >= low, f"{what}: least", least)
    if high < inf:
        kitchen.row(total <= high, f"{what}: most", most)


def _rules(menus: Menus, c: int) -> None:
    """Rules of one client: repeats, once a day, variety, dislikes, wants, servings of a recipe."""
    kitchen = menus.kitchen
    problem = kitchen.problem
    client = problem.clients[c]
    by_recipe: dict[str, list[tuple[int, int]]] = {}
    by_food: dict[str, list[tuple[int, int]]] = {}
    perhaps: dict[str, list[tuple[int, int]]] = {}
    watched = set(client.dislikes) | set(client.wants)
    for i in problem.slots_of_client[c]:
        for j, option in enumerate(problem.slots[i].options):
            dish = problem.dishes[option.dish]
            by_recipe.setdefault(dish.recipe_id, []).append((i, j))
            for food_id in watched & set(dish.grams):
                by_food.setdefault(food_id, []).append((i, j))
            # Some version of an outline may have the food: that is enough for a want.
            for food_id in watched & dish.foods():
                perhaps.setdefault(food_id, []).append((i, j))
    who = client.client_id
    slots_here = problem.slots_of_client[c]
    if client.most_repeats is not None and len(slots_here) > client.most_repeats:
        for recipe_id, members in by_recipe.items():
            what = f"{who}: repeats of {recipe_id}"
            _count(menus, members, None, client.most_repeats, what, LimitKey("repeats", who))
    if problem.scenario.most_dishes_per_meal != "any":
        _once_a_day(menus, by_recipe, who)
    if client.least_different_recipes > 0:
        seen = []
        for recipe_id, members in by_recipe.items():
            eaten = pulp.LpVariable(kitchen.names.new("w", f"{who} eats {recipe_id}"), 0, 1)
            kitchen.row(
                eaten <= pulp.lpSum(menus.pick[key] for key in members), f"{who}: {recipe_id} seen"
            )
            seen.append(eaten)
        kitchen.row(
            pulp.lpSum(seen) >= client.least_different_recipes,
            f"{who}: different recipes",
            LimitKey("variety", who),
        )
    for food_id, most in client.dislikes.items():
        members = by_food.get(food_id, [])
        what = f"{who}: meals with {food_id}"
        key = LimitKey("dislike", who, food_id)
        if members:
            _count(menus, members, None, most, what, key)
        _most_loosely(menus, c, food_id, members, most, what, key)
    for food_id, least in client.wants.items():
        key = LimitKey("want", who, food_id)
        members = perhaps.get(food_id, [])
        what = f"{who}: meals with {food_id}"
        _count(menus, members, least, None, what, key)
        _least_loosely(menus, c, food_id, by_food.get(food_id, []), least, what, key)
    for recipe_id, window in client.recipe_servings.items():
        terms = [(menus.portion[key], menus.step[c]) for key in by_recipe.get(recipe_id, [])]
        high = inf if window.max is None else window.max
        key = LimitKey("servings", who, recipe_id)
        _range(kitchen, terms, window.min, high, f"{who}: servings of {recipe_id}", key)


def _most_loosely(
    menus: Menus,
    c: int,
    food_id: str,
    certain: list[tuple[int, int]],
    most: int,
    what: str,
    key: LimitKey,
) -> None:
    """Most meals with a food, outlines counted: a serving with it is at most the largest portion.

    Several dishes a meal would be counted one by one, so that the row is of one dish a meal, or of
    no meal at all.
    """
    problem = menus.kitchen.problem
    lines = _held_loosely(menus, c, food_id)
    if not lines or (most > 0 and problem.scenario.most_dishes_per_meal != 1):
        return
    _, high = _sizes(problem.clients[c])
    total = pulp.lpSum(menus.pick[ij] for ij in certain if most)
    total += pulp.lpSum(line[0] / high for rows in lines for line in (rows[:1] if most else rows))
    menus.kitchen.row(total <= most, f"{what}: most {most}, lines counted", key)


def _least_loosely(
    menus: Menus,
    c: int,
    food_id: str,
    certain: list[tuple[int, int]],
    least: int,
    what: str,
    key: LimitKey,
) -> None:
    """Least meals with a food, outlines counted: each has at least the smallest portion of it."""
    lines = _held_loosely(menus, c, food_id)
    if not lines or least <= 0:
        return
    low, _ = _sizes(menus.kitchen.problem.clients[c])
    total = pulp.lpSum(menus.pick[ij] for ij in certain)
    total += pulp.lpSum(line[0] / low for rows in lines for line in rows)
    menus.kitchen.row(total >= least, f"{what}: least {least}, lines counted", key)


def _held_loosely(menus: Menus, c: int, food_id: str) -> list[list[list[pulp.LpVariable]]]:
    """Return the servings with a food of each portion of an outline that may go without it."""
    problem = menus.kitchen.problem
    found = []
    for (i, j), eaten in menus.loose.items():
        slot = problem.slots[i]
        if slot.client == c and food_id not in problem.dishes[slot.options[j].dish].grams:
            found.append(servings_with(eaten, food_id))
    return [rows for rows in found if rows]


def _sizes(client: Client) -> tuple[float, float]:
    """Return the smallest and the largest servings that a dish has in a meal where it is eaten."""
    portions = client.portions
    if portions.step == "any":
        return min(_LEAST_PORTION, portions.largest), portions.largest
    low = max(1, ceil(portions.smallest / portions.step - _EPS)) * portions.step
    return low, floor(portions.largest / portions.step + _EPS) * portions.step


def _count(
    menus: Menus,
    members: list[tuple[int, int]],
    low: int | None,
    high: int | None,
    what: str,
    *keys: LimitKey,
) -> None:
    """Count meals that hold any of the members; a meal counts once however many it holds."""
    if low is not None and low > 0:
        total = _meals_with(menus, members, what, False)
        menus.kitchen.row(total >= low, f"{what}: least {low}", *keys)
    if high is not None:
        total = _meals_with(menus, members, what, True)
        menus.kitchen.row(total <= high, f"{what}: most {high}", *keys)


def _meals_with(
    menus: Menus, members: list[tuple[int, int]], what: str, from_above: bool
) -> pulp.LpAffineExpression:
    """Return a count of meals: at least the true one if `from_above`, else at most it."""
    kitchen = menus.kitchen
    by_slot: dict[int, list[pulp.LpVariable]] = {}
    for i, j in members:
        by_slot.setdefault(i, []).append(menus.pick[i, j])
    terms: list[tuple[pulp.LpVariable, float]] = []
    single = kitchen.problem.scenario.most_dishes_per_meal == 1
    for i, picks in by_slot.items():
        if single or len(picks) == 1:
            terms += [(pick, 1.0) for pick in picks]
            continue
        held = pulp.LpVariable(kitchen.names.new("h", f"{what}: meal {i} holds one"), 0, 1)
        if from_above:
            for pick in picks:
                kitchen.row(held >= pick, f"{what}: meal {i} holds one")
        else:
            kitchen.row(held <= pulp.lpSum(picks), f"{what}: meal {i} holds one")
        terms.append((held, 1.0))
    return pulp.LpAffineExpression(terms)


def _once_a_day(menus: Menus, by_recipe: dict[str, list[tuple[int, int]]], who: str) -> None:
    problem = menus.kitchen.problem
    for recipe_id, members in by_recipe.items():
        of_day: dict[int, list[tuple[int, int]]] = {}
        for i, j in members:
            of_day.setdefault(problem.slots[i].day, []).append((i, j))
        for day, rows in of_day.items():
            if len({i for i, _ in rows}) > 1:
                _count(menus, rows, None, 1, f"{who}: {recipe_id} once on day {day}")


def _eaten(menus: Menus) -> None:
    """Eaten: e of a cooking = sum of step x q over all slots that take it."""
    kitchen = menus.kitchen
    problem = kitchen.problem
    position = {cooking: n for n, cooking in enumerate(problem.cookings)}
    terms: list[list[tuple[pulp.LpVariable, float]]] = [[] for _ in problem.cookings]
    ties = EatenTies()
    for i, slot in enumerate(problem.slots):
        for j, option in enumerate(slot.options):
            terms[position[option]].append(menus.servings(i, j))
            if (i, j) in menus.loose:
                ties.add(kitchen.loose[position[option]], menus.loose[i, j])
    for lines in kitchen.loose.values():
        ties.tie(kitchen.lp, kitchen.names, lines)
    for n, eaten in enumerate(kitchen.eaten):
        total = pulp.LpAffineExpression([*terms[n], (eaten, -1.0)])
        kitchen.row(total == 0, f"servings eaten of cooking {n}")
    if kitchen.taken:
        _taken(menus, position)


def _taken(menus: Menus, position: dict[Option, int]) -> None:
    """Taken: portions of a cooking = sum of y over all slots that take it, for their boxes."""
    kitchen = menus.kitchen
    picks: list[list[tuple[pulp.LpVariable, float]]] = [[] for _ in kitchen.taken]
    for (i, j), pick in menus.pick.items():
        picks[position[kitchen.problem.slots[i].options[j]]].append((pick, 1.0))
    for n, taken in enumerate(kitchen.taken):
        total = pulp.LpAffineExpression([*picks[n], (taken, -1.0)])
        kitchen.row(total == 0, f"portions taken of cooking {n}")
