"""The command line: one function a command, gathered under `planopt`."""

from __future__ import annotations

import sys
from typing import Annotated

import typer

from planopt import __version__
from planopt.cli import add, files, plans, prices, recipe, targets, weeks, whatif

app = typer.Typer(
    name="planopt",
    help="Plan a week of meals for several clients at the least cost that complies.",
    no_args_is_help=True,
    add_completion=False,
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
    """Plan a week of meals for several clients at the least cost that complies."""


for _command in (
    plans.plan,
    plans.show,
    weeks.weeks,
    weeks.overview,
    whatif.whatif,
    files.check,
    plans.audit,
    plans.carry,
    recipe.recipe,
    targets.targets,
    files.new,
    files.schema,
):
    app.command()(_command)
app.add_typer(add.app, name="add")
app.add_typer(prices.app, name="prices")


def main() -> None:
    """Run the command line; a terminal that cannot show a letter shows `?` instead."""
    for stream in (sys.stdout, sys.stderr):
        if hasattr(stream, "reconfigure"):
            stream.reconfigure(errors="replace")
    app(prog_name="planopt")
