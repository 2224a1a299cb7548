"""Meals that no dish can serve: which, why, and what a user is told of them."""

from __future__ import annotations

from typing import Any

import pytest

from model.small import EXACT, catalog, client, food, pack, random_kitchen, recipe, scenario
from planopt.catalog.records import Catalog
from planopt.problem.build import build_problem
from planopt.problem.unserved import Unserved, unserved_meals
from planopt.scenario.records import Scenario
from planopt.solve.engine.search import search
from planopt.whynot.explain import explain


def two_sellers(**keys: Any) -> tuple[Catalog, Scenario]:
    """Return a stew of beans and leek; the market sells beans alone."""
    stew = recipe("stew", {"beans": 100, "leek": 50}, yield_servings=1)
    salad = recipe("salad", {"leek": 50, "corn": 50, "salt": 1}, yield_servings=1)
    foods = [food(name) for name in ("beans", "corn", "leek", "salt")]
    packs = [
        pack("beans", 100, "1.00", seller="market"),
        *(pack(name, 100, "1.00", seller="corner") for name in ("corn", "leek", "salt")),
    ]
    return catalog(foods, packs, [salad, stew]), scenario(clients=[client("ana")], **keys)


def test_a_meal_that_nothing_keeps_for_is_told_apart() -> None:
    """The stew keeps no day, so day 2 has nothing; day 1 is not named."""
    keeps = {"kind": "dishes", "fridge_days": 0, "serve": "reheated"}
    stew = recipe("stew", {"beans": 100}, yield_servings=1, keeps=keeps)
    kitchen = catalog([food("beans")], [pack("beans", 100, "1.00")], [stew])
    asked = scenario(days=2, cook_days=[{"day": 1}], clients=[client("ana")])
    problem = build_problem(kitchen, asked)
    assert unserved_meals(kitchen, asked, problem) == [Unserved("ana", "lunch", (2,), "none keeps")]
    told = explain(kitchen, asked, EXACT, seconds=5, proven=True).sentences
    assert told[:2] == (
        "These meals have no dish, because no dish is ready by then and still keeps:",
        "- Ana: lunch, Tuesday 2026-03-03",
    )
    assert told[2].startswith("Add a cook day (`cook_days`)")


def test_food_that_the_sellers_lack_is_named_with_the_nearest_recipe() -> None:
    """The market has no leek: the stew lacks one food, the salad three."""
    kitchen, asked = two_sellers(sellers=["market"], days=2)
    problem = build_problem(kitchen, asked)
    assert not problem.dishes
    expected = Unserved("ana", "lunch", (1, 2), "food is lacking", "stew", ("leek",))
    assert unserved_meals(kitchen, asked, problem) == [expected]
    assert explain(kitchen, asked, EXACT, seconds=5, proven=True).sentences == (
        "These meals have no dish, because every recipe that suits needs a food that market does "
        "not sell and that is not on hand in time:",
        "- Ana: lunch, every day (the nearest, Stew, lacks Leek)",
        "Let more sellers in (`sellers`), put these foods on hand (`stock`), or use other recipes.",
    )


def test_with_all_sellers_or_with_stock_nothing_is_lacking() -> None:
    """The same kitchen where leek is sold, and where it is on hand."""
    stock = [{"food": "leek", "amount": 900, "unit": "g"}]
    for keys in ({}, {"sellers": ["market"], "stock": stock}):
        kitchen, asked = two_sellers(**keys)
        assert unserved_meals(kitchen, asked, build_problem(kitchen, asked)) == []


def test_a_model_without_anything_to_cook_is_proven_impossible() -> None:
    """Without a dish there is nothing to solve; that is a proof and not a limit of time."""
    kitchen, asked = two_sellers(sellers=["market"])
    result = search(build_problem(kitchen, asked), EXACT)
    assert result.infeasible
    assert (result.status, result.decisions) == ("infeasible", None)


@pytest.mark.parametrize("seed", range(30))
def test_every_meal_without_options_is_told_once(seed: int) -> None:
    """Of random weeks, the meals named are those that have nothing to choose from."""
    kitchen = random_kitchen(seed)
    problem = kitchen.problem
    told = [
        (one.client_id, day, one.meal)
        for one in unserved_meals(kitchen.catalog, kitchen.scenario, problem)
        for day in one.days
    ]
    assert sorted(told) == sorted(
        (problem.clients[slot.client].client_id, slot.day, slot.meal)
        for slot in problem.slots
        if not slot.options
    )
