"""The cheapest week as a mixed-integer program for scipy, written without planopt's model.

One binary for each client, day, meal, dish, cook day and portion size; packs, batches and visits
are whole numbers. Money is in cents.
"""

from __future__ import annotations

from math import inf
from typing import Any

import numpy as np
from scipy.optimize import Bounds, LinearConstraint, milp

from published.facts import Facts
from published.randomweeks import DAYS


class Program:
    """Columns and rows of a program, gathered one by one."""

    def __init__(self) -> None:
        self.cost: list[float] = []
        self.low: list[float] = []
        self.high: list[float] = []
        self.whole: list[int] = []
        self.rows: list[tuple[dict[int, float], float, float]] = []

    def column(self, cost: float, high: float = inf, *, whole: bool = True) -> int:
        """Add a variable from 0 to `high` and return its number."""
        self.cost.append(cost)
        self.low.append(0.0)
        self.high.append(high)
        self.whole.append(int(whole))
        return len(self.cost) - 1

    def row(self, terms: dict[int, float], low: float = -inf, high: float = inf) -> None:
        """Add low <= sum of terms <= high."""
        self.rows.append((terms, low, high))

    def least(self) -> float | None:
        """Return the least cost, or None when nothing is feasible."""
        matrix = np.zeros((len(self.rows), len(self.cost)))
        for r, (terms, _, _) in enumerate(self.rows):
            for column, factor in terms.items():
                matrix[r, column] = factor
        result = milp(
            np.array(self.cost),
            integrality=np.array(self.whole),
            bounds=Bounds(np.array(self.low), np.array(self.high)),
            constraints=LinearConstraint(
                matrix, [low for _, low, _ in self.rows], [high for _, _, high in self.rows]
            ),
            options={"mip_rel_gap": 0.0},
        )
        assert result.status in (0, 2), result.message
        return float(result.fun) if result.status == 0 else None


def milp_objective(facts: Facts) -> float | None:
    """Return the least objective in cents, or None when no week complies."""
    program = Program()
    scenario = facts.week.scenario
    weight = float(scenario["waste_weight"])
    batches: dict[tuple[int, int], int] = {}
    uneaten: dict[tuple[int, int], dict[int, float]] = {}
    needs: dict[tuple[str, int], dict[int, float]] = {}
    for k, cook in enumerate(scenario["cook_days"]):
        hands: dict[int, float] = {}
        hob: dict[int, float] = {}
        recipes: dict[str, tuple[int, dict[int, float], float]] = {}
        for d, dish in enumerate(facts.dishes):
            step = float(dish.step)
            most = float(dish.most) / step
            n = program.column(0.0, most)
            batches[d, k] = n
            start, further, _ = facts.work_cents(dish)
            cooked = program.column(float(start), 1.0)
            extra = program.column(float(further), whole=False)
            program.row({n: 1.0, cooked: -most}, high=0.0)
            program.row({extra: 1.0, n: -step}, low=-1.0)
            hands[cooked] = dish.hands_on
            hands[extra] = dish.hands_on_extra
            hob[n] = dish.hob * step
            left = program.column(weight * float(facts.serving_value(dish)), whole=False)
            uneaten[d, k] = {left: 1.0, n: -step * dish.servings}
            for food, cg in dish.cg.items():
                needs.setdefault((food, k), {})[n] = -cg / 100 * step
            if dish.recipe not in recipes:
                recipes[dish.recipe] = (program.column(0.0, 1.0), {}, float(dish.most))
            recipes[dish.recipe][1][n] = step
        program.row(hands, high=cook.get("hands_on_minutes", inf))
        program.row(hob, high=cook.get("hob_minutes", inf))
        for on, members, most_batches in recipes.values():
            program.row({**members, on: -most_batches}, high=0.0)
        program.row({on: 1.0 for on, _, _ in recipes.values()}, high=cook.get("most_recipes", inf))
    _shopping(program, facts, needs)
    for client in scenario["clients"]:
        _client(program, facts, client, uneaten)
    for terms in uneaten.values():
        program.row(terms, 0.0, 0.0)
    return program.least()


