"""Rows that cut off fractional purchases and keep every compliant integer plan.

Batches are whole steps and food comes in packs, so a plan that cooks the k-th step of a dish has
paid at least the least cost of packs that cover k steps. The plain rows let a relaxation buy a
fifth of a can; these rows do not. Validity is proved on small instances in tests/model.

A pool of a food is a set of cook days linked by a supply: money spent in a pool serves only it.
"""

from __future__ import annotations

import itertools
from collections.abc import Iterable
from dataclasses import dataclass

import pulp

from planopt.model.covers import CoverTable, cover_table
from planopt.model.kitchen import KitchenModel, money_scale
from planopt.problem.build import Problem
from planopt.problem.tolerances import MONEY, WHOLE

_MOST_ORDERED_STEPS = 24


@dataclass(frozen=True)
class Pool:
    """One pool: positions of its supplies, positions of its cook days, stock grams inside."""

    food_id: str
    supplies: tuple[int, ...]
    cooks: frozenset[int]
    stock_g: float
    has_shop: bool
    all_wasted: bool


def pools_of(problem: Problem) -> list[Pool]:
    """Return the pools of every food, in food order; a food that is only on hand has one too."""
    position = {cook.day: k for k, cook in enumerate(problem.cook_days)}
    of_food: dict[str, list[int]] = {}
    for s, supply in enumerate(problem.supplies):
        of_food.setdefault(supply.food_id, []).append(s)
    pools = []
    for food_id in problem.foods:
        groups: list[tuple[set[int], list[int]]] = []
        for s in of_food.get(food_id, []):
            cooks = {position[day] for day in problem.supplies[s].cook_days}
            members = [s]
            apart = []
            for other_cooks, other_members in groups:
                if other_cooks & cooks:
                    cooks |= other_cooks
                    members = other_members + members
                else:
                    apart.append((other_cooks, other_members))
            groups = [*apart, (cooks, members)]
        for cooks, members in groups:
            rows = [problem.supplies[s] for s in members]
            shops = [row for row in rows if row.stock_index is None]
            if cooks:
                pools.append(
                    Pool(
                        food_id,
                        tuple(members),
                        frozenset(cooks),
                        sum(row.available_g for row in rows if row.stock_index is not None),
                        bool(shops),
                        bool(shops) and all(row.wasted for row in shops),
                    )
                )
    return pools


