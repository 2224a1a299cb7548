"""Rules on meals in the day-by-day model, each decided on a kitchen small enough to see through.

Every dish of these kitchens is a batch of one serving and takes 100 g of each of its foods; a food
is sold by 100 g for 1.00.
"""

from __future__ import annotations

from typing import Any

import numpy as np
import pytest

from model.audited import audited
from model.small import EXACT, catalog, client, food, pack, recipe, scenario
from planopt.catalog.records import Catalog
from planopt.problem.build import build_problem
from planopt.scenario.records import Scenario
from planopt.solve.engine.search import search
from planopt.solve.highs.daymodel import build_plain, search_plain

TWO_DAYS: dict[str, Any] = {"days": 2, "cook_days": [{"day": 1}, {"day": 2}]}
ANY = {"step": "any", "smallest": 0, "largest": 1}


def _menu(**dishes: tuple[str, ...]) -> Catalog:
    """Return a catalog of dishes by their foods; every food has 500 kcal in 100 g."""
    names = sorted({name for foods in dishes.values() for name in foods})
    foods = [food(name, kcal=500) for name in names]
    packs = [pack(name, 100, "1.00") for name in names]
    recipes = [
        recipe(dish, dict.fromkeys(used, 100), yield_servings=1) for dish, used in dishes.items()
    ]
    return catalog(foods, packs, recipes)


def _cost(table: Catalog, week: Scenario) -> float | None:
    """Return the cost of the cheapest week, which the audit must accept; None if none complies."""
    problem = build_problem(table, week)
    result = search_plain(problem, EXACT)
    assert result.infeasible or result.decisions is not None
    if result.decisions is None:
        return None
    plan = audited(problem, table, week, result.decisions, result.bound)
    return float(plan.solution.objective)


def _week(keys: dict[str, Any] | None = None, **more: Any) -> Scenario:
    return scenario(**(keys or {}), clients=[client(medically_supervised=True, **more)])


A_AND_B = _menu(a=("rice",), b=("beans", "rice"))


# ------------------------------------------------------------------ one dish a meal


def test_every_meal_has_one_dish() -> None:
    """Two lunches of one serving cost two packs of the cheaper dish."""
    assert _cost(A_AND_B, _week(TWO_DAYS)) == 2.0


def test_repeats_count_meals_of_a_recipe() -> None:
    """Once each: the second lunch must be the dearer dish; a third day would have none."""
    assert _cost(A_AND_B, _week(TWO_DAYS, most_repeats=1)) == 3.0
    three = {"days": 3, "cook_days": [{"day": day} for day in (1, 2, 3)]}
    assert _cost(A_AND_B, _week(three, most_repeats=1)) is None


def test_a_recipe_is_eaten_in_one_meal_a_day() -> None:
    """Lunch and dinner of a day are two recipes, over two days as well."""
    meals = {"meals": ["lunch", "dinner"]}
    assert _cost(A_AND_B, _week(meals)) == 3.0
    assert _cost(_menu(a=("rice",)), _week(meals)) is None


def test_variety_wants_and_dislikes_count() -> None:
    """Two recipes or one meal with beans take the dearer dish once; so on for the other counts."""
    assert _cost(A_AND_B, _week(TWO_DAYS, least_different_recipes=2)) == 3.0
    assert _cost(A_AND_B, _week(TWO_DAYS, wants={"beans": 1})) == 3.0
    assert _cost(A_AND_B, _week(TWO_DAYS, wants={"beans": 2})) == 4.0
    assert _cost(A_AND_B, _week(TWO_DAYS, wants={"beans": 3})) is None
    assert _cost(A_AND_B, _week(TWO_DAYS, dislikes={"rice": 1})) is None
    assert _cost(_menu(a=("rice",), c=("beans",)), _week(TWO_DAYS, dislikes={"rice": 1})) == 2.0


def test_servings_of_a_recipe_are_totals_over_the_plan() -> None:
    """At least two servings of the dearer dish, or at most one of the cheaper."""
    two = {"b": {"min": 2}}
    assert _cost(A_AND_B, _week(TWO_DAYS, recipe_servings=two)) == 4.0
    assert _cost(A_AND_B, _week(TWO_DAYS, recipe_servings={"a": {"max": 1}})) == 3.0


