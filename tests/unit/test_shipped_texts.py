"""The shipped recipes, version by version: names and steps tell of nothing that is not in the dish.

The words are compared by rules of this module alone: those of unchosen foods, taken from the food
table as they stand, must not turn up.
"""

from __future__ import annotations

import re
from collections.abc import Iterator
from itertools import product

import pytest

from planopt.audit.conversions import Conversions
from planopt.audit.dishes import make_dish
from planopt.catalog.dishtext import CookedVersion, added_words, dish_name, steps_of
from planopt.catalog.records import Recipe
from shipped import shipped_catalog, shipped_reading

_TEXT_WARNINGS = {"food_in_plain_words", "count_in_plain_words", "condition_in_plain_words"}


def _versions(recipe: Recipe) -> Iterator[tuple[str, dict[int, str]]]:
    """Yield each version with line -> food, in this module's own counting."""
    options: list[list[tuple[str, str | None]]] = []
    for index, line in enumerate(recipe.lines):
        here: list[tuple[str, str | None]] = [("", line.food)]
        here += [(f"{index}={other.food}", other.food) for other in line.alternatives]
        here += [(f"{index}-", None)] if line.optional else []
        options.append(here)
    for chosen in product(*options):
        words = "+".join(word for word, _ in chosen if word)
        yield words or "base", {n: food for n, (_, food) in enumerate(chosen) if food is not None}


def _stems(text: str) -> set[str]:
    words = re.findall(r"[a-z]+", text.lower())
    return {re.sub(r"(?<=[^s])s$", "", re.sub(r"ies$", "y", word)) for word in words}


CASES = [
    pytest.param(recipe, version, foods, id=f"{recipe.recipe_id}-{version}")
    for recipe in shipped_catalog().recipes.values()
    for version, foods in _versions(recipe)
]
CHOOSABLE = [
    pytest.param(recipe, version, foods, id=f"{recipe.recipe_id}-{version}")
    for recipe in shipped_catalog().recipes.values()
    if any(line.alternatives or line.optional for line in recipe.lines)
    for version, foods in _versions(recipe)
]


def _texts(recipe: Recipe, version: str, batches: float = 1.0) -> list[str]:
    cooked = CookedVersion(
        recipe.yield_servings * batches, batches, 5, dict.fromkeys(range(40), "9 g")
    )
    catalog = shipped_catalog()
    return [
        dish_name(recipe, version, catalog),
        added_words(recipe, version, catalog),
        *(step.do for step in steps_of(recipe, version, catalog, cooked)),
    ]


@pytest.mark.parametrize(("recipe", "version", "foods"), CHOOSABLE)
def test_no_version_names_a_food_that_is_not_in_it(
    recipe: Recipe, version: str, foods: dict[int, str]
) -> None:
    """No word of an unchosen food, unless a food in the dish has that word as well."""
    catalog = shipped_catalog()
    there: set[str] = set()
    for food in foods.values():
        there |= _stems(catalog.foods[food].name)
    said = _stems(" . ".join(_texts(recipe, version)))
    for index, line in enumerate(recipe.lines):
        for food in {line.food, *(other.food for other in line.alternatives)}:
            if foods.get(index) != food:
                missing = _stems(catalog.foods[food].name.split(",")[0]) - there
                assert not missing & said, (food, missing & said)


@pytest.mark.parametrize(
    ("recipe", "version", "foods"),
    [case for case in CHOOSABLE if "=soy_milk" in str(case.values[1])],
)
def test_milk_alone_is_never_said_of_soy_milk(
    recipe: Recipe, version: str, foods: dict[int, str]
) -> None:
    """Where the only milk is from soy, each mention says so; milk would be a trap."""
    assert {food for food in foods.values() if "milk" in food} == {"soy_milk"}
    assert set(re.findall(r"(\w+) milk", " ".join(_texts(recipe, version)).lower())) == {"soy"}


@pytest.mark.parametrize(("recipe", "version", "foods"), CASES)
def test_texts_read_as_plain_sentences(recipe: Recipe, version: str, foods: dict[int, str]) -> None:
    """No sign of a placeholder is left, no comma or space dangles, no count is of another batch."""
    for batches in (0.5, 1.0, 3.0):
        name, _, *steps = _texts(recipe, version, batches)
        for text in (name, *steps):
            assert not re.search(r"[\[\]{}]|  | [,.;:]|,[.;,]|^[a-z ]|[ ,]$", text), text
        for text in steps:
            assert text.endswith("."), text
            assert not re.search(r"\b1 [a-z-]+ ?[a-z]*(boxes|tubs|pots|jars|tins)\b", text), text
        assert not re.search(r"[ ,;.]$", name)


@pytest.mark.parametrize(("recipe", "version", "foods"), CASES)
def test_the_audit_reads_the_same_name_and_steps(
    recipe: Recipe, version: str, foods: dict[int, str]
) -> None:
    """Two readings written apart agree on every version."""
    catalog = shipped_catalog()
    dish = make_dish(catalog, Conversions(catalog), recipe, version)
    assert dish is not None
    assert dish.name == dish_name(recipe, version, catalog)
    shown = steps_of(recipe, version, catalog, CookedVersion(4, 1, 4))
    assert [step.until_internal_c for step in dish.steps] == [s.until_internal_c for s in shown]


@pytest.mark.parametrize(("recipe", "version", "foods"), CASES)
def test_raw_animal_food_has_its_temperature_in_every_version(
    recipe: Recipe, version: str, foods: dict[int, str]
) -> None:
    """The steps of the version itself reach what its raw foods need."""
    catalog = shipped_catalog()
    reached = [
        step.until_internal_c or 0.0
        for step in steps_of(recipe, version, catalog, CookedVersion(4, 1, 4))
    ]
    for food in foods.values():
        cls = catalog.foods[food].safe_temperature
        if cls is not None:
            # Tables in whole degrees Fahrenheit lose up to 0.2 C.
            assert max(reached) + 0.2 >= catalog.safe_temperatures[cls].internal_c


def test_check_has_nothing_to_say_of_the_shipped_texts() -> None:
    """No shipped recipe draws a warning about its words."""
    assert [w.text() for w in shipped_reading().warnings() if w.code in _TEXT_WARNINGS] == []


@pytest.mark.parametrize(
    ("version", "name"),
    [("base", "Split pea soup with mustard and ham"), ("11-", "Split pea soup with mustard")],
)
def test_soup_without_ham_is_called_by_what_is_in_it(version: str, name: str) -> None:
    """The version without ham is not one with ham, without ham."""
    assert _texts(shipped_catalog().recipes["split_pea_soup"], version)[:2] == [name, ""]
