"""The foods of the merged relaxation: money covers packs of each for all that is cooked of it.

Maths as in `merged.py`; ALGEBRA.md says why the rows are valid.
"""

from __future__ import annotations

from collections.abc import Callable, Iterator
from dataclasses import dataclass

import numpy as np
import pulp

from planopt.model.covers import CoverTable, cover_table
from planopt.model.dishtotals import Merged
from planopt.model.kitchen import KitchenModel, money_scale
from planopt.model.loose import food_terms
from planopt.problem.build import Problem
from planopt.problem.tolerances import MONEY

Packs = list[tuple[float, float]]

# What says how much counting the packs of a food adds: needs up to so many steps of a dish.
_SHARED_BY, _FEW_STEPS, _NEEDS_TRIED = 2, 3, 60


def add_foods(merged: Merged, rows: KitchenModel, whole_packs: int) -> None:
    """Foods: money for each covers what is cooked of it; the budget holds for prices alone.

    Packs are counted of the `whole_packs` foods whose other rows fall short most.
    """
    problem = rows.problem
    scale = money_scale(problem)
    budget = problem.budget
    groceries = []
    counted: list[tuple[float, _Food, pulp.LpVariable, Packs]] = []
    for food in _foods_used(merged, rows):
        offers = problem.offers[food.food_id]
        prices = [(offer.edible_g, offer.price_minor / scale) for offer in offers]
        per_g = 0.0
        if food.wasted:
            # What is bought and not used is waste, so charge waste on all bought, refund on use.
            per_g = problem.waste_weight * problem.value_minor_per_g[food.food_id] / scale
        charged = [(g, cost + per_g * g) for g, cost in prices]
        money = food.money(merged, rows, charged)
        counted.append((food.missed(charged), food, money, charged))
        merged.objective.append((money, 1.0))
        merged.objective += [(v, -per_g * f) for v, f in food.grams.items()]
        if budget is not None:
            groceries.append(money if per_g == 0 else food.money(merged, rows, prices))
    if budget is not None:
        rows.row(pulp.lpSum(groceries) <= float(budget), "groceries within the budget")
    counted.sort(key=lambda one: (-one[0], one[1].food_id))
    for missed, food, money, charged in counted[:whole_packs]:
        if missed > MONEY:
            merged.packs += food.whole_packs(rows, money, charged)


def _foods_used(merged: Merged, rows: KitchenModel) -> Iterator[_Food]:
    """Yield foods that dishes use and that are sold; of others no more is used than is on hand."""
    problem = rows.problem
    loose = _loose_uses(merged, problem)
    for food_id in problem.foods:
        uses = {
            d: problem.dishes[d].grams[food_id] * (problem.dishes[d].batch_step or 1.0)
            for d in merged.cooked
            if problem.dishes[d].grams.get(food_id, 0.0) > 0
        }
        perhaps = loose.get(food_id, [])
        if not uses and not perhaps:
            continue
        supplies = [supply for supply in problem.supplies if supply.food_id == food_id]
        shops = [supply for supply in supplies if supply.stock_index is None]
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
        wasted = all(supply.wasted for supply in shops)
        yield _Food(food_id, uses, perhaps, grams, stock_g, any_amount, wasted)


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
    """A food that dishes use: grams a unit by dish, grams in all, and what is on hand.

    `wasted` tells whether all that is left of what is bought counts as waste.
    """

    food_id: str
    uses: dict[int, float]
    perhaps: list[_LooseUse]
    grams: pulp.LpAffineExpression
    stock_g: float
    any_amount: bool
    wasted: bool

    def money(self, merged: Merged, rows: KitchenModel, packs: Packs) -> pulp.LpVariable:
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

    def missed(self, packs: Packs) -> float:
        """Return money by which the rows fall short of the least cost, in the mean over needs.

        Only where several dishes share packs do they fall short.
        """
        if self.any_amount or len(self.uses) < _SHARED_BY or self.stock_g > 0:
            return 0.0
        most_g = _FEW_STEPS * max(self.uses.values())
        table = cover_table(packs, most_g)
        facets = table.facets(most_g)
        needs = np.linspace(min(self.uses.values()), most_g, _NEEDS_TRIED)
        known = np.max([slope * needs + intercept for slope, intercept in facets], axis=0)
        return float(np.mean([table.least_cost(g) for g in needs] - known))

    def whole_packs(
        self, rows: KitchenModel, money: pulp.LpVariable, packs: Packs
    ) -> list[pulp.LpVariable]:
        """Count packs n: sum of grams n >= grams used - stock, and s >= sum of cost n."""
        found = [
            pulp.LpVariable(rows.names.new("b", f"packs of {self.food_id}"), 0, cat="Integer")
            for _ in packs
        ]
        bought = pulp.lpSum(g * n for n, (g, _) in zip(found, packs, strict=True))
        rows.row(bought - self.grams >= -self.stock_g, f"{self.food_id}: packs give enough")
        paid = pulp.lpSum(cost * n for n, (_, cost) in zip(found, packs, strict=True))
        rows.row(money - paid >= 0, f"{self.food_id}: packs are paid")
        return found

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
