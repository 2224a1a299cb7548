"""Amounts of sentences as lines of recipes: grams where a weight is told, else household units.

A weight counts as bought, unless its sentence says that the food is prepared (`peeled carrots`), so
peel and can liquid are taken off it by the food's edible share. What the catalog's measures and
densities do not tell is for a person to settle.
"""

from __future__ import annotations

import re
from collections.abc import Callable
from dataclasses import dataclass
from decimal import Decimal
from fractions import Fraction

from planopt.catalog.foodwords import words_of
from planopt.catalog.quantities import Quantities, UnitUnknown
from planopt.catalog.records import Catalog, Food
from planopt.intake.sentences import COUNT, MASS, Amount, SentenceReading
from planopt.units import GRAMS_PER_UNIT, ML_PER_UNIT, SPOONS_PER_CUP, exact, round_half_up

# Two amounts told for the same thing differ by rounding, and no more than this.
TOLD_TWICE = 0.15
_ONE = "one"
# Words for pieces of a food that are the whole of what is eaten of it.
_EDIBLE_PARTS = frozenset(words_of("leaf leaves floret flesh kernel segment"))
_SIZES = ("small", "medium", "large")
_SAME_PIECE = {"rib": "stalk", "stick": "stalk", "crown": "head"}
_AMOUNT_TEXT = re.compile(r"(\d+(?:\.\d+)?|\d+/\d+|\d+ \d+/\d+)\s*([a-z]*)")

Settled = Callable[[str, str], "tuple[Fraction, str] | None"]


@dataclass(frozen=True)
class LineAmount:
    """The amount of a recipe line; `how` tells what was done to what the sentence says."""

    amount: Decimal
    unit: str
    state: str | None = None
    how: str = ""


@dataclass(frozen=True)
class NoGrams:
    """Nothing tells how heavy one `unit` of a food is; `hint` tells what comes near, `near_g`."""

    unit: str
    food_id: str
    hint: str = ""
    near_g: float | None = None


@dataclass(frozen=True)
class NotClear:
    """An amount that a person has to word anew, and why."""

    why: str


def read_amount(text: str) -> tuple[Fraction, str] | None:
    """Return number and unit of an amount such as `25 g`, `1/16 tsp`; grams if there is no unit."""
    found = _AMOUNT_TEXT.fullmatch(" ".join(text.lower().replace(",", ".").split()))
    if found is None:
        return None
    unit = found[2] or "g"
    if unit not in {*GRAMS_PER_UNIT, *ML_PER_UNIT}:
        return None
    try:
        number = sum((Fraction(part) for part in found[1].split()), Fraction(0))
    except ZeroDivisionError:
        return None
    return (number, unit) if number > 0 else None


