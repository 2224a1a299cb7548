"""What a week cannot be: each fault of its rules with its exact text, and that it points there."""

from __future__ import annotations

from pathlib import Path
from typing import Any

import pytest

from kitchens import tiny_client, write_kitchen
from planopt.faults import BadInput
from planopt.scenario.households.parties import load_kitchens
from planopt.scenario.households.paths import check_paths

DAYS = {"meals": ["dinner"], "across": "days"}


def tied(*rows: dict[str, Any]) -> dict[str, Any]:
    """Return the key of a scenario with these entries."""
    return {"same_dish": list(rows)}


CASES: list[tuple[str, dict[str, Any], str, str, str]] = [
    (
        "same_dish_how",
        tied({"meals": ["dinner"]}),
        "same_dish[0]: 'dinner'",
        "meals share a dish across days or clients, or have that of an earlier meal",
        "write one of across and as_meal",
    ),
    (
        "same_dish_how",
        tied({**DAYS, "days_before": 2}),
        "same_dish[0].days_before: '2'",
        "days_before belongs to as_meal",
        "remove days_before, or write as_meal in place of across",
    ),
    (
        "same_dish_of_one",
        tied({**DAYS, "days": [2]}),
        "same_dish[0]: 'dinner'",
        "it ties nothing: there are no two such meals that are eaten from this kitchen",
        "correct meals, days or clients, or remove the entry",
    ),
    (
        "same_dish_same_day",
        tied({"meals": ["lunch"], "as_meal": "dinner"}, DAYS),
        "same_dish: 'ana, day 2'",
        "taken together, dinner and lunch would be one dish, which comes once a day",
        "leave out one of the entries that tie these meals, or some of its days",
    ),
    (
        "unknown_meal",
        tied({"meals": ["lunch"], "as_meal": "diner"}),
        "same_dish[0].as_meal: 'diner'",
        "the scenario has no such meal",
        "did you mean 'dinner'?",
    ),
    (
        "unknown_client",
        tied({**DAYS, "clients": ["anna"]}),
        "same_dish[0].clients[0]: 'anna'",
        "the scenario has no such client",
        "did you mean 'ana'?",
    ),
    (
        "day_beyond_plan",
        tied({**DAYS, "days": [1, 2, 9]}),
        "same_dish[0].days[2]: '9'",
        "the plan ends with day 3",
        "write a day up to 3, or plan more days",
    ),
    (
        "unknown_recipe",
        {"days_between_of": {"egg_ride": 1}},
        "days_between_of.egg_ride: 'egg_ride'",
        "the catalog has no such recipe",
        "did you mean 'egg_rice'?",
    ),
    (
        "unknown_recipe",
        {"clients": [tiny_client(ratings={"egg_ride": 1})]},
        "clients[0].ratings.egg_ride: 'egg_ride'",
        "the catalog has no such recipe",
        "did you mean 'egg_rice'?",
    ),
    (
        "rating_above_zero",
        {"clients": [tiny_client(ratings={"egg_rice": 1})], "most_dishes_per_meal": 2},
        "clients[0].ratings.egg_rice: '1'",
        "where a meal may have several dishes, each that is liked less is dearer, and none is "
        "cheaper",
        "rate what is liked less below 0 instead",
    ),
    (
        "range_reversed",
        {"clients": [tiny_client(least_different_recipes=3, most_different_recipes=2)]},
        "clients[0].least_different_recipes: '3'",
        "most_different_recipes allows at most 2",
        "correct one of the two",
    ),
]


@pytest.mark.parametrize(
    ("code", "keys", "where", "why", "mend"),
    CASES,
    ids=[f"{c[0]}_{n}" for n, c in enumerate(CASES)],
)
def test_the_text_of_a_fault_of_a_week(
    tmp_path: Path, code: str, keys: dict[str, Any], where: str, why: str, mend: str
) -> None:
    """The whole text of the one fault, but for its file and line."""
    meals = {"meals": ["breakfast", "lunch", "dinner"]}
    (fault,) = check_paths([write_kitchen(tmp_path, **meals, **keys)])
    _, _, rest = fault.text().partition("scenario.yaml:")
    line, _, said = rest.partition(": ")
    assert int(line) > 5
    assert said == f"{where} [{code}]\n    why: {why}\n    mend: {mend}"


def test_who_eats_together_is_named_in_one_kitchen_alone(tmp_path: Path) -> None:
    """With several kitchens no clients are named; without names it holds in each of them."""
    clients = [tiny_client(), tiny_client(id="ben", name="Ben", household="hill")]
    rows = [{"meals": ["dinner"], "across": "clients"}, {**DAYS, "clients": ["ana"]}]
    with pytest.raises(BadInput) as raised:
        load_kitchens(write_kitchen(tmp_path / "one", clients=clients, same_dish=rows))
    (fault,) = raised.value.faults
    assert (fault.code, fault.field, fault.value) == (
        "same_dish_one_kitchen", "same_dish[1].clients", "ana",
    )  # fmt: skip
    assert fault.why == "clients are named, who may be of several kitchens"
    assert fault.mend == "leave clients out: then it holds in each kitchen for all who eat from it"
    kitchens = load_kitchens(write_kitchen(tmp_path / "two", clients=clients, same_dish=rows[:1]))
    for kitchen in kitchens.parts:
        assert kitchen.scenario is not None
        assert len(kitchen.scenario.same_dish) == 1
