"""The command that prints the guide: guide."""

from __future__ import annotations

from typing import Annotated

import typer

from planopt.cli import completing
from planopt.cli.shared import errors_as_text
from planopt.guide.pages import page, topics


def guide(
    topic: Annotated[
        str | None,
        typer.Argument(
            metavar="TOPIC",
            help="A topic of the list, or a command.",
            autocompletion=completing.guide_topics,
        ),
    ] = None,
) -> None:
    """Print a page of the guide; without TOPIC the list of topics."""
    with errors_as_text():
        if topic is None:
            typer.echo("Topics of `planopt guide TOPIC`; a command's name is one as well:\n")
            for name, sentence in topics().items():
                typer.echo(f"  {name:<10}  {sentence}")
            return
        markdown = page(topic)
    # Loaded here, so that no other command waits for what wraps the text.
    from planopt.guide.terminal import for_terminal

    typer.echo(for_terminal(markdown))
