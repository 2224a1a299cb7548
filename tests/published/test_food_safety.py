"""Keeping times and cooking temperatures against published food-safety tables.

Sources: FoodSafety.gov Cold Food Storage Chart and safe minimum internal temperatures; USDA FSIS
leftovers guidance; FDA egg storage chart; FDA Food Code 3-501.17 (date marking) as adopted. Freezer
months are for quality. Only rows whose source was seen count as a pass-or-fail test.
"""

from __future__ import annotations

import re
from typing import Any

import pytest

from planopt.plan.cautions import STANDING
from planopt.problem.dishes import keeping_days
from planopt.scenario.records import Scenario
from published.catalogtables import (
    catalog_rows,
    foods,
    foods_of,
    published_rows,
    recipes,
    shipped,
    sr28,
    steps_text,
)
from published.dietproblems import rows_of

CHART = published_rows("cold_storage.csv", "food")
TEMPERATURES = published_rows("min_internal_temps.csv", "food")
LIMITS = {row["kind"]: row for row in catalog_rows("storage_limits")}
NO_SOURCE = "common practice, no source"
ROW_OF_KIND = {
    "soups_and_stews": "soups and stews with vegetables or meat",
    "cooked_meat_or_poultry": "leftover cooked meat or poultry",
    "cooked_fish_or_shellfish": "cooked fish or shellfish",
    "egg_casserole": "casserole with eggs, baked",
    "quiche": "quiche, baked",
    "hard_cooked_eggs": "hard-cooked eggs",
    "deli_salad": "egg, chicken, ham, tuna, macaroni salad",
    "pizza": "pizza, cooked",
    # The chart has no rows of their own; the general rule for leftovers is applied.
    "leftovers_in_general": "leftovers in general",
    "cooked_vegetables": "leftovers in general",
    "cooked_grains_and_beans": "leftovers in general",
}
# Baked through, or dry, so that the rules for chilled ready-to-eat food do not bind.
DRY_KINDS = {"baked_goods", "energy_bites", "dry_snack"}
ROW_OF_CLASS = {
    "poultry": "poultry, all cuts, ground, giblets, stuffing",
    "ground_meat": "ground beef, pork, veal, lamb",
    "whole_meat": "beef, veal, lamb steaks/roasts/chops",
    "fish": "fin fish",
    "egg": "egg dishes",
    "reheating": "leftovers and casseroles",
}
# A dish that sets many foods in one deep tin is a casserole.
CASSEROLES = {
    "lamb_lentil_shepherds_pie",
    "vegetable_pasta_lasagne_bake",
    "black_bean_tortilla_bake",
}


def published_limits(kind: str) -> tuple[float, float, float, float]:
    """Return the chart's fridge days and freezer months, shortest and longest; blank = 0.

    A freezer column with one end only counts as that figure at both ends.
    """
    row = CHART[ROW_OF_KIND[kind]]
    months = row["freezer_months_max"] or "0"
    return (
        float(row["fridge_days_min"]),
        float(row["fridge_days_max"]),
        float(row["freezer_months_min"] or months),
        float(months),
    )


@pytest.mark.parametrize("kind", ROW_OF_KIND)
def test_storage_limit_is_the_published_one(kind: str) -> None:
    """FoodSafety.gov, USDA FSIS, FDA: fridge days and freezer months are those of the chart."""
    row = LIMITS[kind]
    ours = tuple(
        float(row[name])
        for name in (
            "fridge_days_shortest",
            "fridge_days_longest",
            "freezer_months_shortest",
            "freezer_months_longest",
        )
    )
    assert ours == published_limits(kind)
    assert row["source"] != NO_SOURCE


def test_kinds_without_a_published_row_say_so() -> None:
    """Common practice, no source: every other kind is marked, and none of them is frozen long."""
    for kind in set(LIMITS) - set(ROW_OF_KIND):
        assert LIMITS[kind]["source"] == NO_SOURCE, kind
        assert float(LIMITS[kind]["freezer_months_longest"]) <= 3, kind


@pytest.mark.parametrize("recipe_id", recipes())
def test_recipe_keeps_no_longer_than_its_published_kind(recipe_id: str) -> None:
    """FoodSafety.gov, USDA FSIS, FDA: a recipe's own days and months stay within its chart row."""
    keeps = recipes()[recipe_id]["keeps"]
    row = LIMITS[keeps["kind"]]
    assert keeps["fridge_days"] <= int(row["fridge_days_longest"])
    assert keeps.get("freezer_months", 0) <= float(row["freezer_months_longest"])
    if keeps["kind"] not in DRY_KINDS:
        # FDA Food Code 3-501.17: seven days with the day of preparation as day 1.
        assert keeps["fridge_days"] <= 6


def _week(rule: str) -> Scenario:
    return Scenario.model_validate(
        {
            "name": "Any",
            "start_date": "2026-11-30",
            "cook_days": [{"day": 1}],
            "clients": [{"id": "any", "name": "Any"}],
            "keeping_rule": rule,
        }
    )


