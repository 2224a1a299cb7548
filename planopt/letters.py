"""Characters that no name may have: what cannot be seen, or turns the direction of a line."""

from __future__ import annotations

import unicodedata

# They join letters of some scripts, and the parts of an emoji.
_JOINERS = "\u200c\u200d"
_BREAKS = "\n\r\t"


def odd_letter(text: str, *, lines: bool = False) -> str | None:
    """Return the first control, format or direction character of a text by number and name.

    With `lines` the text may have several, and tabs. None if there is no such character.
    """
    if text.isprintable():
        return None
    for letter in text:
        if letter in _JOINERS or (lines and letter in _BREAKS):
            continue
        if unicodedata.category(letter) in ("Cc", "Cf", "Cs", "Zl", "Zp"):
            name = unicodedata.name(letter, _CONTROLS.get(letter, "a control character"))
            return f"U+{ord(letter):04X} ({name.lower()})"
    return None


_CONTROLS = {"\n": "a line break", "\r": "a line break", "\t": "a tab", "\x1b": "escape"}


def escaped(text: str) -> str:
    """Return a text for a message, with an escape for each character that cannot be seen."""
    if text.isprintable():
        return text
    return "".join(c if c.isprintable() else repr(c)[1:-1] for c in text)
