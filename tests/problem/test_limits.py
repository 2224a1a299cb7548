"""Limits: taken apart and put together they are the same scenario; each can be left out."""

from __future__ import annotations

from pathlib import Path

import pytest

from kitchens import tiny_client, write_kitchen
from planopt.problem.build import build_problem
from planopt.problem.limits import (
    Limit,
    LimitKey,
    least_value,
    limits_of,
    with_limits,
)
from planopt.scenario.reading.load import Kitchen, load_kitchen
from planopt.solve.highs.daymodel import build_plain


@pytest.fixture
def kitchen(tmp_path: Path) -> Kitchen:
    """Return a kitchen that has every kind of limit."""
    ana = tiny_client(
        windows_on_days={2: {"protein_g": {"min": 50}}},
        day_patterns={"full": {"protein_g": {"min": 75}}},
        pattern_days={"full": [2, 3]},
        windows_per_week={"sodium_mg": {"max": 9000}},
        allergens=["wheat"],
        excluded_foods=["milk_whole"],
        excluded_recipes=["egg_rice"],
        dislikes={"onion": 1},
        wants={"egg": 1},
        recipe_servings={"lentil_soup": {"min": 1, "max": 5}},
        away={"meals": {3: ["dinner", "snack"]}},
        least_different_recipes=2,
    )
    cook = {"day": 1, "hands_on_minutes": 90, "oven_minutes": 60, "hob_minutes": 200}
    return load_kitchen(
        write_kitchen(
            tmp_path,
            meals=["lunch", "dinner", "snack"],
            budget="40.00",
            cook_days=[{**cook, "most_recipes": 5}],
            clients=[ana],
        )
    )


def test_all_limits_together_are_the_scenario(kitchen: Kitchen) -> None:
    """The problem built with all limits has the same options, windows and limits."""
    scenario = kitchen.scenario
    whole = with_limits(scenario, limits_of(scenario))
    one, two = build_problem(kitchen.catalog, scenario), build_problem(kitchen.catalog, whole)
    assert (one.slots, one.groups, one.supplies) == (two.slots, two.groups, two.supplies)
    assert set(limits_of(whole)) == set(limits_of(scenario))


def test_there_is_a_limit_of_every_kind(kitchen: Kitchen) -> None:
    """Nothing that a user may write as a limit is missed; windows stand by day and side."""
    limits = limits_of(kitchen.scenario)
    assert len(limits) == len(set(limits))
    assert {limit.key.kind for limit in limits} == {
        "budget", "window", "repeats", "variety", "dislike", "want", "servings", "oven_minutes",
        "hands_on_minutes", "hob_minutes", "most_recipes", "allergen", "excluded_food",
        "excluded_recipe", "energy_floor", "meal_window",
    }  # fmt: skip
    protein = {limit.key.day: limit.value for limit in limits if limit.key.what == "protein_g"}
    # Day 3 is a full one with one of three meals here, so it asks for a third of 75 g.
    assert protein == {1: 60.0, 2: 50.0, 3: 25.0}


def test_each_limit_can_be_left_out_alone(kitchen: Kitchen) -> None:
    """Without one limit the scenario has all the others, and not that one."""
    limits = limits_of(kitchen.scenario)
    for limit in limits:
        rest = set(limits) - {limit}
        assert set(limits_of(with_limits(kitchen.scenario, rest))) == rest


def test_the_day_by_day_model_has_rows_for_every_limit_but_exclusions(kitchen: Kitchen) -> None:
    """Limits that take options away need no row; every other limit can be found in the arrays.

    The energy floor is never moved, so nothing asks for its rows, which it shares with windows.
    """
    model = build_plain(build_problem(kitchen.catalog, kitchen.scenario))
    rows = model.kitchen.limit_rows
    bare = {"allergen", "excluded_food", "excluded_recipe", "energy_floor"}
    for limit in limits_of(kitchen.scenario):
        assert (limit.key in rows) == (limit.key.kind not in bare), limit.key
    (budget,) = rows[LimitKey("budget")]
    assert model.matrix.row_upper[budget] == 40.0
    (protein,) = rows[LimitKey("window", "ana", "protein_g", 2, "min")]
    assert model.matrix.row_lower[protein] == 50.0


@pytest.mark.parametrize(
    ("key", "value", "least"),
    [
        (LimitKey("window", "ana", "energy_kcal", 1, "min"), 1500.0, 1200.0),
        (LimitKey("window", "ana", "energy_kcal", 1, "min"), 1000.0, 1000.0),
        (LimitKey("window", "ana", "energy_kcal", 3, "min"), 900.0, 400.0),
        (LimitKey("window", "ana", "energy_kcal", side="min"), 4000.0, 2800.0),
        (LimitKey("window", "ana", "protein_g", 1, "min"), 60.0, 0.0),
    ],
)
def test_energy_is_never_moved_below_its_floor(
    kitchen: Kitchen, key: LimitKey, value: float, least: float
) -> None:
    """1,200 kcal for a whole day, a third where one of three meals is eaten here, summed over days.

    The line is a cautious choice of this program, as the guide says.
    """
    assert least_value(kitchen.scenario, Limit(key, value)) == pytest.approx(least)


def test_exclusions_are_never_relaxed() -> None:
    """Allergens, exclusions and foods that are liked in no meal are not offered."""
    for kind in ("allergen", "excluded_food", "excluded_recipe", "energy_floor"):
        assert not Limit(LimitKey(kind, "ana", "egg")).relaxable  # type: ignore[arg-type]
    assert not Limit(LimitKey("dislike", "ana", "egg"), 0).relaxable
    assert Limit(LimitKey("dislike", "ana", "egg"), 1).relaxable
