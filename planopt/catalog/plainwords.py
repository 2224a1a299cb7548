"""Foods named in plain words: which line of a recipe a text means, and whether it always holds.

A choosable line (with alternatives, or optional) has another food in another version. Words of a
food that the version lacks are a trap for the cook, so such a food belongs in a placeholder.
"""

from __future__ import annotations

import re
from collections.abc import Collection, Iterator, Mapping
from dataclasses import dataclass
from functools import lru_cache

from planopt.catalog.records import Food, Line, Recipe

Words = tuple[str, ...]

# Words that describe a food and do not tell which one it is.
_DESCRIBING_TEXT = (
    "black boneless brown canned chilled chopped cooked crushed diced dried dry extra farmed firm "
    "fresh frozen green greek ground hulled large lean light long low plain raw red ripe roasted "
    "rolled salted shelled sliced small smooth soft sweet unsalted unsweetened white whole"
)
_DESCRIBING = frozenset(_DESCRIBING_TEXT.split())
_WORD = re.compile(r"[^\W\d_]+|[.,;:!?()]")
# What follows these in a name is how the food is packed.
_NAME_END = re.compile(r",| in | with ")


@dataclass(frozen=True)
class Mention:
    """A food of a choosable line that a text names although another version lacks it."""

    line: int
    words: str
    lacking: str | None


def singular(word: str) -> str:
    """Return a word without the ending of its plural; the rule serves both sides of a comparison.

    >>> singular("tomatoes"), singular("boxes"), singular("berries"), singular("glass")
    ('tomato', 'box', 'berry', 'glass')
    """
    if word.endswith("ies") and len(word) > 4:
        return word[:-3] + "y"
    if word.endswith(("xes", "ches", "shes", "sses", "oes")):
        return word[:-2]
    return word[:-1] if word.endswith("s") and not word.endswith("ss") else word


def _words(text: str) -> list[str]:
    found = (singular(word) for word in _WORD.findall(text.lower()))
    return [word for word in found if word not in _DESCRIBING]


@lru_cache(maxsize=4096)
def core(name: str) -> Words:
    """Return the words of a food's name that tell which food it is.

    >>> core("Ground beef, 93% lean"), core("Soy milk, fortified"), core("Peaches in juice")
    (('beef',), ('soy', 'milk'), ('peach',))
    """
    text = _NAME_END.split(name)[0]
    return tuple(_words(text)) or tuple(singular(word) for word in text.lower().split())


def foods_of_line(line: Line) -> tuple[str, ...]:
    """Return the foods that a line may have, the one written first."""
    return (line.food, *(other.food for other in line.alternatives))


def is_choosable(line: Line) -> bool:
    """Tell whether versions of the recipe differ in this line."""
    return line.optional or len(set(foods_of_line(line))) > 1


def _within(phrase: Words, words: Words) -> bool:
    size = len(phrase)
    return any(words[i : i + size] == phrase for i in range(len(words) - size + 1))


def _true_of(phrase: Words, food: Words, line_cores: Collection[Words]) -> bool:
    """Tell whether a phrase may stand for a food: `milk` is not said of soy milk beside milk."""
    return food == phrase if phrase in line_cores else _within(phrase, food)


def mentions(
    text: str,
    recipe: Recipe,
    foods: Mapping[str, Food],
    possible: Mapping[int, Collection[str | None]] | None = None,
) -> Iterator[Mention]:
    """Yield foods of choosable lines that a text names and some version lacks.

    Args:
        text: without placeholders.
        recipe: whose lines are meant.
        foods: the foods of the catalog.
        possible: line -> the foods it can have where this text is read (None = left out); a line
            that is not in it can have all of its own.
    """
    cores = [
        {food: core(foods[food].name) for food in foods_of_line(line) if food in foods}
        for line in recipe.lines
    ]
    longest = max((len(words) for line in cores for words in line.values()), default=0)
    words = _words(text)
    place = 0
    while place < len(words):
        for size in range(min(longest, len(words) - place), 0, -1):
            phrase = tuple(words[place : place + size])
            owners = [
                index
                for index, line in enumerate(cores)
                if any(_within(phrase, food) for food in line.values())
            ]
            if owners:
                break
        else:
            place += 1
            continue
        place += size
        found = [_mention(index, phrase, recipe, cores[index], possible) for index in owners]
        # Where one of the lines always has such a food, the words may mean that one.
        if all(found):
            yield from found[:1]  # type: ignore[misc]  # none is None here


def _mention(
    index: int,
    phrase: Words,
    recipe: Recipe,
    cores: Mapping[str, Words],
    possible: Mapping[int, Collection[str | None]] | None,
) -> Mention | None:
    line = recipe.lines[index]
    can: Collection[str | None] = [*foods_of_line(line), *([None] if line.optional else [])]
    can = (possible or {}).get(index, can)
    for food in can:
        if food is None or (
            food in cores and not _true_of(phrase, cores[food], list(cores.values()))
        ):
            return Mention(index, " ".join(phrase), food)
    return None
