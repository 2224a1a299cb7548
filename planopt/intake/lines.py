"""Ingredient sentences of one recipe as its lines, and what is asked about them."""

from __future__ import annotations

import re
from dataclasses import dataclass, field
from fractions import Fraction

from planopt.catalog.foodwords import words_of
from planopt.catalog.records import Catalog, Food
from planopt.faults import nearest
from planopt.intake.amounts import LineAmount, NoGrams, NotClear, Weigher, read_amount
from planopt.intake.matching import FoodMatcher, Matched, plain_key
from planopt.intake.sentences import (
    COUNT,
    MASS,
    VOLUME,
    Amount,
    Cups,
    SentenceReading,
    read_sentence,
    without_remarks,
)
from planopt.intake.settling import (
    EVERY,
    FOOD,
    LEAVE_OUT,
    MEASURE,
    SENTENCE,
    Question,
    SettledAnswer,
    SettledAnswers,
)
from planopt.units import ALL_UNITS, GRAMS_PER_UNIT, ML_PER_UNIT, SPOONS_PER_CUP

_UNITS = "|".join(sorted((unit for unit in ALL_UNITS if unit != "each"), key=len, reverse=True))
_OWN_FORM = re.compile(
    rf"(?P<number>\d+(?:\.\d+)?) (?:(?P<unit>(?:{_UNITS})s?) )?"
    r"(?:(?P<state>cooked|drained|raw) )?(?P<name>\D.*)"
)
_HEADING = re.compile(r"^(?:for (?:the|an?)\b[^\d]*|[^\d]*:)$", re.IGNORECASE)


@dataclass(frozen=True)
class DraftLine:
    """A line of a recipe: what its sentence said and what was made of it.

    `confidence` is that of the food, 1 where a person has settled it.
    """

    sentence: str
    food_id: str
    amount: LineAmount
    grams: float
    confidence: float
    settled: bool = False


@dataclass
class DraftLines:
    """The lines of one recipe, `waiting` where an answer is missing, `notes` for the reader."""

    lines: list[DraftLine] = field(default_factory=list)
    notes: list[str] = field(default_factory=list)
    waiting: bool = False


