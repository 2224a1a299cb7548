"""Foods by their names in other people's words: the foods of a catalog, each with a confidence.

A confidence is what share of the words asked for a food covers, times how much of the food's own
name the words cover; letters are compared by a library, so that slips of the pen still match. It
is no probability. Names that only differ in how a food is kept, canned or dry, stay apart.
"""

from __future__ import annotations

import re
import unicodedata
from collections.abc import Iterable
from dataclasses import dataclass
from functools import lru_cache

from planopt.catalog.foodwords import hint_in, words_of
from planopt.catalog.records import Catalog, Food
from planopt.intake.libraries import fuzzy_library
from planopt.intake.trade import KEPT, LOOKS, MATTERS, MAY_BE_CANNED, PARTS, SAME_FOOD

# A food is taken without asking from here on, if the next one is at least so much less likely.
SURE = 0.85
MARGIN = 0.1
# What is shown to the person who settles a food.
LEAST_SHOWN = 0.3
MOST_SHOWN = 5
# Shorter words differ by too little: a beet is no beef.
LEAST_LETTERS = 6
LEAST_LIKENESS = 86.0
# What is kept otherwise than the words say is another food; what they leave open may be another.
KEPT_OTHERWISE = 0.3
KEPT_UNSAID = 0.12
_NAME_END = re.compile(r",| in | with ")
_SHARE = re.compile(r"(\d{1,3})\s*(?:%|percent\b|per cent\b)")

Words = tuple[str, ...]


@dataclass(frozen=True)
class Match:
    """A food of the catalog, and how well its name fits, from 0 to 1."""

    food_id: str
    confidence: float


@dataclass(frozen=True)
class Matched:
    """What was found for some words: foods, the likeliest first, and whether the first is sure.

    `why_unsure` is a sentence for the person where it is not.
    """

    matches: tuple[Match, ...]
    why_unsure: str = ""

    @property
    def sure(self) -> str | None:
        """Return the food that can be taken without asking, if there is one."""
        return self.matches[0].food_id if self.matches and not self.why_unsure else None


@dataclass(frozen=True)
class _Name:
    """A food as it is compared.

    `cores` are the words that name it, by its name and by its id; `known` all of its words;
    `kept` how it is kept, `told` whether its very name says so; `shares` percentages in its name.
    """

    food_id: str
    cores: tuple[frozenset[str], ...]
    known: frozenset[str]
    kept: frozenset[str]
    told: frozenset[str]
    shares: frozenset[str]


@dataclass(frozen=True)
class _Asked:
    """The words of a sentence: `must` be covered, `all` name the food, `around` stand beside it."""

    must: frozenset[str]
    all: frozenset[str]
    around: frozenset[str]
    kept: frozenset[str]
    shares: frozenset[str]


class FoodMatcher:
    """Finds foods of one catalog by name."""

    def __init__(self, catalog: Catalog) -> None:
        self._catalog = catalog
        self._names = [_name_of(food) for food in catalog.foods.values()]
        self._found: dict[tuple[str, str], Matched] = {}

    def find(self, text: str, around: str = "") -> Matched:
        """Return the foods that some words may mean.

        Args:
            text: what the food is called.
            around: other words of the sentence, such as its preparation or `can`.
        """
        if (text, around) not in self._found:
            self._found[text, around] = self._find(text, around)
        return self._found[text, around]

    def _find(self, text: str, around: str) -> Matched:
        words, nearby = frozenset(_words(text)), frozenset(_words(around))
        whole = [f for f in self._catalog.foods.values() if f.name.casefold() == text.casefold()]
        if len(whole) == 1 and not nearby & (MATTERS | set(KEPT)):
            return Matched((Match(whole[0].food_id, 1.0),))
        asked = _Asked(
            must=_must(words),
            all=words,
            around=nearby,
            kept=_kept(words | nearby),
            shares=frozenset(_SHARE.findall(f"{text} {around}")),
        )
        if not asked.must:
            return Matched((), "no word of it names a food")
        fits = [
            (name, fit, _kept_otherwise(asked, name))
            for name in self._names
            if (fit := _fit(asked, name))
        ]
        found = [Match(n.food_id, round(max(0.0, fit - lost), 3)) for n, fit, lost in fits]
        best = sorted((m for m in found if m.confidence >= LEAST_SHOWN), key=_order)[:MOST_SHOWN]
        fit_of = {name.food_id: fit for name, fit, _ in fits}
        kept = any(name.food_id == best[0].food_id and lost for name, _, lost in fits if best)
        return Matched(tuple(best), self._why_unsure(text, best, fit_of, kept))

    def _why_unsure(
        self, text: str, best: list[Match], fit_of: dict[str, float], kept: bool
    ) -> str:
        if not best:
            return "no food of the catalog is called so"
        if best[0].confidence < SURE:
            return "no food of the catalog is quite called so"
        first = best[0]
        close = any(
            first.confidence - other.confidence < MARGIN
            and fit_of[first.food_id] - fit_of[other.food_id] < MARGIN
            for other in best[1:]
        )
        # Beans may be dry or from a can, and the words leave it open.
        if close or (kept and sum(fit >= SURE for fit in fit_of.values()) > 1):
            return "several foods of the catalog may be meant"
        for allergen in hinted_allergens(text, self._catalog):
            if allergen not in self._catalog.foods[best[0].food_id].allergens:
                return f"the words suggest {allergen}, which the food does not have"
        return ""


