"""Outlines: relaxations that decide line by line never exceed the optimum over all versions."""

from __future__ import annotations

from functools import lru_cache
from typing import Any

import pytest

from model.choicekitchens import Choices, choice_kitchen
from model.points import MONEY, optimum
from model.small import catalog, client, food, pack, recipe, scenario
from planopt.catalog.records import Catalog
from planopt.model.daymenus import one_dish_in_steps
from planopt.problem import versions
from planopt.problem.build import build_problem
from planopt.scenario.records import Scenario
from planopt.solve.bounding.relaxations import (
    loose_columns,
    merged_arrays,
    proofs_of,
    weekly_arrays,
)
from planopt.solve.highs.daymodel import build_plain

# One dish a meal or two, steps or any amount, dislikes, wants, allergens, visits, stock, a budget.
SEEDS = (0, 2, 4, 5, 10, 11, 12, 13, 14, 15, 17, 22, 24, 25, 28, 31, 36, 41)


@lru_cache
def _kitchen(seed: int) -> Choices:
    with pytest.MonkeyPatch.context() as patch:
        return choice_kitchen(seed, patch)


@lru_cache
def _least(seed: int) -> float | None:
    """Return the least cost with every version enumerated, by the model without extra rows."""
    every = _kitchen(seed).every
    if not all(slot.options for slot in every.slots):
        return None
    return optimum(build_plain(every, strengthen=False).matrix).objective


@lru_cache
def _bounds(seed: int) -> dict[str, float | None]:
    """Return the optimum of each relaxation, None where it has no point."""
    outline = _kitchen(seed).few.outline
    assert outline is not None
    found = {"plain": build_plain(outline).matrix}
    if one_dish_in_steps(outline):
        found["weekly"] = weekly_arrays(outline).matrix
        found["merged"] = merged_arrays(outline)
    return {name: optimum(matrix).objective for name, matrix in found.items()}


@pytest.mark.parametrize("seed", SEEDS)
def test_no_relaxation_of_an_outline_exceeds_the_optimum_over_all_versions(seed: int) -> None:
    """Full enumeration is the yardstick; what it can do, every relaxation can do as cheaply."""
    least = _least(seed)
    for name, bound in _bounds(seed).items():
        if least is not None:
            assert bound is not None, name
            assert bound <= least + MONEY, name


def test_most_outlines_give_nothing_up() -> None:
    """Whole steps with an option make the day-by-day model of an outline exact more often than not.

    A relaxation that bounded nothing would pass the test above.
    """
    known = [seed for seed in SEEDS if _least(seed) is not None]
    tight = 0
    for seed in known:
        bound, least = _bounds(seed)["plain"], _least(seed)
        assert bound is not None
        assert least is not None
        tight += bound > least - MONEY
    assert len(known) >= 6
    assert 2 * tight > len(known)


def test_an_outline_without_a_point_proves_that_no_version_serves() -> None:
    """Where the outline is impossible, so is every version; some seed shows it."""
    proofs = 0
    for seed in SEEDS:
        if None in _bounds(seed).values():
            assert _least(seed) is None
            proofs += 1
    assert proofs > 0


@pytest.mark.parametrize("rich", [(100,), (50, 50)])
def test_a_disliked_food_counts_once_a_meal(
    rich: tuple[int, ...], monkeypatch: pytest.MonkeyPatch
) -> None:
    """The only week has one meal with the food, on one line or two, in the largest portion.

    Three batches have the other food that it needs, so that its use is more than one unit.
    """
    lines = [
        {"food": name, "amount": grams, "unit": "g", "optional": name != "base"}
        for name, grams in (
            ("base", 200), *(("rich", half) for half in rich), ("good", 100),
            ("dull", 10), ("flat", 10), ("bland", 10),
        )
    ]  # fmt: skip
    kcal = {"base": 10.0, "rich": 300.0, "good": 200.0, "dull": 0.0, "flat": 0.0, "bland": 0.0}
    table = catalog(
        [food(name, energy) for name, energy in kcal.items()],
        [pack(name, 150, "1.00") for name in kcal],
        [recipe("bowl", {}, lines=lines)],
    )
    eater = client(
        portions={"step": 0.5, "smallest": 0.5, "largest": 1.5},
        windows_per_week={"energy_kcal": {"min": 719.9}},
        dislikes={"rich": 1},
    )
    week = scenario(days=3, clients=[eater])
    few = build_problem(table, week)
    monkeypatch.setattr(versions, "_ALL_UP_TO", 100)
    every = build_problem(table, week)
    assert every.outline is None
    assert few.outline is not None
    least = optimum(build_plain(every, strengthen=False).matrix).objective
    assert least is not None
    for matrix in (
        merged_arrays(few.outline),
        weekly_arrays(few.outline).matrix,
        build_plain(few.outline).matrix,
    ):
        bound = optimum(matrix).objective
        assert bound is not None
        assert least / 2 < bound <= least + MONEY


