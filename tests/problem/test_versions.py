"""Versions at hand: few of very many, and an outline that stands for all of them."""

from __future__ import annotations

from time import process_time
from typing import Any

import pytest

from model.choicekitchens import choice_kitchen
from model.small import catalog, client, food, limit, pack, recipe, scenario
from planopt.catalog.quantities import Quantities
from planopt.catalog.records import Catalog, Recipe, SafetyGroup, StorageLimit
from planopt.problem.build import build_problem
from planopt.problem.dishes import count_versions, dishes_of
from planopt.problem.offering import may_eat
from planopt.scenario.checks.whole import check_scenario
from planopt.scenario.records import Scenario
from planopt.whynot.oracle import alike
from published.catalogtables import shipped


def _bowl(optional: int, **more: Any) -> Catalog:
    """Return a catalog with one recipe: barley, and so many optional foods, milk in the first."""
    names = [f"extra{n:02d}" for n in range(optional)]
    foods = [food("barley", 300.0), *(food(name, 50.0 + n) for n, name in enumerate(names))]
    foods[1]["allergens"] = ["milk"]
    foods[1].update(more)
    lines: list[dict[str, Any]] = [{"food": "barley", "amount": 200, "unit": "g"}]
    lines += [{"food": name, "amount": 50, "unit": "g", "optional": True} for name in names]
    packs = [pack(one["food_id"], 500, "1.00") for one in foods]
    return catalog(foods, packs, [recipe("bowl", {}, lines=lines)])


def test_a_billion_versions_are_not_gone_through() -> None:
    """Thirty optional lines: a few versions at hand, one dish in the outline, in a moment."""
    table = _bowl(30)
    assert count_versions(table.recipes["bowl"]) == 2**30
    began = process_time()
    problem = build_problem(table, scenario(clients=[client(), client("ben", allergens=["milk"])]))
    assert process_time() - began < 1.0
    assert 2 <= len(problem.dishes) <= 32
    assert problem.outline is not None
    assert problem.bounding is problem.outline
    (outline,) = problem.outline.dishes
    assert len(outline.loose) == 30
    assert outline.grams == {"barley": 200.0}
    assert len(outline.foods()) == 31
    assert problem.outline.foods == tuple(sorted(table.foods))


def test_few_versions_are_all_at_hand_as_ever() -> None:
    """Four optional lines make sixteen versions, which need no outline."""
    table = _bowl(4)
    problem = build_problem(table, scenario())
    assert problem.outline is None
    assert problem.bounding is problem
    every = dishes_of(table.recipes["bowl"], table, scenario(), Quantities(table))
    assert [dish.key for dish in problem.dishes] == [dish.key for dish in every]
    assert build_problem(_bowl(5), scenario()).outline is not None


def test_whoever_may_eat_a_version_has_one_and_none_that_they_must_not() -> None:
    """Allergens and exclusions are hard for versions at hand and for the outline."""
    people = [
        client(),
        client("ben", allergens=["milk"]),
        client("cem", excluded_foods=["extra03", "extra07"]),
        client("dea", excluded_foods=["barley"]),
        client("eva", excluded_recipes=["bowl"]),
    ]
    asked = scenario(clients=people)
    problem = build_problem(_bowl(20), asked)
    assert problem.outline is not None
    for slot, wide in zip(problem.slots, problem.outline.slots, strict=True):
        who = asked.clients[slot.client]
        served = [problem.dishes[option.dish] for option in slot.options]
        assert bool(served) == bool(wide.options) == (who.client_id not in ("dea", "eva"))
        for dish in served:
            assert not (who.client_id == "ben" and "extra00" in dish.grams)
            assert not set(who.excluded_foods) & set(dish.grams)
            assert may_eat(who, dish)
    fullest = {
        who.client_id: max((len(problem.dishes[o.dish].grams) for o in slot.options), default=0)
        for slot, who in zip(problem.slots, problem.clients, strict=True)
    }
    assert fullest == {"ana": 21, "ben": 20, "cem": 19, "dea": 0, "eva": 0}


def test_food_whose_allergens_are_not_known_is_left_out_for_whoever_excludes_one() -> None:
    """What is not known may be anything, on a line as in a dish."""
    people = [client("ben", allergens=["milk"])]
    problem = build_problem(_bowl(20, allergens=["not_known"]), scenario(clients=people))
    assert problem.dishes
    assert not any("extra00" in dish.grams for dish in problem.dishes)


def test_wanted_versions_are_at_hand_and_unknown_ones_are_not_made_up() -> None:
    """The versions of a plan that is read again are there, whatever else is chosen."""
    table = _bowl(20)
    name = "2-+5-+9-+11-"
    wanted = [("bowl", name), ("bowl", "2-+99-"), ("stew", "base")]
    plain = {dish.version for dish in build_problem(table, scenario()).dishes}
    found = {dish.version for dish in build_problem(table, scenario(), wanted).dishes}
    assert name not in plain
    assert name in found
    assert "2-+99-" not in found


