"""Containers: every portion in its boxes, and nothing else."""

from __future__ import annotations

from collections import defaultdict
from datetime import date
from pathlib import Path

import pytest

from audit import handmade, handmade_plan
from planopt.cookday.containers import containers_of
from planopt.cookday.records import Container
from planopt.plan.records import Plan
from report_samples import sample_catalog, sample_plan, sample_scenario

ROOT = Path(__file__).resolve().parents[2]


def _handmade() -> tuple[Container, ...]:
    return containers_of(handmade_plan.plan(), handmade.catalog(), handmade.scenario())


def _sample() -> tuple[Container, ...]:
    return containers_of(sample_plan(), sample_catalog(), sample_scenario())


def test_parts_that_are_kept_apart_have_boxes_of_their_own() -> None:
    """Ana's fish of day 1 is 1.5 of 6 servings: a hot box, and one with 15 x 1.5 / 6 g parsley."""
    boxes = [box for box in _sample() if (box.client_id, box.day, box.meal) == ("ana", 1, "dinner")]
    main, topping = boxes
    assert (main.part, main.serve, main.parts_of_portion) == ("main", "reheated", 2)
    assert (topping.part, topping.serve, topping.parts_of_portion) == ("cold_topping", "cold", 2)
    assert (main.grams, topping.grams) == ((900 + 337.5) * 1.5 / 6, 3.75)
    assert main.share_of_part == topping.share_of_part == 0.25
    # Parsley: 36 kcal in 100 g.
    assert topping.nutrients["energy_kcal"] == pytest.approx(36 * 0.0375)


def test_fridge_freezer_dates_and_names() -> None:
    """A frozen portion is eaten within a day of thawing; its parts stay with it."""
    boxes = {(box.client_id, box.day, box.meal, box.part): box for box in _sample()}
    kept = boxes["ben", 1, "dinner", "main"]
    assert (kept.stored, kept.use_by, kept.thaw_on) == ("fridge", date(2027, 1, 6), None)
    assert kept.freeze_by is None
    for part in ("main", "cold_topping"):
        frozen = boxes["ben", 2, "dinner", part]
        assert (frozen.stored, frozen.use_by) == ("freezer", date(2027, 1, 5))
        assert frozen.freeze_by == frozen.cooked_on == date(2027, 1, 3)
        assert frozen.thaw_on == date(2027, 1, 4)
    assert (kept.client_name, kept.recipe_name) == ("Ben", "Fish and potato bake")
    assert (kept.cooked_on, kept.date, kept.version) == (
        date(2027, 1, 3), date(2027, 1, 4), "0=haddock",
    )  # fmt: skip


@pytest.mark.parametrize(
    ("thawed_days", "use_by"), [(1, date(2027, 1, 5)), (2, date(2027, 1, 6)), (9, date(2027, 1, 7))]
)
def test_days_after_thawing_are_data_and_never_more_than_fresh(
    thawed_days: int, use_by: date
) -> None:
    """Thawed on 4 January and kept 3 days fresh: the limit's own days, or 7 January at most."""
    catalog = sample_catalog()
    limit = catalog.storage_limits["cooked_fish"].model_copy(update={"thawed_days": thawed_days})
    changed = catalog.model_copy(update={"storage_limits": {"cooked_fish": limit}})
    boxes = containers_of(sample_plan(), changed, sample_scenario())
    assert {box.use_by for box in boxes if box.stored == "freezer"} == {use_by}


def test_boxes_are_numbered_in_the_order_of_packing() -> None:
    """Cook day, then client as the scenario lists them, day, meal, main part first."""
    boxes = _handmade()
    assert [box.number for box in boxes] == list(range(1, len(boxes) + 1))
    keys = [(box.cook_day, box.client_id, box.day) for box in boxes]
    assert keys == sorted(keys)
    assert {box.client_id for box in boxes} == {"ada", "ben"}


def _check_sums(plan: Plan, boxes: tuple[Container, ...]) -> None:
    """Boxes per portion, servings, grams and nutrients agree with the plan's own figures."""
    assert sum(1 / box.parts_of_portion for box in boxes) == pytest.approx(len(plan.portions))
    grams: dict[tuple[str, str, int, str], float] = defaultdict(float)
    nutrients: dict[tuple[object, ...], float] = defaultdict(float)
    for box in boxes:
        grams[box.recipe_id, box.version, box.cook_day, box.part] += box.grams
        portion = (box.client_id, box.day, box.meal, box.recipe_id, box.version, box.cook_day)
        for nutrient_id, amount in box.nutrients.items():
            nutrients[(*portion, nutrient_id)] += amount
    for batch in plan.batches:
        eaten = batch.servings_eaten / batch.servings
        for part in {line.part for line in batch.lines}:
            cooked = sum(line.grams for line in batch.lines if line.part == part)
            key = (batch.recipe_id, batch.version, batch.cook_day, part)
            assert grams[key] == pytest.approx(cooked * eaten)
    for one in plan.portions:
        key = (one.client_id, one.day, one.meal, one.recipe_id, one.version, one.cook_day)
        for nutrient_id, amount in one.nutrients.items():
            assert nutrients[(*key, nutrient_id)] == pytest.approx(amount, abs=1e-6)


def test_boxes_add_up_to_the_plan_written_by_hand() -> None:
    """Counts to portions, grams to the eaten share of the batches, nutrients to the portions'."""
    _check_sums(handmade_plan.plan(), _handmade())


def test_allergens_are_those_of_the_foods_in_the_version_cooked() -> None:
    """The fish is haddock and shows fish; the lentil soup shows none, the pots show milk."""
    by_recipe = {box.recipe_id: box for box in _handmade() if box.part == "main"}
    catalog = handmade.catalog()
    for recipe_id, box in by_recipe.items():
        lines = {
            line.food_id
            for batch in handmade_plan.plan().batches
            if (batch.recipe_id, batch.version) == (recipe_id, box.version)
            for line in batch.lines
        }
        expected = {a for food_id in lines for a in catalog.foods[food_id].allergens}
        assert set(box.allergens_of_dish) == expected
    assert {box.allergens_of_dish for box in by_recipe.values()} == {(), ("milk",), ("fish",)}


def test_a_box_names_the_allergens_of_its_own_part_and_of_the_whole_dish() -> None:
    """Milk in a topping is in the topping's box, and a warning on every box of the dish."""
    catalog = sample_catalog()
    parsley = catalog.foods["parsley"].model_copy(update={"allergens": ("milk",)})
    catalog = catalog.model_copy(update={"foods": {**catalog.foods, "parsley": parsley}})
    boxes = containers_of(sample_plan(), catalog, sample_scenario())
    main, topping = (
        box for box in boxes if (box.client_id, box.day, box.meal) == ("ana", 1, "dinner")
    )
    assert (main.allergens, main.allergens_of_dish) == ((), ("milk",))
    assert (topping.allergens, topping.allergens_of_dish) == (("milk",), ("milk",))


def test_a_portion_of_nothing_cooked_is_refused() -> None:
    """A plan that was never audited may serve what it does not cook; no box is made up for it."""
    plan = sample_plan()
    broken = plan.model_copy(update={"batches": plan.batches[:1]})
    with pytest.raises(ValueError, match="ana eats mash base of cook day 0, which the plan does"):
        containers_of(broken, sample_catalog(), sample_scenario())
