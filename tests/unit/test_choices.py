"""What some version of a recipe can be, against going through all its versions."""

from __future__ import annotations

from itertools import product
from random import Random
from time import process_time

import pytest

from planopt.catalog.choices import can_be, hottest_with, options_of
from planopt.catalog.dishtext import is_shown
from planopt.catalog.records import Recipe

_FOODS = ("beans", "curd", "greens", "ham", "roots", "seeds")


def _recipe(rng: Random, lines: int) -> Recipe:
    def some(most: int) -> list[str]:
        return rng.sample((*_FOODS, "a", "b", "c"), rng.randint(0, most))

    rows = []
    for n in range(lines):
        food, other = rng.sample(_FOODS, 2)
        row = {"food": food, "amount": 1, "unit": "g", "optional": rng.random() < 0.5}
        if n < 3:
            row["key"] = "abc"[n]
        if rng.random() < 0.4:
            row["alternatives"] = [{"food": other}]
        rows.append(row)
    steps = [
        {
            "do": "Cook.",
            "only_with": some(2),
            "without": some(2),
            "until_internal_c": rng.choice((None, 63, 71, 74)),
        }
        for _ in range(rng.randint(1, 4))
    ]
    return _made(rows, steps)


def _made(lines: list[dict[str, object]], steps: list[dict[str, object]]) -> Recipe:
    return Recipe.model_validate(
        {
            "recipe_id": "pot",
            "name": "Pot",
            "meals": ["lunch"],
            "yield_servings": 2,
            "batch": {"step": "whole", "most_per_cook_day": 2},
            "minutes": {"hands_on": 5, "hands_on_per_extra_batch": 2},
            "keeps": {"kind": "dishes", "fridge_days": 2, "serve": "cold"},
            "lines": lines,
            "steps": steps,
        }
    )


@pytest.mark.parametrize("seed", range(40))
def test_what_some_version_can_be_is_what_one_of_all_versions_is(seed: int) -> None:
    """Line by line gives what enumeration gives."""
    rng = Random(seed)
    recipe = _recipe(rng, 5)
    versions = list(product(*options_of(recipe)))
    asked = 0
    for step in (None, *recipe.steps):
        for index, can in enumerate(options_of(recipe)):
            for food in can:
                for needed in (frozenset[str](), frozenset({"a"}), frozenset({"b", "c"})):
                    expected = any(
                        foods[index] == food
                        and (step is None or is_shown(step, recipe, foods))
                        and all(
                            had is not None
                            for had, line in zip(foods, recipe.lines, strict=True)
                            if line.key in needed
                        )
                        for foods in versions
                    )
                    assert can_be(recipe, step, {index: food}, needed) == expected
                    asked += 1
    assert asked > 0


@pytest.mark.parametrize("seed", range(40))
def test_the_hottest_step_is_the_least_of_all_versions(seed: int) -> None:
    """Hiding the hottest steps gives what enumeration gives."""
    recipe = _recipe(Random(seed), 5)
    heated = [step for step in recipe.steps if step.until_internal_c is not None]
    for index, can in enumerate(options_of(recipe)):
        for food in can:
            if food is None:
                continue
            reached = [
                [step.until_internal_c or 0.0 for step in heated if is_shown(step, recipe, foods)]
                for foods in product(*options_of(recipe))
                if foods[index] == food
            ]
            expected = None if not all(reached) else min(max(row) for row in reached)
            assert hottest_with(recipe, index, food) == expected


def test_thirty_lines_that_one_step_names_are_checked_at_once() -> None:
    """A billion versions are not gone through."""
    lines: list[dict[str, object]] = [
        {"food": f"food{n}", "amount": 1, "unit": "g", "optional": True, "key": f"k{n}"}
        for n in range(30)
    ]
    words = [f"k{n}" for n in range(30)]
    steps: list[dict[str, object]] = [{"do": "Cook.", "only_with": words, "until_internal_c": 74}]
    recipe = _made(lines, steps)
    began = process_time()
    assert can_be(recipe, recipe.steps[0], {0: None}, frozenset(words[1:]))
    assert not can_be(recipe, recipe.steps[0], {0: None}, frozenset(words))
    assert hottest_with(recipe, 0, "food0") == 74
    assert process_time() - began < 1.0
