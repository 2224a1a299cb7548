"""Spans of a macronutrient as written: `1.6g/kg`, `1.4-2.0g/kg`, `25%`, `20-35%`."""

from __future__ import annotations

import re
from dataclasses import dataclass
from typing import Literal

from planopt.faults import BadOption

_FORM = re.compile(
    r"\s*(\d+(?:\.\d+)?)\s*(?:(?:-|to)\s*(\d+(?:\.\d+)?)\s*)?(%|g/kg)\s*", re.IGNORECASE
)
_MOST = {"%": 100.0, "g/kg": 15.0}


@dataclass(frozen=True)
class Span:
    """From `low` to `high`, in percent of the energy or in grams per kilogram of body weight.

    A single figure has both ends alike.
    """

    low: float
    high: float
    unit: Literal["%", "g/kg"]

    def widened(self, room: float) -> Span:
        """Return a single figure with room to both sides; a span that has room stays as it is."""
        if self.low < self.high:
            return self
        return Span(self.low * (1 - room), self.high * (1 + room), self.unit)

    def percent(self, kcal_per_g: float, weight_kg: float, energy_kcal: float) -> Span:
        """Return the span in percent of an energy."""
        if self.unit == "%":
            return self
        share = 100 * kcal_per_g * weight_kg / energy_kcal
        return Span(self.low * share, self.high * share, "%")

    def text(self) -> str:
        """Return the span as it may be written, for example `1.4-2g/kg`."""
        ends = f"{self.low:.3g}" if self.low == self.high else f"{self.low:.3g}-{self.high:.3g}"
        return f"{ends}{self.unit}"


def read_span(text: str, option: str) -> Span:
    """Return the span that a text writes.

    Raises:
        BadOption: the text is no span.
    """
    found = _FORM.fullmatch(text)
    if found is None:
        raise BadOption(f"{option} {text}: write 1.6g/kg, 1.4-2.0g/kg, 25% or 20-35%")
    low = float(found[1])
    high = float(found[2]) if found[2] else low
    unit: Literal["%", "g/kg"] = "%" if found[3] == "%" else "g/kg"
    if low > high:
        raise BadOption(f"{option} {text}: the first figure is above the second")
    if high > _MOST[unit]:
        raise BadOption(f"{option} {text}: more than {_MOST[unit]:g}{unit} is no diet")
    return Span(low, high, unit)
