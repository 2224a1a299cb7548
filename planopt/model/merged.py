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
from collections.abc import Callable
from dataclasses import dataclass, field
from math import ceil

import pulp

from planopt.model.covers import CoverTable, cover_table
from planopt.model.daymenus import portion_sizes
from planopt.model.kitchen import KitchenModel, money_scale, serving_value
from planopt.model.loose import (
    CookedLines,
    EatenTies,
    cooked_lines,
    eaten_lines,
    food_terms,
    waste_terms,
)
from planopt.model.names import NameTable
from planopt.model.spans import slot_spans
from planopt.model.totals import Key, Totals, add_rules, repeats_of
from planopt.problem.build import Option, Problem
from planopt.problem.tolerances import MONEY, WHOLE

_ALL_DAYS = -1


@dataclass
class DishTotal:
    """Variables of one dish over all cook days: `units` are steps (or batches of any amount).

    Beyond the ordered `steps` there is `tail`; both are empty where any amount can be cooked.
    """

    switch: pulp.LpVariable
    units: pulp.LpAffineExpression
    most: float
    steps: list[pulp.LpVariable] = field(default_factory=list)
    tail: pulp.LpVariable | None = None
    loose: CookedLines = field(default_factory=list)


@dataclass
class Merged:
    """The relaxation: its problem for PuLP, and its variables by dish, client and food."""

    lp: pulp.LpProblem
    cooked: dict[int, DishTotal] = field(default_factory=dict)
    made: dict[str, pulp.LpVariable] = field(default_factory=dict)
    used: dict[str, pulp.LpVariable] = field(default_factory=dict)
    times: dict[Key, pulp.LpVariable] = field(default_factory=dict)
    servings: dict[Key, pulp.LpVariable] = field(default_factory=dict)
    objective: list[tuple[pulp.LpVariable, float]] = field(default_factory=list)

    def switches(self) -> list[pulp.LpVariable]:
        """Return what is decided first: which dishes and recipes are made, which foods are used."""
        dishes = [cooked.switch for cooked in self.cooked.values()]
        return list(
            {v.name: v for v in (*dishes, *self.made.values(), *self.used.values())}.values()
        )

    def steps(self) -> list[pulp.LpVariable]:
        """Return what is decided next: how many steps of each dish are cooked."""
        return [step for cooked in self.cooked.values() for step in cooked.steps]

    def loose(self) -> list[pulp.LpVariable]:
        """Return how many units of an outline have each option; whole where they are steps."""
        return [
            one.units
            for cooked in self.cooked.values()
            for line in cooked.loose
            for one in line
            if one.units.cat == "Integer"
        ]


def merged_relaxation(problem: Problem) -> Merged:
    """Return the merged relaxation of a problem of one dish a meal, portions in steps."""
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
    _foods(merged, rows)
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


def _foods(merged: Merged, rows: KitchenModel) -> None:
    """Foods: money for each covers what is cooked of it; the budget holds for prices alone."""
    problem = rows.problem
    scale = money_scale(problem)
    weight = problem.waste_weight
    budget = problem.budget
    groceries = []
    loose = _loose_uses(merged, problem)
    for food_id in problem.foods:
        uses = {
            d: problem.dishes[d].grams[food_id] * (problem.dishes[d].batch_step or 1.0)
            for d in merged.cooked
            if problem.dishes[d].grams.get(food_id, 0.0) > 0
        }
        supplies = [supply for supply in problem.supplies if supply.food_id == food_id]
        shops = [supply for supply in supplies if supply.stock_index is None]
        perhaps = loose.get(food_id, [])
        if not uses and not perhaps:
            continue
        stock_g = sum(s.available_g for s in supplies if s.stock_index is not None)
        grams = pulp.LpAffineExpression(
            [
                (v, g * f)
                for d, g in uses.items()
                for v, f in merged.cooked[d].units.items()
            ]
            + [(use.units, use.grams) for use in perhaps]
        )  # fmt: skip
        offers = problem.offers[food_id]
        if not shops or not offers:
            rows.row(grams <= stock_g, f"{food_id}: no more than is on hand")
            continue
        any_amount = any(offer.continuous for offer in offers)
        food = _Food(food_id, uses, perhaps, grams, stock_g, any_amount)
        prices = [(offer.edible_g, offer.price_minor / scale) for offer in offers]
        per_g = 0.0
        if all(supply.wasted for supply in shops):
            # What is bought and not used is waste, so charge waste on all bought, refund on use.
            per_g = weight * problem.value_minor_per_g[food_id] / scale
        money = food.money(merged, rows, [(g, cost + per_g * g) for g, cost in prices])
        merged.objective.append((money, 1.0))
        merged.objective += [(v, -per_g * f) for v, f in grams.items()]
        if budget is not None:
            groceries.append(money if per_g == 0 else food.money(merged, rows, prices))
    if budget is not None:
        rows.row(pulp.lpSum(groceries) <= float(budget), "groceries within the budget")