def test_windows_of_day_and_plan_bind() -> None:
    """1000 kcal on a day need the dish of two foods; 1500 over the plan need it once."""
    day = {"energy_kcal": {"min": 1000}}
    assert _cost(A_AND_B, _week(TWO_DAYS, windows_per_day=day)) == 4.0
    assert _cost(A_AND_B, _week(TWO_DAYS, windows_on_days={2: day})) == 3.0
    plan = {"energy_kcal": {"min": 1500, "max": 1500}}
    assert _cost(A_AND_B, _week(TWO_DAYS, windows_per_week=plan)) == 3.0


# ------------------------------------------------------------------ portions of nothing


@pytest.mark.parametrize(
    "portions", [ANY, {"step": 1, "smallest": 0, "largest": 1}], ids=["any amount", "steps"]
)
@pytest.mark.parametrize("most", [1, 2])
def test_a_portion_of_nothing_feeds_nobody(portions: dict[str, Any], most: int) -> None:
    """Where the smallest portion is 0 a meal must still have some of a dish."""
    week = _week({"most_dishes_per_meal": most}, portions=portions)
    cost = _cost(A_AND_B, week)
    assert cost is not None
    assert cost > 0


@pytest.mark.parametrize("rule", [{"wants": {"rice": 1}}, {"least_different_recipes": 1}])
def test_a_portion_of_nothing_meets_no_want(rule: dict[str, Any]) -> None:
    """A dish counts for wants and variety only if some of it is eaten."""
    cost = _cost(A_AND_B, _week({"most_dishes_per_meal": "any"}, portions=ANY, **rule))
    assert cost is not None
    assert cost > 0


# ------------------------------------------------------------------ the smallest portion


@pytest.mark.parametrize("most", [1, 2, "any"])
@pytest.mark.parametrize("step", ["any", 0.1])
def test_what_is_eaten_is_eaten_at_least_in_the_smallest_portion(
    most: int | str, step: float | str
) -> None:
    """Of dishes of 500 kcal no 0.4 servings fit in 150 kcal; 0.3 do. Once 0.01 were served."""
    lean = {"energy_kcal": {"min": 10, "max": 150}}
    for smallest, fits in ((0.4, False), (0.3, True)):
        sizes = {"step": step, "smallest": smallest, "largest": 1}
        week = _week(
            {"most_dishes_per_meal": most}, portions=sizes, windows_per_day=lean, most_repeats=None
        )
        assert (_cost(A_AND_B, week) is not None) == fits
        assert search(build_problem(A_AND_B, week), EXACT).infeasible != fits


def test_a_trace_that_the_solver_tolerates_is_no_portion() -> None:
    """A dish whose switch is off is not eaten; a millionth below the smallest is the smallest."""
    sizes = {"step": "any", "smallest": 0.5, "largest": 1}
    model = build_plain(build_problem(A_AND_B, _week(portions=sizes)))
    column = {name: n for n, name in enumerate(model.matrix.names)}
    values = np.zeros(len(column))
    for j, (amount, eaten) in enumerate(((0.4999995, 0.999999), (0.0000009, 0.000001))):
        values[column[model.menus.portion[0, j].name]] = amount
        values[column[model.menus.pick[0, j].name]] = eaten
    assert model.decisions(values).servings == {(0, 0): 0.5}


# ------------------------------------------------------------------ several dishes a meal


def test_several_dishes_fill_a_meal() -> None:
    """1500 kcal at one lunch take both dishes, where two are allowed."""
    rich = {"energy_kcal": {"min": 1500}}
    assert _cost(A_AND_B, _week(windows_per_day=rich)) is None
    assert _cost(A_AND_B, _week({"most_dishes_per_meal": 2}, windows_per_day=rich)) == 3.0
    assert _cost(A_AND_B, _week({"most_dishes_per_meal": "any"}, windows_per_day=rich)) == 3.0


# Lunch of day 2 may be eaten from both cook days, each of which has time for one serving.
ONE_BATCH_A_DAY: dict[str, Any] = {
    "days": 2,
    "cook_days": [{"day": day, "hands_on_minutes": 10} for day in (1, 2)],
}