@pytest.mark.parametrize("rule", ["shortest", "longest"])
def test_plans_use_the_stricter_of_recipe_and_chart(rule: str) -> None:
    """FoodSafety.gov: with either rule no dish outlives the chart in fridge or freezer."""
    catalog = shipped()
    scenario = _week(rule)
    for recipe in catalog.recipes.values():
        if recipe.keeps.kind in ROW_OF_KIND:
            foods_in_it = [line.food for line in recipe.lines]
            fridge, freezer = keeping_days(recipe, catalog, scenario, foods_in_it)
            least, most, months_least, months_most = published_limits(recipe.keeps.kind)
            assert fridge <= (least if rule == "shortest" else most)
            assert freezer <= 30 * (months_least if rule == "shortest" else months_most)


def group_of(food: str) -> str:
    """Return the SR28 food group of a food."""
    return sr28()[foods()[food]["sr28_ndb_no"]]["food_group"]


def expected_class(food: str) -> str | None:
    """Return the temperature class of a raw animal food by its SR28 group and description."""
    description = foods()[food]["sr28_description"].lower()
    group = group_of(food)
    if foods()[food]["state"] != "raw":
        return None
    if group == "Poultry Products":
        return "poultry"
    if group in ("Beef Products", "Pork Products", "Lamb, Veal, and Game Products"):
        return "ground_meat" if "ground" in description else "whole_meat"
    if group == "Finfish and Shellfish Products":
        return "fish"
    return "egg" if description.startswith("egg, whole, raw") else None


def test_every_raw_animal_food_has_its_temperature_class() -> None:
    """FoodSafety.gov: raw poultry, meat, fish and eggs carry the class of the published table."""
    for food, row in foods().items():
        assert (row["safe_temperature"] or None) == expected_class(food), food


GROUPS = {row["group"]: row for row in catalog_rows("safety_groups")}
# SR28 food group -> safety groups that its foods may have; others are free to have any.
GROUPS_OF_SR28 = {
    "Poultry Products": {"poultry"},
    "Beef Products": {"ground_meat", "whole_meat"},
    "Pork Products": {"ground_meat", "whole_meat"},
    "Lamb, Veal, and Game Products": {"ground_meat", "whole_meat"},
    "Finfish and Shellfish Products": {"fish", "shellfish"},
    "Sausages and Luncheon Meats": {"cooked_meat", "ground_meat"},
    "Vegetables and Vegetable Products": {"produce", "grains_and_beans", "none"},
}


def test_every_food_has_the_safety_group_of_its_place_in_the_food_table() -> None:
    """USDA SR28: animal foods are in the group that their part of the food table belongs to."""
    seen = set()
    for food, row in foods().items():
        expected = GROUPS_OF_SR28.get(group_of(food))
        if expected is not None:
            assert row["safety_group"] in expected, food
            seen.add(group_of(food))
        description = row["sr28_description"].lower()
        if re.match(r"(milk|cheese|yogurt|cream),", description):
            assert row["safety_group"] == "dairy", food
        if re.match(r"(rice|lentils|beans, (?!snap)|pasta|quinoa|barley),", description):
            assert row["safety_group"] == "grains_and_beans", food
        if row["storage"] == "fridge" and row["aisle"] == "produce":
            assert row["safety_group"] == "produce", food
    assert len(seen) >= 6


def test_groups_ask_what_the_published_tables_ask() -> None:
    """FoodSafety.gov, USDA FSIS, FDA: classes are those of raw foods, kinds those of the chart."""
    for food, row in foods().items():
        if row["safe_temperature"]:
            group = GROUPS[row["safety_group"]]
            assert group["temperature_class"] == row["safe_temperature"], food
    for group, row in GROUPS.items():
        first = row["kinds"].split("|")[0]
        assert first in ROW_OF_KIND, f"{group} is limited by a kind that nobody published"
        assert published_limits(first)[1] <= 4
        assert row["source"]
    animal = {name for name, row in GROUPS.items() if row["temperature_class"]}
    assert animal == {
        "poultry", "ground_meat", "whole_meat", "cooked_meat", "fish", "shellfish", "egg",
    }  # fmt: skip


def test_no_label_of_a_recipe_outlasts_its_foods() -> None:
    """FoodSafety.gov, USDA FSIS, FDA: relabelled dry, each shipped dish keeps as its foods do."""
    catalog = shipped()
    checked = 0
    for recipe in catalog.recipes.values():
        held = [line.food for line in recipe.lines]
        groups = {catalog.foods[food].safety_group for food in held} & {
            name for name, row in GROUPS.items() if row["temperature_class"]
        }
        if not groups:
            continue
        keeps = recipe.keeps.model_copy(
            update={"kind": "dry_snack", "fridge_days": 28, "freezer_months": 12}
        )
        relabelled = recipe.model_copy(update={"keeps": keeps})
        for rule in ("shortest", "longest"):
            fridge, _ = keeping_days(relabelled, catalog, _week(rule), held)
            assert fridge <= (3 if rule == "shortest" else 4), recipe.recipe_id
        checked += 1
    assert checked >= 30


