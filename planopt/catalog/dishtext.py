"""Names and steps of recipes as they read for one version: the foods chosen, nothing left out.

A text may hold placeholders. `{milk}` is the food chosen for the line with the key `milk`, and
`{milk amount}` its amount; `{servings}` and `{batches}` are how many are made, `{boxes}` into how
many they are packed, `{servings tubs}` the same with a noun: `6 tubs`, `1 tub`. Words in square
brackets are for versions that have every food named inside them: `soup[ with {ham}]`.
"""

from __future__ import annotations

import re
from collections.abc import Callable, Iterable, Mapping
from dataclasses import dataclass, field
from functools import lru_cache
from math import ceil

from planopt.catalog.plainwords import foods_of_line, is_choosable, mentions
from planopt.catalog.records import Catalog, Food, Line, Recipe, Step

AMOUNT = "amount"
COUNTS = ("servings", "batches", "boxes")
# First words that keep their capital inside a sentence.
_PROPER = frozenset({"Brussels", "Greek", "Medjool", "Parmesan", "Swiss", "Worcestershire"})
_TOKEN = re.compile(r"\{[^{}\[\]]*\}|[{}\[\]]|[^{}\[\]]+")
_CHOICE = re.compile(r"(\d{1,4})(?:=(\w+)|-)")


def sentence_case(name: str) -> str:
    """Return a name as it stands inside a sentence."""
    first, _, _ = name.partition(" ")
    if first.rstrip(",") in _PROPER or first[1:] != first[1:].lower():
        return name
    return name[:1].lower() + name[1:]


class TextUnreadable(ValueError):
    """A text whose braces or brackets do not pair; `part` is where it goes wrong."""

    def __init__(self, part: str, why: str, mend: str) -> None:
        super().__init__(why)
        self.part, self.why, self.mend = part, why, mend


@dataclass(frozen=True)
class Placeholder:
    """A placeholder: its first word, and what follows it."""

    word: str
    rest: str

    @property
    def is_food(self) -> bool:
        """Whether it stands for a food or its amount."""
        return self.word not in COUNTS


@dataclass(frozen=True)
class Bracketed:
    """Words in square brackets."""

    pieces: tuple[str | Placeholder, ...]


Piece = str | Placeholder | Bracketed


@lru_cache(maxsize=4096)
def parse_text(text: str) -> tuple[Piece, ...]:
    """Return the pieces of a text.

    Raises:
        TextUnreadable: if a brace or a bracket has no partner.
    """
    outer: list[Piece] = []
    group: list[str | Placeholder] | None = None
    opened = ""
    for found in _TOKEN.finditer(text):
        token = found[0]
        here = text[found.start() : found.start() + 20]
        if token == "[":
            if group is not None:
                why = "a square bracket opens inside another"
                raise TextUnreadable(here, why, "close the first one before it")
            group, opened = [], here
        elif token == "]":
            if group is None:
                why = "this square bracket was never opened"
                raise TextUnreadable(here, why, "write [ where it begins, or use round brackets")
            outer.append(Bracketed(tuple(group)))
            group = None
        elif token == "{":
            why = "this brace is never closed"
            raise TextUnreadable(here, why, "write } after the key, or use round brackets")
        elif token == "}":
            why = "this brace was never opened"
            raise TextUnreadable(here, why, "write { before the key, or use round brackets")
        else:
            piece: str | Placeholder = token
            if token.startswith("{"):
                word, _, rest = token[1:-1].strip().partition(" ")
                piece = Placeholder(word, rest.strip())
            (outer if group is None else group).append(piece)
    if group is not None:
        why = "this square bracket is never closed"
        raise TextUnreadable(opened, why, "write ] where it ends, or use round brackets")
    return tuple(outer)


def read_or_as_is(text: str) -> tuple[Piece, ...]:
    """Return the pieces of a text; one that cannot be read is a single piece, as it is."""
    try:
        return parse_text(text)
    except TextUnreadable:
        return (text,)


