"""The clients' part of the model, day by day: who eats which dish, and how much of it.

Maths uses y = 1 if a slot takes an option, q = portion of it in steps (or servings if any amount).
"""

from __future__ import annotations

from dataclasses import dataclass, field
from math import ceil, floor, inf, prod

import pulp

from planopt.model.kitchen import KitchenModel
from planopt.model.loose import EatenLines, EatenTies, eaten_lines, line_terms, servings_with
from planopt.model.order import add_order, most_kinds
from planopt.problem.build import Option, Problem
from planopt.problem.byhand import is_put
from planopt.problem.dishes import Dish
from planopt.problem.limits import LimitKey
from planopt.problem.order import counted_slots
from planopt.problem.people import Eater
from planopt.problem.rules import Coefficients, LinearRule
from planopt.problem.tolerances import LEAST_PORTION, WHOLE


@dataclass
class Menus:
    """Variables of the menus: `pick` and `portion` by (slot, option position).

    `pick` has no entry where nothing counts meals, see `counted` by client; `servings` turns a
    portion into servings.
    `loose` has the lines of portions of outlines.
    """

    kitchen: KitchenModel
    pick: dict[tuple[int, int], pulp.LpVariable] = field(default_factory=dict)
    portion: dict[tuple[int, int], pulp.LpVariable] = field(default_factory=dict)
    step: list[float] = field(default_factory=list)
    counted: list[bool] = field(default_factory=list)
    loose: dict[tuple[int, int], EatenLines] = field(default_factory=dict)

    def servings(self, slot: int, option: int) -> tuple[pulp.LpVariable, float]:
        """Return the portion variable and the servings one unit of it stands for."""
        client = self.kitchen.problem.slots[slot].client
        return self.portion[slot, option], self.step[client]


def counts_meals(problem: Problem, c: int) -> bool:
    """Tell whether some rule of a client needs to know which meals a dish is eaten in."""
    client = problem.clients[c]
    return (
        problem.most_dishes_per_meal != "any"
        or client.most_repeats is not None
        or client.least_different_recipes > 0
        or client.most_different_recipes is not None
        or bool(problem.order)
        or bool(client.tastes)
        or any(rule.per == "meal" for rule in problem.rules_of_client[c])
        or client.portions.smallest > 0
        or any(dish.smallest_portion > 0 for dish in problem.dishes)
        or problem.boxes_cost
    )


def add_menus(kitchen: KitchenModel) -> Menus:
    """Add slots and rules to a kitchen, and tie what is eaten to batches."""
    menus = Menus(kitchen)
    _slots(menus)
    _by_hand(menus)
    _amounts(menus)
    for c in range(len(kitchen.problem.clients)):
        _recipes(menus, c)
        for rule in kitchen.problem.rules_of_client[c]:
            if rule.counted:
                _rule(menus, rule, kitchen.problem.slots_of_client[c])
    add_order(menus, _meals_with)
    _eaten(menus)
    return menus


def _slots(menus: Menus) -> None:
    """Slots: smallest x y <= q <= largest x y; sum of y = 1 (or 1 to most dishes).

    A window of a meal: least <= sum of nutrient (or grams) x step x q <= most.
    """
    problem = menus.kitchen.problem
    for c, client in enumerate(problem.clients):
        menus.step.append(1.0 if client.portions.step == "any" else client.portions.step)
        menus.counted.append(counts_meals(problem, c))
    table = Coefficients(problem.dishes)
    for i in range(len(problem.slots)):
        _slot(menus, i, table)


