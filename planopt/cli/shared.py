"""What all commands share: options, their values, errors as text with an exit code."""

from __future__ import annotations

import json
from collections.abc import Callable, Iterator
from contextlib import contextmanager
from pathlib import Path
from textwrap import fill
from typing import Any

import typer

from planopt import ranges
from planopt.faults import (
    AuditFailed,
    BadInput,
    ExitCode,
    NoCompliantWeek,
    PlanoptError,
    StoppedByUser,
)
from planopt.interrupts import stop_asked
from planopt.letters import escaped
from planopt.plan.records import Plan
from planopt.report.words.columns import WIDTH
from planopt.solve.settings import SolveSettings
from planopt.start import STOPPED_TEXT

DEFAULTS = SolveSettings()


def show_json(data: object) -> None:
    """Print data as JSON, with escapes for characters that cannot be seen."""
    lines = json.dumps(data, indent=2, ensure_ascii=False).split("\n")
    typer.echo("\n".join(line if line.isprintable() else _json_line(line) for line in lines))


def _json_line(line: str) -> str:
    return "".join(c if c.isprintable() else json.dumps(c)[1:-1] for c in line)


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


def _hidden(data: Any, hide: Callable[[str], str]) -> Any:
    """Return plain data with every text in it hidden."""
    if isinstance(data, dict):
        return {key: _hidden(value, hide) for key, value in data.items()}
    if isinstance(data, (list, tuple)):
        return [_hidden(value, hide) for value in data]
    return hide(data) if isinstance(data, str) else data


@contextmanager
def errors_as_text(as_json: bool = False, hide: Callable[[str], str] = str) -> Iterator[None]:
    """Turn errors raised on purpose into text and an exit code; bugs keep their traceback.

    A request to stop that nobody has answered is one of these. `hide` takes out of the text what
    is not to be told.
    """
    try:
        yield
    except KeyboardInterrupt as stop:
        raise _told(StoppedByUser(STOPPED_TEXT), as_json) from stop
    except PlanoptError as error:
        raise _told(error, as_json, hide) from error


def _told(error: PlanoptError, as_json: bool, hide: Callable[[str], str] = str) -> typer.Exit:
    typer.echo(hide(str(error)), err=True)
    if as_json:
        show_json(_hidden(_error_dict(error), hide))
    return typer.Exit(int(error.exit_code))


def was_stopped(plan: Plan | None = None) -> bool:
    """Tell whether the command was asked to stop, or the search for its plan was."""
    return stop_asked() or (plan is not None and plan.solution.status == "interrupted")


def end_stopped(text: str) -> None:
    """Say in one sentence what a command that was asked to stop has kept, and end it.

    Raises:
        typer.Exit: always.
    """
    typer.echo(text, err=True)
    raise typer.Exit(int(ExitCode.STOPPED))


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


def say(text: str) -> None:
    """Print a sentence on lines of at most 80 columns; a path in it stays whole."""
    typer.echo(fill(text, WIDTH, break_long_words=False, break_on_hyphens=False))


def shown_path(path: Path) -> str:
    """Return a path as seen from the current folder where it lies in it."""
    try:
        return escaped(str(path.resolve().relative_to(Path.cwd().resolve())))
    except ValueError:
        return escaped(str(path))


def one_of(text: str | None, known: tuple[str, ...], option: str) -> Any:
    """Return the text if it is known or None.

    Raises:
        typer.BadParameter: it is neither.
    """
    if text is not None and text not in known:
        raise typer.BadParameter(f"{text!r} is not one of {', '.join(known)}", param_hint=option)
    return text


def number_within(allowed: ranges.Range, metavar: str, told: str, *names: str) -> Any:
    """Return an option for a number in a range; its own name serves where none is given."""
    least, most = (n if isinstance(n, int) else float(n) for n in (allowed.least, allowed.most))
    return typer.Option(*names, metavar=metavar, min=least, max=most, help=told)
