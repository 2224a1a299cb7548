"""The command that computes windows: targets."""

from __future__ import annotations

from pathlib import Path
from typing import Annotated

import typer

from planopt.cli.shared import errors_as_text, one_of, show_json, shown_path
from planopt.front import windows
from planopt.targets.person import GOALS
from planopt.targets.text import scenario_lines, targets_data, targets_text


def targets(
    height: Annotated[str, typer.Option(metavar="H", help="168, 1.68m, 66in or 5ft6in.")],
    weight: Annotated[str, typer.Option(metavar="W", help="70, 70kg or 154lb.")],
    activity: Annotated[
        str, typer.Option(metavar="A", help="light, moderate, vigorous, or a level such as 1.6.")
    ],
    sex: Annotated[
        str | None,
        typer.Option(metavar="S", help="female or male. Default: of the client, with --into."),
    ] = None,
    age: Annotated[
        int | None,
        typer.Option(metavar="YEARS", help="Age in years. Default: of the client, with --into."),
    ] = None,
    body_fat: Annotated[
        float | None,
        typer.Option(metavar="PERCENT", help="Body fat, if measured. Default: not known."),
    ] = None,
    goal: Annotated[str, typer.Option(metavar="G", help="keep, lose or gain.")] = "keep",
    by: Annotated[
        float | None,
        typer.Option(
            metavar="KCAL", help="Energy less or more a day. Default: 500 to lose, 250 to gain."
        ),
    ] = None,
    equation: Annotated[
        str | None,
        typer.Option(
            metavar="E",
            help="mifflin, cunningham or cunningham1991. "
            "Default: mifflin, with body fat cunningham.",
        ),
    ] = None,
    protein: Annotated[
        str | None,
        typer.Option(
            metavar="SPAN",
            help="1.6g/kg, 1.4-2.0g/kg, 25% or 20-35%. Default: the published range.",
        ),
    ] = None,
    fat: Annotated[
        str | None, typer.Option(metavar="SPAN", help="As protein. Default: the published range.")
    ] = None,
    carbohydrate: Annotated[
        str | None, typer.Option(metavar="SPAN", help="As protein. Default: what the others leave.")
    ] = None,
    room: Annotated[
        str, typer.Option(metavar="R", help="Room to both sides of a single figure.")
    ] = "5%",
    care: Annotated[
        list[str] | None,
        typer.Option(
            metavar="GROUP",
            help="Group for licensed care, such as pregnancy; may be repeated. Default: none.",
        ),
    ] = None,
    into: Annotated[
        Path | None,
        typer.Option(
            metavar="FILE", help="Write into this scenario or roster. Default: only shown."
        ),
    ] = None,
    client: Annotated[
        str | None,
        typer.Option(
            metavar="ID", help="The client to write into. Default: none; needed with --into."
        ),
    ] = None,
    as_json: Annotated[bool, typer.Option("--json", help="Print the windows as JSON.")] = False,
) -> None:
    """Compute energy and macronutrient windows by published equations."""
    with errors_as_text(as_json):
        found = windows.targets(
            height=height,
            weight=weight,
            activity=activity,
            into=into,
            client=client,
            sex=one_of(sex, windows.SEXES, "--sex"),
            age=age,
            body_fat=body_fat,
            goal=one_of(goal, GOALS, "--goal"),
            by=by,
            equation=equation,
            protein=protein,
            fat=fat,
            carbohydrate=carbohydrate,
            room=room,
            care=care or (),
        )
    if as_json:
        show_json(targets_data(found))
        return
    typer.echo(targets_text(found))
    if into is not None:
        typer.echo(
            f"\nWritten to {client} in {shown_path(into)}; change the windows as you see fit."
        )
    else:
        typer.echo(f"\nFor a client of a scenario:\n\n{scenario_lines(found)}")