def _slot(menus: Menus, i: int, table: Coefficients) -> None:
    kitchen = menus.kitchen
    problem = kitchen.problem
    slot, most = problem.slots[i], problem.most_dishes_per_meal
    client = problem.clients[slot.client]
    where = f"{client.client_id} day {slot.day} {slot.meal}"
    low, high = _units(client, menus.step[slot.client])
    for j in range(len(slot.options)):
        _portion(menus, (i, j), (low, high), where)
    for name, least_of, most_of in slot.windows:
        key = LimitKey("meal_window", client.client_id, name, slot.day, meal=slot.meal)
        _rule(menus, table.rule(key, slot.client, least_of, most_of), (i,))
    if most != 1:
        _one_dish_many_days(menus, i, high, where)
    if most == "any" or not menus.counted[slot.client]:
        return
    picked = pulp.lpSum(menus.pick[i, j] for j in range(len(slot.options)))
    if most == 1:
        kitchen.row(picked == 1, f"{where}: one dish")
    else:
        kitchen.row(picked >= 1, f"{where}: at least one dish")
        kitchen.row(picked <= most, f"{where}: dishes")


def _units(client: Eater, step: float) -> tuple[float, float]:
    """Return a client's smallest and largest portion in units of its variable."""
    low, high = client.portions.smallest / step, client.portions.largest / step
    if client.portions.step == "any":
        return max(low, min(LEAST_PORTION, high)), high
    return float(max(1, ceil(low - WHOLE))), float(floor(high + WHOLE))


def _portion(menus: Menus, key: tuple[int, int], units: tuple[float, float], where: str) -> None:
    """Add the portion of one option, and whether it is eaten where something counts that."""
    kitchen, (low, high) = menus.kitchen, units
    problem = kitchen.problem
    slot, option = problem.slots[key[0]], problem.slots[key[0]].options[key[1]]
    client, step = problem.clients[slot.client], menus.step[slot.client]
    dish = problem.dishes[option.dish]
    what = f"{where}: {dish.recipe_id} {dish.version} cook {option.cook}"
    top = _most_units(problem, option.dish, high, step)
    kind = "Continuous" if client.portions.step == "any" else "Integer"
    portion = pulp.LpVariable(kitchen.names.new("q", f"portion, {what}"), 0, top, kind)
    menus.portion[key] = portion
    if dish.loose:
        served = pulp.LpAffineExpression([(portion, step)])
        menus.loose[key] = eaten_lines(kitchen.lp, kitchen.names, client, dish, served, what)
    if menus.counted[slot.client]:
        pick = pulp.LpVariable(kitchen.names.new("y", f"eaten, {what}"), cat="Binary")
        menus.pick[key] = pick
        least = max(low, _smallest_units(client, dish, step, high))
        kitchen.row(portion <= top * pick, f"{what}: portion only if eaten")
        kitchen.row(portion >= least * pick, f"{what}: smallest portion")


def _by_hand(menus: Menus) -> None:
    """By hand: each dish put on a plate is served, in the servings settled for it."""
    kitchen = menus.kitchen
    problem = kitchen.problem
    for i, slot in enumerate(problem.slots):
        for rule in slot.puts:
            members = [
                j
                for j, option in enumerate(slot.options)
                if is_put(rule, problem.dishes[option.dish], problem.cook_days[option.cook].day)
            ]
            who = problem.clients[slot.client].client_id
            what = f"{who} day {slot.day} {slot.meal}: {rule.put}"
            served = pulp.lpSum(menus.portion[i, j] * menus.step[slot.client] for j in members)
            if rule.servings is not None:
                kitchen.row(served == rule.servings, f"{what}: servings settled by hand")
            elif problem.most_dishes_per_meal != 1 or len(slot.puts) > 1:
                least, _ = _sizes(problem.clients[slot.client])
                kitchen.row(served >= least, f"{what}: put by hand")


def _smallest_units(client: Eater, dish: Dish, step: float, high: float) -> float:
    """Return the smallest portion that a recipe allows, in steps, never above the largest."""
    if dish.smallest_portion <= 0:
        return 0.0
    units = dish.smallest_portion / step
    return min(high, units if client.portions.step == "any" else float(ceil(units - WHOLE)))


