"""What the text of a recipe says for one version: its name, and the steps that it has.

The audit's own reading: it shares no code with `planopt.catalog.dishtext`.
"""

from __future__ import annotations

import re
from collections.abc import Mapping

from planopt.catalog.records import Catalog, Line, Recipe, Step

_BRACKETS = re.compile(r"\[([^\[\]]*)\]")
_HOLE = re.compile(r"\{\s*([^\s{}]+)[^{}]*\}")
# Names that do not lose their capital; the audit keeps its own list.
_KEEP_CAPITAL = ("Brussels", "Greek", "Medjool", "Parmesan", "Swiss", "Worcestershire")


def food_word(catalog: Catalog, line: Line, food_id: str) -> str:
    """Return the word for a food of a line: what the recipe calls it, or its name up to a comma."""
    called = {other.food: other.called for other in line.alternatives} | {line.food: line.called}
    if called.get(food_id):
        return called[food_id]
    if food_id not in catalog.foods:
        return food_id.replace("_", " ")
    name = catalog.foods[food_id].name.split(",")[0]
    first = name.split(" ")[0]
    if first in _KEEP_CAPITAL or any(letter.isupper() for letter in first[1:]):
        return name
    return name[0].lower() + name[1:]


def spoken_name(catalog: Catalog, recipe: Recipe, foods: Mapping[int, str | None]) -> str:
    """Return the name of the version whose lines have these foods (None = left out)."""
    words = {
        line.key: "" if foods[index] is None else food_word(catalog, line, foods[index] or "")
        for index, line in enumerate(recipe.lines)
        if line.key is not None
    }

    def kept(brackets: re.Match[str]) -> str:
        inside = brackets[1]
        return inside if all(words.get(key, key) for key in _HOLE.findall(inside)) else ""

    def filled(hole: re.Match[str]) -> str:
        before = text[: hole.start()].rstrip()
        word = words.get(hole[1], hole[1])
        return word[:1].upper() + word[1:] if before == "" or before[-1] in ".!?" else word

    if "{" not in recipe.name and "[" not in recipe.name:
        return recipe.name
    text = _BRACKETS.sub(kept, recipe.name)
    text = " ".join(_HOLE.sub(filled, text).split())
    for mark in ",.;:!?":
        text = text.replace(f" {mark}", mark)
    return text


def steps_done(recipe: Recipe, foods: Mapping[int, str | None]) -> tuple[Step, ...]:
    """Return the steps of the version whose lines have these foods."""
    present = {food for food in foods.values() if food is not None}
    present |= {
        line.key
        for index, line in enumerate(recipe.lines)
        if line.key is not None and foods[index] is not None
    }
    return tuple(
        step
        for step in recipe.steps
        if (not step.only_with or present & set(step.only_with)) and not present & set(step.without)
    )
