"""Foods of composition tables: nutrients of 100 g, refuse, portions; finding one by words."""

from __future__ import annotations

import re
from collections.abc import Sequence
from dataclasses import dataclass, field

from rapidfuzz import fuzz

_WORD = re.compile(r"[^\W\d_]+")
MOST_SHOWN = 8


@dataclass(frozen=True)
class PortionSize:
    """A household portion: `amount` of `unit` weighs `grams` without refuse."""

    amount: float
    unit: str
    grams: float


@dataclass(frozen=True)
class CompositionFood:
    """A food of a composition table.

    `key` is its number in the table and `source` names the table. `nutrients` maps our ids to the
    amount in 100 g of the edible part; what the table does not tell is not in it.
    """

    key: str
    description: str
    source: str
    group: str = ""
    nutrients: dict[str, float] = field(default_factory=dict)
    refuse_percent: float | None = None
    portions: tuple[PortionSize, ...] = ()
    ndb_no: str | None = None


@dataclass(frozen=True)
class FoundFoods:
    """A food found by words, and how well they fit, from 0 to 100."""

    food: CompositionFood
    score: float


def search(foods: Sequence[CompositionFood], words: str) -> list[FoundFoods]:
    """Return the foods that words may mean, the best first.

    A food that lacks one of the words comes after all that have every one. Among equals one
    that says raw goes first, and then one with less beside the words.
    """
    numbered = [FoundFoods(food, 100.0) for food in foods if food.key == words.strip()]
    wanted = _stems(words)
    if numbered or not wanted:
        return numbered
    found = []
    for food in foods:
        stems = _stems(food.description)
        near = fuzz.token_set_ratio(" ".join(wanted), " ".join(stems))
        missing = len([stem for stem in wanted if stem not in stems])
        if missing < len(wanted) or near >= 80:
            found.append((missing, -near, "raw" not in stems, len(stems), food.key, food, near))
    found.sort(key=lambda row: row[:5])
    return [FoundFoods(row[5], round(row[6] * (1 - row[0] / len(wanted)), 1)) for row in found]


def only_one(found: Sequence[FoundFoods], words: str) -> CompositionFood | None:
    """Return the food that words surely mean: by its number, or the only one with all of them."""
    by_key = [one.food for one in found if one.food.key == words.strip()]
    if by_key:
        return by_key[0]
    wanted = _stems(words)
    whole = [one.food for one in found if set(wanted) <= set(_stems(one.food.description))]
    return whole[0] if len(whole) == 1 else None


def _stems(text: str) -> list[str]:
    """Return the words of a text in lower case, without the s of a plural."""
    found = []
    for word in _WORD.findall(text.casefold()):
        if len(word) > 3 and word.endswith("ies"):
            word = word[:-3] + "y"
        elif len(word) > 4 and word.endswith("oes"):
            word = word[:-2]
        elif len(word) > 3 and word.endswith("s") and not word.endswith("ss"):
            word = word[:-1]
        found.append(word)
    return found


def density_of(food: CompositionFood) -> float | None:
    """Return grams per millilitre by the food's fluid ounces; None where it is not poured."""
    for portion in food.portions:
        if portion.unit.strip().casefold() == "fl oz":
            # A US fluid ounce is 29.5735295625 ml, exactly.
            return round(portion.grams / portion.amount / 29.5735295625, 3)
    return None


_MEASURES = {"cup": "cup", "tbsp": "tbsp", "tablespoon": "tbsp", "tsp": "tsp", "teaspoon": "tsp"}
_PIECES = {"slice": "slice", "clove": "clove", "cloves": "clove"}
_EACH = ("medium", "large", "small", "each", "unit", "fruit", "egg", "piece")


def measures_of(food: CompositionFood) -> dict[str, tuple[float, str]]:
    """Return grams of one household unit of ours with the portion they are from, by unit.

    Plain portions go before those of a special form, such as a cup of something sliced.
    """
    found: dict[str, tuple[float, str]] = {}
    for portion in sorted(food.portions, key=lambda one: len(one.unit)):
        name = portion.unit.strip().casefold()
        first = re.split(r"[\s,(]", name, maxsplit=1)[0]
        unit = _MEASURES.get(first) or _PIECES.get(first)
        if unit is not None and unit not in found and portion.amount > 0:
            found[unit] = (round(portion.grams / portion.amount, 2), portion.unit)
    own = [re.escape(stem) for stem in _stems(food.description)[:1]]
    for word in (*_EACH, *own):
        for portion in food.portions:
            name = portion.unit.strip().casefold()
            if "each" not in found and re.match(rf"{word}\b", name) and portion.amount > 0:
                found["each"] = (round(portion.grams / portion.amount, 2), portion.unit)
    return found