def slots(pieces: Iterable[Piece]) -> list[Placeholder]:
    """Return the placeholders of a text, those in brackets too."""
    found: list[Placeholder] = []
    for piece in pieces:
        if isinstance(piece, Placeholder):
            found.append(piece)
        elif isinstance(piece, Bracketed):
            found += slots(piece.pieces)
    return found


def foods_of(recipe: Recipe, version: str) -> tuple[str | None, ...] | None:
    """Return the food of each line (None = left out), or None if there is no such version."""
    foods: list[str | None] = [line.food for line in recipe.lines]
    for part in version.split("+") if version != "base" else ():
        found = _CHOICE.fullmatch(part)
        if found is None or int(found[1]) >= len(foods):
            return None
        foods[int(found[1])] = found[2]
    return tuple(foods)


def version_of(recipe: Recipe, foods: Iterable[str | None]) -> str:
    """Return the version whose lines have these foods."""
    words = [
        f"{index}-" if food is None else f"{index}={food}"
        for index, (line, food) in enumerate(zip(recipe.lines, foods, strict=True))
        if food != line.food
    ]
    return "+".join(words) or "base"


def is_shown(step: Step, recipe: Recipe, foods: Iterable[str | None]) -> bool:
    """Tell whether a version with these foods has this step."""
    have: set[str | None] = set()
    for line, food in zip(recipe.lines, foods, strict=True):
        if food is not None:
            have |= {food, line.key}
    wanted = not step.only_with or not have.isdisjoint(step.only_with)
    return wanted and have.isdisjoint(step.without)


def short_name(line: Line, food_id: str, foods: Mapping[str, Food]) -> str:
    """Return what texts call a food of a line."""
    called = line.called if food_id == line.food else ""
    for other in line.alternatives:
        if other.food == food_id:
            called = other.called
    if called:
        return called
    food = foods.get(food_id)
    name = food.name.partition(",")[0] if food else food_id.replace("_", " ")
    return sentence_case(name)


def _tells_apart(line: Line, food_id: str, foods: Mapping[str, Food]) -> bool:
    word = short_name(line, food_id, foods)
    return [short_name(line, food, foods) for food in foods_of_line(line)].count(word) == 1


def telling_name(line: Line, food_id: str, foods: Mapping[str, Food]) -> str:
    """Return a food's short name, or the whole of it where another food of the line shares that."""
    if _tells_apart(line, food_id, foods) or food_id not in foods:
        return short_name(line, food_id, foods)
    return sentence_case(foods[food_id].name)


def _one_of(nouns: str) -> str:
    """Return a plural noun as one: `tubs` as `tub`, `boxes` as `box`."""
    for ending in ("xes", "ches", "shes", "sses"):
        if nouns.endswith(ending):
            return nouns[:-2]
    if nouns.endswith("ies"):
        return nouns[:-3] + "y"
    return nouns.removesuffix("s")


def counted(count: float, nouns: str, number: Callable[[float], str]) -> str:
    """Return a count, with its noun in whole things if there is one: `2.5`, `3 tubs`, `1 tub`."""
    if not nouns:
        return number(count)
    whole = max(1, ceil(count - 1e-6))
    return f"{number(whole)} {_one_of(nouns) if whole == 1 else nouns}"


def _joined(pieces: Iterable[Piece], say: Callable[[Placeholder], str | None]) -> str:
    """Return the text with every placeholder filled in; `say` returns None for what is left out."""
    text = ""
    for piece in pieces:
        if isinstance(piece, Bracketed):
            if all(say(one) is not None for one in piece.pieces if isinstance(one, Placeholder)):
                text = _continued(text, piece.pieces, say)
        else:
            text = _continued(text, (piece,), say)
    text = re.sub(r"\s+", " ", text).strip()
    return re.sub(r" ([,.;:!?])", r"\1", text)


def _continued(
    text: str, pieces: Iterable[str | Placeholder], say: Callable[[Placeholder], str | None]
) -> str:
    for piece in pieces:
        said = piece if isinstance(piece, str) else say(piece) or ""
        if isinstance(piece, Placeholder) and (not text.strip() or text.rstrip()[-1] in ".!?"):
            said = said[:1].upper() + said[1:]
        text += said
    return text


