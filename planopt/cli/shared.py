"""What all commands share: options, their values, errors as text with an exit code."""

from __future__ import annotations

import json
from collections.abc import Iterator
from contextlib import contextmanager
from pathlib import Path
from typing import Annotated, Any

import typer

from planopt import ranges
from planopt.catalog.files import path_text, shown
from planopt.catalog.validation import validate
from planopt.faults import AuditFailed, BadInput, NoCompliantWeek, PlanoptError
from planopt.solve.settings import SolveSettings

DEFAULTS = SolveSettings()


def show_json(data: object) -> None:
    """Print data as JSON."""
    typer.echo(json.dumps(data, indent=2, ensure_ascii=False))


def _error_dict(error: PlanoptError) -> dict[str, Any]:
    data: dict[str, Any] = {"ok": False, "exit_code": int(error.exit_code)}
    match error:
        case BadInput():
            data["faults"] = [fault.as_dict() for fault in error.faults]
        case NoCompliantWeek():
            data["reasons"] = list(error.reasons)
            if error.explanation is not None:
                data["explanation"] = error.explanation.as_dict()
        case AuditFailed():
            data["findings"] = list(error.findings)
        case _:
            data["error"] = str(error)
    return data


@contextmanager
def errors_as_text(as_json: bool = False) -> Iterator[None]:
    """Turn errors raised on purpose into text and an exit code; bugs keep their traceback."""
    try:
        yield
    except PlanoptError as error:
        typer.echo(str(error), err=True)
        if as_json:
            show_json(_error_dict(error))
        raise typer.Exit(int(error.exit_code)) from error


def parse_gap(text: str) -> float:
    """Return a gap given as a share (0.02) or in percent (2%).

    Raises:
        typer.BadParameter: the text is neither, or not from 0 up to but excluding 1.
    """
    number, is_percent = (text[:-1], True) if text.endswith("%") else (text, False)
    try:
        gap = float(number) / 100 if is_percent else float(number)
    except ValueError as error:
        raise typer.BadParameter(f"{text!r} is no gap; write 0.02 or 2%") from error
    if not ranges.GAP.holds(gap):
        raise typer.BadParameter(f"{text!r} is not below 1 (100%); for two percent write 2%")
    return gap


def parse_options(texts: list[str]) -> dict[str, str]:
    """Return solver options given as NAME=VALUE.

    Raises:
        typer.BadParameter: a text has no `=` or no name, or a name comes twice.
    """
    options: dict[str, str] = {}
    for text in texts:
        name, equals, value = text.partition("=")
        if not equals or not name:
            raise typer.BadParameter(f"{text!r} is not NAME=VALUE", param_hint="--option")
        if name in options:
            raise typer.BadParameter(f"{name!r} is given twice", param_hint="--option")
        options[name] = value
    return options


def settings_of(given: dict[str, Any]) -> SolveSettings:
    """Return settings with what is given; None stands for what is not.

    Raises:
        typer.BadParameter: a value is out of its range.
    """
    told = {name: value for name, value in given.items() if value is not None}
    settings, problems = validate(SolveSettings, told)
    if settings is None:
        raise typer.BadParameter(
            "; ".join(
                f"{path_text(p.path)}: {shown(p.value)!r}: {p.why}; {p.mend}" for p in problems
            )
        )
    return settings


def shown_path(path: Path) -> str:
    """Return a path as seen from the current folder where it lies in it."""
    try:
        return str(path.resolve().relative_to(Path.cwd().resolve()))
    except ValueError:
        return str(path)


def one_of(text: str | None, known: tuple[str, ...], option: str) -> Any:
    """Return the text if it is known or None.

    Raises:
        typer.BadParameter: it is neither.
    """
    if text is not None and text not in known:
        raise typer.BadParameter(f"{text!r} is not one of {', '.join(known)}", param_hint=option)
    return text


LocaleOption = Annotated[
    str | None,
    typer.Option(metavar="NAME", help="Numbers, money and dates as in en_US, de_DE, ..."),
]
UnitsOption = Annotated[
    str,
    typer.Option(metavar="SYSTEM", help="Kitchen units: recipe, metric or us. Grams always show."),
]
