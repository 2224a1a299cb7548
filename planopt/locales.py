"""Which locales and unit systems there are to show amounts in; what they look like is `report`'s.

Locales are those of the Unicode Common Locale Data Repository (CLDR), through Babel.
"""

from __future__ import annotations

from difflib import get_close_matches
from functools import cache
from typing import Literal, get_args

from babel import Locale, UnknownLocaleError
from babel.core import get_locale_identifier, parse_locale
from babel.localedata import locale_identifiers

from planopt.faults import BadOption

Units = Literal["recipe", "metric", "us"]
UNITS: tuple[str, ...] = get_args(Units)


@cache
def known_locale(name: str) -> Locale:
    """Return a locale by its name, with a hyphen or an underscore.

    Raises:
        BadOption: CLDR has no such locale.
    """
    written = name.replace("-", "_")
    try:
        identifier = get_locale_identifier(parse_locale(written))
        found = Locale.parse(identifier)
    except (UnknownLocaleError, ValueError, TypeError) as error:
        raise BadOption(f"{name!r} is no locale; {locale_hint(name)}") from error
    return found


def locale_hint(name: str) -> str:
    """Return what may be meant by a name that is no locale."""
    close = get_close_matches(name.replace("-", "_"), locale_identifiers(), n=1)
    return f"did you mean {close[0]!r}?" if close else "write one such as en_US or de_DE"