def _most_units(problem: Problem, d: int, high: float, step: float) -> float:
    """Return the largest portion of a dish in steps; of an outline, of all versions in one meal."""
    dish, most = problem.dishes[d], problem.most_dishes_per_meal
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
        if problem.most_dishes_per_meal == "any":
            total = pulp.lpSum(menus.portion[i, j] for j in members)
            kitchen.row(total <= high, f"{what}: largest portion from all cook days")
        else:
            picked = pulp.lpSum(menus.pick[i, j] for j in members)
            kitchen.row(picked <= 1, f"{what}: from one cook day")


def _amounts(menus: Menus) -> None:
    """Amounts: min <= sum of coefficient x step x q <= max, per day and over the plan."""
    problem = menus.kitchen.problem
    for group in problem.groups:
        for day, members in zip(group.days, group.slots, strict=True):
            for rule in group.rules:
                _rule(menus, rule.on(day), members)
    for rule in problem.rules:
        if not rule.counted:
            _rule(menus, rule, problem.slots_of_client[rule.client])


def _rule(menus: Menus, rule: LinearRule, slots: tuple[int, ...]) -> None:
    """State a rule of some slots of its client."""
    if rule.per == "meal" and rule.counted:
        _meals(menus, rule, slots)
        return
    terms = _terms(menus, rule, slots)
    if rule.soft:
        menus.kitchen.soft_row(rule, terms, rule.words)
        return
    kitchen, total = menus.kitchen, pulp.LpAffineExpression(terms)
    least, most = rule.key.of_side("min"), rule.key.of_side("max")
    if rule.low == rule.high:
        kitchen.row(total == rule.low, f"{rule.words}: exactly", least, most)
        return
    if rule.low > 0:
        kitchen.row(total >= rule.low, f"{rule.words}: least", least)
    if rule.high < inf:
        kitchen.row(total <= rule.high, f"{rule.words}: most", most)


def _terms(
    menus: Menus, rule: LinearRule, slots: tuple[int, ...]
) -> list[tuple[pulp.LpVariable, float]]:
    """Return what servings count towards a rule."""
    problem, step = menus.kitchen.problem, menus.step[rule.client]
    of_meal = rule.per == "meal"
    terms = [
        (menus.pick[i, j], rule.coefficients[option.dish])
        if of_meal
        else (menus.portion[i, j], rule.coefficients[option.dish] * step)
        for i in slots
        for j, option in enumerate(problem.slots[i].options)
        if option.dish in rule.coefficients
    ]
    for i in slots if menus.loose else ():
        for j in range(len(problem.slots[i].options)):
            dish = problem.dishes[problem.slots[i].options[j].dish]
            terms += line_terms(menus.loose.get((i, j), []), rule, dish)
    return terms


def _meals(menus: Menus, rule: LinearRule, slots: tuple[int, ...]) -> None:
    """Count the meals that hold any dish of a rule; a meal counts once however many it holds."""
    problem = menus.kitchen.problem
    certain: list[tuple[int, int]] = []
    perhaps: list[tuple[int, int]] = []
    for i in slots:
        for j, option in enumerate(problem.slots[i].options):
            if option.dish in rule.coefficients:
                certain.append((i, j))
            # Some version of an outline may count: that is enough for a least.
            if rule.may_count(problem.dishes[option.dish], option.dish):
                perhaps.append((i, j))
    if rule.high < inf:
        if certain:
            _most_meals(menus, rule, certain)
        _most_loosely(menus, rule, slots, certain)
    if rule.low > 0:
        total = _meals_with(menus, perhaps, rule.words, False)
        menus.kitchen.row(total >= rule.low, f"{rule.words}: least {rule.low:g}", rule.key)
        _least_loosely(menus, rule, slots, certain)


def _most_meals(menus: Menus, rule: LinearRule, members: list[tuple[int, int]]) -> None:
    total = _meals_with(menus, members, rule.words, True)
    menus.kitchen.row(total <= rule.high, f"{rule.words}: most {rule.high:g}", rule.key)


