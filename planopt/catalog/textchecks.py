"""Checks of the texts of recipes: placeholders, brackets and conditions, and plain words."""

from __future__ import annotations

import re
from collections.abc import Iterator

from planopt.catalog.choices import can_be, options_of
from planopt.catalog.dishtext import (
    AMOUNT,
    COUNTS,
    Bracketed,
    Piece,
    Placeholder,
    TextUnreadable,
    parse_text,
    read_or_as_is,
    short_name,
    slots,
)
from planopt.catalog.plainwords import Mention, foods_of_line, is_choosable, mentions
from planopt.catalog.positions import Positions
from planopt.catalog.records import Catalog, Recipe, Step
from planopt.faults import Fault, nearest
from planopt.reading.files import PathPart, Place

_CONTAINERS = (
    r"(?:bags|bars|bottles|bowls|boxes|containers|cups|flasks|glasses|jars|parcels|portions|pots"
    r"|servings|squares|tubs)"
)
_COUNT = (
    r"(?:two|three|four|five|six|seven|eight|nine|ten|eleven|twelve|sixteen|eighteen|twenty|thirty"
    r"|\d+)"
)
# A count with its noun after a word of dividing, or a cut into so many and no more said.
_DIVIDED = re.compile(
    rf"\b(?:into|in|among|amongst|between|across|over|to fill|fill|make|makes) (?:the )?"
    rf"({_COUNT}(?: (?!and\b|or\b)[a-z-]+){{0,2}}? {_CONTAINERS})\b"
    rf"|\b({_COUNT}(?: (?!and\b|or\b)[a-z-]+){{0,2}}? (?:bottles|boxes|flasks|jars|parcels|tubs))\b"
    rf"|\bcut (?:it |the \w+ )?into ({_COUNT})(?=[,.;:]|$)",
    re.IGNORECASE,
)

# What a step leaves to the cook though the plan knows it.
_IF_USED = re.compile(r"\bif (?:you )?(?:are )?us(?:e|ed|ing)\b|\bif it is used\b", re.IGNORECASE)

_Text = tuple[str, tuple[PathPart, ...], str, Step | None]


def _texts(recipe: Recipe) -> Iterator[_Text]:
    """Yield (field, path, text, step or None) of the name and of each step."""
    yield "name", ("name",), recipe.name, None
    for nth, step in enumerate(recipe.steps):
        yield f"steps[{nth}].do", ("steps", nth, "do"), step.do, step


def recipe_texts(catalog: Catalog, at: Positions) -> Iterator[Fault]:
    """Every placeholder and condition names something, and every bracket has its partner."""
    for recipe in catalog.recipes.values():
        yield from _keys(recipe, at)
        for nth, step in enumerate(recipe.steps):
            yield from _conditions(recipe, nth, step, at)
        for name, path, text, step_of in _texts(recipe):
            place = at.recipe(recipe.recipe_id, *path)
            try:
                pieces = parse_text(text)
            except TextUnreadable as found:
                yield place.fault(name, found.part, found.why, found.mend, "text_unreadable")
                continue
            yield from _faulty(recipe, pieces, step_of, name, place)


def _keys(recipe: Recipe, at: Positions) -> Iterator[Fault]:
    first: dict[str, int] = {}
    for index, line in enumerate(recipe.lines):
        if line.key is None:
            continue
        why = ""
        own = foods_of_line(line) if len(foods_of_line(line)) > 1 else ()
        others = (food for one in recipe.lines if one is not line for food in foods_of_line(one))
        if line.key in first:
            why = f"lines[{first[line.key]}] has this key already"
        elif line.key in COUNTS:
            why = f"{{{line.key}}} is how many {line.key} are made"
        elif line.key in {*own, *others}:
            why = "a step could not tell it from the food of that name"
        if why:
            yield at.recipe(recipe.recipe_id, "lines", index, "key").fault(
                f"lines[{index}].key", line.key, why, "give the line another key", "key_taken"
            )
        first.setdefault(line.key, index)


def _conditions(recipe: Recipe, nth: int, step: Step, at: Positions) -> Iterator[Fault]:
    can_miss: dict[str, bool] = {}
    for line in recipe.lines:
        foods = foods_of_line(line)
        for food in foods:
            can_miss[food] = can_miss.get(food, True) and (line.optional or len(set(foods)) > 1)
    can_miss |= {line.key: line.optional for line in recipe.lines if line.key is not None}
    for name, words in (("only_with", step.only_with), ("without", step.without)):
        for place_in, word in enumerate(words):
            place = at.recipe(recipe.recipe_id, "steps", nth, name, place_in)
            label = f"steps[{nth}].{name}[{place_in}]"
            if word not in can_miss:
                yield place.fault(
                    label,
                    word,
                    "no line of this recipe has such a key or food",
                    nearest(word, can_miss),
                    "unknown_condition",
                )
            elif not can_miss[word]:
                yield place.fault(
                    label,
                    word,
                    "every version of this recipe has it",
                    "remove the condition, or name an optional line or one food of a choice",
                    "idle_condition",
                )