class LineReader:
    """Reads the ingredient sentences of recipes for one catalog with one file of answers."""

    def __init__(
        self, catalog: Catalog, answers: SettledAnswers, cups: Cups = "us_customary"
    ) -> None:
        self._catalog = catalog
        self._answers = answers
        self._cups = cups
        self._matcher = FoodMatcher(catalog)
        self._weigher = Weigher(catalog, self._settled_measure)
        self._readings: dict[str, SentenceReading] = {}
        names = [(words_of(food.name), food.name) for food in catalog.foods.values()]
        self._names = {words: name for words, name in names if words}
        self._recipe_id = ""

    def read(self, recipe_id: str, sentences: tuple[str, ...]) -> DraftLines:
        """Return the lines of a recipe; what is open is asked of the answers.

        Raises:
            ImportUnavailable: the libraries that this needs are not installed.
        """
        self._recipe_id = recipe_id
        draft = DraftLines()
        for sentence in sentences:
            if _HEADING.match(sentence):
                draft.notes.append(f"taken as a heading: {sentence}")
                continue
            self._sentence(sentence, draft)
        return draft

    def _sentence(self, sentence: str, draft: DraftLines) -> None:
        asked = Question(SENTENCE, EVERY, sentence, "", recipes=(self._recipe_id,))
        given = self._peek(asked)
        if given is not None and given.text.casefold() == LEAVE_OUT:
            draft.notes.append(f"left out, as answered: {sentence}")
            return
        texts = [part.strip() for part in given.text.split(";")] if given else [sentence]
        for text in texts:
            reading = self._reading(text)
            if reading.optional:
                draft.notes.append(f"optional in the source, and always in here: {sentence}")
            why = "; ".join(reading.doubts)
            if not why:
                why = self._line(reading, sentence, draft)
            if why:
                self._unclear(sentence, text, why, given, draft)

    def _unclear(
        self, sentence: str, text: str, why: str, given: SettledAnswer | None, draft: DraftLines
    ) -> None:
        draft.waiting = True
        if given is not None:
            mend = f"write one amount and one food, such as 2 tbsp olive oil, or {LEAVE_OUT}"
            self._answers.refuse(given, f"{text!r}: {why}", mend)
            return
        why += f"; write it anew with one amount and one food, several with ; or {LEAVE_OUT}"
        self._answers.answer(Question(SENTENCE, EVERY, sentence, why, recipes=(self._recipe_id,)))

    def _line(self, reading: SentenceReading, sentence: str, draft: DraftLines) -> str:
        """Add the line of a sentence or ask about it; return why the sentence itself is unclear."""
        settled, confidence = True, 1.0
        food = self._settled_food(reading)
        if isinstance(food, str):
            draft.waiting = draft.waiting or food != LEAVE_OUT
            if food == LEAVE_OUT:
                draft.notes.append(f"left out, as answered: {sentence}")
            return ""
        if food is None:
            settled = False
            around = f"{reading.preparation} {reading.remarks} {reading.container}"
            found = self._matcher.find(reading.food, around)
            if found.sure is None:
                draft.waiting = True
                self._ask_food(reading, found)
                return ""
            food, confidence = self._catalog.foods[found.sure], found.matches[0].confidence
        amount = self._weigher.line_amount(reading, food)
        match amount:
            case NotClear():
                return amount.why
            case NoGrams():
                draft.waiting = True
                self._ask_measure(amount, reading)
            case LineAmount():
                grams = self._weigher.grams(food.food_id, amount)
                draft.lines.append(
                    DraftLine(sentence, food.food_id, amount, grams, confidence, settled)
                )
        return ""

    def _settled_food(self, reading: SentenceReading) -> Food | str | None:
        """Return the food that a person has named, `leave out`, `?` if unusable, None if none."""
        asked = Question(FOOD, EVERY, plain_key(reading.food), "", recipes=(self._recipe_id,))
        given = self._peek(asked)
        if given is None:
            return None
        text = given.text.casefold()
        if text == LEAVE_OUT:
            return LEAVE_OUT
        if text in self._catalog.foods:
            return self._catalog.foods[text]
        fault = given.fault(
            "the catalog has no such food", nearest(text, self._catalog.foods), "unknown_food"
        )
        self._answers.faults.append(fault)
        return "?"

    def _ask_food(self, reading: SentenceReading, found: Matched) -> None:
        near = ", ".join(f"{m.food_id} {m.confidence:.0%}" for m in found.matches)
        why = f"{found.why_unsure}; near: {near or 'none'}; answer a food_id or {LEAVE_OUT}"
        about = plain_key(reading.food)
        self._answers.answer(Question(FOOD, EVERY, about, why, recipes=(self._recipe_id,)))

    def _ask_measure(self, missing: NoGrams, reading: SentenceReading) -> None:
        why = f"how much is one? {missing.hint}; answer as 25 g or 1/8 tsp"
        near = f"{missing.near_g:g} g" if missing.near_g and missing.unit.endswith("one") else ""
        about = f"{missing.unit} of {missing.food_id}"
        self._answers.answer(Question(MEASURE, EVERY, about, why, near, recipes=(self._recipe_id,)))

    def _settled_measure(self, unit: str, food_id: str) -> tuple[Fraction, str] | None:
        for about in (f"{unit} of {food_id}", f"{unit} of {EVERY}"):
            asked = Question(MEASURE, EVERY, about, "", recipes=(self._recipe_id,))
            given = self._peek(asked)
            if given is not None:
                read = read_amount(given.text)
                if read is None:
                    self._answers.refuse(given, "this is no amount", "write it as 25 g or 1/8 tsp")
                return read
        return None

    def _peek(self, question: Question) -> SettledAnswer | None:
        """Return an answer without asking for one that is missing."""
        return self._answers.given(question)

    def _reading(self, text: str) -> SentenceReading:
        if text not in self._readings:
            self._readings[text] = self._own_form(text) or read_sentence(text, self._cups)
        return self._readings[text]

    def _own_form(self, text: str) -> SentenceReading | None:
        """Return a sentence that is an amount and the whole name of a food, as an export writes it.

        Such a one needs no guess, however oddly the catalog names its foods.
        """
        plain, ready = without_remarks(text)
        found = _OWN_FORM.fullmatch(plain)
        if found is None:
            return None
        unit, state, rest = found["unit"] or "", found["state"] or "", found["name"]
        unit = unit if unit in ALL_UNITS else unit.removesuffix("s")
        name = self._names.get(words_of(rest))
        if name is None or (self._cups != "us_customary" and unit in SPOONS_PER_CUP):
            return None
        number = Fraction(found["number"])
        kind = MASS if unit in GRAMS_PER_UNIT else VOLUME if unit in ML_PER_UNIT else COUNT
        return SentenceReading(
            sentence=text,
            food=name,
            amounts=(Amount(number, number, unit, kind),),
            preparation=state,
            prepared=ready or bool(state),
            optional="optional" in text.lower(),
        )
