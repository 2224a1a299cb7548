"""The weekly relaxation with one family of rows left out, to see what each is worth.

Left out from here, by subclass and by patch, so that the product carries no switch for it. Each
variant is valid: it only drops rows, or puts a weaker row in their place.
"""

from __future__ import annotations

from collections.abc import Callable, Iterable
from contextlib import ExitStack
from dataclasses import dataclass
from typing import Any
from unittest.mock import patch

import pulp

from planopt.model import totals, weekly
from planopt.model.covers import CoverTable
from planopt.model.kitchen import KitchenModel, new_kitchen
from planopt.model.strengthen import Pool, Strengthening
from planopt.problem.build import Problem
from planopt.solve.bounding.relaxations import proofs_of, weekly_arrays
from planopt.solve.highs.matrix import Matrix, to_matrix

Tables = list[tuple[pulp.LpAffineExpression, CoverTable]]


class WithoutCovers(Strengthening):
    """No cost-to-cover rows, and so no ordered steps either."""

    def _dish_rows(self, pool: Pool, d: int, grams: float, tables: Tables) -> None:
        return


class WithoutAnyUse(Strengthening):
    """No hull of the cost of any use."""

    def _any_use(
        self, pool: Pool, members: list[tuple[int, float]], total_g: float, tables: Tables
    ) -> None:
        return


class WithoutOrderedSteps(Strengthening):
    """Cost to cover of the first step only: who cooks a dish at all pays for one step of it."""

    def _dish_rows(self, pool: Pool, d: int, grams: float, tables: Tables) -> None:
        dish = self.kitchen.problem.dishes[d]
        if dish.batch_step is None:
            return
        for spend, table in tables:
            cost = table.least_cost(grams * dish.batch_step - pool.stock_g)
            if cost <= 0:
                continue
            for n, cooking in enumerate(self.kitchen.problem.cookings):
                if cooking.dish == d and cooking.cook in pool.cooks:
                    self.rows += 1
                    self.kitchen.row(
                        spend - cost * self.kitchen.started[n] >= 0,
                        f"{pool.food_id} covers the first step of cooking {n}",
                    )


class ByCookDay(Strengthening):
    """Rows on a switch for each cook day, also where food serves all days at once."""

    def _switches(self, d: int, days: Iterable[int]) -> list[pulp.LpVariable]:
        rows = self._cookings[d]
        return [self.kitchen.started[rows[k]] for k in sorted(days)]


class WithoutMade(ByCookDay):
    """No switch for a dish or recipe: the sum of its cookings' switches stands for it."""

    def _recipes(self) -> None:
        members: dict[str, list[pulp.LpVariable]] = {}
        problem = self.kitchen.problem
        for n, cooking in enumerate(problem.cookings):
            recipe_id = problem.dishes[cooking.dish].recipe_id
            members.setdefault(recipe_id, []).append(self.kitchen.started[n])
        self.made = {recipe_id: pulp.lpSum(rows) for recipe_id, rows in members.items()}


class Bare(WithoutMade):
    """No strengthening rows at all."""

    def _pool(self, pool: Pool) -> None:
        return


def _nothing(*_: Any, **__: Any) -> None:
    return


@dataclass(frozen=True)
class Variant:
    """A class of strengthening rows, and functions of the relaxation that do nothing."""

    rows: Callable[[KitchenModel], Strengthening] = Strengthening
    idle: tuple[str, ...] = ()


VARIANTS: dict[str, Variant] = {
    "all rows": Variant(),
    "without cost-to-cover rows": Variant(WithoutCovers),
    "without any-use facets": Variant(WithoutAnyUse),
    "without ordered steps": Variant(WithoutOrderedSteps),
    "switches by cook day": Variant(ByCookDay),
    "without made": Variant(WithoutMade),
    "without links": Variant(idle=("_links",)),
    "without kinds": Variant(idle=("_kinds",)),
    "no strengthening": Variant(Bare),
    "no strengthening, links, kinds": Variant(Bare, ("_links", "_kinds")),
}


# Searches over the merged relaxation, by their place among the proofs of the product.
MERGED = {"merged, dishes and foods whole": 0, "merged, steps whole too": 1}


def weekly_matrix(problem: Problem, variant: str) -> Matrix:
    """Return the weekly relaxation of a problem, written as the variant says, or the merged one."""
    if variant in MERGED:
        return proofs_of(problem, weekly_arrays(problem))[MERGED[variant]].matrix
    chosen = VARIANTS[variant]
    with ExitStack() as patches:
        for name in chosen.idle:
            room = weekly if hasattr(weekly, name) else totals
            patches.enter_context(patch.object(room, name, _nothing))
        kitchen = new_kitchen(problem)
        rows = chosen.rows(kitchen)
        rows.add()
        weekly.add_weekly(kitchen, rows.made)
        return to_matrix(kitchen.lp)
