"""Reasons why no week complies: each names the client, the days and the limit that fails alone."""

from __future__ import annotations

from typing import Any

import pytest

from model.small import EXACT, catalog, client, food, pack, random_kitchen, recipe, scenario
from planopt.problem.build import Problem, build_problem
from planopt.solve.whynot import empty_meals, failing_windows, lone_failures
from solve.smallweeks import menus_of, week

TWO_DAYS: dict[str, Any] = {"days": 2, "cook_days": [{"day": 1}]}


def _kitchen(*eaters: dict[str, Any], fridge_days: int = 2, **keys: Any) -> Problem:
    """Return a kitchen of one stew (500 kcal, 20 g protein) and one soup (200 kcal, 30 g)."""
    keeps = {"kind": "dishes", "fridge_days": fridge_days, "serve": "reheated"}
    recipes = [
        recipe("soup", {"fish": 100}, yield_servings=1, keeps=keeps),
        recipe("stew", {"beans": 100}, yield_servings=1, keeps=keeps),
    ]
    foods = [food("beans", kcal=500, protein=20), food("fish", kcal=200, protein=30)]
    packs = [pack("beans", 100, "1.00"), pack("fish", 100, "3.00")]
    table = catalog(foods, packs, recipes)
    return build_problem(table, scenario(**{**TWO_DAYS, **keys, "clients": list(eaters)}))


def _ana(**more: Any) -> dict[str, Any]:
    return client("ana", medically_supervised=True, **more)


BEN = client("ben")


def test_a_meal_without_a_dish_is_named_with_client_date_and_meal() -> None:
    """The stew keeps no day, so day 2 has nothing; day 1 is not named."""
    found = lone_failures(_kitchen(_ana(), fridge_days=0), EXACT)
    assert found == [
        "Ana, 2026-03-03 lunch: no dish may be eaten, is ready and still keeps; add a cook day, "
        "recipes or freezer use."
    ]


def test_a_window_that_fails_alone_is_named_with_client_dates_and_window() -> None:
    """900 kcal from one portion are out of reach on both days; Ben, who asks nothing, is not."""
    problem = _kitchen(
        _ana(windows_per_day={"energy_kcal": {"min": 900, "max": 1000}, "protein_g": {"min": 5}}),
        BEN,
    )
    (reason,) = lone_failures(problem, EXACT)
    assert reason == (
        "Ana, 2026-03-02, 2026-03-03: energy_kcal from 900 to 1000 cannot be met by any choice of "
        "dishes and portions, even with no other window."
    )


def test_a_window_without_an_upper_side_says_any() -> None:
    """The open side is named in words."""
    problem = _kitchen(_ana(windows_on_days={2: {"protein_g": {"min": 31}}}))
    (reason,) = lone_failures(problem, EXACT)
    assert reason.startswith("Ana, 2026-03-03: protein_g from 31 to any cannot be met")


def test_windows_that_fail_only_together_are_named_together() -> None:
    """The stew has the energy and the soup the protein, and a lunch is one of them."""
    windows = {"energy_kcal": {"min": 400}, "protein_g": {"min": 25}}
    problem = _kitchen(BEN, _ana(windows_per_day=windows))
    (reason,) = lone_failures(problem, EXACT)
    assert reason == (
        "Ana, 2026-03-02, 2026-03-03: each day window can be met alone, but not all of "
        "energy_kcal, protein_g together."
    )


def test_a_client_who_fails_alone_is_named() -> None:
    """Three different recipes of two are impossible for Ana over the week, not on any day."""
    problem = _kitchen(BEN, _ana(least_different_recipes=2, most_repeats=1, dislikes={"fish": 0}))
    (reason,) = lone_failures(problem, EXACT)
    assert reason.startswith("Ana: no compliant week even alone; every day can be met by itself")


def test_a_clash_between_clients_is_told_as_such() -> None:
    """Each alone stays within three dollars; together they do not."""
    problem = _kitchen(_ana(), BEN, budget="3.00")
    (reason,) = lone_failures(problem, EXACT)
    assert reason.endswith("the clash is between clients: cook-day limits or the budget.")


def test_several_failures_are_all_named() -> None:
    """Two clients with a window out of reach give two reasons, in the order of the scenario."""
    high = {"energy_kcal": {"min": 900}}
    problem = _kitchen(client("ben", windows_per_day=high), _ana(windows_on_days={1: high}))
    found = lone_failures(problem, EXACT)
    assert [reason.split(":")[0] for reason in found] == [
        "Ben, 2026-03-02, 2026-03-03", "Ana, 2026-03-02",
    ]  # fmt: skip


@pytest.mark.parametrize("seed", range(30))
def test_days_are_named_if_and_only_if_they_have_no_menu(seed: int) -> None:
    """Against plain enumeration: as many reasons on meals and windows as groups have none."""
    problem = week(seed)
    empty = [
        g for g, menus in enumerate(menus_of(seed))
        if not menus and all(problem.slots[i].options for i in problem.groups[g].slots[0])
    ]  # fmt: skip
    meals = [slot for slot in problem.slots if not slot.options]
    assert len(empty_meals(problem)) == len(meals)
    named = {reason.split(":")[0] for reason in failing_windows(problem)}
    expected = {
        ", ".join(
            [
                problem.clients[problem.groups[g].client].name,
                *(str(problem.scenario.date_of(day)) for day in problem.groups[g].days),
            ]
        )
        for g in empty
    }
    assert named == expected


@pytest.mark.parametrize("seed", [3, 6, 8])
def test_there_is_always_a_reason(seed: int) -> None:
    """Whatever the kitchen, even one whose meals menus cannot stand for, something is said."""
    assert lone_failures(random_kitchen(seed, one_dish=False).problem, EXACT)
