"""Nutrition of every recipe by another route: SR28 rows, merged and summed with pandas in Decimal.

Source: USDA SR28 by the copied rows in `data/sr28_excerpt.csv`, not by the catalog's own numbers.
"""

from __future__ import annotations

from decimal import Decimal
from itertools import product
from typing import Any

import pandas as pd
import pytest

from planopt.catalog.quantities import Quantities
from planopt.problem.dishes import dishes_of
from planopt.scenario.records import Scenario
from published.catalogtables import CATALOGS, recipes, shipped
from published.dietproblems import DATA

# The international pound and the US customary cup, written out again on purpose.
MASS_G = {
    "g": Decimal(1),
    "kg": Decimal(1000),
    "oz": Decimal("28.349523125"),
    "lb": Decimal("453.59237"),
}
VOLUME_ML = {
    "ml": Decimal(1),
    "l": Decimal(1000),
    "cup": Decimal("236.5882365"),
    "tbsp": Decimal("14.78676478125"),
    "tsp": Decimal("4.92892159375"),
}
TSP_PER_SPOON = {"cup": Decimal(48), "tbsp": Decimal(3), "tsp": Decimal(1)}
SCENARIO = Scenario.model_validate(
    {
        "name": "Any",
        "start_date": "2026-11-30",
        "cook_days": [{"day": 1}],
        "clients": [{"id": "any", "name": "Any"}],
    }
)


def read_text(path: str) -> pd.DataFrame:
    """Return a catalog table as text cells."""
    return pd.read_csv(CATALOGS / path, dtype=str, keep_default_na=False)


FOODS = read_text("foods.csv").set_index("food_id")
MEASURES = read_text("measures.csv")
YIELDS = read_text("yields.csv").set_index(["food_id", "state"])["grams_per_g"]
NUTRIENTS = list(read_text("nutrients.csv")["nutrient_id"])


def sr28_long() -> pd.DataFrame:
    """Return the copied SR28 rows as (ndb_no, nutrient, value); unknown values are left out."""
    wide = pd.read_csv(DATA / "sr28_excerpt.csv", dtype=str, keep_default_na=False)
    long = wide.melt("ndb_no", NUTRIENTS, var_name="nutrient", value_name="value")
    long = long[long["value"] != ""].copy()
    long["value"] = long["value"].map(Decimal)
    return long


SR28 = sr28_long()


def measure(food: str, unit: str, state: str) -> Decimal | None:
    """Return the grams of one household unit by the measures table."""
    own = FOODS.at[food, "state"]
    rows = MEASURES[
        (MEASURES["food_id"] == food)
        & MEASURES["state"].isin({state, ""} if state == own else {state})
    ].set_index("unit")["grams"]
    if unit in rows.index:
        return Decimal(rows[unit])
    if unit in TSP_PER_SPOON:
        for other in ("cup", "tbsp", "tsp"):
            if other in rows.index:
                return Decimal(rows[other]) * TSP_PER_SPOON[unit] / TSP_PER_SPOON[other]
    return None


def line_grams(line: dict[str, Any]) -> Decimal:
    """Return a line's grams of its food as listed, edible part."""
    food, unit, own = line["food"], line["unit"], FOODS.at[line["food"], "state"]
    state = line.get("state") or own
    amount = Decimal(str(line["amount"]))
    if unit in MASS_G:
        grams = amount * MASS_G[unit]
    else:
        each = measure(food, unit, state)
        if each is None:
            each = VOLUME_ML[unit] * Decimal(FOODS.at[food, "density_g_per_ml"])
        grams = amount * each
    return grams if state == own else grams / Decimal(YIELDS[food, state])


def versions(recipe: dict[str, Any]) -> dict[str, pd.DataFrame]:
    """Return, by the version's name, a table of (food_id, grams) for one batch."""
    choices = []
    for index, line in enumerate(recipe["lines"]):
        grams = line_grams(line)
        options: list[tuple[str, str | None, Decimal]] = [("", line["food"], grams)]
        for other in line.get("alternatives", ()):
            ratio = Decimal(str(other.get("ratio", 1)))
            options.append((f"{index}={other['food']}", other["food"], grams * ratio))
        if line.get("optional"):
            options.append((f"{index}-", None, Decimal(0)))
        choices.append(options)
    found = {}
    for chosen in product(*choices):
        name = "+".join(word for word, _, _ in chosen if word) or "base"
        found[name] = pd.DataFrame(
            [(food, grams) for _, food, grams in chosen if food], columns=["food_id", "grams"]
        )
    return found


def nutrition(lines: pd.DataFrame, servings: Decimal) -> dict[str, Decimal]:
    """Return nutrients per serving by merging grams with SR28."""
    merged = lines.merge(
        FOODS[["sr28_ndb_no"]], left_on="food_id", right_index=True, validate="many_to_one"
    ).merge(SR28, left_on="sr28_ndb_no", right_on="ndb_no")
    merged["part"] = merged["grams"] * merged["value"] / 100 / servings
    sums = merged.groupby("nutrient")["part"].sum()
    return {nutrient: Decimal(sums.get(nutrient, 0)) for nutrient in NUTRIENTS}


@pytest.mark.parametrize("recipe_id", recipes())
def test_recipe_nutrition_agrees_with_sr28(recipe_id: str) -> None:
    """USDA SR28: every version's nutrients per serving are the sum of its grams of SR28 food."""
    catalog = shipped()
    recipe = recipes()[recipe_id]
    expected = versions(recipe)
    dishes = dishes_of(catalog.recipes[recipe_id], catalog, SCENARIO, Quantities(catalog))
    assert [dish.version for dish in dishes] == list(expected)
    servings = Decimal(str(recipe["yield_servings"]))
    for dish in dishes:
        by_sr28 = nutrition(expected[dish.version], servings)
        groups = catalog.amounts.keys() - catalog.nutrients.keys()
        assert set(dish.nutrients) - groups == set(by_sr28)
        for nutrient, value in by_sr28.items():
            assert dish.nutrients[nutrient] == pytest.approx(float(value), abs=1e-6), nutrient
        grams = expected[dish.version].groupby("food_id")["grams"].sum()
        assert dish.grams == pytest.approx({food: float(g) for food, g in grams.items()}, abs=1e-6)
