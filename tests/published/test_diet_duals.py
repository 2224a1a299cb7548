"""Shadow prices of published diet problems against those of scipy's HiGHS, and the infeasible one.

Sources of the data: see test_diet_problems.py. The matrices for scipy are written here from the
published tables, apart from planopt. The feasible relaxation of the infeasible diet (sodium at
most 50,000 mg, diet2a.dat) is in Fourer, Gay, Kernighan, AMPL, 2nd edition (2002), section 2.3.
"""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import dataclass
from fractions import Fraction
from math import ceil
from pathlib import Path

import numpy as np
import pytest
from scipy.optimize import linprog

from planopt.faults import NoCompliantWeek
from planopt.pipeline import make_plan
from planopt.problem.limits import WHOLE_PLAN, LimitKey
from planopt.solve.limits.duals import limit_duals
from planopt.solve.settings import SolveSettings
from planopt.whynot.explain import Explanation
from published.dietproblems import rows_of
from published.test_diet_problems import (
    EXACT,
    FGK_COLUMNS,
    STIGLER_COLUMNS,
    fgk_kitchen,
    solved,
    stigler_id,
    stigler_kitchen,
)


@dataclass(frozen=True)
class Diet:
    """Least cost of foods, nutrients within limits, amounts within bounds; ids by the numbers."""

    foods: tuple[str, ...]
    cost: tuple[float, ...]
    nutrients: dict[str, tuple[float, ...]]
    limits: dict[tuple[str, str], float]
    least: float
    most: float | None

    def solve(
        self, kept: Iterable[tuple[str, str]] | None = None, cost: tuple[float, ...] | None = None
    ) -> tuple[bool, float, dict[tuple[str, str], float]]:
        """Return whether it is feasible, the optimum, and the price of each limit."""
        names = list(self.limits if kept is None else kept)
        rows, right = [], []
        for nutrient, side in names:
            sign = -1.0 if side == "min" else 1.0
            rows.append([sign * amount for amount in self.nutrients[nutrient]])
            right.append(sign * self.limits[nutrient, side])
        found = linprog(
            self.cost if cost is None else cost,
            A_ub=np.array(rows) if rows else None,
            b_ub=np.array(right) if rows else None,
            bounds=(self.least, self.most),
            method="highs",
        )
        if found.status != 0:
            return False, float("inf"), {}
        # scipy's marginal is the change of cost for one more on the right of a row `<=`.
        prices = {
            name: (-1.0 if name[1] == "min" else 1.0) * float(marginal)
            for name, marginal in zip(names, found.ineqlin.marginals, strict=True)
        }
        return True, float(found.fun), prices


def stigler() -> Diet:
    """Return the diet of 1939 for a year of 365 days; servings are dollars."""
    table = rows_of("stigler_1939.csv")
    needs = rows_of("stigler_1939_requirements.csv")
    return Diet(
        tuple(stigler_id(row["commodity"]) for row in table),
        tuple(1.0 for _ in table),
        {
            ours: tuple(float(row[f"{theirs}_per_usd"]) for row in table)
            for theirs, ours in STIGLER_COLUMNS.items()
        },
        {
            (STIGLER_COLUMNS[need["nutrient"]], "min"): float(Fraction(need["daily_minimum"]) * 365)
            for need in needs
        },
        0.0,
        None,
    )


def fgk(variant: str) -> Diet:
    """Return one variant of the diet of prepared dinners."""
    row = next(r for r in rows_of("fourer_gay_kernighan_variants.csv") if r["variant"] == variant)
    table = rows_of("fourer_gay_kernighan_foods.csv")
    limits = {}
    for limit in rows_of("fourer_gay_kernighan_limits.csv"):
        if limit["variant"] == variant:
            for side in ("min", "max"):
                if float(limit[side]) > 0:
                    limits[limit["nutrient"].lower(), side] = float(limit[side])
    return Diet(
        tuple(food["food"].lower() for food in table),
        tuple(float(food["cost_usd_per_package"]) for food in table),
        {name.lower(): tuple(float(food[name]) for food in table) for name in FGK_COLUMNS},
        limits,
        float(row["packages_min"]),
        float(row["packages_max"]) if row["packages_max"] else None,
    )


def test_stigler_duals_are_those_of_scipy(tmp_path: Path) -> None:
    """Stigler 1945: the five nutrients that bind have scipy's prices, the four others none."""
    problem, _, decisions = solved(stigler_kitchen(tmp_path, "365"))
    duals = limit_duals(problem, decisions, EXACT)
    _, _, prices = stigler().solve()
    ours = {
        nutrient: duals[LimitKey("window", "eater", nutrient, 1, "min")]
        for nutrient in STIGLER_COLUMNS.values()
    }
    assert ours == pytest.approx({name: price for (name, _), price in prices.items()}, abs=1e-9)
    assert sum(price > 1e-9 for price in ours.values()) == 5


