"""The kitchen's part of the model: batches, packs, grams, waste, money, time.

Maths uses b = batches of a cooking, p = packs bought, u = grams of a supply used on a cook day,
l = grams left of a supply, e = servings eaten of a cooking. Costs are in units of the currency.
"""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass, field
from math import inf

import pulp

from planopt.model.loose import CookedLines, cooked_lines, food_terms, waste_terms
from planopt.model.names import NameTable
from planopt.model.order import most_recipes
from planopt.problem.build import Problem
from planopt.problem.byhand import lost_servings, standing_batches, standing_packs
from planopt.problem.limits import LimitKey
from planopt.problem.rules import LinearRule, MinuteRule
from planopt.problem.tolerances import WHOLE


@dataclass
class KitchenModel:
    """Variables and expressions of the kitchen, by position in the problem.

    Shapes: `units`, `batches`, `started`, `eaten` by cooking; `packs` by (supply, offer);
    `use` by (supply, cook position); `left` by supply; `limit_rows` row numbers by limit;
    `loose` by cooking of an outline; `extra` batches after the first by cooking; `taken` portions
    by cooking, where boxes have a price.
    """

    lp: pulp.LpProblem
    names: NameTable
    problem: Problem
    units: list[pulp.LpVariable] = field(default_factory=list)
    batches: list[pulp.LpAffineExpression] = field(default_factory=list)
    started: list[pulp.LpVariable] = field(default_factory=list)
    eaten: list[pulp.LpVariable] = field(default_factory=list)
    packs: dict[tuple[int, int], pulp.LpVariable] = field(default_factory=dict)
    use: dict[tuple[int, int], pulp.LpVariable] = field(default_factory=dict)
    left: list[pulp.LpVariable] = field(default_factory=list)
    visits: dict[tuple[str, int], pulp.LpVariable] = field(default_factory=dict)
    grocery: pulp.LpAffineExpression | None = None
    waste: pulp.LpAffineExpression | None = None
    visit_cost: pulp.LpAffineExpression | None = None
    limit_rows: dict[LimitKey, list[int]] = field(default_factory=dict)
    charges: list[tuple[pulp.LpVariable, float]] = field(default_factory=list)
    extra: dict[int, pulp.LpVariable] = field(default_factory=dict)
    taken: list[pulp.LpVariable] = field(default_factory=list)
    work: pulp.LpAffineExpression | None = None
    loose: dict[int, CookedLines] = field(default_factory=dict)

    def row(self, constraint: pulp.LpConstraint, meaning: str, *keys: LimitKey) -> None:
        """Add a constraint under a fresh short name; `keys` name the user's limits it states."""
        for key in keys:
            self.limit_rows.setdefault(key, []).append(len(self.lp.constraints))
        self.lp.addConstraint(constraint, self.names.new("r", meaning))

    def miss(self, rule: LinearRule, what: str) -> pulp.LpVariable:
        """Return a variable for what of a soft rule is missed, at its price in the objective."""
        miss = pulp.LpVariable(self.names.new("m", f"{what} missed"), 0)
        self.charges.append((miss, rule.price))
        if self.lp.objective is not None:
            self.lp.objective += rule.price * miss
        return miss

    def soft_row(
        self, rule: LinearRule, terms: list[tuple[pulp.LpVariable, float]], what: str
    ) -> list[int]:
        """Add what is missed of a soft rule, given the terms of its sum; return its rows."""
        rows = []
        for least in (True, False):
            if rule.low > 0 if least else rule.high < inf:
                side = f"{what} {'below' if least else 'above'}"
                sign = 1.0 if least else -1.0
                total = pulp.LpAffineExpression([*terms, (self.miss(rule, side), sign)])
                rows.append(len(self.lp.constraints))
                self.row(total >= rule.low if least else total <= rule.high, f"{side}, soft")
        return rows

    def extra_batches(self, n: int) -> pulp.LpVariable:
        """Return the batches of a cooking after its first, at least; made when first asked for."""
        if n not in self.extra:
            cooking = self.problem.cookings[n]
            key, day = self.problem.dishes[cooking.dish].key, self.problem.cook_days[cooking.cook]
            extra = pulp.LpVariable(self.names.new("m", f"extra batches of {key} day {day.day}"), 0)
            self.row(
                extra >= self.batches[n] - self.started[n], f"{key} day {day.day}: extra batches"
            )
            self.extra[n] = extra
        return self.extra[n]

    def spend(self, supply: int) -> pulp.LpAffineExpression:
        """Return money spent on a supply, as an expression in packs."""
        offers = self.problem.offers[self.problem.supplies[supply].food_id]
        scale = money_scale(self.problem)
        return pulp.LpAffineExpression(
            [
                (self.packs[supply, o], offer.price_minor / scale)
                for o, offer in enumerate(offers)
                if (supply, o) in self.packs
            ]
        )


