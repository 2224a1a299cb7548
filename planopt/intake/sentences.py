"""Ingredient sentences: amounts, food and preparation, as a parser library reads them.

What the library gives is put in plain values here: exact fractions, unit words, and doubts where a
sentence can be read in more than one way. A sentence with a doubt is for a person to rewrite.
"""

from __future__ import annotations

import re
from dataclasses import dataclass, replace
from fractions import Fraction
from functools import lru_cache
from typing import Any, Literal

from planopt.catalog.foodwords import words_of
from planopt.intake.libraries import sentence_parser, units_library
from planopt.intake.trade import LOOKS
from planopt.units import GRAMS_PER_UNIT, ML_PER_UNIT

Cups = Literal["us_customary", "imperial", "metric"]
LEAST_CONFIDENCE = 0.5
_CONTAINER_TEXT = (
    "can tin jar packet package pack pouch carton tub bottle bag box block tube sachet tray"
)
CONTAINERS = frozenset(_CONTAINER_TEXT.split())
# Unit words of the library that recipes of this project know as they are.
_OWN_UNITS = {
    "gram": "g",
    "kilogram": "kg",
    "milliliter": "ml",
    "liter": "l",
    "ounce": "oz",
    "pound": "lb",
    "cup": "cup",
    "tablespoon": "tbsp",
    "teaspoon": "tsp",
}
# Others that are measures. The units library knows far more: its bag is one of 94 lb of cement.
_MEASURE_TEXT = "milligram deciliter centiliter pint quart gallon fluid_ounce cubic_centimeter"
_MEASURES = frozenset(_MEASURE_TEXT.split())
_SYSTEMS = ("imperial_", "metric_", "aus_", "jp_", "US_")
_FURTHER_UNITS = {
    "decilitres": "decilitre",
    "deciliters": "deciliter",
    "centilitres": "centilitre",
    "centiliters": "centiliter",
    "dls": "dl",
    "spears": "spear",
    "fillets": "fillet",
}
Kind = Literal["mass", "volume", "count"]
MASS: Kind = "mass"
VOLUME: Kind = "volume"
COUNT: Kind = "count"
_MODIFIERS = re.compile(r"\b(heaped|heaping|rounded|generous|scant)\s+", re.IGNORECASE)
_ANOTHER_AMOUNT = re.compile(
    r"(?:\d|\bone\b|\btwo\b|\bhalf\b)[^,;()]*?\b(?:g|kg|ml|l|oz|lbs?|cups?|tbsp|tsp|grams?|ounces?|"
    r"pounds?|tablespoons?|teaspoons?|litres?|liters?)\b|\bplus\b\s+(?:\d|one|two|an?\b(?!\s*little))",
    re.IGNORECASE,
)
_PART_OF_IT = re.compile(
    r"\b(?:juice|zest|rind|peel|yolks?|whites?)\b.*\b(?:of|only)\b|\b(?:juiced|zested)\b",
    re.IGNORECASE,
)
# `2 eggs + 1 yolk`; a sum of one food is read as one amount.
_ABOUT = re.compile(r"\b(?:about|approx\w*|roughly|circa|ca)\b|~", re.IGNORECASE)
_ONE_MORE = re.compile(r"(?:\+|\bplus|\band|\bor|&)\s*\d", re.IGNORECASE)
# The weight is that of what is eaten, whatever is said of peel and bones before.
_EDIBLE_WEIGHT = re.compile(
    r",?\s*\(?\b(?:weighed ready to cook|(?:edible|prepared|peeled|trimmed|net) weight)\b\)?",
    re.IGNORECASE,
)
_BULLET = re.compile("^[\\s\\-\u2013\u2022*\u25a2\u25cf\u25e6]+(?=\\S)")
_REWRITES = tuple(
    (re.compile(pattern, re.IGNORECASE), text)
    for pattern, text in (
        ("\u2044", "/"),
        ("[\u2010\u2011\u2012\u2013\u2014]", "-"),
        (r"\b(?:a\s+)?half\s+a?\s*dozen\b", "6"),
        (r"\b(?:a\s+)?half(?:\s+of)?\s+an?\b", "1/2"),
        (r"^half\s+(?=\w)", "1/2 "),
        (r"\b(?:a|one)[\s-]quarter(?:\s+of)?\s+an?\b", "1/4"),
        (r"\b(?:a|one)[\s-]third(?:\s+of)?\s+an?\b", "1/3"),
        (r"\bthree[\s-]quarters?(?:\s+of)?\s+an?\b", "3/4"),
        (r"\btwo[\s-]thirds(?:\s+of)?\s+an?\b", "2/3"),
        (r"^(?:an?\s+)?dozen\b", "12"),
        (r"(?<=\d),(?=\d{3}\b)", ""),
        (r"(?<=\d),(?=\d{1,2}\b)", "."),
        (r"^an?\s+(?!few\b|little\b|bit\b|couple\b)", "1 "),
        (r"^(?:about|approx\.?|approximately|roughly|circa|ca\.)\s+(?=\d)", ""),
        (r"\blevel\s+", ""),
    )
)
_DOZENS = re.compile(r"^(\d+)\s+dozen\b", re.IGNORECASE)