def fgk_prices(folder: Path, variant: str) -> tuple[dict[tuple[str, str], float], ...]:
    """Return our price of each limit of a variant, and scipy's."""
    problem, _, decisions = solved(fgk_kitchen(folder, variant))
    duals = limit_duals(problem, decisions, EXACT)
    _, _, prices = fgk(variant).solve()
    ours = {name: duals[LimitKey("window", "eater", name[0], 1, name[1])] for name in prices}
    return ours, prices


def test_fgk_duals_are_those_of_scipy(tmp_path: Path) -> None:
    """Fourer, Gay, Kernighan 2002: prices of least and most amounts are scipy's, sign and all."""
    ours, prices = fgk_prices(tmp_path, "varied_na50000")
    assert ours == pytest.approx(prices, abs=1e-9)
    assert any(price > 1e-6 for price in ours.values())
    assert any(price < -1e-6 for price in ours.values())


def test_fgk_duals_that_two_nutrients_may_share(tmp_path: Path) -> None:
    """The first diet is one dish that has 15 % of B1 and of B2, so only their sum is unique.

    46.6667 packages give exactly 700 % of both; any split of 1.89 / 15 dollars proves the optimum.
    """
    ours, prices = fgk_prices(tmp_path, "basic")
    shared = [("b1_pct", "min"), ("b2_pct", "min")]
    for found in (ours, prices):
        assert sum(found[name] for name in shared) == pytest.approx(1.89 / 15, abs=1e-9)
        assert all(found[name] >= 0 for name in shared)
        assert all(abs(p) < 1e-9 for name, p in found.items() if name not in shared)


@pytest.fixture(scope="module")
def infeasible(tmp_path_factory: pytest.TempPathFactory) -> Explanation:
    """Return why the diet with at most 40,000 mg of sodium has no solution."""
    kitchen = fgk_kitchen(tmp_path_factory.mktemp("diet"), "varied_na40000")
    with pytest.raises(NoCompliantWeek) as caught:
        make_plan(kitchen, SolveSettings(gap=0.0, work_limit=1000))
    assert isinstance(caught.value.explanation, Explanation)
    assert caught.value.reasons == caught.value.explanation.sentences
    return caught.value.explanation


def test_the_infeasible_diet_clashes_on_its_sodium_limit(infeasible: Explanation) -> None:
    """Sodium at most 40,000 mg is part of the clash, and the clash is minimal: scipy agrees.

    The bounds on packages are limits of servings here; scipy is given those of the clash only.
    """
    conflict = infeasible.conflict
    assert conflict is not None
    assert conflict.minimal
    keys = {rule.key.of_side(rule.key.side) for rule in conflict.rules}
    assert LimitKey("window", "eater", "na_mg", WHOLE_PLAN, "max") in keys
    assert not _feasible(keys)
    for key in keys:
        assert _feasible(keys - {key}), key


def _feasible(keys: set[LimitKey]) -> bool:
    """Tell by scipy whether the limits of these keys alone have a solution."""
    diet = fgk("varied_na40000")
    bounds = {food: [0.0, np.inf] for food in diet.foods}
    names = []
    for key in keys:
        if key.kind == "servings":
            place = 0 if key.side == "min" else 1
            bounds[key.what.removesuffix("_dish")][place] = 2.0 if key.side == "min" else 10.0
        else:
            names.append((key.what, key.side))
    rows = [
        [(-1.0 if side == "min" else 1.0) * amount for amount in diet.nutrients[nutrient]]
        for nutrient, side in names
    ]
    right = [(-1.0 if name[1] == "min" else 1.0) * diet.limits[name] for name in names]
    found = linprog(
        diet.cost, A_ub=np.array(rows), b_ub=np.array(right), bounds=list(bounds.values())
    )
    return bool(found.status == 0)


def test_the_infeasible_diet_is_mended_near_the_published_relaxation(
    infeasible: Explanation,
) -> None:
    """The repair of the sodium limit is scipy's least sodium, within the book's 50,000 mg."""
    diet = fgk("varied_na40000")
    others = [name for name in diet.limits if name != ("na_mg", "max")]
    _, least_mg, _ = diet.solve(others, cost=diet.nutrients["na_mg"])
    (repair,) = [
        repair
        for repair in infeasible.repairs
        if repair.moves[0].rule is not None and repair.moves[0].rule.key.what == "na_mg"
    ]
    assert repair.least
    # Nutrients of this kitchen are told to one decimal; the least value is rounded up to it.
    assert repair.moves[0].after == pytest.approx(ceil(least_mg * 10 - 1e-6) / 10)
    assert 40_000 < repair.moves[0].after <= 50_000
