"""Commands on the files that people write: check, new, schema."""

from __future__ import annotations

from datetime import date
from pathlib import Path
from typing import Annotated

import typer

from planopt.cli.shared import errors_as_text, show_json, shown_path
from planopt.faults import ExitCode
from planopt.report.files.folder import plan_schema, recipe_schema, scenario_schema
from planopt.report.words.plain import plural
from planopt.scenario.households.paths import check_paths_and_warn
from planopt.starter import write_empty, write_starter


def check(
    paths: Annotated[
        list[Path],
        typer.Argument(metavar="PATH", help="Scenarios, recipes, catalogs, or folders of them."),
    ],
    as_json: Annotated[bool, typer.Option("--json", help="Print the faults as JSON.")] = False,
    strict: Annotated[bool, typer.Option("--strict", help="Warnings fail as faults do.")] = False,
) -> None:
    """List every fault of scenarios and catalogs."""
    with errors_as_text(as_json):
        faults, warnings = check_paths_and_warn(paths)
    failed = bool(faults) or (strict and bool(warnings))
    code = ExitCode.BAD_INPUT if failed else ExitCode.OK
    if as_json:
        rows = {"faults": faults, "warnings": warnings}
        shown = {name: [fault.as_dict() for fault in found] for name, found in rows.items()}
        show_json({"ok": not failed, "exit_code": int(code), **shown})
    manner = "warning" if strict else "warning, stops nothing"
    for warning in warnings if not as_json else ():
        typer.echo(f"{manner}: {warning.text()}", err=True)
    for fault in faults:
        typer.echo(fault.text(), err=True)
    if failed:
        raise typer.Exit(int(code))
    if not as_json:
        typer.echo(
            f"No faults in {plural(len(paths), 'path')}, {plural(len(warnings), 'warning')}."
        )


def new(
    folder: Annotated[Path, typer.Argument(metavar="DIR", help="New or empty folder.")],
    empty: Annotated[
        bool, typer.Option("--empty", help="Without foods, recipes, prices and clients.")
    ] = False,
) -> None:
    """Copy starter catalogs and scenarios to a new folder."""
    with errors_as_text():
        files = write_empty(folder, date.today()) if empty else write_starter(folder)
    typer.echo(f"{plural(len(files), 'file')} written to {shown_path(folder)}.")
    if empty:
        typer.echo(f"Begin with: cd {shown_path(folder)} && planopt add food rice_white_long")
        return
    for path in files:
        if path.parent.name == "scenarios" and path.suffix in (".yaml", ".yml"):
            typer.echo(f"Try: planopt plan {shown_path(path)}")
            break


def schema(
    scenario: Annotated[bool, typer.Option("--scenario", help="That of scenario files.")] = False,
    recipe: Annotated[bool, typer.Option("--recipe", help="That of recipe files.")] = False,
) -> None:
    """Print the JSON Schema of a kind of file, by default of plan.json."""
    if scenario and recipe:
        raise typer.BadParameter("choose one of --scenario and --recipe")
    show_json(scenario_schema() if scenario else recipe_schema() if recipe else plan_schema())
