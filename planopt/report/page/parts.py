"""Small pieces that all sections of the page share: anchors, ids, cautions by subject."""

from __future__ import annotations

import hashlib
import re
import unicodedata
from collections.abc import Iterable

from planopt.plan.cautions import STANDING
from planopt.plan.records import Plan
from planopt.report.words.plain import number

# The subjects by which standing cautions begin; each is repeated where it matters.
SUBJECTS = ("Storage", "Cooling", "Reheating", "Allergens")
_BREAKS = {"\n": " ", "\t": " ", "\r": " "}
# Marks that turn the direction of what follows could make a date or an amount read backwards.
_TURNS = frozenset("\u061c\u200e\u200f\u202a\u202b\u202c\u202d\u202e\u2066\u2067\u2068\u2069")
# A quantity with its unit, and both scales of a temperature: no line ends within.
_QUANTITY = re.compile(
    r"(?<=\d) (?=(?:%|g|kg|mg|ug|ml|l|kcal|mm|min|h|x|C|F|[A-Z]{3})(?!\w))"
    r"|(?<=\bx) (?=\d)|(?<=\d[ \u00a0][CF]) (?=[(/])|(?<=[CF][ \u00a0]/) (?=\d)"
)
_UNFIT = re.compile(r"[^a-z0-9]+")


def clean(text: str) -> str:
    """Return a text without control characters and without marks that turn its direction."""
    if text.isprintable():
        return text
    kept = (_BREAKS.get(char, char) for char in text)
    return "".join(
        c for c in kept if c not in _TURNS and unicodedata.category(c) not in ("Cc", "Cs")
    )


def readable(text: str) -> str:
    """Return a clean text of which no line breaks a quantity, for example `74 C (165 F)`."""
    return _QUANTITY.sub("\N{NO-BREAK SPACE}", clean(text))


def anchor(*parts: object) -> str:
    """Return an id for HTML from words, numbers and ids; equal parts give equal ids."""
    words = "-".join(str(part).lower() for part in parts)
    return _UNFIT.sub("-", words).strip("-")


def plan_mark(plan: Plan) -> str:
    """Return what tells this plan from every other: the first half of its SHA-256."""
    return hashlib.sha256(plan.model_dump_json(by_alias=True).encode()).hexdigest()[:32]


def css_string(text: str) -> str:
    """Return a text as a string of CSS that ends neither its quotes nor its style sheet."""
    safe = (c if c.isalnum() and c.isascii() else f"\\{ord(c):x} " for c in clean(text))
    return f'"{"".join(safe)}"'


def own_cautions(plan: Plan) -> list[str]:
    """Return the cautions that are about this plan, not those that every plan carries."""
    return [text for text in plan.cautions if text not in STANDING]


def cautions_about(plan: Plan, subjects: Iterable[str]) -> list[str]:
    """Return the cautions of the plan that begin with one of the subjects."""
    starts = tuple(f"{subject}:" for subject in subjects)
    return [text for text in plan.cautions if text.startswith(starts)]


def amount(value: float, digits: int = 0) -> str:
    """Return a number, or a dash where there is none."""
    return "-" if value != value else number(value, digits)


def window_words(least: float, most: float, digits: int = 0) -> str:
    """Return a window in words; NaN = that side is open."""
    if least != least and most != most:
        return ""
    if most != most:
        return f"at least {number(least, digits)}"
    if least != least:
        return f"at most {number(most, digits)}"
    return f"{number(least, digits)} to {number(most, digits)}"


def signed(value: float, digits: int = 0) -> str:
    """Return a change with its sign; what rounds to nothing is `no change`."""
    text = number(abs(value), digits)
    if text == number(0.0, digits):
        return "no change"
    return f"+{text}" if value > 0 else f"\N{MINUS SIGN}{text}"