def _recipes(menus: Menus, c: int) -> None:
    """Repeats, once a day, and variety: rules of every recipe, which no single sum says."""
    kitchen = menus.kitchen
    problem = kitchen.problem
    client = problem.clients[c]
    who = client.client_id
    by_recipe: dict[str, list[tuple[int, int]]] = {}
    for i in problem.slots_of_client[c]:
        for j, option in enumerate(problem.slots[i].options):
            by_recipe.setdefault(problem.dishes[option.dish].recipe_id, []).append((i, j))
    counted = set(counted_slots(problem, c))
    for rule in problem.repeat_rules(c):
        _most_meals(menus, rule, [ij for ij in by_recipe[rule.what] if ij[0] in counted])
    most_kinds(menus, c, by_recipe)
    if problem.most_dishes_per_meal != "any":
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


def _most_loosely(
    menus: Menus, rule: LinearRule, slots: tuple[int, ...], certain: list[tuple[int, int]]
) -> None:
    """Most meals, outlines counted: a serving that counts is at most the largest portion.

    Several dishes a meal would be counted one by one, so that the row is of one dish a meal, or of
    no meal at all.
    """
    problem = menus.kitchen.problem
    lines = _held_loosely(menus, rule, slots)
    most = rule.high
    if not lines or (most > 0 and problem.most_dishes_per_meal != 1):
        return
    _, high = _sizes(problem.clients[rule.client])
    total = pulp.lpSum(menus.pick[ij] for ij in certain if most)
    total += pulp.lpSum(line[0] / high for rows in lines for line in (rows[:1] if most else rows))
    menus.kitchen.row(total <= most, f"{rule.words}: most {most:g}, lines counted", rule.key)


def _least_loosely(
    menus: Menus, rule: LinearRule, slots: tuple[int, ...], certain: list[tuple[int, int]]
) -> None:
    """Least meals, outlines counted: each has at least the smallest portion of what counts."""
    lines = _held_loosely(menus, rule, slots)
    if not lines:
        return
    low, _ = _sizes(menus.kitchen.problem.clients[rule.client])
    total = pulp.lpSum(menus.pick[ij] for ij in certain)
    total += pulp.lpSum(line[0] / low for rows in lines for line in rows)
    what = f"{rule.words}: least {rule.low:g}, lines counted"
    menus.kitchen.row(total >= rule.low, what, rule.key)


def _held_loosely(
    menus: Menus, rule: LinearRule, slots: tuple[int, ...]
) -> list[list[list[pulp.LpVariable]]]:
    """Return the servings that count of each portion of an outline that may go without."""
    problem, here = menus.kitchen.problem, set(slots)
    found = []
    for (i, j), eaten in menus.loose.items():
        if i in here and problem.slots[i].options[j].dish not in rule.coefficients:
            found.append(servings_with(eaten, rule))
    return [rows for rows in found if rows]


def _sizes(client: Eater) -> tuple[float, float]:
    """Return the smallest and the largest servings that a dish has in a meal where it is eaten."""
    portions = client.portions
    if portions.step == "any":
        return min(LEAST_PORTION, portions.largest), portions.largest
    low = max(1, ceil(portions.smallest / portions.step - WHOLE)) * portions.step
    return low, floor(portions.largest / portions.step + WHOLE) * portions.step


def _meals_with(
    menus: Menus, members: list[tuple[int, int]], what: str, from_above: bool
) -> pulp.LpAffineExpression:
    """Return a count of meals: at least the true one if `from_above`, else at most it."""
    kitchen = menus.kitchen
    by_slot: dict[int, list[pulp.LpVariable]] = {}
    for i, j in members:
        by_slot.setdefault(i, []).append(menus.pick[i, j])
    terms: list[tuple[pulp.LpVariable, float]] = []
    single = kitchen.problem.most_dishes_per_meal == 1
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
                what = f"{who}: {recipe_id} once on day {day}"
                total = _meals_with(menus, rows, what, True)
                menus.kitchen.row(total <= 1, f"{what}: most 1")


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