@dataclass(frozen=True)
class Amount:
    """One amount for the whole sentence; `low` and `high` differ in a range.

    `unit` is a unit of recipes, or another word such as `bunch`; empty for things that are counted.
    """

    low: Fraction
    high: Fraction
    unit: str
    kind: Kind

    @property
    def middle(self) -> Fraction:
        """Return the amount, of a range its middle."""
        return (self.low + self.high) / 2


@dataclass(frozen=True)
class SentenceReading:
    """What a sentence says. `amounts` are of the same thing, the first as it was written first.

    `prepared`: the amount is of the food as its preparation leaves it (`100 g peeled carrots`).
    `container` is the can or packet it comes in. `doubts` are sentences for the person to settle.
    """

    sentence: str
    food: str
    amounts: tuple[Amount, ...]
    preparation: str = ""
    remarks: str = ""
    size: str = ""
    container: str = ""
    prepared: bool = False
    optional: bool = False
    confidence: float = 1.0
    doubts: tuple[str, ...] = ()


def tidy(sentence: str) -> str:
    """Return a sentence in plainer words: numbers as digits, no bullets.

    >>> tidy("half a leek, sliced"), tidy("2 dozen eggs"), tidy("1,5 kg potatoes")
    ('1/2 leek, sliced', '24 eggs', '1.5 kg potatoes')
    """
    text = _BULLET.sub("", " ".join(sentence.split()))
    for pattern, plain in _REWRITES:
        text = pattern.sub(plain, text)
    return _DOZENS.sub(lambda found: str(12 * int(found[1])), text)


def without_remarks(sentence: str) -> tuple[str, bool]:
    """Return a sentence without `(optional)` and words on its weight, and whether it had these.

    >>> without_remarks("300 g carrots, weighed ready to cook (optional)")
    ('300 g carrots', True)
    """
    text = re.sub(r"\s*\(optional\)", "", sentence, flags=re.IGNORECASE)
    return _EDIBLE_WEIGHT.sub("", text).strip(), _EDIBLE_WEIGHT.search(text) is not None


@lru_cache(maxsize=8192)
def read_sentence(sentence: str, cups: Cups = "us_customary") -> SentenceReading:
    """Return what an ingredient sentence says.

    Raises:
        ImportUnavailable: the parser library is not installed.
    """
    told, ready = without_remarks(sentence)
    text = tidy(told)
    modifier = _MODIFIERS.search(text)
    if modifier is not None:
        text = _MODIFIERS.sub("", text, count=1)
    parsed = sentence_parser().parse_ingredient(
        text, volumetric_units_system=cups, custom_units=_FURTHER_UNITS
    )
    names = [name.text for name in parsed.name]
    names = [name for name in names if singular(name.lower()) not in CONTAINERS] or names
    preparation, comment, purpose = (
        "" if part is None else part.text
        for part in (parsed.preparation, parsed.comment, parsed.purpose)
    )
    reading = SentenceReading(
        sentence=sentence,
        food=names[0] if names else "",
        amounts=(),
        preparation=preparation,
        remarks=" ".join(part for part in (comment, purpose) if part),
        size="" if parsed.size is None else parsed.size.text.lower(),
        optional="optional" in sentence.lower(),
        confidence=min([n.confidence for n in parsed.name] or [0.0]),
    )
    reading = _with_amounts(reading, parsed.amount, text)
    summed = any(hasattr(amount, "amounts") for amount in parsed.amount)
    if modifier is not None and reading.amounts:
        first = reading.amounts[0]
        worded = replace(first, unit=f"{modifier[1].lower()} {first.unit}".strip(), kind=COUNT)
        reading = replace(reading, amounts=(worded, *reading.amounts[1:]))
    return replace(
        reading,
        prepared=reading.prepared or ready,
        doubts=tuple(dict.fromkeys((*reading.doubts, *_doubts(reading, names, text, summed)))),
    )


