"""Questions about all versions of a recipe, answered without listing them: some have a billion.

A step is shown if a version has any word of `only_with` and none of `without`; a word is the key of
a line that has a food, or that food. Each line decides by itself, so whether some version shows a
step is asked line by line.
"""

from __future__ import annotations

from collections.abc import Iterator, Mapping, Sequence

from planopt.catalog.plainwords import foods_of_line
from planopt.catalog.records import Recipe, Step

_Options = list[list[str | None]]


def options_of(recipe: Recipe, fixed: Mapping[int, str | None] | None = None) -> _Options:
    """Return the foods each line may have, None = left out; `fixed` gives them for some lines."""
    found: _Options = []
    for index, line in enumerate(recipe.lines):
        can: list[str | None] = [*foods_of_line(line)]
        if line.optional:
            can.append(None)
        found.append([fixed[index]] if fixed and index in fixed else can)
    return found


def _words(recipe: Recipe, index: int, food: str | None) -> set[str | None]:
    return set() if food is None else {food, recipe.lines[index].key}


def _without(recipe: Recipe, options: _Options, words: Sequence[str]) -> _Options | None:
    """Return the options that bring none of some words; None if a line has no other."""
    left = [
        [food for food in can if _words(recipe, index, food).isdisjoint(words)]
        for index, can in enumerate(options)
    ]
    return left if all(left) else None


def _with_any(recipe: Recipe, options: _Options, words: Sequence[str]) -> Iterator[_Options]:
    """Yield the options in which one line brings one of some words, line after line."""
    for index, can in enumerate(options):
        held = [food for food in can if not _words(recipe, index, food).isdisjoint(words)]
        if held:
            yield [*options[:index], held, *options[index + 1 :]]


def can_be(
    recipe: Recipe,
    step: Step | None,
    fixed: Mapping[int, str | None],
    needed: frozenset[str] = frozenset(),
) -> bool:
    """Tell whether a version with the `fixed` foods and all `needed` keys shows a step.

    Without a step, only the lines are asked.
    """
    options = options_of(recipe, fixed)
    for index, line in enumerate(recipe.lines):
        if line.key in needed:
            options[index] = [food for food in options[index] if food is not None]
    if not all(options):
        return False
    if step is None:
        return True
    left = _without(recipe, options, step.without)
    if left is None:
        return False
    return not step.only_with or any(True for _ in _with_any(recipe, left, step.only_with))


def hottest_with(recipe: Recipe, index: int, food_id: str) -> float | None:
    """Return the temperature that every version with this food reaches; None if one has none."""
    heated = sorted(
        (step for step in recipe.steps if step.until_internal_c is not None),
        key=lambda step: step.until_internal_c or 0.0,
    )
    options = options_of(recipe, {index: food_id})
    if _can_hide(recipe, options, heated):
        return None
    # Some version cannot do without this step, and can without all that are hotter.
    return next(
        step.until_internal_c
        for place, step in enumerate(heated)
        if _can_hide(recipe, options, heated[place + 1 :])
    )


def _can_hide(recipe: Recipe, options: _Options, steps: Sequence[Step]) -> bool:
    """Tell whether some version shows none of the steps."""
    if not steps:
        return True
    first, rest = steps[0], steps[1:]
    if first.only_with:
        left = _without(recipe, options, first.only_with)
        if left is not None and _can_hide(recipe, left, rest):
            return True
    return any(_can_hide(recipe, held, rest) for held in _with_any(recipe, options, first.without))
