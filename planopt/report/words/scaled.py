"""Shares of a food that a step names, worked out for the batches cooked: `half the oil (41 g)`."""

from __future__ import annotations

import re
from collections.abc import Iterable
from fractions import Fraction

from planopt.report.words.plain import number, unbroken

_SHARES = {
    "half": Fraction(1, 2), "a third": Fraction(1, 3), "one third": Fraction(1, 3),
    "two thirds": Fraction(2, 3), "a quarter": Fraction(1, 4), "one quarter": Fraction(1, 4),
    "three quarters": Fraction(3, 4), "a fifth": Fraction(1, 5), "one fifth": Fraction(1, 5),
    "two fifths": Fraction(2, 5), "three fifths": Fraction(3, 5), "four fifths": Fraction(4, 5),
}  # fmt: skip
_PHRASE = re.compile(
    rf"\b(?P<share>{'|'.join(sorted(_SHARES, key=len, reverse=True))})(?: of)? the "
    r"(?P<food>[a-z-]+(?: [a-z-]+){0,2})",
    re.IGNORECASE,
)


def _stem(word: str) -> str:
    bare = word.casefold()
    return bare[:-2] if bare.endswith("oes") else bare.removesuffix("s")


def _words(name: str) -> frozenset[str]:
    return frozenset(_stem(word) for word in re.findall(r"[^\W\d_-]+(?:-[^\W\d_]+)*", name))


def scaled(text: str, foods: Iterable[tuple[str, float]]) -> str:
    """Return a step with the grams behind each share of a food that it names.

    A share stays as it is where its food is not the only one of `foods` (names and grams for all
    the batches) that the words may mean.
    """
    known = [(_words(name), grams) for name, grams in foods]

    def told(found: re.Match[str]) -> str:
        words = found["food"].split(" ")
        for count in range(len(words), 0, -1):
            asked = {_stem(word) for word in words[:count]}
            meant = [grams for name, grams in known if asked <= name]
            if len(meant) == 1:
                part = float(_SHARES[found["share"].casefold()]) * meant[0]
                grams = unbroken(f"{number(part, 0 if part >= 20 else 1)} g")
                end = found.start("food") - found.start() + len(" ".join(words[:count]))
                return f"{found[0][:end]} ({grams}){found[0][end:]}"
            if meant:
                break
        return found[0]

    return _PHRASE.sub(told, text)
