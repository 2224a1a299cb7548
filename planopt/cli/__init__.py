"""The command line: one function a command, gathered under `planopt`."""

from __future__ import annotations

from typing import Annotated

import typer

from planopt import __version__
from planopt.cli import (
    add,
    adjust,
    edit,
    files,
    guide,
    personal,
    plans,
    prices,
    recipe,
    recipes,
    targets,
    weeks,
    whatif,
)
from planopt.cli.helping import ExampleCommand, WholeGroup
from planopt.faults import ExitCode
from planopt.start import STOPPED_TEXT

app = typer.Typer(
    name="planopt",
    no_args_is_help=True,
    cls=WholeGroup,
    pretty_exceptions_enable=False,
    rich_markup_mode=None,
)


def _show_version(wanted: bool) -> None:
    if wanted:
        typer.echo(f"planopt {__version__}")
        raise typer.Exit


@app.callback()
def _root(
    version: Annotated[
        bool,
        typer.Option("--version", callback=_show_version, is_eager=True, help="Show the version."),
    ] = False,
) -> None:
    """Plan a week of meals for several clients at the least cost that complies.

    A switch is off unless it is given. `planopt COMMAND --help` tells the options of a command.
    """


for _command in (
    plans.plan,
    plans.show,
    weeks.weeks,
    weeks.overview,
    adjust.adjusting,
    edit.edit,
    adjust.following,
    whatif.whatif,
    files.check,
    plans.audit,
    plans.carry,
    recipe.recipe,
    targets.targets,
    files.new,
    files.schema,
    personal.defaults,
    guide.guide,
):
    app.command(cls=ExampleCommand)(_command)
for _group in (recipes.importing, recipes.exporting):
    app.add_typer(_group)
app.add_typer(add.app, name="add")
app.add_typer(prices.app, name="prices")


# What typer makes of an interrupt outside a command's own work.
_INTERRUPTED = 130


def run() -> int:
    """Run the command line on the process's own words and return the exit code."""
    try:
        app(prog_name="planopt")
    except SystemExit as end:
        code = end.code if isinstance(end.code, int) else int(end.code is not None)
        if code != _INTERRUPTED:
            return code
    except KeyboardInterrupt:
        pass
    else:
        return int(ExitCode.OK)
    typer.echo(STOPPED_TEXT, err=True)
    return int(ExitCode.STOPPED)