@pytest.mark.parametrize("row", catalog_rows("safe_temperatures"), ids=lambda row: row["class"])
def test_safe_temperature_is_the_published_one(row: dict[str, str]) -> None:
    """FoodSafety.gov safe minimum internal temperatures: C, F and rest of each class agree."""
    published = TEMPERATURES[ROW_OF_CLASS[row["class"]]]
    assert float(row["internal_f"]) == float(published["temp_f"])
    assert float(row["internal_c"]) == float(published["temp_c"])
    assert float(row["rest_minutes"]) == float(published["rest_min"])
    celsius = (float(published["temp_f"]) - 32) * 5 / 9
    assert float(row["internal_c"]) == pytest.approx(celsius, abs=0.05)


def hottest(recipe: dict[str, Any]) -> float:
    """Return the highest internal temperature that a recipe's steps ask for, 0 if none."""
    return max((step.get("until_internal_c") or 0.0 for step in recipe["steps"]), default=0.0)


@pytest.mark.parametrize("recipe_id", recipes())
def test_recipe_cooks_its_animal_food_through(recipe_id: str) -> None:
    """FoodSafety.gov: the hottest step reaches the published minimum of every raw animal food."""
    recipe = recipes()[recipe_id]
    for food in foods_of(recipe):
        kind = expected_class(food)
        if kind is not None:
            published = TEMPERATURES[ROW_OF_CLASS[kind]]
            assert hottest(recipe) >= float(published["temp_c"]), food
    if recipe_id in CASSEROLES:
        assert hottest(recipe) >= float(TEMPERATURES["leftovers and casseroles"]["temp_c"])


def test_whole_cuts_rest_three_minutes() -> None:
    """FoodSafety.gov: a whole cut taken to 145 F only is told to rest for three minutes."""
    resting = 0
    for recipe_id, recipe in recipes().items():
        whole = any(expected_class(food) == "whole_meat" for food in foods_of(recipe))
        if whole and hottest(recipe) < 71:
            assert re.search(r"rest .{0,25}\b3 minutes", steps_text(recipe)), recipe_id
            resting += 1
    assert resting >= 2


def test_cooked_dishes_are_chilled_within_two_hours() -> None:
    """USDA/CDC consumer guidance: cooked dishes are chilled, and no step allows over two hours."""
    rule = next(r for r in rows_of("food_safety_rules.csv") if r["rule"].startswith("time out"))
    assert rule["time"].startswith("2 h")
    for recipe_id, recipe in recipes().items():
        equipment = recipe.get("equipment") or {}
        if recipe["keeps"]["kind"] in ROW_OF_KIND and (
            "oven" in equipment or equipment.get("hob_minutes", 0)
        ):
            text = steps_text(recipe)
            assert re.search(r"\bchill|\bfridge", text), recipe_id
            stated = set(re.findall(r"within (\w+ \w+)", text))
            assert stated <= {"two hours", "an hour"}, recipe_id


def test_cautions_state_the_published_temperatures() -> None:
    """FoodSafety.gov, USDA/CDC: fridge 40 F, freezer 0 F, reheating 165 F, two hours or one hot."""
    text = " ".join(STANDING)
    for stated in ("4 C (40 F)", "-18 C (0 F)", "74 C (165 F)", "2 hours", "1 hour above", "90 F"):
        assert stated in text
    assert TEMPERATURES["leftovers and casseroles"]["temp_f"] == "165"


RAW_ROWS = {
    "poultry": "poultry pieces, raw",
    "ground_meat": "ground meat or poultry, raw",
    "whole_meat": "chops, raw",
    "fish": "lean fish, raw",
    "egg": "eggs in shell, raw",
}


def test_raw_animal_food_is_bought_no_earlier_than_the_chart_allows() -> None:
    """FoodSafety.gov Cold Food Storage Chart: raw food keeps at most the chart's longest days."""
    # Shellfish has no row and is held to that of fish.
    for food, row in foods().items():
        kind = expected_class(food)
        if kind is None or row["storage"] != "fridge":
            continue
        name = "bacon" if food == "bacon" else RAW_ROWS[kind]
        if "ground" in row["sr28_description"].lower():
            name = "ground meat or poultry, raw"
        most = int(CHART[name]["fridge_days_max"])
        assert int(row["keeps_days"]) <= most, food
        assert int(row["opened_keeps_days"]) <= most, food
    ham = foods()["ham_sliced"]
    assert int(ham["keeps_days"]) <= int(CHART["lunch meat, unopened"]["fridge_days_max"])
    assert int(ham["opened_keeps_days"]) <= int(
        CHART["lunch meat, opened or deli sliced"]["fridge_days_max"]
    )