def _doubts(reading: SentenceReading, names: list[str], text: str, summed: bool) -> list[str]:
    found = []
    if _ONE_MORE.search(text) and not summed:
        found.append("there is another amount in its words")
    if not names:
        found.append("no food is found in it")
    elif reading.confidence < LEAST_CONFIDENCE:
        found.append(f"the food is read with {reading.confidence:.0%} confidence only")
    # `chicken breast, boneless` is one food and a word on it.
    others = [name for name in names[1:] if set(words_of(name)) - LOOKS]
    if others:
        found.append("it names several foods: " + ", ".join([names[0], *others]))
    if not reading.amounts and not reading.doubts:
        found.append("it has no amount")
    if _PART_OF_IT.search(reading.preparation):
        found.append("it is a part of the food, not the whole of it: " + reading.preparation)
    if _ANOTHER_AMOUNT.search(f"{reading.preparation}; {reading.remarks}"):
        found.append("there is another amount in its words")
    return found


def _with_amounts(reading: SentenceReading, parsed: list[Any], text: str) -> SentenceReading:
    """Put the library's amounts together: counts times sizes, sums, and the same told twice."""
    plain: list[tuple[Amount, Any]] = []
    doubts: list[str] = []
    for part in parsed:
        amount = _sum_of(part) if hasattr(part, "amounts") else _plain_amount(part)
        if amount is None:
            doubts.append(f"the amount {part.text!r} is not understood")
        else:
            plain.append((amount, part))
    reading = replace(
        reading,
        prepared=any(getattr(part, "PREPARED_INGREDIENT", False) for _, part in plain),
        doubts=tuple(doubts),
    )
    if not plain:
        return reading
    first = plain[0][0]
    units = [getattr(part, "unit", None) for _, part in plain]
    worded = [unit for unit in units if isinstance(unit, str)]
    reading = _container_of(reading, worded)
    sizes = [(amount, part) for amount, part in plain[1:] if amount.kind != COUNT]
    if first.kind != COUNT or not sizes:
        return replace(reading, amounts=tuple(amount for amount, _ in plain))
    size, part = sizes[0]
    each = _is_of_one(first, size, part, text, reading.container)
    if each is None:
        doubt = f"{part.text} may be of one or of all"
        return replace(reading, amounts=(first,), doubts=(*reading.doubts, doubt))
    if each:
        size = replace(size, low=size.low * first.low, high=size.high * first.high)
        return replace(reading, amounts=(size,))
    return replace(reading, amounts=(first, size))


def _container_of(reading: SentenceReading, units: list[str]) -> SentenceReading:
    """Tell the container; the library leaves it in the food where a size stands in between."""
    words = reading.food.split()
    for unit in units:
        last = singular(unit.lower()).split()[-1:]
        if set(last) & CONTAINERS:
            return replace(reading, container=last[0])
    word = words[0].lower().rstrip("s") if words else ""
    if len(words) > 1 and word in CONTAINERS:
        rest = words[2:] if words[1].lower() == "of" else words[1:]
        return replace(reading, container=word, food=" ".join(rest))
    return reading