def money_scale(problem: Problem) -> int:
    """Return minor units in one unit of the currency."""
    return problem.minor_units


def serving_value(problem: Problem, dish: int) -> float:
    """Return the value of one serving of a dish, in units of the currency."""
    chosen = problem.dishes[dish]
    minor = sum(
        grams * problem.value_minor_per_g.get(food_id, 0.0)
        for food_id, grams in chosen.grams.items()
    )
    return minor / chosen.yield_servings / money_scale(problem)


def new_kitchen(problem: Problem) -> KitchenModel:
    """Return a kitchen model with all its variables and rows; nobody eats yet.

    The menu part must tie `eaten` to what clients are served.
    """
    kitchen = KitchenModel(pulp.LpProblem("week", pulp.LpMinimize), NameTable(), problem)
    add_batches(kitchen)
    _supplies(kitchen)
    _balance(kitchen)
    _times(kitchen)
    most_recipes(kitchen)
    _objective(kitchen)
    return kitchen


def add_batches(kitchen: KitchenModel) -> None:
    """Batches: b = step x units; units <= most x started; e <= yield x b."""
    problem = kitchen.problem
    standing = standing_batches(problem)
    for n, cooking in enumerate(problem.cookings):
        dish = problem.dishes[cooking.dish]
        what = f"{dish.recipe_id} {dish.version} cook day {problem.cook_days[cooking.cook].day}"
        step = dish.batch_step
        most = max(dish.most_per_cook_day, standing.get(n, 0.0))
        if step is None:
            unit = pulp.LpVariable(kitchen.names.new("n", f"batches of {what}"), 0, most)
            batches = pulp.LpAffineExpression([(unit, 1.0)])
            top = most
        else:
            top = float(int(most / step + WHOLE))
            unit = pulp.LpVariable(
                kitchen.names.new("n", f"steps of {step} batch of {what}"), 0, top, "Integer"
            )
            batches = pulp.LpAffineExpression([(unit, step)])
        started = pulp.LpVariable(kitchen.names.new("o", f"{what} is cooked"), cat="Binary")
        eaten = pulp.LpVariable(kitchen.names.new("e", f"servings eaten of {what}"), 0)
        kitchen.units.append(unit)
        kitchen.batches.append(batches)
        kitchen.started.append(started)
        kitchen.eaten.append(eaten)
        kitchen.row(unit <= top * started, f"{what}: cooked only if started")
        if step is not None:
            kitchen.row(unit >= started, f"{what}: started only if cooked")
        lost = lost_servings(problem, n)
        kitchen.row(eaten <= dish.yield_servings * batches - lost, f"{what}: eaten within cooked")
        if n in standing:
            unit.lowBound = unit.upBound = standing[n] / (step or 1.0)
        if dish.loose:
            kitchen.loose[n] = cooked_lines(kitchen.lp, kitchen.names, dish, unit, top, what)
        if n != len(kitchen.units) - 1:
            raise AssertionError("cookings must be numbered in order")


def _supplies(kitchen: KitchenModel) -> None:
    """Supplies: sum of u over cook days + l = grams bought (or on hand)."""
    problem = kitchen.problem
    position = {cook.day: k for k, cook in enumerate(problem.cook_days)}
    for s, supply in enumerate(problem.supplies):
        source = (
            f"stock entry {supply.stock_index}"
            if supply.stock_index is not None
            else f"shop day {supply.shop_day}"
        )
        what = f"{supply.food_id} of {source}"
        left = pulp.LpVariable(kitchen.names.new("l", f"grams left of {what}"), 0)
        kitchen.left.append(left)
        terms = [(left, 1.0)]
        for day in supply.cook_days:
            k = position[day]
            use = pulp.LpVariable(kitchen.names.new("u", f"grams of {what} on day {day}"), 0)
            kitchen.use[s, k] = use
            terms.append((use, 1.0))
        if supply.stock_index is not None:
            total = pulp.LpAffineExpression(terms)
            kitchen.row(total == supply.available_g, f"{what}: used and left")
            continue
        for o, offer in enumerate(problem.offers[supply.food_id]):
            least, most = standing_packs(problem, s, o)
            pack = pulp.LpVariable(
                kitchen.names.new("p", f"{offer.pack_id} bought, {source}"),
                least,
                most,
                "Continuous" if offer.continuous else "Integer",
            )
            kitchen.packs[s, o] = pack
            terms.append((pack, -offer.edible_g))
        kitchen.row(pulp.LpAffineExpression(terms) == 0, f"{what}: bought, used and left")