@pytest.mark.parametrize(("most", "cost"), [(1, None), (2, None), ("any", 2.0)])
def test_a_counted_dish_comes_from_one_cook_day(most: Any, cost: float | None) -> None:
    """Two servings in one lunch mix two cook days, which only `any` number of dishes allows."""
    portions = {"step": 1, "smallest": 1, "largest": 2}
    rich = {2: {"energy_kcal": {"min": 1000}}}
    keys = {**ONE_BATCH_A_DAY, "most_dishes_per_meal": most}
    week = _week(keys, portions=portions, windows_on_days=rich, away={"days": [1]})
    assert _cost(_menu(a=("rice",)), week) == cost


@pytest.mark.parametrize("step", [1, "any"])
def test_the_largest_portion_holds_over_all_cook_days(step: Any) -> None:
    """With `any` number of dishes, two cook days do not make two largest portions of a dish."""
    portions = {"step": step, "smallest": 0, "largest": 1}
    rich = {2: {"energy_kcal": {"min": 600}}}
    keys = {**ONE_BATCH_A_DAY, "most_dishes_per_meal": "any"}
    week = _week(keys, portions=portions, windows_on_days=rich, away={"days": [1]})
    assert _cost(_menu(a=("rice",)), week) is None


def test_with_any_number_of_dishes_a_meal_may_be_empty() -> None:
    """`any` has no least count, so without windows the cheapest meal is none."""
    assert _cost(A_AND_B, _week({"most_dishes_per_meal": "any"})) == 0.0


PAIR = _menu(a=("oats", "rice"), b=("beans", "rice"), c=("beans",), d=("oats",))
BIG_LUNCH = {1: {"energy_kcal": {"min": 2000}}}
SMALL_LUNCH = {2: {"energy_kcal": {"max": 500}}}


@pytest.mark.parametrize("most", [2, "any"])
def test_two_dishes_with_a_food_are_one_meal_with_it(most: int | str) -> None:
    """Wants ask for meals: a lunch with rice in both of its dishes is one meal with rice."""
    keys = {**TWO_DAYS, "most_dishes_per_meal": most}
    limits = {**BIG_LUNCH, **SMALL_LUNCH}
    assert _cost(PAIR, _week(keys, windows_on_days=limits, wants={"rice": 1})) is not None
    assert _cost(PAIR, _week(keys, windows_on_days=limits, wants={"rice": 2})) is None


@pytest.mark.parametrize("most", [2, "any"])
def test_a_disliked_food_may_be_in_two_dishes_of_the_one_meal(most: int | str) -> None:
    """At most one meal with rice allows a lunch of two dishes with rice."""
    week = _week({"most_dishes_per_meal": most}, windows_on_days=BIG_LUNCH, dislikes={"rice": 1})
    only_pair = _menu(a=("oats", "rice"), b=("beans", "rice"))
    assert _cost(only_pair, week) == 4.0


def _two_versions() -> Catalog:
    foods = [food(name, kcal=500) for name in ("oats", "rice")]
    lines = [{"food": "rice", "amount": 100, "unit": "g", "alternatives": [{"food": "oats"}]}]
    packs = [pack("oats", 100, "1.00"), pack("rice", 100, "1.00")]
    return catalog(foods, packs, [recipe("pot", {}, lines=lines, yield_servings=1)])


def test_two_versions_in_a_meal_are_one_meal_of_the_recipe() -> None:
    """With any number of dishes, repeats count the meal once, however many versions it has."""
    keys = {**TWO_DAYS, "most_dishes_per_meal": "any"}
    rich = {1: {"energy_kcal": {"min": 1000}}}
    assert _cost(_two_versions(), _week(keys, windows_on_days=rich, most_repeats=1)) == 2.0


@pytest.mark.parametrize("portions", [ANY, {"step": 1, "smallest": 1, "largest": 1}])
def test_the_largest_portion_holds_for_a_dish_from_all_its_cook_days(
    portions: dict[str, Any],
) -> None:
    """With any number of dishes, two cook days do not double what may be eaten of one dish."""
    keys = {**TWO_DAYS, "most_dishes_per_meal": "any"}
    rich = {2: {"energy_kcal": {"min": 750}}}
    assert _cost(_menu(a=("rice",)), _week(keys, windows_on_days=rich, portions=portions)) is None