def _small(lines: int, **more: Any) -> Catalog:
    """Return one recipe of a food and so many optional ones, a can of each."""
    names = ["base", *(f"extra{n}" for n in range(lines))]
    rows = [
        {"food": name, "amount": 100, "unit": "g", "optional": name != "base"} for name in names
    ]
    return catalog(
        [food(name, 100.0) for name in names],
        [pack(name, 100, "1.00") for name in names],
        [recipe("bowl", {}, lines=rows, **more)],
    )


def _held(table: Catalog, week: Scenario, patch: pytest.MonkeyPatch) -> None:
    """Check that a week exists, and that the day-by-day model of the outline has one as cheap."""
    few = build_problem(table, week)
    patch.setattr(versions, "_ALL_UP_TO", 100)
    every = build_problem(table, week)
    assert every.outline is None
    assert few.outline is not None
    least = optimum(build_plain(every, strengthen=False).matrix).objective
    bound = optimum(build_plain(few.outline).matrix).objective
    assert least is not None
    assert bound is not None
    assert bound <= least + MONEY


def test_two_versions_may_be_quicker_than_two_batches_of_one(
    monkeypatch: pytest.MonkeyPatch,
) -> None:
    """A further batch takes 30 minutes, a first one 10, and there are 25: two versions it is."""
    table = _small(5, minutes={"hands_on": 10, "hands_on_per_extra_batch": 30})
    week = scenario(
        days=2,
        cook_days=[{"day": 1, "hands_on_minutes": 25}],
        clients=[client(), client("ben")],
    )
    _held(table, week, monkeypatch)


@pytest.mark.parametrize("most", [2, "any"])
def test_one_meal_may_hold_two_versions(most: int | str, monkeypatch: pytest.MonkeyPatch) -> None:
    """Two servings of one dish are too much for the largest portion; of two versions they do."""
    full = {"energy_kcal": {"min": 500.0}}
    week = scenario(
        most_dishes_per_meal=most, clients=[client(windows_per_day=full)], waste_weight=0
    )
    _held(_small(5), week, monkeypatch)


def test_the_columns_of_lines_are_whole_where_steps_are() -> None:
    """The proofs know which columns are units with an option, and keep them whole at last."""
    outline = next(
        kitchen.few.outline
        for seed in SEEDS
        if (kitchen := _kitchen(seed)).few.outline is not None
        and one_dish_in_steps(kitchen.few.outline)
        and any(dish.loose and dish.batch_step for dish in kitchen.few.outline.dishes)
    )
    assert outline is not None
    weekly = weekly_arrays(outline)
    plain = build_plain(outline)
    expected = [
        outline.dishes[cooking.dish].batch_step is not None
        for cooking in outline.cookings
        for line in outline.dishes[cooking.dish].loose
        for _ in line
    ]
    assert expected
    for matrix, columns in (
        (weekly.matrix, weekly.loose),
        (plain.matrix, loose_columns(plain.kitchen, plain.matrix)),
    ):
        assert [bool(matrix.integer[column]) for column in columns] == expected
    steps = proofs_of(outline, weekly)[1].matrix
    assert steps.integer.sum() > proofs_of(outline, weekly)[0].matrix.integer.sum()