def _balance(kitchen: KitchenModel) -> None:
    """Balance: for each food and cook day, sum of u over supplies = sum of grams x b."""
    problem = kitchen.problem
    need: dict[tuple[str, int], list[tuple[pulp.LpVariable, float]]] = {}
    for n, cooking in enumerate(problem.cookings):
        dish = problem.dishes[cooking.dish]
        factor = 1.0 if dish.batch_step is None else dish.batch_step
        for food_id, grams in dish.grams.items():
            need.setdefault((food_id, cooking.cook), []).append((kitchen.units[n], -grams * factor))
        for food_id, units, grams in food_terms(kitchen.loose.get(n, []), factor):
            need.setdefault((food_id, cooking.cook), []).append((units, -grams))
    of_food: dict[str, list[int]] = {}
    for s, supply in enumerate(problem.supplies):
        of_food.setdefault(supply.food_id, []).append(s)
    for food_id in problem.foods:
        for k, cook in enumerate(problem.cook_days):
            terms = need.get((food_id, k), [])
            supply_terms = [
                (kitchen.use[s, k], 1.0) for s in of_food.get(food_id, []) if (s, k) in kitchen.use
            ]
            if terms or supply_terms:
                kitchen.row(
                    pulp.LpAffineExpression(terms + supply_terms) == 0,
                    f"{food_id} cooked on day {cook.day} comes from supplies",
                )


def _times(kitchen: KitchenModel) -> None:
    """Times: hands-on, oven, hob and number of recipes within each cook day's limits.

    Hands-on of a cooking = hands_on x started + extra x max(0, b - 1).
    """
    problem = kitchen.problem
    of_day: dict[int, list[int]] = {}
    of_recipe_day: dict[tuple[int, str], list[int]] = {}
    for n, cooking in enumerate(problem.cookings):
        of_day.setdefault(cooking.cook, []).append(n)
        recipe_id = problem.dishes[cooking.dish].recipe_id
        of_recipe_day.setdefault((cooking.cook, recipe_id), []).append(n)
    for (k, recipe_id), members in of_recipe_day.items():
        if len(members) > 1:
            most = problem.dishes[problem.cookings[members[0]].dish].most_per_cook_day
            kitchen.row(
                pulp.lpSum(kitchen.batches[n] for n in members) <= most,
                f"{recipe_id}: most batches on day {problem.cook_days[k].day}",
            )
    for k, cook in enumerate(problem.cook_days):
        for rule in problem.minute_rules:
            if rule.cook == k:
                kitchen.row(
                    pulp.lpSum(_minutes(kitchen, rule, of_day.get(k, []))) <= rule.high,
                    rule.words,
                    rule.key,
                )
        if cook.most_recipes is not None:
            cooked = []
            for (day, recipe_id), rows in of_recipe_day.items():
                if day != k:
                    continue
                if len(rows) == 1:
                    cooked.append(kitchen.started[rows[0]])
                    continue
                any_version = pulp.LpVariable(
                    kitchen.names.new("k", f"{recipe_id} cooked on day {cook.day}"), 0, 1
                )
                for n in rows:
                    kitchen.row(
                        any_version >= kitchen.started[n], f"{recipe_id}: a version is cooked"
                    )
                cooked.append(any_version)
            kitchen.row(
                pulp.lpSum(cooked) <= cook.most_recipes,
                f"most recipes day {cook.day}",
                LimitKey("most_recipes", day=cook.day),
            )


def _minutes(
    kitchen: KitchenModel, rule: MinuteRule, members: list[int]
) -> Iterator[pulp.LpAffineExpression]:
    """Yield the minutes of each cooking, with variables for what batches after the first add."""
    problem = kitchen.problem
    for n in members:
        d = problem.cookings[n].dish
        dish = problem.dishes[d]
        once, each, more = rule.minutes[d]
        yield once * kitchen.started[n] + each * kitchen.batches[n]
        if more > 0 and dish.most_per_cook_day > 1:
            yield more * kitchen.extra_batches(n)