def _food_words(
    recipe: Recipe, foods: tuple[str | None, ...], catalog: Catalog
) -> dict[str, str | None]:
    return {
        line.key: None if food is None else short_name(line, food, catalog.foods)
        for line, food in zip(recipe.lines, foods, strict=True)
        if line.key is not None
    }


def dish_name(recipe: Recipe, version: str, catalog: Catalog) -> str:
    """Return the recipe's name as it reads for a version; as written where there is none such."""
    foods = foods_of(recipe, version)
    if foods is None or not set("{[") & set(recipe.name):
        return recipe.name
    words = _food_words(recipe, foods, catalog)
    return _joined(read_or_as_is(recipe.name), lambda slot: words.get(slot.word, slot.word))


def _listed(words: list[str]) -> str:
    return words[0] if len(words) == 1 else f"{', '.join(words[:-1])} and {words[-1]}"


def added_words(recipe: Recipe, version: str, catalog: Catalog) -> str:
    """Return what a version has and its name does not say, for example `with soy milk`.

    Only foods in the dish are named. Where the name itself says a food in plain words that this
    version lacks, of which `check` warns, the words put that right. A version that does not fit the
    recipe is returned as it is.
    """
    foods = foods_of(recipe, version)
    if foods is None:
        return version
    pieces = read_or_as_is(recipe.name)
    said = {slot.word for slot in slots(pieces)}
    plain = " . ".join(piece for piece in pieces if isinstance(piece, str))
    added: list[str] = []
    mended: list[str] = []
    for index, (line, food) in enumerate(zip(recipe.lines, foods, strict=True)):
        if not is_choosable(line) or (food == line.food and not line.optional):
            continue
        if line.key in said and (food is None or _tells_apart(line, food, catalog.foods)):
            continue
        written = telling_name(line, line.food, catalog.foods)
        names_it = any(found.line == index for found in mentions(plain, recipe, catalog.foods))
        if food is None:
            mended += [f"without {written}"] if names_it else []
        elif food == line.food:
            added += [] if names_it else [written]
        elif names_it:
            name = telling_name(line, food, catalog.foods)
            mended.append(f"with {name} instead of {written}")
        else:
            added.append(telling_name(line, food, catalog.foods))
    return ", ".join([*([f"with {_listed(added)}"] if added else []), *mended])


def _number(value: float) -> str:
    return f"{value:g}"


@dataclass(frozen=True)
class CookedVersion:
    """How much is made and packed, and amounts in kitchen units by line of the recipe."""

    servings: float
    batches: float
    boxes: int
    amounts: Mapping[int, str] = field(default_factory=dict)
    number: Callable[[float], str] = _number


@dataclass(frozen=True)
class SaidStep:
    """One step as it reads for a version."""

    do: str
    until_internal_c: float | None


def steps_of(
    recipe: Recipe, version: str, catalog: Catalog, cooked: CookedVersion
) -> list[SaidStep]:
    """Return the steps of a version in words; those of the recipe as written if it is none."""
    foods = foods_of(recipe, version) or tuple(line.food for line in recipe.lines)
    words = _food_words(recipe, foods, catalog)
    amounts = {
        line.key: cooked.amounts.get(index, "")
        for index, line in enumerate(recipe.lines)
        if line.key is not None
    }
    counts = {"servings": cooked.servings, "batches": cooked.batches, "boxes": cooked.boxes}

    def say(slot: Placeholder) -> str | None:
        if slot.word in counts:
            return counted(counts[slot.word], slot.rest, cooked.number)
        word = words.get(slot.word, slot.word)
        return amounts.get(slot.word, "") if word is not None and slot.rest == AMOUNT else word

    return [
        SaidStep(_joined(read_or_as_is(step.do), say), step.until_internal_c)
        for step in recipe.steps
        if is_shown(step, recipe, foods)
    ]
