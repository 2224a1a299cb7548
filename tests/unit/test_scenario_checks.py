"""Checks of a scenario: the borders of what is allowed."""

from __future__ import annotations

from pathlib import Path
from typing import Any

import pytest

from kitchens import edited, tiny_catalog_files, tiny_client, write_kitchen
from planopt.faults import BadInput, Fault
from planopt.reading.files import Place
from planopt.scenario.checks.whole import check_scenario
from planopt.scenario.reading.load import load_kitchen


def faults(folder: Path, **changes: Any) -> tuple[Fault, ...]:
    """Return the faults of a changed kitchen."""
    try:
        load_kitchen(write_kitchen(folder, **changes))
    except BadInput as error:
        return error.faults
    return ()


def codes(folder: Path, **changes: Any) -> list[str]:
    """Return the fault codes of a changed kitchen."""
    return [fault.code for fault in faults(folder, **changes)]


def client_codes(folder: Path, **changes: Any) -> list[str]:
    """Return the fault codes of a kitchen whose client is changed."""
    return codes(folder, clients=[tiny_client(**changes)])


def client_fields(folder: Path, **changes: Any) -> list[tuple[str, str]]:
    """Return code and field of the faults of a changed client."""
    found = faults(folder, clients=[tiny_client(**changes)])
    return [(fault.code, fault.field.removeprefix("clients[0].")) for fault in found]


@pytest.mark.parametrize(
    ("changes", "code", "field"),
    [
        ({"allergens": ["mlik"]}, "unknown_allergen", "allergens[0]"),
        ({"excluded_foods": ["eg"]}, "unknown_food", "excluded_foods[0]"),
        ({"dislikes": {"eg": 1}}, "unknown_food", "dislikes.eg"),
        ({"wants": {"eg": 1}}, "unknown_food", "wants.eg"),
        ({"excluded_recipes": ["soup"]}, "unknown_recipe", "excluded_recipes[0]"),
        ({"recipe_servings": {"soup": {}}}, "unknown_recipe", "recipe_servings.soup"),
        ({"windows_per_day": {"fat": {}}}, "unknown_nutrient", "windows_per_day.fat"),
        ({"windows_on_days": {2: {"fat": {}}}}, "unknown_nutrient", "windows_on_days[2].fat"),
        ({"windows_on_days": {4: {}}}, "day_beyond_plan", "windows_on_days[4]"),
        ({"away": {"meals": {4: ["lunch"]}}}, "day_beyond_plan", "away.meals[4]"),
        ({"away": {"meals": {3: ["tea"]}}}, "unknown_meal", "away.meals[3][0]"),
        ({"dislikes": {"egg": -1}}, "out_of_range", "dislikes.egg"),
        ({"wants": {"egg": 3}, "dislikes": {"egg": 2}}, "range_reversed", "wants.egg"),
        (
            {"recipe_servings": {"egg_rice": {"min": 3, "max": 2}}},
            "range_reversed",
            "recipe_servings.egg_rice.min",
        ),
        ({"portions": {"smallest": 3}}, "range_reversed", "portions.smallest"),
        ({"portions": {"step": 0.3, "smallest": 0.3}}, "portion_step", "portions.largest"),
        (
            {"windows_on_days": {2: {"energy_kcal": {"min": 799}}}},
            "energy_below_floor",
            "windows_on_days[2].energy_kcal.min",
        ),
        (
            {"windows_per_day": {"energy_kcal": {"max": 790}}},
            "energy_below_floor",
            "windows_per_day.energy_kcal.max",
        ),
        (
            # Two of four meals are eaten here on day 2, so its floor is 400 kcal.
            {
                "away": {"meals": {2: ["lunch", "dinner"]}},
                "windows_on_days": {2: {"energy_kcal": {"max": 399}}},
            },
            "energy_below_floor",
            "windows_on_days[2].energy_kcal.max",
        ),
        (
            {"windows_per_week": {"energy_kcal": {"max": 2399}}},
            "energy_below_floor",
            "windows_per_week.energy_kcal.max",
        ),
    ],
)
def test_faults_of_a_client(tmp_path: Path, changes: dict[str, Any], code: str, field: str) -> None:
    """Each wrong entry of a client is one fault at its own field."""
    assert client_fields(tmp_path, **changes) == [(code, field)]


@pytest.mark.parametrize(
    "changes",
    [
        {"portions": {"step": 0.1, "smallest": 0.3, "largest": 1.7}},
        {"portions": {"step": "any", "smallest": 0.9, "largest": 1.23}},
        {"windows_on_days": {2: {"protein_g": {}}}},
        {"windows_per_day": {"energy_kcal": {"min": 800, "max": 800}}},
        {"windows_per_day": {"energy_kcal": {"max": 700}}, "medically_supervised": True},
        {"windows_per_week": {"energy_kcal": {"max": 2400}}},
        {"windows_per_week": {"energy_kcal": {"max": 700}}, "medically_supervised": True},
        {"meals": ["dinner"], "windows_per_day": {"energy_kcal": {"min": 200, "max": 250}}},
        {
            "away": {"meals": {2: ["lunch", "dinner"]}},
            "windows_on_days": {2: {"energy_kcal": {"max": 400}}},
        },
        {"allergens": ["wheat"]},
        {"meals": ["breakfast"], "allergens": ["egg"]},
        {"away": {"days": [1, 2, 3]}, "allergens": ["egg"]},
        {"wants": {"egg": 2}, "dislikes": {"egg": 2}},
    ],
)
def test_clients_that_are_fine(tmp_path: Path, changes: dict[str, Any]) -> None:
    """What lies on the allowed side of a border gives no fault."""
    assert client_codes(tmp_path, **changes) == []