def _visits(kitchen: KitchenModel) -> pulp.LpAffineExpression:
    """Visits: p <= large x visit; extra visits = max(0, sum of visits - 1)."""
    problem = kitchen.problem
    cost = problem.visit_cost
    if cost == 0:
        return pulp.LpAffineExpression()
    at: dict[tuple[str, int], list[tuple[pulp.LpVariable, float]]] = {}
    for (s, o), pack in kitchen.packs.items():
        supply = problem.supplies[s]
        offer = problem.offers[supply.food_id][o]
        most = _most_packs(problem, supply.food_id, offer.edible_g)
        assert supply.shop_day is not None
        at.setdefault((offer.seller_id, supply.shop_day), []).append((pack, most))
    for key, packs in sorted(at.items()):
        visit = pulp.LpVariable(
            kitchen.names.new("v", f"visit to {key[0]} on day {key[1]}"), cat="Binary"
        )
        kitchen.visits[key] = visit
        for pack, most in packs:
            kitchen.row(pack <= most * visit, f"{pack.name}: bought only on a visit")
    extra = pulp.LpVariable(kitchen.names.new("v", "visits after the first"), 0)
    kitchen.row(extra >= pulp.lpSum(kitchen.visits.values()) - 1, "visits after the first")
    return cost * extra


def _most_packs(problem: Problem, food_id: str, edible_g: float) -> float:
    """Return a count of packs that no cheapest plan exceeds: all possible use in these packs."""
    grams = 0.0
    for cooking in problem.cookings:
        dish = problem.dishes[cooking.dish]
        grams += dish.most_grams(food_id) * dish.most_per_cook_day
    return float(int(grams / edible_g) + 1)


def _work(kitchen: KitchenModel) -> pulp.LpAffineExpression:
    """Work: start x started + extra x max(0, b - 1) + boxes x portions taken, each at its price."""
    problem = kitchen.problem
    terms: list[tuple[pulp.LpVariable, float]] = []
    for n, cooking in enumerate(problem.cookings):
        dish = problem.dishes[cooking.dish]
        price = problem.work[cooking.dish]
        if price.start > 0:
            terms.append((kitchen.started[n], price.start))
        if price.extra > 0 and dish.most_per_cook_day > 1:
            terms.append((kitchen.extra_batches(n), price.extra))
        if problem.boxes_cost:
            name = kitchen.names.new("g", f"portions taken of cooking {n}")
            kitchen.taken.append(pulp.LpVariable(name, 0))
            terms.append((kitchen.taken[n], price.portion))
    return pulp.LpAffineExpression(terms)


def _objective(kitchen: KitchenModel) -> None:
    """Objective: groceries + visits + work + waste_weight x waste; the budget limits groceries."""
    problem = kitchen.problem
    scale = money_scale(problem)
    bought = [s for s, supply in enumerate(problem.supplies) if supply.stock_index is None]
    grocery = pulp.lpSum(kitchen.spend(s) for s in bought)
    wasted: list[tuple[pulp.LpVariable, float]] = []
    for s, supply in enumerate(problem.supplies):
        if supply.wasted:
            value = problem.value_minor_per_g[supply.food_id] / scale
            wasted.append((kitchen.left[s], value))
    for n, cooking in enumerate(problem.cookings):
        dish = problem.dishes[cooking.dish]
        value = serving_value(problem, cooking.dish)
        factor = 1.0 if dish.batch_step is None else dish.batch_step
        wasted.append((kitchen.units[n], value * dish.yield_servings * factor))
        wasted.append((kitchen.eaten[n], -value))
        wasted += waste_terms(problem, kitchen.loose.get(n, []), dish, scale)
    kitchen.grocery = grocery
    kitchen.waste = pulp.LpAffineExpression(wasted)
    kitchen.visit_cost = _visits(kitchen)
    kitchen.work = _work(kitchen)
    kitchen.lp.setObjective(
        grocery + kitchen.visit_cost + problem.waste_weight * kitchen.waste + kitchen.work
    )
    if problem.budget is not None:
        kitchen.row(grocery <= problem.budget, "budget", LimitKey("budget"))