def test_weeks_of_other_versions_are_not_taken_for_weeks_of_these() -> None:
    """Two problems with like meals and other versions at hand are not alike."""
    table = _bowl(20)
    one, same = build_problem(table, scenario()), build_problem(table, scenario())
    other = build_problem(table, scenario(clients=[client(allergens=["milk"])]))
    assert alike(one, same)
    assert not alike(one, other)


def test_an_outline_is_not_for_whom_every_food_of_a_line_is_forbidden() -> None:
    """A line that cannot be left out, and of which a client may have none of the foods."""
    table = _bowl(12)
    bowl = table.recipes["bowl"].model_dump()
    bowl["lines"][0]["alternatives"] = [{"food": "extra11"}]
    table = table.model_copy(update={"recipes": {"bowl": Recipe.model_validate(bowl)}})
    people = [
        client(),
        client("ben", excluded_foods=["barley"]),
        client("cem", excluded_foods=["barley", "extra11"]),
    ]
    problem = build_problem(table, scenario(clients=people))
    for wide in (problem, problem.bounding):
        assert [bool(slot.options) for slot in wide.slots] == [True, True, False]


def test_the_outline_keeps_as_long_as_its_longest_version() -> None:
    """An egg on a line that may be left out shortens the others, and not the outline."""
    table = _bowl(12)
    groups = {"egg": {"group": "egg", "covers": "egg", "kinds": ["short"], "source": "test"}}
    foods = dict(table.foods)
    foods["extra03"] = foods["extra03"].model_copy(update={"safety_group": "egg"})
    table = table.model_copy(
        update={
            "foods": foods,
            "safety_groups": {
                name: SafetyGroup.model_validate(group) for name, group in groups.items()
            },
            "storage_limits": {
                kind: StorageLimit.model_validate(limit(kind, days))
                for kind, days in (("dishes", 9), ("short", 1))
            },
        }
    )
    problem = build_problem(table, scenario())
    kept = {("extra03" in dish.grams, dish.fridge_days) for dish in problem.dishes}
    assert kept == {(True, 1), (False, 2)}
    assert problem.outline is not None
    assert [dish.fridge_days for dish in problem.outline.dishes] == [2]


@pytest.mark.parametrize("seed", range(12))
def test_whatever_a_meal_may_be_its_outline_may_be(
    seed: int, monkeypatch: pytest.MonkeyPatch
) -> None:
    """Each option of each meal, of any version, is an option of the recipe's outline."""
    kitchen = choice_kitchen(seed, monkeypatch)
    outline = kitchen.few.bounding
    for every, wide in zip(kitchen.every.slots, outline.slots, strict=True):
        assert (every.client, every.day, every.meal) == (wide.client, wide.day, wide.meal)
        can = {(kitchen.every.dishes[o.dish].recipe_id, o.cook) for o in every.options}
        may = {(outline.dishes[o.dish].recipe_id, o.cook) for o in wide.options}
        assert can <= may
    few = {dish.key for dish in kitchen.few.dishes}
    assert few <= {dish.key for dish in kitchen.every.dishes}


@pytest.mark.slow
def test_a_thousand_clients_and_ten_thousand_rows_are_checked_and_built_in_time() -> None:
    """Half of the ten seconds that are promised for it, without reading the file."""
    table = shipped()
    foods = [name for name, one in table.foods.items() if one.storage != "tap"]
    people = [
        {
            "id": f"c{n}",
            "name": f"Client {n}",
            "windows_per_day": {"energy_kcal": {"min": 1500 + n % 300, "max": 2200}},
            "allergens": ["milk"] if n % 7 == 0 else [],
            "excluded_foods": [foods[n % len(foods)]] if n % 11 == 0 else [],
        }
        for n in range(1000)
    ]
    stock = [
        {"food": foods[n % len(foods)], "amount": 50 + n % 400, "unit": "g"} for n in range(10000)
    ]
    week = Scenario.model_validate(
        {
            "name": "Many", "catalog": "catalogs", "currency": "USD", "start_date": "2026-11-30",
            "days": 7, "meals": ["breakfast", "lunch", "dinner"],
            "cook_days": [{"day": 0}, {"day": 3}], "clients": people, "stock": stock,
        }
    )  # fmt: skip
    began = process_time()
    assert check_scenario(week, table, lambda _: None) == []  # type: ignore[arg-type,return-value]
    problem = build_problem(table, week)
    assert process_time() - began < 5.0
    assert len(problem.slots) == 21000
    assert len(problem.supplies) > 10000
