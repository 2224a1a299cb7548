"""The options that limit a search, the same for all commands that search."""

from __future__ import annotations

from typing import Annotated

import typer

from planopt.cli.shared import DEFAULTS, parse_gap, parse_options
from planopt.faults import BadOption
from planopt.front.limits import settings_of
from planopt.solve.settings import SolveSettings

TimeLimit = Annotated[
    float | None,
    typer.Option(
        metavar="S", help=f"Seconds to search for a plan. Default: {DEFAULTS.time_limit_s:g}."
    ),
]
Gap = Annotated[
    str | None,
    typer.Option(metavar="G", help=f"Gap to prove, as 0.02 or 2%. Default: {DEFAULTS.gap:g}."),
]
Seed = Annotated[
    int | None,
    typer.Option(metavar="N", help=f"Another seed searches another way. Default: {DEFAULTS.seed}."),
]
Threads = Annotated[
    int | None,
    typer.Option(
        metavar="N",
        help=f"Threads of the search. Default: {DEFAULTS.threads}; of many kitchens 1, or 2 "
        "with idle cores.",
    ),
]
WorkLimit = Annotated[
    int | None,
    typer.Option(
        metavar="N", help="Steps of search instead of seconds, so that runs repeat. Default: none."
    ),
]
Option = Annotated[
    list[str] | None,
    typer.Option(metavar="NAME=VALUE", help="Solver option; may be repeated. Default: none."),
]


def settings(
    time_limit: float | None,
    gap: str | None,
    seed: int | None,
    threads: int | None,
    work_limit: int | None,
    option: list[str] | None,
) -> SolveSettings:
    """Return the settings that the options ask for.

    Raises:
        typer.BadParameter: a value is not understood, or out of its range.
    """
    given = {
        "time_limit_s": time_limit,
        "gap": None if gap is None else parse_gap(gap),
        "seed": seed,
        "threads": threads,
        "work_limit": work_limit,
        "options": parse_options(option or []),
    }
    try:
        return settings_of(given)
    except BadOption as error:
        raise typer.BadParameter(str(error)) from error
