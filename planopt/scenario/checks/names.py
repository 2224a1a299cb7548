"""Warnings about clients whose names a person cannot tell apart on a label.

Names are compared by their skeletons: letters in their compatible forms, without case, accents,
spaces and signs, and letters of other scripts as the Latin ones that they look like. The skeleton
follows the idea of UTS #39 (Unicode Security Mechanisms); the table of likenesses is a short one of
our own, from memory, of Greek and Cyrillic letters and of digits.
"""

from __future__ import annotations

import unicodedata
from collections import defaultdict
from collections.abc import Iterator

from planopt.faults import Fault
from planopt.scenario.checks.subject import Check, Checking

_LIKE = str.maketrans(
    {
        **dict(zip("аеорсухіјѕһԁԛԝвнкмтгпиё", "aeopcyxijshdqwbhkmtrnue", strict=True)),
        **dict(zip("αβεηικνορτυχγωμ", "abenikvoptuxywm", strict=True)),
        **dict(zip("01358", "olesb", strict=True)),
        "\N{LATIN SMALL LETTER DOTLESS I}": "i",
        "ł": "l", "ø": "o", "đ": "d", "ß": "ss", "æ": "ae", "œ": "oe", "|": "l",
    }
)  # fmt: skip


def skeleton(name: str) -> str:
    """Return what is left of a name when all that the eye may miss is taken away."""
    text = unicodedata.normalize("NFKD", name).casefold().translate(_LIKE)
    text = unicodedata.normalize("NFKD", text)
    letters = "".join(char for char in text if char.isalnum() or _is_vowel_sign(char))
    # In many typefaces these look alike, as in `Ali`, `AlI` and `A1i`; and `rn` looks like `m`.
    return letters.replace("i", "l").replace("rn", "m").replace("vv", "w") or name


def _is_vowel_sign(char: str) -> bool:
    """Tell a mark that is part of a letter, as in Devanagari or Thai, from an accent on one."""
    return unicodedata.category(char).startswith("M") and unicodedata.combining(char) < 200


def names_alike(c: Checking) -> Iterator[Fault]:
    """Yield a warning for each client whose name looks like that of one before."""
    seen: dict[str, list[str]] = defaultdict(list)
    for path, client in c.clients():
        key = skeleton(client.name)
        if seen[key]:
            other = seen[key][0]
            yield c.fault(
                (*path, "name"),
                client.name,
                f"it is written like, or looks like, the name of client {other}, and labels show"
                " names; only the short mark of the id tells them apart",
                "add an initial or the family name",
                "name_near_another",
            )
        seen[key].append(client.client_id)


NAME_WARNINGS: tuple[Check, ...] = (names_alike,)
