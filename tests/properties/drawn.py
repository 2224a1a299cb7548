"""Tiny kitchens drawn by hypothesis, so that a failing one shrinks to what makes it fail.

A kitchen is data (`Spec`), so that a test can change it and build it again. All of them are small
enough for HiGHS to prove the cheapest week in a moment; most have one.
"""

from __future__ import annotations

from copy import deepcopy
from dataclasses import dataclass
from typing import Any

from hypothesis import strategies as st

from model.small import EXACT, catalog, client, food, limit, pack, recipe, scenario
from planopt.catalog.records import Catalog
from planopt.faults import SolverFailed
from planopt.problem.build import Problem, build_problem
from planopt.scenario.records import Scenario
from planopt.solve.highs.daymodel import build_plain, search_plain
from planopt.solve.result import SearchResult

FOODS = ("beans", "milk", "oats", "rice")
MEALS = ("lunch", "dinner")


@dataclass(frozen=True)
class Spec:
    """A kitchen as data: rows of its tables, and the keys of its scenario."""

    foods: list[dict[str, Any]]
    packs: list[dict[str, Any]]
    recipes: list[dict[str, Any]]
    limits: list[dict[str, Any]]
    keys: dict[str, Any]

    def copy(self) -> Spec:
        """Return a copy that may be changed."""
        return deepcopy(self)

    @property
    def catalog(self) -> Catalog:
        """Return the catalog."""
        return catalog(self.foods, self.packs, self.recipes, self.limits)

    @property
    def scenario(self) -> Scenario:
        """Return the scenario."""
        return scenario(**self.keys)

    @property
    def problem(self) -> Problem:
        """Return the problem."""
        return build_problem(self.catalog, self.scenario)

    def solved(self) -> SearchResult:
        """Return the cheapest week, proven by HiGHS on the plain model without any added row.

        On one of some thousand kitchens HiGHS gave up (`Solve error`), but not with these rows.
        """
        problem = self.problem
        plain = build_plain(problem, strengthen=False)
        try:
            result = search_plain(problem, EXACT, model=plain)
        except SolverFailed:
            result = search_plain(problem, EXACT)
        assert result.infeasible or result.status == "optimal", result.solver_status
        return result


def _maybe(some: st.SearchStrategy[Any]) -> st.SearchStrategy[Any]:
    return st.one_of(st.none(), some)


def _given(keys: dict[str, Any]) -> dict[str, Any]:
    return {name: value for name, value in keys.items() if value is not None}


@st.composite
def _food(draw: st.DrawFn, food_id: str) -> dict[str, Any]:
    return food(
        food_id,
        kcal=draw(st.sampled_from([90, 150, 360])),
        protein=draw(st.sampled_from([1, 9, 20])),
        keeps_days=draw(st.sampled_from([None, 0, 2, 9])),
        edible_share=draw(st.sampled_from([1, 0.8])),
        allergens=draw(st.sampled_from([[], [], [], ["milk"], ["egg", "milk"], ["not_known"]])),
    )


@st.composite
def _packs(draw: st.DrawFn, food_id: str) -> list[dict[str, Any]]:
    sizes = draw(st.lists(st.sampled_from([100, 250, 400]), min_size=1, max_size=2, unique=True))
    return [
        pack(
            food_id,
            size,
            f"{draw(st.integers(10, 300)) / 100:.2f}",
            draw(st.sampled_from(["corner", "market"])),
            sold=draw(st.sampled_from(["pack", "pack", "pack", "any"])),
        )
        for size in sizes
    ]


