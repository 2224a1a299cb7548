"""How a person wants plans shown: options of the command line, else the person's defaults."""

from __future__ import annotations

import json
from dataclasses import dataclass
from pathlib import Path
from typing import Annotated

import typer

from planopt.cli.shared import errors_as_text, one_of, show_json, shown_path
from planopt.faults import BadInput
from planopt.front.defaulted import defaults as found_defaults
from planopt.plan.file import read_plan
from planopt.report.files.pdf import PAPERS, Paper
from planopt.report.files.reopen import scenario_places
from planopt.report.words.locale import UNITS, Display
from planopt.runs.layout import RunFolder
from planopt.scenario.defaults import FoundDefaults, defaults_for, defaults_places
from planopt.scenario.labelsheet import LabelSheet

_OWN = "Default: yours (planopt defaults), else"
NO_PAPER = "none"
HandlesOption = Annotated[
    bool | None,
    typer.Option(
        "--handles/--names",
        help=f"Name clients by ids alone, in all that is written. {_OWN} names.",
        show_default=False,
    ),
]
LocaleOption = Annotated[
    str | None,
    typer.Option(
        metavar="NAME", help=f"Numbers, money and dates as in en_US, ... {_OWN} ISO dates."
    ),
]
UnitsOption = Annotated[
    str | None,
    typer.Option(
        metavar="SYSTEM", help=f"Kitchen units beside grams: recipe, metric, us. {_OWN} recipe."
    ),
]
MarkOption = Annotated[
    bool | None,
    typer.Option(
        "--byte-order-mark/--no-byte-order-mark",
        help=f"Begin CSV files with a mark that spreadsheets look for. {_OWN} without.",
        show_default=False,
    ),
]


@dataclass(frozen=True)
class Personal:
    """What is asked for by options or defaults."""

    display: Display
    handles: bool
    paper: Paper | None


def personal(
    scenario: Path | None,
    *,
    locale: str | None = None,
    units: str | None = None,
    byte_order_mark: bool | None = None,
    handles: bool | None = None,
    pdf: str | None = None,
) -> Personal:
    """Return how to show what is written; an option goes before the person's defaults.

    Raises:
        BadInput: the file of defaults has faults.
        BadOption: the locale is unknown.
        typer.BadParameter: the unit system or the paper is unknown.
    """
    one_of(pdf, (*PAPERS, NO_PAPER), "--pdf")
    found = defaults_for(scenario)
    mine = found.defaults
    paper = mine.paper if pdf is None else None if pdf == NO_PAPER else pdf
    by_ids = mine.handles if handles is None else handles
    also = {"names": "handles"} if by_ids else {}
    also |= {"defaults": found.file.as_posix()} if found.file is not None else {}
    display = Display(
        locale=mine.locale if locale is None else locale,
        units=mine.units if units is None else one_of(units, UNITS, "--units"),
        byte_order_mark=mine.byte_order_mark if byte_order_mark is None else byte_order_mark,
        label_sheet=mine.label_sheet,
        also=tuple(also.items()),
    )
    return Personal(display, by_ids, paper)  # type: ignore[arg-type]  # looked at above


def scenario_of(folder: Path) -> Path | None:
    """Return the scenario file of a written plan where it is found; faults are told elsewhere."""
    try:
        plan = read_plan(folder)
    except BadInput:
        return None
    return next((place for place in scenario_places(plan, folder) if place.is_file()), None)


def scenario_of_run(folder: Path) -> Path | None:
    """Return the scenario file of a run; faults are told elsewhere."""
    try:
        return Path(RunFolder(folder).read_index().scenario_file)
    except BadInput:
        return None


def defaults(
    scenario: Annotated[
        Path | None,
        typer.Argument(metavar="[SCENARIO]", help="A scenario; a file beside it counts for it."),
    ] = None,
    as_json: Annotated[
        bool, typer.Option("--json", help="Print the defaults as JSON. Default: as text.")
    ] = False,
) -> None:
    """Show how plans are shown where no option says so, and which file says it."""
    with errors_as_text(as_json):
        found = found_defaults(scenario)
    if as_json:
        file = None if found.file is None else str(found.file)
        show_json({"file": file, "defaults": found.defaults.model_dump(mode="json")})
        return
    typer.echo(_text(found, scenario))


def _text(found: FoundDefaults, scenario: Path | None) -> str:
    lines = ["No file of defaults is found; these are the usual ones."]
    if found.file is not None:
        lines = [f"From {shown_path(found.file)}:"]
    usual = {"locale": "ISO dates, decimal point", "label_sheet": "plain grid", "paper": "no PDF"}
    for name, value in found.defaults:
        if isinstance(value, LabelSheet):
            said = json.dumps(value.model_dump(mode="json", exclude_unset=True))
        elif isinstance(value, bool):
            said = "yes" if value else "no"
        else:
            said = str(usual[name] if value is None else value)
        lines.append(f"  {name}: {said}")
    places = defaults_places(scenario)
    if places:
        lines += ["Looked for in this order; the first found counts alone:"]
        lines += [f"  {shown_path(place)}" for place in places]
    else:
        lines.append("PLANOPT_DEFAULTS is empty, so no file is looked for.")
    return "\n".join(lines)
