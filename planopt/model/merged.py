"""The merged relaxation: the plan as totals of dishes, without days and without cook days.

Far smaller than the weekly relaxation, so a tree search over which dishes are made and which foods
are used ends sooner. It leaves out minutes, visits and what keeps from one cook day to the next;
every compliant plan, summed over all its days, satisfies the rows at no more than its objective.

Maths uses z_j = 1 if at least j steps of a dish are cooked in all, t = steps beyond the ordered
ones, Y = times a client eats a dish in a meal, Q = servings of it in all meals, s = money for a
food (with the value of what would be wasted, which use takes off again).
"""

from __future__ import annotations

import itertools
from math import ceil

import pulp

from planopt.model.daymenus import portion_sizes
from planopt.model.dishtotals import DishTotal, Merged
from planopt.model.kitchen import KitchenModel, money_scale, serving_value
from planopt.model.loose import (
    EatenTies,
    cooked_lines,
    eaten_lines,
    waste_terms,
)
from planopt.model.mergedfoods import add_foods
from planopt.model.names import NameTable
from planopt.model.spans import slot_spans
from planopt.model.totals import Totals, add_rules, repeats_of
from planopt.problem.build import Option, Problem
from planopt.problem.tolerances import WHOLE

_ALL_DAYS = -1


def merged_relaxation(problem: Problem, whole_packs: int = 0) -> Merged:
    """Return the merged relaxation of a problem of one dish a meal, portions in steps.

    Of so many foods, those where it says most, packs are counted: `packs` are whole.
    """
    merged = Merged(pulp.LpProblem("totals", pulp.LpMinimize))
    rows = KitchenModel(merged.lp, NameTable(), problem)
    _dishes(merged, rows)
    switches = {Option(d, _ALL_DAYS): cooked.switch for d, cooked in merged.cooked.items()}
    totals = Totals(rows, merged.times, merged.servings, switches, merged.made)
    for c in range(len(problem.clients)):
        _meals(merged, rows, c)
        _loose(merged, totals, c)
        add_rules(totals, c)
    if problem.most_recipes is not None:
        rows.row(pulp.lpSum(merged.made.values()) <= problem.most_recipes, "most recipes")
    _eaten(merged, rows, totals)
    add_foods(merged, rows, whole_packs)
    _work(merged, rows)
    merged.objective += rows.charges
    merged.lp.setObjective(pulp.LpAffineExpression(_summed(merged.objective)))
    return merged


def _summed(
    terms: list[tuple[pulp.LpVariable, float]],
) -> list[tuple[pulp.LpVariable, float]]:
    """Return terms with those of one variable added up."""
    found: dict[str, tuple[pulp.LpVariable, float]] = {}
    for variable, factor in terms:
        found[variable.name] = (variable, found.get(variable.name, (variable, 0.0))[1] + factor)
    return list(found.values())


def _dishes(merged: Merged, rows: KitchenModel) -> None:
    """Dishes: steps in order, a switch for each dish and each recipe, most batches."""
    problem = rows.problem
    cooks: dict[int, list[int]] = {}
    for cooking in problem.cookings:
        cooks.setdefault(cooking.dish, []).append(cooking.cook)
    versions: dict[str, list[int]] = {}
    for d, days in cooks.items():
        cooked = merged.cooked[d] = _cooked(rows, d, _useful_servings(problem, d), len(days))
        if problem.dishes[d].loose:
            cooked.loose = cooked_lines(
                rows.lp, rows.names, problem.dishes[d], cooked.units, cooked.most, f"dish {d}"
            )
        versions.setdefault(problem.dishes[d].recipe_id, []).append(d)
    for recipe_id, members in sorted(versions.items()):
        switches = [merged.cooked[d].switch for d in members]
        if len(switches) == 1:
            merged.made[recipe_id] = switches[0]
            continue
        made = pulp.LpVariable(rows.names.new("d", f"{recipe_id} is made"), cat="Binary")
        merged.made[recipe_id] = made
        for switch in switches:
            rows.row(switch <= made, f"{recipe_id} is made")
        rows.row(made <= pulp.lpSum(switches), f"{recipe_id} is made only if cooked")
        most = max(problem.dishes[d].most_per_cook_day * len(cooks[d]) for d in members)
        batches = pulp.lpSum(
            (problem.dishes[d].batch_step or 1.0) * merged.cooked[d].units for d in members
        )
        rows.row(batches <= most, f"{recipe_id}: most batches")


def _useful_servings(problem: Problem, d: int) -> float:
    """Return the most servings of a dish that clients can eat."""
    total = 0.0
    for c in range(len(problem.clients)):
        days = {
            problem.slots[i].day
            for i in problem.slots_of_client[c]
            if any(option.dish == d for option in problem.slots[i].options)
        }
        total += min(repeats_of(problem, c), len(days)) * portion_sizes(problem, c)[-1]
    return total


