"""Trade rules of thumb as sanity checks of the catalog: common practice, no source.

A cup of dry white rice takes about one and a half cups of water in a rice cooker and makes about
three cups; fish fillets in a medium-hot pan take four to five minutes a side, until opaque and
flaky; half a cup of cooked rice is a usual bowl portion. The bands are judgements.
"""

from __future__ import annotations

import re
from decimal import Decimal

import pytest

from planopt.catalog.quantities import Quantities
from published.catalogtables import catalog_rows, foods, foods_of, recipes, shipped

CUP_ML = 236.5882365
# Share of a recipe's water that its steps give to the white rice.
RICE_WATER = {
    "beef_black_bean_stuffed_peppers": 1.0,
    "beef_broccoli_ginger_rice": 4 / 5,
    "chicken_coconut_curry_rice": 1.0,
    "red_lentil_dal_rice": 1 / 3,
    "smoky_shrimp_tomato_rice": 1.0,
}


def grams(food: str, unit: str, state: str = "") -> float:
    """Return the grams of a household measure of the catalog."""
    return next(
        float(row["grams"])
        for row in catalog_rows("measures")
        if (row["food_id"], row["unit"], row["state"]) == (food, unit, state)
    )


def grams_per_g(food: str) -> float:
    """Return the cooked yield of a food."""
    return next(
        float(row["grams_per_g"])
        for row in catalog_rows("yields")
        if (row["food_id"], row["state"]) == (food, "cooked")
    )


def test_a_cup_of_rice_takes_up_a_cup_and_a_half_of_water() -> None:
    """Common practice, no source: cup weight and yield make 1.5 cups of water taken up, +-10%."""
    cup = grams("rice_white_long", "cup")
    water = cup * (grams_per_g("rice_white_long") - 1) / CUP_ML
    assert water == pytest.approx(1.5, rel=0.10)


def test_a_cup_of_rice_makes_three_cups() -> None:
    """Common practice, no source: a dry cup makes about three cooked cups, +-15%."""
    cooked = grams("rice_white_long", "cup") * grams_per_g("rice_white_long")
    assert cooked / grams("rice_white_long", "cup", "cooked") == pytest.approx(3.0, rel=0.15)


def line_grams(recipe_id: str, food: str) -> float:
    """Return the grams of one food in a batch of a recipe, as the food is listed."""
    quantities = Quantities(shipped())
    return sum(
        quantities.line_grams(
            line["food"], Decimal(str(line["amount"])), line["unit"], line.get("state")
        )
        for line in recipes()[recipe_id]["lines"]
        if line["food"] == food
    )


@pytest.mark.parametrize("recipe_id", RICE_WATER)
def test_recipes_give_white_rice_the_usual_water(recipe_id: str) -> None:
    """Common practice, no source: a dry cup of white rice gets 1.5 cups of water, +-20%."""
    cups = line_grams(recipe_id, "rice_white_long") / grams("rice_white_long", "cup")
    water = line_grams(recipe_id, "water") * RICE_WATER[recipe_id] / CUP_ML
    assert water / cups == pytest.approx(1.5, rel=0.20)


def test_servings_hold_a_usual_portion_of_rice() -> None:
    """Common practice, no source: half a cup of cooked rice is usual, half to thrice passes."""
    checked = 0
    for recipe_id, recipe in recipes().items():
        for rice in {"rice_white_long", "rice_brown_long"} & set(foods_of(recipe)):
            cooked = line_grams(recipe_id, rice) * grams_per_g(rice)
            cups = cooked / grams(rice, "cup", "cooked") / recipe["yield_servings"]
            assert 0.25 <= cups <= 1.5, recipe_id
            checked += 1
    assert checked >= 8


def test_half_a_cup_of_rice_has_the_energy_of_its_cooked_row() -> None:
    """Common practice, no source: half a cup of cooked white rice is about 100 kcal, +-10%."""
    raw = grams("rice_white_long", "cup", "cooked") / 2 / grams_per_g("rice_white_long")
    energy = raw / 100 * float(foods()["rice_white_long"]["energy_kcal"])
    assert energy == pytest.approx(100, rel=0.10)


FISH = {
    food
    for food, row in foods().items()
    if row["sr28_description"].startswith("Fish,") and row["state"] == "raw"
}
WITH_FILLETS = [recipe_id for recipe_id, recipe in recipes().items() if FISH & {*foods_of(recipe)}]


@pytest.mark.parametrize("recipe_id", WITH_FILLETS)
def test_fillets_cook_until_opaque_or_flaky(recipe_id: str) -> None:
    """Common practice, no source: fillets pan-fry 4-5 minutes a side, till opaque or flaky."""
    # Both sides together take 8 to 10 minutes; an oven may take up to twice the lower figure.
    step = next(step for step in recipes()[recipe_id]["steps"] if step.get("until_internal_c"))
    text = step["do"].lower()
    assert re.search(r"opaque|flak", text)
    low, high = (int(n) for n in re.findall(r"(\d+) to (\d+) minutes", text)[0])
    if "a side" in text:
        assert (low, high) == (4, 5)
    else:
        assert 8 <= low <= high <= 16
