"""Words in the names of foods: what they suggest of an allergen or of a safety group.

Names are compared word by word, without case, accents, punctuation and plural endings, so that
`nut` is in "Nuts, mixed" and neither in "Butternut squash" nor in "Peanuts".
"""

from __future__ import annotations

import re
import unicodedata
from collections.abc import Iterable, Iterator
from functools import lru_cache

from planopt.catalog.records import Allergen, Catalog, Food, SafetyGroup

Words = tuple[str, ...]
# Foods under one first word of the food table, such as "Cheese", are kin; two may be so by chance.
LEAST_KIN = 3
_BREAK = ("",)


@lru_cache(maxsize=65536)
def words_of(text: str) -> Words:
    """Return the words of a text in the form in which they are compared."""
    parts = unicodedata.normalize("NFKD", text.casefold())
    letters = "".join(sign for sign in parts if not _within_a_word(sign))
    return tuple(_plain(word) for word in re.findall(r"[^\W\d_]+", letters))


def _within_a_word(sign: str) -> bool:
    """Tell whether a sign is an accent or an apostrophe, straight or curved."""
    return bool(unicodedata.combining(sign)) or sign in "'\N{RIGHT SINGLE QUOTATION MARK}"


def _plain(word: str) -> str:
    """Return a word without its plural ending; equal words stay equal, which is all that counts."""
    if len(word) > 4 and word.endswith(("ies", "ie")):
        return word.removesuffix("s")[:-2] + "y"
    if len(word) > 3 and word.endswith("s") and not word.endswith("ss"):
        word = word[:-1]
    # tomatoes, peaches, dishes, boxes
    if len(word) > 3 and word.endswith(("oe", "che", "she", "xe")):
        word = word[:-1]
    return word


def texts_of(food: Food) -> tuple[Words, ...]:
    """Return the words of a food's id, its name and its description in the food table."""
    return tuple(words_of(text) for text in (food.food_id, food.name, food.sr28_description))


def without(words: Words, phrases: Iterable[str]) -> Words:
    """Return the words with each phrase taken out; what stood around it does not join up."""
    left = words
    # The longest first, so that a part of a phrase does not break it up.
    for phrase in sorted((words_of(text) for text in phrases), key=len, reverse=True):
        while phrase and (place := _find(left, phrase)) is not None:
            left = (*left[:place], *_BREAK, *left[place + len(phrase) :])
    return left


def _find(words: Words, phrase: Words) -> int | None:
    for place in range(len(words) - len(phrase) + 1):
        if words[place : place + len(phrase)] == phrase:
            return place
    return None


def hint_in(food: Food, about: Allergen | SafetyGroup) -> str | None:
    """Return the first hint word that a food's names hold outside phrases that are exceptions."""
    texts = [without(words, about.not_words) for words in texts_of(food)]
    for hint in about.hint_words:
        phrase = words_of(hint)
        if phrase and any(_find(words, phrase) is not None for words in texts):
            return hint
    return None


def kin_with(food: Food, allergen: Allergen, catalog: Catalog) -> tuple[str, ...]:
    """Return foods with an allergen that a food without it is named after, or listed among.

    Named after: its id or name holds all words of the other's id. Listed among: their descriptions
    begin with the same word, as does that of another one, and all of these have the allergen.
    """
    texts = [without(words, allergen.not_words) for words in texts_of(food)]
    others = [other for other in catalog.foods.values() if other.food_id != food.food_id]
    named = [
        other.food_id
        for other in others
        if allergen.allergen_id in other.allergens
        and any(_find(words, words_of(other.food_id)) is not None for words in texts[:2])
    ]
    first = texts[2][:1]
    among = [other for other in others if first and words_of(other.sr28_description)[:1] == first]
    if named or first == _BREAK or len(among) < LEAST_KIN:
        return tuple(named)
    alike = all(allergen.allergen_id in other.allergens for other in among)
    return tuple(other.food_id for other in among) if alike else ()


def suggested_allergens(food: Food, catalog: Catalog) -> Iterator[tuple[str, str]]:
    """Yield the allergens that a food's row lacks and its name suggests, each with why."""
    for allergen_id, allergen in catalog.allergens.items():
        if allergen_id in food.allergens:
            continue
        hint = hint_in(food, allergen)
        if hint is not None:
            yield allergen_id, f"its name has the word {hint!r}"
        elif kin := kin_with(food, allergen, catalog):
            shown = ", ".join(kin[:3]) + (", ..." if len(kin) > 3 else "")
            yield allergen_id, f"{shown} {'has' if len(kin) == 1 else 'have'} it"
