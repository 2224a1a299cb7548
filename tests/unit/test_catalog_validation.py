"""From plain data to records: paths, hints and values that must not be misread."""

from __future__ import annotations

from typing import Any

import pytest

from planopt.catalog.records import Recipe
from planopt.reading.validation import Misfit, field_names, validate
from planopt.reading.wording import id_like, word_for
from planopt.scenario.records import Scenario


def scenario_data(**changes: Any) -> dict[str, Any]:
    """Return the least scenario that is sound, with changes."""
    return {
        "name": "x",
        "start_date": "2026-11-30",
        "cook_days": [{"day": 1}],
        "clients": [{"id": "ana", "name": "Ana"}],
        **changes,
    }


def problems_of(**changes: Any) -> list[Misfit]:
    """Return the problems of a changed scenario."""
    record, problems = validate(Scenario, scenario_data(**changes))
    assert (record is None) == bool(problems)
    return problems


def client_problems(**changes: Any) -> list[Misfit]:
    """Return the problems of a scenario with a changed client."""
    return problems_of(clients=[{"id": "ana", "name": "Ana", **changes}])


def test_sound_data_gives_the_record() -> None:
    """Data without a problem becomes the record itself."""
    record, problems = validate(Scenario, scenario_data())
    assert problems == []
    assert record is not None
    assert record.clients[0].client_id == "ana"


@pytest.mark.parametrize("value", [20261130, "20261130", 1.5, True, "tomorrow", "2026-11-31"])
def test_only_a_written_date_is_a_date(value: object) -> None:
    """A bare number is refused as a date and not taken for seconds since 1970."""
    assert [(p.path, p.code) for p in problems_of(start_date=value)] == [
        (("start_date",), "not_a_date")
    ]


def test_yes_is_not_a_number() -> None:
    """The YAML word yes does not count as 1."""
    found = client_problems(portions={"largest": True})
    assert [(p.path, p.code) for p in found] == [
        (("clients", 0, "portions", "largest"), "not_a_number")
    ]


@pytest.mark.parametrize("value", ["1e999999999", 10**30, 1e-200, "1e-999999999"])
def test_absurd_numbers_are_refused_at_once(value: object) -> None:
    """Numbers whose exact arithmetic would never end are refused before any arithmetic."""
    assert [p.code for p in problems_of(budget=value)] == ["out_of_range"]


def test_branches_of_a_choice_are_told_together() -> None:
    """A field that takes a number or a word has one problem that names both ways out."""
    (problem,) = client_problems(portions={"step": "halves"})
    assert problem.path == ("clients", 0, "portions", "step")
    assert problem.mend.endswith(", or write 'any'")


def test_a_bad_key_has_its_own_path() -> None:
    """A bad id used as a key is found at that key."""
    (problem,) = client_problems(dislikes={"Bad Food": 1})
    assert problem.path == ("clients", 0, "dislikes", "Bad Food")
    assert problem.mend == "write 'bad_food'"


def test_hints_come_from_the_model_at_that_place() -> None:
    """A misspelt key is compared with the fields of the record it stands in."""
    (problem,) = client_problems(portions={"smalest": 1})
    assert (problem.code, problem.mend) == ("unknown_field", "did you mean 'smallest'?")


def test_only_the_faulty_entry_of_a_list_is_told() -> None:
    """A list is not called too short because its one entry is at fault."""
    assert [p.path for p in problems_of(cook_days=[{"day": "x"}])] == [("cook_days", 0, "day")]


def test_keys_that_are_no_text_are_unknown_fields() -> None:
    """A number as a key of a record is a field that does not exist."""
    data: dict[Any, Any] = {**scenario_data(), 7: "x"}
    record, problems = validate(Scenario, data)
    assert record is None
    assert [problem.code for problem in problems] == ["unknown_field"]


def test_users_see_aliases_and_not_the_id_from_the_file_name() -> None:
    """Field names are those that users write."""
    assert "recipe_id" in field_names(Recipe)
    _, problems = validate(Recipe, {"recipe_id": "x", "recipe": 1}, injected=("recipe_id",))
    unknown = next(problem for problem in problems if problem.code == "unknown_field")
    assert "recipe_id" not in unknown.mend


@pytest.mark.parametrize(
    ("text", "expected"), [("Old Mill", "old_mill"), ("7 Grains!", "grains"), ("42", "")]
)
def test_ids_are_suggested(text: str, expected: str) -> None:
    """A suggested id has only the characters that ids may have."""
    assert id_like(text) == expected


def test_an_error_without_words_keeps_its_own() -> None:
    """A kind of error that nobody has worded still gives a readable fault."""
    detail = {"type": "never_seen", "input": 1, "msg": "Odd value"}
    assert word_for(detail, "x") == ("odd value", "correct the value", "invalid_value")