def test_two_clients_may_not_share_an_id(tmp_path: Path) -> None:
    """The second client with an id is told."""
    (fault,) = faults(tmp_path, clients=[tiny_client(), tiny_client(name="Other")])
    assert (fault.code, fault.field) == ("duplicate_id", "clients[1].id")


@pytest.mark.parametrize(
    ("changes", "code", "field"),
    [
        ({"sellers": ["corner", "markt"]}, "unknown_seller", "sellers[1]"),
        ({"recipes": {"include": ["soup"]}}, "unknown_recipe", "recipes.include[0]"),
        ({"stock": [{"food": "eg", "amount": 1, "unit": "g"}]}, "unknown_food", "stock[0].food"),
        (
            {"stock": [{"food": "onion", "amount": 1, "unit": "ml"}]},
            "unit_unknown",
            "stock[0].unit",
        ),
        ({"cook_days": [{"day": 1, "ready_for": "tea"}]}, "unknown_meal", "cook_days[0].ready_for"),
        ({"cook_days": [{"day": 4}, {"day": 1}]}, "day_beyond_plan", "cook_days[0].day"),
        ({"shop_days": [0, 4]}, "day_beyond_plan", "shop_days[1]"),
        ({"visit_cost": "0.005"}, "money_decimals", "visit_cost"),
        ({"budget": 99.999}, "money_decimals", "budget"),
        ({"start_date": "9999-12-31"}, "out_of_range", "start_date"),
        ({"sellers": []}, "currency_without_packs", "sellers"),
        ({"recipes": {"exclude": ["oat_porridge"]}}, "meal_without_recipe", "clients[0]"),
        ({"recipes": {"include": ["soup", "egg_rice"]}}, "unknown_recipe", "recipes.include[0]"),
    ],
)
def test_faults_of_the_whole(
    tmp_path: Path, changes: dict[str, Any], code: str, field: str
) -> None:
    """Each wrong entry of the scenario is one fault at its own field."""
    assert [(fault.code, fault.field) for fault in faults(tmp_path, **changes)] == [(code, field)]


@pytest.mark.parametrize(
    "changes",
    [
        {"cook_days": [{"day": 0, "ready_for": "next_day"}, {"day": 3, "ready_for": "dinner"}]},
        {"shop_days": [3, 0]},
        {"shop_days": [2], "stock": [{"food": "egg", "amount": 12, "unit": "each"}]},
        {"visit_cost": "1.50", "budget": 80},
        {"sellers": ["market"]},
    ],
)
def test_scenarios_that_are_fine(tmp_path: Path, changes: dict[str, Any]) -> None:
    """Eve cooking, unsorted days, stock before shopping and one seller are no faults."""
    assert codes(tmp_path, **changes) == []


def test_lines_follow_the_file_and_not_the_sorted_cook_days(tmp_path: Path) -> None:
    """Cook days written out of order are told at the line where they stand."""
    path = write_kitchen(tmp_path, cook_days=[{"day": 9}, {"day": 2}, {"day": 1}])
    with pytest.raises(BadInput) as caught:
        load_kitchen(path)
    (fault,) = caught.value.faults
    assert path.read_text(encoding="utf-8").splitlines()[fault.line - 1] == "- day: 9"
    assert fault.field == "cook_days[0].day"


def test_an_alternative_or_an_optional_line_saves_a_meal(tmp_path: Path) -> None:
    """A recipe counts for a client if any version of it suits."""
    name = "recipes/boiled_eggs.yaml"
    client = tiny_client(allergens=["egg"])
    other = edited(name, "unit: each}", "unit: each, alternatives: [{food: onion}]}")
    assert codes(tmp_path / "a", files=other, clients=[client]) == []
    text = tiny_catalog_files()[name].replace(
        "unit: each}", "unit: each, optional: true}\n  - {food: oats_rolled, amount: 50, unit: g}"
    )
    assert codes(tmp_path / "b", files={name: text}, clients=[client]) == []


def test_a_meal_without_recipe_names_client_and_meal(tmp_path: Path) -> None:
    """The fault tells whose meal has no recipe, once a meal and not once a day."""
    found = faults(tmp_path, clients=[tiny_client(excluded_foods=["egg", "lentils_red_dry"])])
    assert [(fault.code, fault.value) for fault in found] == [
        ("meal_without_recipe", "ana, dinner"),
        ("meal_without_recipe", "ana, lunch"),
        ("meal_without_recipe", "ana, snack"),
    ]


def test_a_catalog_at_fault_causes_no_faults_of_the_scenario(tmp_path: Path) -> None:
    """A broken recipe is not reported again as a meal without recipe or an unknown recipe."""
    files = edited("recipes/boiled_eggs.yaml", "meals: [snack]", "meals: 5")
    changes = {"files": files, "recipes": {"exclude": ["oat_porridge"]}}
    assert codes(tmp_path / "a", **changes) == ["not_a_list"]
    # What else is wrong with the scenario is told in the same round.
    files = edited("recipes/boiled_eggs.yaml", "yield_servings: 1", "yield_servings: one")
    changes = {"files": files, "recipes": {"exclude": ["boiled_eggs"]}}
    assert codes(tmp_path / "b", **changes) == ["not_a_number", "meal_without_recipe"]


def test_checks_can_be_called_with_any_place(tmp_path: Path) -> None:
    """The checks ask the caller where a path stands and need no file."""
    kitchen = load_kitchen(write_kitchen(tmp_path))
    scenario = kitchen.scenario.model_copy(update={"currency": "EUR"})
    (fault,) = check_scenario(scenario, kitchen.catalog, lambda path: Place("here", len(path)))
    assert (fault.file, fault.line, fault.code) == ("here", 1, "currency_without_packs")