def _is_of_one(first: Amount, size: Amount, part: Any, text: str, container: str) -> bool | None:
    """Tell whether a size beside a count is that of one piece; None if it may be either."""
    if first.low == first.high == 1:
        # `1 (400 g) tin` is both; `1 squash (about 1 kg)` is told twice, as a piece and by weight.
        return bool(container) or not re.search(r"\([^)]*\d[^)]*\)\s*(?:,|$)", text)
    if part.SINGULAR or re.search(r"\beach\b", text, re.IGNORECASE):
        return True
    if re.search(r"\b(?:in\s+)?total\b", text, re.IGNORECASE):
        return False
    inside = re.search(r"\(([^)]*\d[^)]*)\)", text)
    if re.match(r"^\S+(?:\s\d+/\d+)?\s*(?:x\s*)?[(\d]", text):
        return True  # `two 6-ounce fillets`, `2 x 400 g tins`, `4 (4 oz) fillets`
    if inside is None:
        return None  # `2 chicken breasts, about 500 g`
    after = text[inside.end() :].strip().lower()
    if any(after.startswith(word) for word in CONTAINERS):
        return True  # `2 (400 g) tins`
    return False if _ABOUT.search(inside[1]) and not container else None


def _sum_of(part: Any) -> Amount | None:
    """Return a sum such as `1 tablespoon plus 1 teaspoon` in the unit that was written first."""
    first = part.amounts[0]
    base = _plain_amount(first)
    try:
        total = part.combined().to(first.unit).magnitude
    except (TypeError, AttributeError, units_library().errors.PintError):
        return None
    exact = Fraction(total).limit_denominator(10000)
    return None if base is None else replace(base, low=exact, high=exact)


def _plain_amount(part: Any) -> Amount | None:
    if not isinstance(part.quantity, Fraction) or not isinstance(part.quantity_max, Fraction):
        return None
    low, high = sorted((part.quantity, part.quantity_max))
    if high <= 0:
        return None
    if isinstance(part.unit, str):
        return _worded_amount(low, high, singular(part.unit.lower()))
    name = str(part.unit)
    if not _is_measure(name):
        return Amount(low, high, singular(name.lower().replace("_", " ")), COUNT)
    kind = MASS if part.unit.dimensionality == {"[mass]": 1} else VOLUME
    if name in _OWN_UNITS:
        return Amount(low, high, _OWN_UNITS[name], kind)
    base = "g" if kind == MASS else "ml"
    factor = (1 * part.unit).to({"g": "gram", "ml": "milliliter"}[base]).magnitude
    exact = Fraction(factor).limit_denominator(10**6)
    return Amount(low * exact, high * exact, base, kind)


def _worded_amount(low: Fraction, high: Fraction, unit: str) -> Amount:
    """Return an amount whose unit came as words, such as `Tbsp`, `bunch` or `g pack`."""
    first = unit.split()[0] if unit else ""
    own = _OWN_UNITS.get(first, first)
    # `250 g pack` is a weight, and `large bunch` no unit of its own.
    if first in CONTAINERS or (unit != first and unit.split()[-1] not in CONTAINERS):
        return Amount(low, high, unit, COUNT)
    for kind, table in ((MASS, GRAMS_PER_UNIT), (VOLUME, ML_PER_UNIT)):
        if own in table:
            return Amount(low, high, own, kind)
    return Amount(low, high, unit, COUNT)


def _is_measure(name: str) -> bool:
    plain = name
    for system in _SYSTEMS:
        plain = plain.removeprefix(system)
    return plain in _OWN_UNITS or plain in _MEASURES


def singular(unit: str) -> str:
    """Return a unit word in its singular form.

    >>> singular("large handfuls"), singular("leaves"), singular("bunches"), singular("glass")
    ('large handful', 'leaf', 'bunch', 'glass')
    """
    if unit.endswith("leaves"):
        return unit.removesuffix("leaves") + "leaf"
    if unit.endswith("loaves"):
        return unit.removesuffix("loaves") + "loaf"
    if unit.endswith(("ches", "shes", "xes", "sses")):
        return unit.removesuffix("es")
    return unit.removesuffix("s") if not unit.endswith("ss") else unit