class Weigher:
    """Turns amounts into recipe lines with the measures of one catalog and settled ones."""

    def __init__(self, catalog: Catalog, settled: Settled) -> None:
        self._catalog = catalog
        self._quantities = Quantities(catalog)
        self._yields: dict[str, set[str]] = {}
        for factor in catalog.yields:
            self._yields.setdefault(factor.food_id, set()).add(factor.state)
        self._measured: dict[str, set[str | None]] = {}
        for measure in catalog.measures:
            self._measured.setdefault(measure.food_id, set()).add(measure.state)
        self._settled = settled

    def line_amount(self, reading: SentenceReading, food: Food) -> LineAmount | NoGrams | NotClear:
        """Return the amount of a recipe line for a sentence and the food that it means."""
        if not reading.amounts:
            return NotClear("it has no amount")
        clash = _clash(reading.amounts)
        if clash is not None:
            return NotClear(clash)
        state = self._state(reading, food)
        if isinstance(state, NotClear):
            return state
        masses = [amount for amount in reading.amounts if amount.kind == MASS]
        if masses:
            return self._by_mass(masses[0], reading, food, state)
        tried = [self._by_measure(a, reading, food, state) for a in reading.amounts]
        return next((one for one in tried if isinstance(one, LineAmount)), tried[0])

    def grams(self, food_id: str, line: LineAmount) -> float:
        """Return the edible grams of a recipe line, as grams of the catalog food.

        Raises:
            UnitUnknown: the catalog does not tell how heavy this amount is.
        """
        return self._quantities.line_grams(food_id, line.amount, line.unit, line.state)

    def _state(self, reading: SentenceReading, food: Food) -> str | NotClear | None:
        """Return the state in which the amount is measured, None for the food's own."""
        named, done = set(words_of(reading.food)), set(words_of(reading.preparation))
        yields = self._yields.get(food.food_id, set())
        if food.state != "cooked" and ("cooked" in named or _told_cooked(reading, done)):
            if "cooked" in yields:
                return "cooked"
            if food.state == "raw":
                return NotClear(
                    "the amount is of the cooked food, and no yield tells what that was raw"
                )
        if "drained" in named | done and food.state != "drained" and "drained" in yields:
            by_weight = any(amount.kind == MASS for amount in reading.amounts)
            if reading.prepared or (
                not by_weight and "drained" in self._measured.get(food.food_id, ())
            ):
                return "drained"
        return None

    def _by_mass(
        self, amount: Amount, reading: SentenceReading, food: Food, state: str | None
    ) -> LineAmount | NotClear:
        whole = _EDIBLE_PARTS & set(words_of(reading.food))
        edible = reading.prepared or state is not None or bool(whole) or food.edible_share == 1
        how = _range_text(amount)
        if edible:
            return LineAmount(_decimal(amount.middle, amount.unit), amount.unit, state, how)
        if food.state == "drained" and not reading.container:
            return NotClear("it may weigh what is in the can, or what is left when that is drained")
        grams = amount.middle * GRAMS_PER_UNIT[amount.unit]
        share = exact(food.edible_share)
        bought = f"{_plain(grams, 1)} g as bought, {food.edible_share * 100:g} % of it edible"
        how = "; ".join(part for part in (how, bought) if part)
        return LineAmount(_decimal(grams * share, "g"), "g", None, how)

    def _by_measure(
        self, amount: Amount, reading: SentenceReading, food: Food, state: str | None
    ) -> LineAmount | NoGrams:
        unit = amount.unit if amount.kind != COUNT else self._piece(amount, reading, food)
        how = _range_text(amount)
        if unit in SPOONS_PER_CUP or unit in ("each", "slice", "clove"):
            if self._known(food, unit, state):
                return LineAmount(_decimal(amount.middle, unit), unit, state, how)
        elif unit in ML_PER_UNIT:
            if self._known(food, unit, state):
                return LineAmount(_decimal(amount.middle, unit), unit, state, how)
            if self._known(food, "cup", state):
                cups = amount.middle * ML_PER_UNIT[unit] / ML_PER_UNIT["cup"]
                spoon = (
                    "cup"
                    if cups >= Fraction(1, 4)
                    else "tbsp"
                    if cups >= Fraction(1, 16)
                    else "tsp"
                )
                return LineAmount(_decimal(cups * SPOONS_PER_CUP[spoon], spoon), spoon, state, how)
        asked = unit if amount.kind != COUNT else _asked_unit(amount, reading)
        settled = self._settled(asked, food.food_id)
        if settled is not None:
            number, of = settled
            total = number * amount.middle
            if self._known(food, of, state):
                how = "; ".join(p for p in (how, f"one {asked} is {_plain(number)} {of}") if p)
                return LineAmount(_decimal(total, of), of, state, how)
        return NoGrams(asked, food.food_id, *self._nearest(food, asked))

    def _known(self, food: Food, unit: str, state: str | None) -> bool:
        try:
            self._quantities.line_grams(food.food_id, 1, unit, state)
        except UnitUnknown:
            return False
        return True

    def _piece(self, amount: Amount, reading: SentenceReading, food: Food) -> str:
        """Return the unit of recipes that a counted thing is, or nothing if there is none."""
        if amount.unit in ("clove", "slice", "each"):
            return amount.unit
        source = next(
            (
                m.source.lower()
                for m in self._catalog.measures
                if m.food_id == food.food_id and m.unit == "each" and m.state in (None, food.state)
            ),
            None,
        )
        if source is None:
            return ""
        if amount.unit in ("", "whole"):
            told = [size for size in _SIZES if size in words_of(source)]
            size = reading.size
            if not size or size in told or (size == "medium" and not told):
                return "each"
            return "each" if size not in _SIZES and not set(size.split()) & set(_SIZES) else ""
        words = amount.unit.split()
        piece = _SAME_PIECE.get(words[-1], words[-1])
        return (
            "each" if piece in words_of(source) and not set(words[:-1]) & {"small", "large"} else ""
        )

    def _nearest(self, food: Food, asked: str) -> tuple[str, float | None]:
        """Return what the catalog tells of a like unit, as text and in grams."""
        tried = [word for word in asked.split() if word in SPOONS_PER_CUP] + ["each", "slice"]
        for unit in tried:
            if self._known(food, unit, None):
                grams = self._quantities.line_grams(food.food_id, 1, unit)
                source = next(
                    (m.source for m in self._catalog.measures
                     if m.food_id == food.food_id and m.unit == unit),
                    "its density",
                )  # fmt: skip
                return f"the catalog's {unit} is {grams:g} g ({source})", grams
        return "the catalog has no like measure", None


def _told_cooked(reading: SentenceReading, done: set[str]) -> bool:
    """Tell whether the amount is of the cooked food: `cooked quinoa`, not `beetroot, cooked`."""
    if "cooked" not in done:
        return False
    text = reading.sentence.casefold()
    food = text.find((reading.food.casefold().split() or [""])[0])
    return reading.prepared or -1 < text.find("cooked") < food


def _asked_unit(amount: Amount, reading: SentenceReading) -> str:
    """Return the word by which a counted thing is asked about: `bunch`, `large one`, `one`."""
    size = reading.size if reading.size and reading.size not in amount.unit else ""
    return f"{size} {amount.unit or _ONE}".strip()


def _clash(amounts: tuple[Amount, ...]) -> str | None:
    for kind, table in (("mass", GRAMS_PER_UNIT), ("volume", ML_PER_UNIT)):
        told = [a.middle * table[a.unit] for a in amounts if a.kind == kind and a.unit in table]
        if told and max(told) > min(told) * exact(1 + TOLD_TWICE):
            return "it tells two amounts that differ"
    return None


def _range_text(amount: Amount) -> str:
    if amount.low == amount.high:
        return ""
    unit = f" {amount.unit}" if amount.unit else ""
    return f"middle of {_plain(amount.low)} to {_plain(amount.high)}{unit}"


def _decimal(number: Fraction, unit: str) -> Decimal:
    """Return a number as it is written in a recipe: tenths of grams, four figures elsewhere."""
    if unit in ("g", "ml") and number >= 10:
        return _trimmed(round_half_up(number, 1))
    digits = 4 if number < 1 else 3
    return _trimmed(round_half_up(number, digits))


def _trimmed(number: Decimal) -> Decimal:
    text = f"{number:f}"
    return Decimal(text.rstrip("0").rstrip(".") if "." in text else text)


def _plain(number: Fraction, digits: int = 3) -> str:
    return f"{_trimmed(round_half_up(number, digits)):f}"
