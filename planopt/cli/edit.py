"""The command that serves a written week as a working sheet: edit."""

from __future__ import annotations

from pathlib import Path
from typing import Annotated

import typer

from planopt import ranges
from planopt.adjust.week import SECONDS
from planopt.cli import limits
from planopt.cli.shared import errors_as_text, shown_path
from planopt.edit.serving import IDLE_MINUTES, serve
from planopt.edit.session import EditSession


def edit(
    folder: Annotated[Path, typer.Argument(metavar="DIR", help="Folder of a plan.")],
    out: Annotated[
        Path | None,
        typer.Option(
            metavar="DIR",
            help="Folder for the week that is kept. Default: DIR-adjusted, or the next free name.",
        ),
    ] = None,
    price: Annotated[
        float | None,
        typer.Option(
            metavar="MONEY",
            min=float(ranges.CHANGE_PRICE.least),
            max=float(ranges.CHANGE_PRICE.most),
            help="What a plate with another dish is taken to cost. Default: two mean plates.",
        ),
    ] = None,
    port: Annotated[
        int, typer.Option(metavar="N", min=0, max=65535, help="Default: 0, any that is free.")
    ] = 0,
    no_browser: Annotated[
        bool, typer.Option("--no-browser", help="Only print the address; open no browser.")
    ] = False,
    idle: Annotated[
        float,
        typer.Option(
            metavar="MINUTES",
            min=1,
            max=1440,
            help=f"Ends when nobody has used the page for so long. Default: {IDLE_MINUTES:g}.",
        ),
    ] = IDLE_MINUTES,
    time_limit: Annotated[
        float | None, typer.Option(metavar="S", help=f"Seconds to search. Default: {SECONDS:g}.")
    ] = None,
    seed: limits.Seed = None,
    threads: limits.Threads = None,
    work_limit: limits.WorkLimit = None,
) -> None:
    """Change a written week on a page of your own browser, and plan it anew."""
    seconds = SECONDS if time_limit is None else time_limit
    settings = limits.settings(seconds, None, seed, threads, work_limit, None)

    def tell(url: str) -> None:
        typer.echo(
            f"The sheet is at {url}\n"
            "Only this computer can open it. End with its button or with Ctrl-C; it ends by itself "
            f"after {idle:g} minutes in which nobody uses it."
        )

    with errors_as_text():
        session = EditSession(folder, out, settings, price)
        try:
            serve(session, port, browser=not no_browser, idle_minutes=idle, told=tell)
        except KeyboardInterrupt:
            typer.echo("")
    for kept in session.kept:
        typer.echo(f"Kept: {shown_path(kept)}")
    if not session.kept:
        typer.echo("Nothing was kept.")
    if session.command():
        typer.echo(f"Not kept; the same at the command line:\n  {session.command()}")
