"""The words for each kind of error that pydantic finds: why it is one, and how to mend it."""

from __future__ import annotations

import re
from collections.abc import Callable
from difflib import get_close_matches
from typing import Any, NamedTuple

from planopt.currencies import MINOR_DIGITS
from planopt.faults import nearest
from planopt.ranges import Range
from planopt.reading.files import shown


class Wording(NamedTuple):
    """Why a value is refused, how to mend it, and the stable code."""

    why: str
    mend: str
    code: str


def wrong_kind(kind: str, value: str) -> Wording:
    """Return the words for a value that is no number, date, list and so on."""
    if kind == "number":
        if re.fullmatch(r"[+-]?\d+,\d+", value):
            mend = f"write decimals with a point: {value.replace(',', '.')}"
        else:
            mend = "write a plain number, without unit and without thousands separator"
        return Wording("this is not a number", mend, "not_a_number")
    return _KINDS[kind]


def out_of_range(within: Range) -> Wording:
    """Return the words for a number that is outside of its range."""
    return Wording(within.why, f"write a number {within.words()}", "out_of_range")


_KINDS = {
    "whole": Wording("this is not a whole number", "write a whole number", "not_a_whole_number"),
    "finite": Wording("this is not a finite number", "write a plain number", "not_a_number"),
    "text": Wording("this is not text", "put the value in quotes", "not_text"),
    "yes_no": Wording("this is neither true nor false", "write true or false", "not_true_or_false"),
    "date": Wording(
        "this is not a date of the calendar", "write the date as YYYY-MM-DD", "not_a_date"
    ),
    "mapping": Wording(
        "named fields are needed here", "write a mapping, one `name: value` a line", "not_a_mapping"
    ),
    "list": Wording("a list is needed here", "write a list, for example [a, b]", "not_a_list"),
}

_KIND_OF_TYPE = {
    "float_parsing": "number",
    "float_type": "number",
    "decimal_parsing": "number",
    "decimal_type": "number",
    "int_parsing": "number",
    "int_type": "number",
    "int_from_float": "whole",
    "int_parsing_size": "whole",
    "finite_number": "finite",
    "string_type": "text",
    "bool_type": "yes_no",
    "bool_parsing": "yes_no",
    "date_type": "date",
    "date_parsing": "date",
    "date_from_datetime_parsing": "date",
    "date_from_datetime_inexact": "date",
    "model_type": "mapping",
    "dict_type": "mapping",
    "tuple_type": "list",
}

_LIMITS = {
    "greater_than": ("gt", "above"),
    "greater_than_equal": ("ge", "at least"),
    "less_than": ("lt", "below"),
    "less_than_equal": ("le", "at most"),
}


def id_like(text: str) -> str:
    """Return the text as a valid id, or nothing if it has no letter to start with."""
    return re.sub(r"[^a-z0-9]+", "_", text.lower()).strip("_0123456789")[:60]


def _mend_id(text: str) -> str:
    return f"write {id_like(text)!r}" if id_like(text) else "choose such an id"


def _mend_currency(text: str) -> str:
    return "write for example USD or EUR"


def _mend_clock(text: str) -> str:
    short = re.fullmatch(r"(\d):([0-5]\d)", text)
    return f"write '0{text}'" if short else "write for example '09:00'"


def _mend_sr28(text: str) -> str:
    if text.isdigit() and len(text) < 5:
        return f"write {text.zfill(5)!r}"
    return "look the number up in the SR28 food list"


def _mend_other(text: str) -> str:
    return "rewrite it"


_PATTERNS: dict[str, tuple[str, Callable[[str], str]]] = {
    r"^[a-z][a-z0-9_]*$": (
        "an id has only lower-case letters, digits and underscores, and starts with a letter",
        _mend_id,
    ),
    r"^[A-Z]{3}$": ("a currency is three capital letters", _mend_currency),
    r"^([01][0-9]|2[0-3]):[0-5][0-9]$": (
        "a time of day has two digits for the hour and two for the minute, up to 23:59",
        _mend_clock,
    ),
    r"^\d{5}$": ("an SR28 number has five digits", _mend_sr28),
}


def word_for(detail: Any, name: str, within: Range | None = None) -> Wording:
    """Return the words for one entry of `ValidationError.errors()`.

    `name` is the field's, and `within` the range of its numbers.
    """
    kind = _KIND_OF_TYPE.get(detail["type"])
    if kind is not None:
        return wrong_kind(kind, shown(detail["input"]))
    if detail["type"] in _LIMITS and within is not None:
        return out_of_range(within)
    if detail["type"] in _LIMITS:
        key, words = _LIMITS[detail["type"]]
        limit = f"{words} {detail['ctx'][key]:g}"
        return Wording(f"this must be {limit}", f"write a number that is {limit}", "out_of_range")
    special = _SPECIAL.get(detail["type"])
    if special is not None:
        return special(detail, name)
    return Wording(str(detail["msg"]).lower(), "correct the value", "invalid_value")


def _missing(detail: Any, name: str) -> Wording:
    return Wording("this field is needed and is not there", f"add {name!r}", "missing_field")


def _choice(detail: Any, name: str) -> Wording:
    options = re.findall(r"'([^']*)'", str(detail["ctx"]["expected"]))
    return Wording(
        "this is not one of the values allowed here",
        nearest(shown(detail["input"]), options),
        "not_a_choice",
    )


def _pattern(detail: Any, name: str) -> Wording:
    why, mend = _PATTERNS.get(
        detail["ctx"]["pattern"], ("this is not of the form needed", _mend_other)
    )
    return Wording(why, mend(str(detail["input"]).strip()), "bad_form")


def _too_short(detail: Any, name: str) -> Wording:
    least = detail["ctx"]["min_length"]
    if detail["type"] == "string_too_short":
        return Wording(f"at least {least} characters are needed", "write the text", "too_short")
    return Wording(f"at least {least} entry is needed", "add an entry", "too_short")


def _too_long(detail: Any, name: str) -> Wording:
    most = detail["ctx"]["max_length"]
    what = "characters" if detail["type"] == "string_too_long" else "entries"
    return Wording(f"at most {most} {what} are allowed", "shorten it", "too_long")


def _currency(detail: Any, name: str) -> Wording:
    code = shown(detail["input"])
    # Swapped letters are the usual slip, and by likeness alone another code may be as near.
    swapped = [known for known in MINOR_DIGITS if sorted(known) == sorted(code)]
    close = swapped[:1] or get_close_matches(code, MINOR_DIGITS, n=1)
    mend = f"did you mean {close[0]!r}?" if close else _mend_currency(code)
    return Wording("ISO 4217 has no such currency in use", mend, "unknown_currency")


def _pairs(detail: Any, name: str) -> Wording:
    return Wording(
        "the parts are not pairs, or one is there twice",
        "write for example protein:1.83|fat:8.37|carbohydrate:1.33",
        "not_a_pair",
    )


_SPECIAL: dict[str, Callable[[Any, str], Wording]] = {
    "not_a_pair": _pairs,
    "missing": _missing,
    "literal_error": _choice,
    "string_pattern_mismatch": _pattern,
    "string_too_short": _too_short,
    "too_short": _too_short,
    "string_too_long": _too_long,
    "too_long": _too_long,
    "unknown_currency": _currency,
}
