"""Meals that no dish can serve are named with client, date and meal."""

from __future__ import annotations

import pytest

from model.small import catalog, client, food, pack, recipe, scenario
from planopt.problem.build import build_problem
from planopt.solve.whynot import empty_meals
from solve.smallweeks import week


def test_a_meal_without_a_dish_is_named_with_client_date_and_meal() -> None:
    """The stew keeps no day, so day 2 has nothing; day 1 is not named."""
    keeps = {"kind": "dishes", "fridge_days": 0, "serve": "reheated"}
    stew = recipe("stew", {"beans": 100}, yield_servings=1, keeps=keeps)
    problem = build_problem(
        catalog([food("beans")], [pack("beans", 100, "1.00")], [stew]),
        scenario(days=2, cook_days=[{"day": 1}], clients=[client("ana")]),
    )
    assert empty_meals(problem) == [
        "Ana, 2026-03-03 lunch: no dish may be eaten, is ready and still keeps; add a cook day, "
        "recipes or freezer use."
    ]


@pytest.mark.parametrize("seed", range(30))
def test_there_is_a_sentence_for_each_meal_without_options(seed: int) -> None:
    """Of random weeks, as many meals are named as have nothing to choose from."""
    problem = week(seed)
    assert len(empty_meals(problem)) == sum(not slot.options for slot in problem.slots)