class Strengthening:
    """Adds the rows to a kitchen; keeps ordered step variables shared between foods."""

    def __init__(self, kitchen: KitchenModel) -> None:
        self.kitchen = kitchen
        self.rows = 0
        self._ordered: dict[tuple[int, frozenset[int]], list[pulp.LpVariable]] = {}
        self._cookings: dict[int, dict[int, int]] = {}
        self._dish: dict[int, pulp.LpVariable] = {}
        self.made: dict[str, pulp.LpVariable] = {}
        self.used: list[pulp.LpVariable] = []
        for n, cooking in enumerate(kitchen.problem.cookings):
            self._cookings.setdefault(cooking.dish, {})[cooking.cook] = n

    def add(self) -> None:
        """Add cost-to-cover and any-use rows for every pool, and one switch for each recipe."""
        self._recipes()
        for pool in pools_of(self.kitchen.problem):
            offers = self.kitchen.problem.offers[pool.food_id]
            if offers and not any(offer.continuous for offer in offers):
                self._pool(pool)

    def _recipes(self) -> None:
        """Made: 1 if a dish, or any version of a recipe, is cooked on any day; links both ways.

        Food that keeps over all cook days is paid for once, whichever day cooks the dish: rows on
        one switch for all days say so, rows on a switch a day would let half of each pay half.
        """
        problem = self.kitchen.problem
        versions: dict[str, list[pulp.LpVariable]] = {}
        for d, rows in self._cookings.items():
            dish = problem.dishes[d]
            started = [self.kitchen.started[rows[k]] for k in sorted(rows)]
            self._dish[d] = self._any(started, f"{dish.recipe_id} {dish.version} is made")
            versions.setdefault(dish.recipe_id, []).append(self._dish[d])
        for recipe_id, switches in versions.items():
            self.made[recipe_id] = self._any(switches, f"{recipe_id} is made")

    def _any(self, switches: list[pulp.LpVariable], meaning: str) -> pulp.LpVariable:
        """Return a switch that is 1 if and only if any of the switches is 1."""
        if len(switches) == 1:
            return switches[0]
        found = pulp.LpVariable(self.kitchen.names.new("d", meaning), cat="Binary")
        for switch in switches:
            self.kitchen.row(switch <= found, meaning)
        self.kitchen.row(found <= pulp.lpSum(switches), f"{meaning}, only if cooked")
        return found

    def _switches(self, d: int, days: Iterable[int]) -> list[pulp.LpVariable]:
        """Return switches of a dish of which one is 1 if it is cooked on any of these days."""
        rows = self._cookings[d]
        if set(days) == set(rows):
            return [self._dish[d]]
        return [self.kitchen.started[rows[k]] for k in sorted(days)]

    def switches(self) -> list[pulp.LpVariable]:
        """Return what is decided first: which dishes and recipes are made, which foods are used."""
        found = {v.name: v for v in (*self._dish.values(), *self.made.values(), *self.used)}
        return list(found.values())

    def _pool(self, pool: Pool) -> None:
        problem = self.kitchen.problem
        members: list[tuple[int, float]] = []
        total_g = 0.0
        for d, dish in enumerate(problem.dishes):
            grams = dish.grams.get(pool.food_id, 0.0)
            days = [k for k in self._cookings.get(d, {}) if k in pool.cooks]
            if grams > 0 and days:
                members.append((d, grams))
                total_g += grams * dish.most_per_cook_day * len(days)
        if not members:
            return
        scale = money_scale(problem)
        offers = problem.offers[pool.food_id]
        spend = self._spend(pool, 0.0)
        prices = [(offer.edible_g, offer.price_minor / scale) for offer in offers]
        charged = None
        weight = problem.waste_weight
        if pool.all_wasted and weight > 0:
            # What is bought and not used is waste, so charge waste on all bought, refund on use.
            per_g = weight * problem.value_minor_per_g[pool.food_id] / scale
            charged = (
                self._spend(pool, per_g),
                [(g, c + per_g * g) for g, c in prices],
            )
        plain_table = cover_table(prices, max(0.0, total_g - pool.stock_g))
        tables = [(spend, plain_table)]
        if charged is not None:
            tables.append((charged[0], cover_table(charged[1], max(0.0, total_g - pool.stock_g))))
        for d, grams in members:
            self._dish_rows(pool, d, grams, tables)
        if pool.stock_g == 0:
            self._any_use(pool, members, total_g, tables)

    def _spend(self, pool: Pool, extra_per_g: float) -> pulp.LpAffineExpression:
        problem = self.kitchen.problem
        scale = money_scale(problem)
        offers = problem.offers[pool.food_id]
        return pulp.LpAffineExpression(
            [
                (
                    self.kitchen.packs[s, o],
                    offer.price_minor / scale + extra_per_g * offer.edible_g,
                )
                for s in pool.supplies
                for o, offer in enumerate(offers)
                if (s, o) in self.kitchen.packs
            ]
        )

    def _steps(self, d: int, cooks: frozenset[int]) -> list[pulp.LpVariable] | None:
        """Return ordered binaries z_1 >= z_2 >= ..., z_j = 1 if at least j steps are cooked."""
        dish = self.kitchen.problem.dishes[d]
        rows = self._cookings[d]
        days = frozenset(k for k in rows if k in cooks)
        if dish.batch_step is None:
            return None
        if (d, days) in self._ordered:
            return self._ordered[d, days]
        per_day = int(dish.most_per_cook_day / dish.batch_step + WHOLE)
        count = per_day * len(days)
        if count > _MOST_ORDERED_STEPS:
            return None
        what = f"{dish.recipe_id} {dish.version}, days {sorted(days)}"
        names = self.kitchen.names
        steps = []
        first = self._switches(d, days)
        for j in range(count):
            if j == 0 and len(first) == 1:
                steps.append(first[0])
                continue
            steps.append(
                pulp.LpVariable(names.new("z", f"at least {j + 1} steps of {what}"), cat="Binary")
            )
        total = pulp.LpAffineExpression([(self.kitchen.units[rows[k]], 1.0) for k in sorted(days)])
        self.kitchen.row(total == pulp.lpSum(steps), f"{what}: steps in order")
        for lower, higher in itertools.pairwise(steps):
            self.kitchen.row(higher <= lower, f"{what}: steps in order")
        if len(first) > 1:
            for switch in first:
                self.kitchen.row(switch <= steps[0], f"{what}: first step")
        self._ordered[d, days] = steps
        return steps

    def _dish_rows(
        self,
        pool: Pool,
        d: int,
        grams: float,
        tables: list[tuple[pulp.LpAffineExpression, CoverTable]],
    ) -> None:
        """Cost to cover: spend >= sum over j of [C(j g) - C((j - 1) g)] z_j."""
        dish = self.kitchen.problem.dishes[d]
        steps = self._steps(d, pool.cooks)
        if steps is None or dish.batch_step is None:
            return
        per_step = grams * dish.batch_step
        for spend, table in tables:
            cost = [table.least_cost(per_step * j - pool.stock_g) for j in range(len(steps) + 1)]
            terms = [
                (step, after - before)
                for step, before, after in zip(steps, cost, cost[1:], strict=False)
                if after > before
            ]
            if terms:
                self.rows += 1
                self.kitchen.row(
                    spend - pulp.LpAffineExpression(terms) >= 0,
                    f"{pool.food_id} covers the steps of {dish.recipe_id} {dish.version}",
                )

    def _any_use(
        self,
        pool: Pool,
        members: list[tuple[int, float]],
        total_g: float,
        tables: list[tuple[pulp.LpAffineExpression, CoverTable]],
    ) -> None:
        """Any use: spend >= slope x grams used + intercept x used, on each facet of the hull."""
        names = self.kitchen.names
        problem = self.kitchen.problem
        used = pulp.LpVariable(
            names.new("a", f"{pool.food_id} used, days {sorted(pool.cooks)}"), cat="Binary"
        )
        self.used.append(used)
        use: list[tuple[pulp.LpVariable, float]] = []
        for d, grams in members:
            dish = problem.dishes[d]
            days = [k for k in self._cookings[d] if k in pool.cooks]
            factor = 1.0 if dish.batch_step is None else dish.batch_step
            for k in days:
                use.append((self.kitchen.units[self._cookings[d][k]], grams * factor))
            for switch in self._switches(d, days):
                self.kitchen.row(used >= switch, f"{pool.food_id} used by {dish.recipe_id}")
        for spend, table in tables:
            for slope, intercept in table.facets(total_g):
                if intercept <= MONEY:
                    continue
                self.rows += 1
                terms = [(variable, slope * grams) for variable, grams in use]
                self.kitchen.row(
                    spend - pulp.LpAffineExpression(terms) - intercept * used >= 0,
                    f"{pool.food_id}: least money for any use",
                )