def _faulty(
    recipe: Recipe, pieces: tuple[Piece, ...], step: Step | None, name: str, place: Place
) -> Iterator[Fault]:
    """Yield the faults of the placeholders and brackets of one text."""
    keys = {line.key for line in recipe.lines if line.key is not None}
    known = keys | (set(COUNTS) if step is not None else set())
    sound = []
    for slot in slots(pieces):
        written = f"{slot.word} {slot.rest}".strip()
        if slot.word not in known:
            why, mend = _unknown_key(recipe, slot, known, step)
            yield place.fault(name, written, why, mend, "unknown_placeholder")
        elif slot.is_food and slot.rest not in ("", *((AMOUNT,) if step is not None else ())):
            why = f"only the word {AMOUNT} may follow the key of a line"
            if step is None:
                why = "a name is for any number of batches, so nothing may follow a key"
            mend = f"write {{{slot.word}}}" + (f" or {{{slot.word} {AMOUNT}}}" if step else "")
            yield place.fault(name, written, why, mend, "unknown_placeholder")
        else:
            sound.append(slot)
    for piece in pieces:
        if (
            isinstance(piece, Placeholder)
            and piece in sound
            and _may_be_missing(recipe, piece, step)
        ):
            only = f", or add only_with: [{piece.word}]" if step is not None else ""
            yield place.fault(
                name,
                piece.word,
                "this food may be left out, and the text would lack a word",
                f"put the words in square brackets, such as [and {{{piece.word}}}]{only}",
                "missing_food_named",
            )
        if isinstance(piece, Bracketed) and not any(
            _may_be_missing(recipe, one, step) or one not in sound for one in slots(piece.pieces)
        ):
            words = (one if isinstance(one, str) else f"{{{one.word}}}" for one in piece.pieces)
            yield place.fault(
                name,
                f"[{''.join(words)}]"[:40],
                "nothing in these brackets can be left out",
                "use round brackets, or name an optional food inside",
                "idle_brackets",
            )


def _unknown_key(
    recipe: Recipe, slot: Placeholder, known: set[str], step: Step | None
) -> tuple[str, str]:
    if step is None and slot.word in COUNTS:
        return "a name is for any number of batches", "name the count in a step instead"
    for index, line in enumerate(recipe.lines):
        if slot.word in foods_of_line(line) and line.key is None:
            why = "no line of this recipe has such a key"
            return why, f"add key: {slot.word} to lines[{index}], or a shorter key"
    return "no line of this recipe has such a key", nearest(slot.word, known)


def _may_be_missing(recipe: Recipe, slot: Placeholder, step: Step | None) -> bool:
    """Tell whether some version that has this text lacks the food of a placeholder."""
    places = [index for index, line in enumerate(recipe.lines) if line.key == slot.word]
    if not places or not recipe.lines[places[0]].optional:
        return False
    return can_be(recipe, step, {places[0]: None})


def text_warnings(catalog: Catalog, at: Positions) -> Iterator[Fault]:
    """Yield warnings of choosable foods and of counts that a text says in plain words."""
    for recipe in catalog.recipes.values():
        for name, path, text, step in _texts(recipe):
            pieces = read_or_as_is(text)
            place = at.recipe(recipe.recipe_id, *path)
            for mention in _mentions(recipe, pieces, step, catalog):
                yield place.fault(
                    name,
                    mention.words,
                    _why_plain(recipe, mention, catalog),
                    _mend_plain(recipe, mention, step),
                    "food_in_plain_words",
                )
            if found := any(map(is_choosable, recipe.lines)) and _IF_USED.search(text):
                yield place.fault(
                    name,
                    found[0],
                    "the plan says which version is cooked, so the step can be for that one",
                    "tie the step with only_with or without, or use square brackets",
                    "condition_in_plain_words",
                )
            plain = "".join(piece if isinstance(piece, str) else " . " for piece in pieces)
            for found in _DIVIDED.finditer(plain) if step is not None else ():
                count = found[1] or found[2] or found[3]
                noun = count.partition(" ")[2] or "pieces"
                yield place.fault(
                    name,
                    count,
                    f"a batch makes {recipe.yield_servings:g} servings, and other numbers of"
                    " batches make more or fewer",
                    f"write {{servings {noun}}} or {{boxes {noun}}}, or leave the count out",
                    "count_in_plain_words",
                )


def _mentions(
    recipe: Recipe, pieces: tuple[Piece, ...], step: Step | None, catalog: Catalog
) -> Iterator[Mention]:
    """Yield the foods that a text names and lacks, its conditions and brackets considered."""
    groups = [piece.pieces for piece in pieces if isinstance(piece, Bracketed)]
    outer = tuple(piece for piece in pieces if isinstance(piece, str))
    for words in (outer, *groups):
        needed = frozenset(slot.word for slot in slots(words))
        text = " . ".join(word for word in words if isinstance(word, str))
        possible = {
            index: dict.fromkeys(
                food
                for food in options_of(recipe)[index]
                if can_be(recipe, step, {index: food}, needed)
            )
            for index, line in enumerate(recipe.lines)
            if is_choosable(line)
        }
        yield from mentions(text, recipe, catalog.foods, possible)


def _why_plain(recipe: Recipe, mention: Mention, catalog: Catalog) -> str:
    if mention.lacking is None:
        return f"lines[{mention.line}] is optional, and the dish without it has none"
    name = short_name(recipe.lines[mention.line], mention.lacking, catalog.foods)
    return f"a version of this dish has {name} instead"


def _mend_plain(recipe: Recipe, mention: Mention, step: Step | None) -> str:
    line = recipe.lines[mention.line]
    key = line.key or mention.words.rpartition(" ")[2]
    mend = "" if line.key else f"give lines[{mention.line}] a key such as {key} and "
    inside = f"[{{{key}}}]" if line.optional else f"{{{key}}}"
    only = f", or tie the step with only_with: [{line.food}]" if step is not None else ""
    return f"{mend}write {inside} in its place{only}"
