"""A recipe as its author published it: the properties of schema.org that are read, as plain data.

Nothing is judged here; what a property leaves open stays open.
"""

from __future__ import annotations

import html
import re
from collections.abc import Iterator
from dataclasses import dataclass, field
from fractions import Fraction
from typing import Any

from planopt.intake.jsonld import Node, as_list, types_of

_TAG = re.compile(r"<[^<>]*>")
_BREAK = re.compile(r"<\s*(?:br|/p|/li|/div|/h\d)\b[^<>]*>", re.IGNORECASE)
_NUMBERED = re.compile(r"^\s*(?:step\s*)?\d{1,2}\s*[.):]\s+", re.IGNORECASE)
_ENERGY = re.compile(r"(\d+(?:[.,]\d+)?)\s*(kcal|calories|cal|kj|kilojoules?)?\b", re.IGNORECASE)
KJ_PER_KCAL = 4.184
# ISO 8601: years and months have no length of their own, and no dish takes them.
_DURATION = re.compile(
    r"P(?:(?P<weeks>\d+(?:[.,]\d+)?)W)?(?:(?P<days>\d+(?:[.,]\d+)?)D)?"
    r"(?:T(?:(?P<hours>\d+(?:[.,]\d+)?)H)?(?:(?P<minutes>\d+(?:[.,]\d+)?)M)?"
    r"(?:(?P<seconds>\d+(?:[.,]\d+)?)S)?)?",
    re.IGNORECASE,
)
_MINUTES = {
    "weeks": Fraction(10080),
    "days": Fraction(1440),
    "hours": Fraction(60),
    "minutes": Fraction(1),
    "seconds": Fraction(1, 60),
}


@dataclass(frozen=True)
class SourceRecipe:
    """One published recipe; texts are plain, minutes None where they are not told.

    `yields` are the texts of its yield, one of them may be a bare number. `kcal` is what its author
    claims for a serving. `unread` names properties whose values are not understood.
    """

    file: str
    name: str
    sentences: tuple[str, ...]
    steps: tuple[str, ...]
    yields: tuple[str, ...] = ()
    prep_minutes: float | None = None
    cook_minutes: float | None = None
    total_minutes: float | None = None
    categories: tuple[str, ...] = ()
    kcal: float | None = None
    url: str = ""
    unread: tuple[str, ...] = field(default=())


def read_source(node: Node, file: str) -> SourceRecipe:
    """Return what a Recipe node tells."""
    unread: list[str] = []

    def minutes(*names: str) -> float | None:
        for name in names:
            for value in as_list(node.get(name)):
                text = plain_text(value)
                if not text:
                    continue
                found = duration_minutes(text)
                if found is not None:
                    return found
                unread.append(f"{name} {text!r}")
        return None

    nutrition = next((n for n in as_list(node.get("nutrition")) if isinstance(n, dict)), {})
    return SourceRecipe(
        file=file,
        name=next((text for v in as_list(node.get("name")) if (text := plain_text(v))), ""),
        sentences=tuple(_sentences(node)),
        steps=tuple(step for step in _steps(node.get("recipeInstructions")) if len(step) >= 3),
        yields=tuple(_yields(node)),
        prep_minutes=minutes("prepTime"),
        cook_minutes=minutes("cookTime", "performTime"),
        total_minutes=minutes("totalTime"),
        categories=tuple(
            part.strip()
            for value in as_list(node.get("recipeCategory"))
            for part in re.split(r"[,;/|]", plain_text(value))
            if part.strip()
        ),
        kcal=_kcal(nutrition.get("calories")),
        url=next((t for v in as_list(node.get("url")) if (t := plain_text(v))), ""),
        unread=tuple(unread),
    )


def plain_text(value: Any) -> str:
    """Return a value as one line of plain text, without mark-up."""
    if isinstance(value, dict):
        value = value.get("name") or value.get("text") or value.get("value") or ""
    if isinstance(value, bool) or not isinstance(value, (str, int, float)):
        return ""
    text = f"{value:g}" if isinstance(value, float) else str(value)
    # Pages escape twice as often as once.
    text = html.unescape(html.unescape(text))
    text = "".join(sign if sign.isprintable() else " " for sign in _TAG.sub(" ", text))
    return " ".join(text.split())


def duration_minutes(text: str) -> float | None:
    """Return an ISO 8601 duration in minutes, or None if the text is none.

    >>> duration_minutes("PT1H30M"), duration_minutes("PT0.5H"), duration_minutes("45 minutes")
    (90.0, 30.0, None)
    """
    found = _DURATION.fullmatch(text.strip().removeprefix("+"))
    parts = {name: part for name, part in (found.groupdict() if found else {}).items() if part}
    if not parts:
        return None
    return float(sum(Fraction(p.replace(",", ".")) * _MINUTES[n] for n, p in parts.items()))


def _sentences(node: Node) -> Iterator[str]:
    # `ingredients` is the older name of the property.
    for value in as_list(node.get("recipeIngredient", node.get("ingredients"))):
        text = value if isinstance(value, str) else plain_text(value)
        for part in re.split(r"[\r\n]+", _BREAK.sub("\n", text)):
            if plain_text(part):
                yield plain_text(part)


def _yields(node: Node) -> Iterator[str]:
    for value in as_list(node.get("recipeYield", node.get("yield"))):
        if isinstance(value, dict):  # QuantitativeValue
            number = plain_text(value.get("value"))
            unit = plain_text(value.get("unitText") or value.get("unitCode") or "")
            if number:
                yield f"{number} {unit}".strip()
        elif plain_text(value):
            yield plain_text(value)


def _steps(value: Any) -> Iterator[str]:
    """Yield instructions in their order: texts, HowToStep, HowToSection, ItemList, in any mix."""
    for item in as_list(value):
        if isinstance(item, str):
            for part in re.split(r"[\r\n]+", _BREAK.sub("\n", item)):
                yield _NUMBERED.sub("", plain_text(part))
        elif isinstance(item, dict):
            yield from _steps_of(item)


def _steps_of(item: Node) -> Iterator[str]:
    parts = item.get("itemListElement") or item.get("steps")
    if not parts:
        # The name of a step is often its own beginning, cut short.
        yield _NUMBERED.sub("", plain_text(item.get("text") or item.get("name")))
        return
    inner = [step for step in _steps(parts) if step]
    name = plain_text(item.get("name"))
    if "HowToSection" in types_of(item) and name and inner:
        inner[0] = f"{name.rstrip(':. ')}: {inner[0]}"
    if "HowToStep" in types_of(item) and inner:
        inner = [" ".join(inner)]
    yield from inner


def _kcal(value: Any) -> float | None:
    found = _ENERGY.search(plain_text(value).replace(",", "")) if value is not None else None
    if found is None:
        return None
    amount = float(found[1])
    is_kj = (found[2] or "").lower().startswith(("kj", "kilojoule"))
    return (amount / KJ_PER_KCAL if is_kj else amount) or None