@st.composite
def recipes(draw: st.DrawFn, recipe_id: str, food_ids: tuple[str, ...]) -> dict[str, Any]:
    """Draw a recipe for one or both meals, some with a choice or an optional line."""
    chosen = draw(st.lists(st.sampled_from(food_ids), min_size=1, max_size=2, unique=True))
    lines: list[dict[str, Any]] = [
        {"food": food_id, "amount": draw(st.sampled_from([80, 120, 200])), "unit": "g"}
        for food_id in chosen
    ]
    others = [food_id for food_id in food_ids if food_id not in chosen]
    kind = draw(st.sampled_from(["as written", "as written", "alternative", "optional"]))
    if kind == "alternative" and others:
        ratio = draw(st.sampled_from([1, 1.5]))
        lines[0]["alternatives"] = [{"food": others[0], "ratio": ratio}]
    elif kind == "optional" and len(lines) > 1:
        lines[1]["optional"] = True
    meals = draw(st.sampled_from([MEALS, MEALS, MEALS, MEALS, ("lunch",), ("dinner",)]))
    step = draw(st.sampled_from(["whole", "half"]))
    keeps = {"kind": "dishes", "fridge_days": draw(st.integers(1, 3)), "serve": "cold"}
    keeps["freezer_months"] = draw(st.sampled_from([0, 0.1]))
    return recipe(
        recipe_id, {}, lines=lines, meals=list(meals), keeps=keeps,
        batch={"step": step, "most_per_cook_day": draw(st.integers(1, 3))},
        equipment={"hob_minutes": draw(st.sampled_from([0, 20]))},
    )  # fmt: skip


@st.composite
def cook_days(draw: st.DrawFn, day: int) -> dict[str, Any]:
    """Draw a cook day with or without limits."""
    return _given(
        {
            "day": day,
            "ready_for": draw(st.sampled_from([None, None, "next_day"])) if day > 1 else None,
            "hands_on_minutes": draw(st.sampled_from([None, None, 40])),
            "hob_minutes": draw(st.sampled_from([None, None, 80])),
            "most_recipes": draw(st.sampled_from([None, None, 2])),
        }
    )


@st.composite
def _client(draw: st.DrawFn, client_id: str, food_ids: tuple[str, ...]) -> dict[str, Any]:
    low = draw(st.sampled_from([50, 100, 200]))
    step = draw(st.sampled_from([0.5, 1]))
    return client(
        client_id,
        **_given(
            {
                "windows_per_day": {
                    "energy_kcal": {"min": low, "max": low * draw(st.sampled_from([6, 20]))}
                },
                "windows_per_week": draw(_maybe(st.just({"protein_g": {"min": 6}}))),
                "portions": {"step": step, "smallest": step, "largest": 2},
                "most_repeats": draw(st.sampled_from([None, None, 2])),
                "least_different_recipes": draw(st.sampled_from([0, 0, 0, 2])),
                "allergens": draw(st.sampled_from([[], [], [], [], ["milk"], ["fish", "egg"]])),
                "excluded_foods": draw(st.sampled_from([[], [], [], [food_ids[0]]])),
                "dislikes": draw(_maybe(st.just({food_ids[-1]: 1}))),
            }
        ),
    )


@st.composite
def specs(draw: st.DrawFn) -> Spec:
    """Draw a kitchen of two to four foods, two to four recipes and one or two clients."""
    food_ids = FOODS[: draw(st.integers(2, 4))]
    days = draw(st.integers(1, 3))
    cooks = [draw(cook_days(draw(st.integers(0, 1))))]
    if days > 2:
        cooks.append(draw(cook_days(2)))
    meals = draw(st.sampled_from([MEALS, ("lunch",)]))
    stock = draw(
        st.lists(
            st.fixed_dictionaries(
                {
                    "food": st.sampled_from(food_ids),
                    "amount": st.sampled_from([70, 240]),
                    "unit": st.just("g"),
                    "use_by": st.sampled_from([None, "2026-03-02", "2026-03-20"]),
                }
            ),
            max_size=1,
        )
    )
    keys: dict[str, Any] = {
        "days": days,
        "meals": list(meals),
        "cook_days": cooks,
        "visit_cost": draw(st.sampled_from(["0", "0", "0.50"])),
        "waste_weight": draw(st.sampled_from([0, 0.5, 1])),
        "carry_days": draw(st.sampled_from([0, 7])),
        "stock": stock,
        "clients": [draw(_client(f"client_{n}", food_ids)) for n in range(draw(st.integers(1, 2)))],
    }
    budget = draw(st.sampled_from([None, None, 300, 500, 900, 1500]))
    if budget is not None:
        keys["budget"] = f"{budget / 100:.2f}"
    return Spec(
        foods=[draw(_food(food_id)) for food_id in food_ids],
        packs=[row for food_id in food_ids for row in draw(_packs(food_id))],
        recipes=[draw(recipes(f"dish_{n}", food_ids)) for n in range(draw(st.integers(2, 4)))],
        limits=[limit(fridge=3, months=1)],
        keys=keys,
    )