def _cooked(rows: KitchenModel, d: int, useful: float, days: int) -> DishTotal:
    dish = rows.problem.dishes[d]
    what = f"{dish.recipe_id} {dish.version}"
    switch = pulp.LpVariable(rows.names.new("o", f"{what} is cooked"), cat="Binary")
    if dish.batch_step is None:
        most = dish.most_per_cook_day * days
        batches = pulp.LpVariable(rows.names.new("n", f"batches of {what}"), 0, most)
        rows.row(batches <= most * switch, f"{what}: cooked only if switched on")
        return DishTotal(switch, pulp.LpAffineExpression([(batches, 1.0)]), most)
    most = int(dish.most_per_cook_day / dish.batch_step + WHOLE) * days
    # A day's last step may be half eaten, on each cook day.
    ordered = min(most, ceil(useful / (dish.yield_servings * dish.batch_step) - WHOLE) + days - 1)
    steps = [switch] + [
        pulp.LpVariable(rows.names.new("z", f"at least {j} steps of {what}"), cat="Binary")
        for j in range(2, ordered + 1)
    ]
    for lower, higher in itertools.pairwise(steps):
        rows.row(higher <= lower, f"{what}: steps in order")
    units = pulp.LpAffineExpression([(step, 1.0) for step in steps])
    tail = None
    if most > ordered:
        tail = pulp.LpVariable(rows.names.new("t", f"more steps of {what}"), 0, most - ordered)
        rows.row(tail <= (most - ordered) * steps[-1], f"{what}: more steps come last")
        units += tail
    return DishTotal(switch, units, float(most), steps, tail)


def _meals(merged: Merged, rows: KitchenModel, c: int) -> None:
    """Meals: every meal has a dish; smallest Y <= Q <= largest Y; Y <= most days x switch."""
    problem = rows.problem
    who = problem.clients[c].client_id
    spans = slot_spans(problem, c)
    days: dict[int, dict[str, set[int]]] = {}
    counts: dict[str, int] = {}
    for i in problem.slots_of_client[c]:
        slot = problem.slots[i]
        counts[slot.meal] = counts.get(slot.meal, 0) + 1
        for option in slot.options:
            days.setdefault(option.dish, {}).setdefault(slot.meal, set()).add(slot.day)
    of_meal: dict[str, list[pulp.LpVariable]] = {meal: [] for meal in counts}
    for d, meals in sorted(days.items()):
        what = f"{who}: {problem.dishes[d].key}"
        option = Option(d, _ALL_DAYS)
        repeats = repeats_of(problem, c)
        times, least, most_of = [], [], []
        for meal, reached in meals.items():
            variable = pulp.LpVariable(
                rows.names.new("y", f"times, {what} {meal}"),
                0,
                min(len(reached), repeats),
                "Integer",
            )
            merged.times[c, meal, option] = variable
            of_meal[meal].append(variable)
            times.append((variable, 1.0))
            least.append((variable, spans[meal, d][0]))
            most_of.append((variable, spans[meal, d][1]))
        every = pulp.LpAffineExpression(times)
        servings = pulp.LpVariable(rows.names.new("q", f"servings, {what}"), 0)
        merged.servings[c, "", option] = servings
        most = min(repeats, len(set().union(*meals.values())))
        rows.row(every <= float(most) * merged.cooked[d].switch, f"{what}: only if cooked")
        largest, smallest = pulp.LpAffineExpression(most_of), pulp.LpAffineExpression(least)
        rows.row(servings <= largest, f"{what}: largest portion")
        rows.row(servings >= smallest, f"{what}: smallest portion")
    for meal, count in counts.items():
        rows.row(pulp.lpSum(of_meal[meal]) == count, f"{who} {meal}: every day")


def _loose(merged: Merged, totals: Totals, c: int) -> None:
    """Loose lines: what a client eats of each option of an outline."""
    rows = totals.kitchen
    client = rows.problem.clients[c]
    for (who, _, option), servings in merged.servings.items():
        dish = rows.problem.dishes[option.dish]
        if who == c and dish.loose:
            what = f"{client.client_id}: {dish.key}"
            totals.loose[c, option] = eaten_lines(rows.lp, rows.names, client, dish, servings, what)


def _eaten(merged: Merged, rows: KitchenModel, totals: Totals) -> None:
    """Eaten: all clients' Q <= servings cooked; what is cooked and not eaten is waste."""
    problem = rows.problem
    weight = problem.waste_weight
    eaten: dict[int, list[pulp.LpVariable]] = {}
    for (_, _, option), servings in merged.servings.items():
        eaten.setdefault(option.dish, []).append(servings)
    for d, cooked in merged.cooked.items():
        dish = problem.dishes[d]
        per_unit = dish.yield_servings * (dish.batch_step or 1.0)
        served = pulp.lpSum(eaten.get(d, []))
        what = f"{dish.recipe_id} {dish.version}: eaten within cooked"
        rows.row(served <= per_unit * cooked.units, what)
        value = weight * serving_value(problem, d)
        merged.objective += [(v, value * per_unit * f) for v, f in cooked.units.items()]
        merged.objective += [(v, -value) for v in eaten.get(d, [])]
        lost = waste_terms(problem, cooked.loose, dish, money_scale(problem))
        merged.objective += [(v, weight * f) for v, f in lost]
    ties = EatenTies()
    for (_, option), lines in totals.loose.items():
        ties.add(merged.cooked[option.dish].loose, lines)
    for cooked in merged.cooked.values():
        ties.tie(rows.lp, rows.names, cooked.loose)


def _work(merged: Merged, rows: KitchenModel) -> None:
    """Work: start x z_1 + least(start, extra) x batches after the first + boxes x Y.

    Batches on several days start anew on each, so that none costs less than the lesser of the two.
    """
    problem = rows.problem
    for d, cooked in merged.cooked.items():
        merged.objective.append((cooked.switch, problem.work[d].start))
        more = min(problem.work[d].start, problem.work[d].extra)
        if more > 0:
            what = f"dish {d}: batches after the first"
            extra = pulp.LpVariable(rows.names.new("m", what), 0)
            batches = (problem.dishes[d].batch_step or 1.0) * cooked.units
            rows.row(extra - batches + cooked.switch >= 0, what)
            merged.objective.append((extra, more))
    merged.objective += [
        (times, problem.work[option.dish].portion) for (_, _, option), times in merged.times.items()
    ]