@dataclass(frozen=True)
class _LooseUse:
    """What an outline may use of a food on a line: units of the dish with it, grams a unit."""

    dish: int
    units: pulp.LpVariable
    grams: float


def _loose_uses(merged: Merged, problem: Problem) -> dict[str, list[_LooseUse]]:
    """Return what outlines may use of each food."""
    found: dict[str, list[_LooseUse]] = {}
    for d, cooked in merged.cooked.items():
        step = problem.dishes[d].batch_step or 1.0
        for food_id, units, grams in food_terms(cooked.loose, step):
            found.setdefault(food_id, []).append(_LooseUse(d, units, grams))
    return found


@dataclass(frozen=True)
class _Food:
    """A food that dishes use: grams a unit by dish, grams in all, and what is on hand."""

    food_id: str
    uses: dict[int, float]
    perhaps: list[_LooseUse]
    grams: pulp.LpAffineExpression
    stock_g: float
    any_amount: bool

    def money(
        self, merged: Merged, rows: KitchenModel, packs: list[tuple[float, float]]
    ) -> pulp.LpVariable:
        """Return money that is at least the least cost of packs (grams, cost) for what is used."""
        money = pulp.LpVariable(rows.names.new("s", f"money for {self.food_id}"), 0)
        per_g = min(cost / g for g, cost in packs)
        rows.row(
            money - per_g * self.grams >= -per_g * self.stock_g, f"{self.food_id}: least per gram"
        )
        if self.any_amount:
            return money
        total_g = sum(g * merged.cooked[d].most for d, g in self.uses.items())
        total_g += sum(use.grams * merged.cooked[use.dish].most for use in self.perhaps)
        table = cover_table(packs, max(0.0, total_g - self.stock_g))
        for d in self.uses:
            self._steps(merged, rows, d, money, table.least_cost)
        if self.stock_g == 0:
            self._any_use(merged, rows, money, table, total_g)
        return money

    def _steps(
        self,
        merged: Merged,
        rows: KitchenModel,
        d: int,
        money: pulp.LpVariable,
        least_cost: Callable[[float], float],
    ) -> None:
        """Cost to cover: s >= sum over j of [C(j g - stock) - C((j - 1) g - stock)] z_j."""
        steps = merged.cooked[d].steps
        cost = [least_cost(self.uses[d] * j - self.stock_g) for j in range(len(steps) + 1)]
        terms = [
            (step, after - before)
            for step, before, after in zip(steps, cost, cost[1:], strict=False)
            if after > before
        ]
        if terms:
            rows.row(money - pulp.LpAffineExpression(terms) >= 0, f"{self.food_id} covers dish {d}")

    def _any_use(
        self,
        merged: Merged,
        rows: KitchenModel,
        money: pulp.LpVariable,
        table: CoverTable,
        total_g: float,
    ) -> None:
        """Any use: s >= slope x grams used + intercept x used, on each facet of the hull."""
        used = merged.used.get(self.food_id)
        if used is None:
            used = pulp.LpVariable(rows.names.new("a", f"{self.food_id} is used"), cat="Binary")
            merged.used[self.food_id] = used
            for d in self.uses:
                rows.row(used >= merged.cooked[d].switch, f"{self.food_id} used by dish {d}")
            for use in self.perhaps:
                most = merged.cooked[use.dish].most
                rows.row(most * used >= use.units, f"{self.food_id} used by dish {use.dish}")
            cooks = sorted({*self.uses, *(use.dish for use in self.perhaps)})
            rows.row(
                used <= pulp.lpSum(merged.cooked[d].switch for d in cooks),
                f"{self.food_id} used only if cooked",
            )
        for slope, intercept in table.facets(total_g):
            if intercept > MONEY:
                rows.row(
                    money - slope * self.grams - intercept * used >= 0,
                    f"{self.food_id}: least money for any use",
                )
