"""How large the type of a label can be: its words laid out on paper, the largest rung that fits.

Widths are those of DejaVu Sans, the widest of the fonts that a browser is likely to take, so that
words that fit here fit in all of them; `tests/page` measures in a browser that nothing is cut off.
"""

from __future__ import annotations

import unicodedata
from collections.abc import Sequence
from dataclasses import dataclass

MM_PER_PT = 25.4 / 72
# Millimetres between a label's edge and its words, and below each line of words.
PAD_ACROSS, PAD_DOWN, GAP = 3.0, 2.5, 0.5
TIGHT_ACROSS, TIGHT_DOWN, TIGHT_GAP = 1.5, 1.2, 0.2
LINE, HEAD_LINE = 1.2, 1.12

# Hundredths of the type size that the printable letters of ASCII take, from the space on.
_REGULAR = (
    32, 41, 46, 84, 64, 96, 78, 28, 40, 40, 50, 84, 32, 37, 32, 34, 64, 64, 64, 64, 64, 64, 64, 64,
    64, 64, 34, 34, 84, 84, 84, 54, 100, 69, 69, 70, 77, 64, 58, 78, 76, 30, 30, 66, 56, 87, 75, 79,
    61, 79, 70, 64, 62, 74, 69, 99, 69, 62, 69, 40, 34, 40, 84, 50, 50, 62, 64, 55, 64, 62, 36, 64,
    64, 28, 28, 58, 28, 98, 64, 62, 64, 64, 42, 53, 40, 64, 60, 82, 60, 60, 53, 64, 34, 64, 84,
)  # fmt: skip
_BOLD = (
    35, 46, 53, 84, 70, 101, 88, 31, 46, 46, 53, 84, 38, 42, 38, 37, 70, 70, 70, 70, 70, 70, 70, 70,
    70, 70, 40, 40, 84, 84, 84, 58, 100, 78, 77, 74, 83, 69, 69, 83, 84, 38, 38, 78, 64, 100, 84,
    85, 74, 85, 77, 73, 69, 82, 78, 111, 78, 73, 73, 46, 37, 46, 84, 50, 50, 68, 72, 60, 72, 68, 44,
    72, 72, 35, 35, 67, 35, 105, 72, 69, 72, 72, 50, 60, 48, 72, 66, 93, 65, 66, 59, 72, 37, 72, 84,
)  # fmt: skip
_OTHER = 0.78
_WIDE = 1.05


@dataclass(frozen=True)
class LabelType:
    """Type sizes in points: of the dish, of the date to eat it by, of the client, of the rest."""

    dish: float
    date: float
    who: float
    rest: float


# The first is what a label should look like; 8 points are the least that is read at arm's length.
# Common practice, no source.
RUNGS = (
    LabelType(13, 14, 11, 9.5), LabelType(13, 14, 11, 8.5), LabelType(13, 14, 10, 8),
    LabelType(13, 14, 8, 8),
    # The day to eat it by stays large for longest: it is looked for in a full fridge.
    LabelType(11, 14, 8, 8), LabelType(9.5, 14, 8, 8), LabelType(8.5, 12, 8, 8),
    LabelType(8, 8, 8, 8),
)  # fmt: skip
# Only where the words that must be known would not fit otherwise, as with fourteen allergens on the
# smallest label that a scenario may have; above the 0.9 mm of x-height that a pack may have at
# least (Regulation (EU) No 1169/2011, Article 13(3)).
LAST_RUNGS = (LabelType(7, 7, 7, 7), LabelType(6, 6, 6, 6), LabelType(5.2, 5.2, 5.2, 5.2))


@dataclass(frozen=True)
class Words:
    """One paragraph of a label; `kind` names the size that it takes in a rung.

    `tail` stands behind it in the size of the rest, on the same line where there is room.
    """

    text: str
    kind: str
    bold: bool = False
    tail: str = ""


def _letter(char: str, bold: bool) -> float:
    place = ord(" " if char == "\N{NO-BREAK SPACE}" else char) - 32
    if 0 <= place < len(_REGULAR):
        return (_BOLD if bold else _REGULAR)[place] / 100
    return _WIDE if unicodedata.east_asian_width(char) in ("W", "F") else _OTHER


def width_mm(text: str, size: float, bold: bool) -> float:
    """Return how wide a text is at a type size in points."""
    return sum(_letter(char, bold) for char in text) * size * MM_PER_PT


def _lines(words: Words, size: float, tail_mm: float, room: float) -> int:
    lines, used = 1, 0.0
    space = width_mm(" ", size, words.bold)
    for word in words.text.split(" "):
        wide = width_mm(word, size, words.bold)
        if used and used + space + wide > room:
            lines, used = lines + 1, 0.0
        elif used:
            used += space
        if wide > room:
            # An endless word is broken anywhere; one letter may be left over in each line.
            whole = wide / (room - size * MM_PER_PT)
            lines += int(whole)
            used = room
        else:
            used += wide
    return lines + (used + tail_mm > room)


def _fits(paragraphs: Sequence[Words], rung: LabelType, width: float, height: float) -> bool:
    tight = rung in LAST_RUNGS
    room = width - 2 * (TIGHT_ACROSS if tight else PAD_ACROSS)
    high, gap = 2 * (TIGHT_DOWN if tight else PAD_DOWN), TIGHT_GAP if tight else GAP
    for words in paragraphs:
        size: float = getattr(rung, words.kind)
        line = HEAD_LINE if words.kind == "dish" else LINE
        tail = width_mm(f"  {words.tail}", rung.rest, bold=True) if words.tail else 0.0
        high += _lines(words, size, tail, room) * size * line * MM_PER_PT + gap
    return high <= height


def largest_rung(
    choices: Sequence[Sequence[Words]], width: float, height: float
) -> tuple[int, int]:
    """Return which of the choices of words, and which rung, to set on a label of such a size.

    Choices come with the most words first: those with fewer are taken only where no rung of a size
    that reads well has room for more.
    """
    last = len(choices) - 1
    for choice, paragraphs in enumerate(choices):
        for place, rung in enumerate(RUNGS):
            if _fits(paragraphs, rung, width, height):
                return choice, place
    for place, rung in enumerate(LAST_RUNGS, start=len(RUNGS)):
        if _fits(choices[-1], rung, width, height):
            return last, place
    return last, len(RUNGS) + len(LAST_RUNGS) - 1
