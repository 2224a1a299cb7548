"""Heights and weights as people say them: `168`, `1.68 m`, `5ft 6in`, `70`, `154 lb`."""

from __future__ import annotations

import re

from planopt.faults import BadOption

# Exact by the international yard and pound of 1959.
CM_PER_INCH = 2.54
KG_PER_LB = 0.45359237
_NUMBER = r"(\d+(?:\.\d+)?)"
_FEET = re.compile(rf"{_NUMBER}\s*(?:ft|')\s*(?:{_NUMBER}\s*(?:in|\")?)?")
_HEIGHT = re.compile(rf"{_NUMBER}\s*(cm|m|in)?")
_WEIGHT = re.compile(rf"{_NUMBER}\s*(kg|lb|lbs)?")


def read_height_cm(text: str) -> float:
    """Return a height in centimetres; without a unit it is in centimetres.

    Raises:
        BadOption: the text is no height.
    """
    low = text.strip().lower()
    feet = _FEET.fullmatch(low)
    if feet is not None:
        return (float(feet[1]) * 12 + float(feet[2] or 0)) * CM_PER_INCH
    plain = _HEIGHT.fullmatch(low)
    if plain is None:
        raise BadOption(f"--height {text}: write 168, 1.68m, 66in or 5ft6in")
    return float(plain[1]) * {"cm": 1.0, "m": 100.0, "in": CM_PER_INCH}[plain[2] or "cm"]


def read_weight_kg(text: str) -> float:
    """Return a weight in kilograms; without a unit it is in kilograms.

    Raises:
        BadOption: the text is no weight.
    """
    plain = _WEIGHT.fullmatch(text.strip().lower())
    if plain is None:
        raise BadOption(f"--weight {text}: write 70, 70kg or 154lb")
    return float(plain[1]) * (KG_PER_LB if (plain[2] or "kg").startswith("lb") else 1.0)