def _shopping(
    program: Program, facts: Facts, needs: dict[tuple[str, int], dict[int, float]]
) -> None:
    scenario = facts.week.scenario
    visits: dict[tuple[str, int], int] = {}
    spent: dict[int, float] = {}
    for food, sources in facts.sources.items():
        for source in sources:
            worth = float(facts.value(food)) * 100
            wasted = float(scenario["waste_weight"]) * worth if source.wasted else 0.0
            left = program.column(wasted, whole=False)
            terms = {left: 1.0}
            for day in source.cook_days:
                use = program.column(0.0, whole=False)
                terms[use] = 1.0
                needs.setdefault((food, facts.cook_days.index(day)), {})[use] = 1.0
            if source.shop_day is not None:
                for pack in facts.packs[food]:
                    count = program.column(float(pack.cents), 60.0)
                    terms[count] = -pack.edible_cg / 100
                    spent[count] = float(pack.cents)
                    key = (pack.seller, source.shop_day)
                    if key not in visits:
                        visits[key] = program.column(100 * float(scenario["visit_cost"]), 1.0)
                    program.row({count: 1.0, visits[key]: -60.0}, high=0.0)
            program.row(terms, source.stock_cg / 100, source.stock_cg / 100)
    for terms in needs.values():
        program.row(terms, 0.0, 0.0)
    # The first visit is free, if there is one.
    free = program.column(-100 * float(scenario["visit_cost"]), 1.0)
    program.row({free: 1.0, **dict.fromkeys(visits.values(), -1.0)}, high=0.0)
    if "budget" in scenario:
        program.row(spent, high=100 * float(scenario["budget"]))


def _client(
    program: Program,
    facts: Facts,
    client: dict[str, Any],
    uneaten: dict[tuple[int, int], dict[int, float]],
) -> None:
    portions = client["portions"]
    count = round((portions["largest"] - portions["smallest"]) / portions["step"]) + 1
    sizes = [portions["smallest"] + n * portions["step"] for n in range(count)]
    most_dishes = facts.week.scenario.get("most_dishes_per_meal", 1)
    of_recipe: dict[str, dict[int, float]] = {dish.recipe: {} for dish in facts.dishes}
    servings: dict[str, dict[int, float]] = {dish.recipe: {} for dish in facts.dishes}
    total: dict[str, dict[int, float]] = {"energy_kcal": {}, "protein_g": {}}
    with_food: dict[str, dict[int, float]] = {}
    for day in range(1, DAYS + 1):
        of_day: dict[str, dict[int, float]] = {}
        amount: dict[str, dict[int, float]] = {"energy_kcal": {}, "protein_g": {}}
        meals = facts.meals_of(client, day)
        for meal in meals:
            plate: dict[int, float] = {}
            holding: dict[str, dict[int, float]] = {}
            bounds = facts.meal_windows(client, day, meal)
            held: dict[str, dict[int, float]] = {name: {} for name in bounds}
            for d, k in facts.reachable(client, day, meal):
                dish = facts.dishes[d]
                for size in sizes:
                    small = size < min(dish.smallest, portions["largest"])
                    y = program.column(float(facts.work_cents(dish)[2]), 0.0 if small else 1.0)
                    for name in bounds:
                        held[name][y] = size * float(facts.amount(dish, name))
                    plate[y] = 1.0
                    of_recipe[dish.recipe][y] = 1.0
                    servings[dish.recipe][y] = size
                    of_day.setdefault(dish.recipe, {})[y] = 1.0
                    uneaten[d, k][y] = size
                    for nutrient, value in dish.nutrients.items():
                        amount[nutrient][y] = total[nutrient][y] = size * float(value)
                    for food in dish.cg:
                        holding.setdefault(food, {})[y] = 1.0
            program.row(plate, 1.0, most_dishes)
            for name, (least, most_of) in bounds.items():
                program.row(held[name], float(least), float(most_of))
            for food, members in holding.items():
                has = program.column(0.0, 1.0)
                program.row({**members, has: -float(most_dishes)}, high=0.0)
                program.row({**members, has: -1.0}, low=0.0)
                with_food.setdefault(food, {})[has] = 1.0
        for members in of_day.values():
            program.row(members, high=1.0)
        if meals:
            for nutrient, (low, high) in facts.windows(client, day).items():
                program.row(amount[nutrient], float(low), float(high))
    for members in of_recipe.values():
        if client["most_repeats"] is not None:
            program.row(members, high=client["most_repeats"])
    if "least_different_recipes" in client:
        seen = {}
        for members in of_recipe.values():
            w = program.column(0.0, 1.0)
            seen[w] = 1.0
            program.row({**members, w: -1.0}, low=0.0)
        program.row(seen, low=client["least_different_recipes"])
    for food, most in client.get("dislikes", {}).items():
        program.row(with_food.get(food, {}), high=most)
    for food, least in client.get("wants", {}).items():
        program.row(with_food.get(food, {}), low=least)
    for recipe, window in client.get("recipe_servings", {}).items():
        program.row(servings[recipe], window["min"], window["max"])
    for nutrient, window in client.get("windows_per_week", {}).items():
        program.row(total[nutrient], window.get("min", 0), window.get("max", inf))
