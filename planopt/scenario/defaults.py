"""Defaults of a person: how plans are shown where no option says so, in one small file.

The file is looked for in this order, and the first found counts alone: where `PLANOPT_DEFAULTS`
says, beside the scenario, in the user's folder of settings. It changes no number of a plan.
"""

from __future__ import annotations

import os
from dataclasses import dataclass
from pathlib import Path
from typing import Literal

from platformdirs import user_config_path
from pydantic import Field

from planopt.catalog.records import Record
from planopt.faults import BadInput, BadOption, Fault
from planopt.locales import Units, known_locale, locale_hint
from planopt.reading.documents import Document, read_document
from planopt.reading.soundest import soundest
from planopt.reading.validation import validate
from planopt.scenario.labelsheet import LabelSheet

DEFAULTS_FILE = "planopt-defaults.yaml"
DEFAULTS_VARIABLE = "PLANOPT_DEFAULTS"


class Defaults(Record):
    """How a person wants plans shown; an option of a command goes before it."""

    locale: str | None = Field(default=None, description="default: ISO dates, decimal point")
    units: Units = "recipe"
    label_sheet: LabelSheet | None = Field(
        default=None, description="for scenarios that have none; default: the plain grid"
    )
    paper: Literal["a4", "letter"] | None = Field(
        default=None, description="print the pages to PDF on it; default: no PDF"
    )
    byte_order_mark: bool = Field(default=False, description="first in CSV files, for spreadsheets")
    handles: bool = Field(default=False, description="name clients by their ids alone")


@dataclass(frozen=True)
class FoundDefaults:
    """Defaults, and the file that they are from; None where there is none."""

    defaults: Defaults
    file: Path | None = None


def defaults_places(scenario: Path | None = None) -> list[Path]:
    """Return where defaults are looked for, the first place first."""
    told = os.environ.get(DEFAULTS_VARIABLE)
    if told is not None:
        return [Path(told)] if told else []
    beside = [] if scenario is None else [scenario.parent / DEFAULTS_FILE]
    return [*beside, user_config_path("planopt", appauthor=False) / DEFAULTS_FILE]


def defaults_for(scenario: Path | None = None) -> FoundDefaults:
    """Return the defaults in force for a scenario, or for no particular one.

    Raises:
        BadInput: the file has faults, or `PLANOPT_DEFAULTS` names none.
    """
    named = bool(os.environ.get(DEFAULTS_VARIABLE))
    for place in defaults_places(scenario):
        if named or os.path.lexists(place):
            defaults, faults = read_defaults(place)
            if defaults is None or faults:
                raise BadInput(faults)
            return FoundDefaults(defaults, place)
    return FoundDefaults(Defaults())


def read_defaults(path: Path) -> tuple[Defaults | None, list[Fault]]:
    """Read a file of defaults; with a fault there are none."""
    document, faults = read_document(path)
    if document is None:
        return None, faults
    record, problems = validate(Defaults, document.data)
    # What is left of a faulty record is looked at as well, so that one round tells all.
    left = record or soundest(Defaults, document.data)[0] or Defaults()
    faults = [*document.faults(problems), *_locale(left, document), *_sheet(left, document)]
    return (None if faults else record), faults


def _locale(record: Defaults, document: Document) -> list[Fault]:
    if record.locale is None:
        return []
    try:
        known_locale(record.locale)
    except BadOption:
        why, mend = "this is no locale", locale_hint(record.locale)
        place = document.place(("locale",))
        return [place.fault("locale", record.locale, why, mend, "unknown_locale")]
    return []


def _sheet(record: Defaults, document: Document) -> list[Fault]:
    if record.label_sheet is None:
        return []
    return [
        document.place(("label_sheet", field)).fault(
            f"label_sheet.{field}", value, why, mend, "label_sheet_misfit"
        )
        for field, value, why, mend in record.label_sheet.misfits()
    ]