def hinted_allergens(text: str, catalog: Catalog) -> list[str]:
    """Return the allergens that some words suggest, by the hint words of the catalog."""
    named = Food.model_construct(food_id="", name=text, sr28_description="")
    return [key for key, allergen in catalog.allergens.items() if hint_in(named, allergen)]


def _order(match: Match) -> tuple[float, str]:
    return -match.confidence, match.food_id


@lru_cache(maxsize=4096)
def _words(text: str) -> Words:
    """Return the words of a text as they are compared, with one name for the same food."""
    return _same(words_of(text.replace("-", " ")))


def _same(words: Words) -> Words:
    single, phrases = _phrases()
    return _in_place(tuple(plain for word in words for plain in single.get(word, (word,))), phrases)


def _in_place(words: Words, phrases: tuple[tuple[Words, Words], ...]) -> Words:
    for phrase, plain in phrases:
        size = len(phrase)
        for place in range(len(words) - size + 1):
            if words[place : place + size] == phrase:
                before, after = words[:place], words[place + size :]
                return (*_in_place(before, phrases), *plain, *_in_place(after, phrases))
    return words


@lru_cache(maxsize=1)
def _phrases() -> tuple[dict[str, Words], tuple[tuple[Words, Words], ...]]:
    """Return single words and longer phrases, the longest first, with what they are the same as."""
    pairs = [(words_of(phrase), words_of(plain)) for phrase, plain in SAME_FOOD.items()]
    longer = sorted((p for p in pairs if len(p[0]) > 1), key=lambda pair: (-len(pair[0]), pair[0]))
    return {phrase[0]: plain for phrase, plain in pairs if len(phrase) == 1}, tuple(longer)


@lru_cache(maxsize=1)
def _idle() -> tuple[frozenset[str], frozenset[str]]:
    """Return words that need no match: of what is asked for, and of a food's own name."""
    looks, parts = (frozenset(w for t in words for w in words_of(t)) for words in (LOOKS, PARTS))
    return looks | parts | set(KEPT), parts | set(KEPT)


def _must(words: frozenset[str]) -> frozenset[str]:
    idle, small = _idle()
    return (words - idle) or (words - small) or words


def _core(words: Iterable[str]) -> frozenset[str]:
    told = frozenset(words)
    return (told - _idle()[1]) or told


def _kept(words: Iterable[str]) -> frozenset[str]:
    return frozenset(KEPT[word] for word in words if word in KEPT)


def _name_of(food: Food) -> _Name:
    own = _words(_NAME_END.split(food.name)[0])
    by_id = _words(food.food_id.replace("_", " "))
    cores = {_core(own), _core(by_id)}
    # Ground spices are what a spoon of the spice is; whole ones have a name of their own.
    if food.aisle.startswith("spice"):
        cores |= {one - {"ground"} for one in cores if len(one) > 1}
    known = frozenset((*_words(food.name), *by_id))
    shares = frozenset(_SHARE.findall(food.name))
    return _Name(
        food.food_id, tuple(sorted(cores, key=sorted)), known, _kept(known), _kept(own), shares
    )


def _fit(asked: _Asked, name: _Name) -> float:
    covered = sum(_likest(word, name.known) for word in asked.must) / len(asked.must)
    if not covered:
        return 0.0
    own = max(_own(core, asked) for core in name.cores)
    return covered * (0.35 + 0.65 * own)


def _own(core: frozenset[str], asked: _Asked) -> float:
    """Return how much of a food's own name the words cover; words around help once one is met."""
    told = [_likest(word, asked.all) for word in core]
    if not any(told):
        return 0.0
    more = [max(value, _likest(word, asked.around)) for value, word in zip(told, core, strict=True)]
    return sum(more) / len(core)


def _kept_otherwise(asked: _Asked, name: _Name) -> float:
    lost = KEPT_OTHERWISE * len(asked.kept - {"fresh"} - name.kept)
    perhaps = {"canned"} if MAY_BE_CANNED & (asked.around | asked.all) else set()
    for word in name.kept - {"fresh"} - asked.kept - perhaps:
        # Dry goods are seldom called dry, and fresh ones would do for frozen ones.
        plain = word in ("dried", "frozen") and word not in name.told and not asked.kept
        lost += KEPT_UNSAID if plain else KEPT_OTHERWISE
    if name.shares and asked.shares and not name.shares & asked.shares:
        lost += KEPT_OTHERWISE
    return lost + KEPT_OTHERWISE * len((MATTERS & asked.around) - name.known)


def _likest(word: str, words: Iterable[str]) -> float:
    """Return how near the nearest of some words is, from 0 to 1; short words must be equal."""
    best = 0.0
    for other in words:
        if word == other:
            return 1.0
        if min(len(word), len(other)) >= LEAST_LETTERS:
            best = max(best, _likeness(word, other))
    return best


@lru_cache(maxsize=65536)
def _likeness(word: str, other: str) -> float:
    ratio = float(fuzzy_library().ratio(word, other))
    return ratio / 100 if ratio >= LEAST_LIKENESS else 0.0


def plain_key(text: str) -> str:
    """Return a text as it is remembered: without case, accents and doubled spaces."""
    parts = unicodedata.normalize("NFKD", text.casefold())
    return " ".join("".join(sign for sign in parts if not unicodedata.combining(sign)).split())
