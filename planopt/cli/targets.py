"""The command that computes windows: targets."""

from __future__ import annotations

from pathlib import Path
from typing import Annotated

import typer

from planopt.cli.shared import errors_as_text, one_of, show_json, shown_path
from planopt.faults import BadOption
from planopt.targets.compute import targets_for
from planopt.targets.measures import read_height_cm, read_weight_kg
from planopt.targets.person import GOALS, Person, Wish
from planopt.targets.spans import Span, read_span
from planopt.targets.text import scenario_lines, targets_data, targets_text
from planopt.targets.write import client_file


def targets(
    height: Annotated[str, typer.Option(metavar="H", help="168, 1.68m, 66in or 5ft6in.")],
    weight: Annotated[str, typer.Option(metavar="W", help="70, 70kg or 154lb.")],
    activity: Annotated[
        str, typer.Option(metavar="A", help="light, moderate, vigorous, or a level such as 1.6.")
    ],
    sex: Annotated[str | None, typer.Option(metavar="S", help="female or male.")] = None,
    age: Annotated[int | None, typer.Option(metavar="YEARS", help="Age in years.")] = None,
    body_fat: Annotated[
        float | None, typer.Option(metavar="PERCENT", help="Body fat, if measured.")
    ] = None,
    goal: Annotated[str, typer.Option(metavar="G", help="keep, lose or gain.")] = "keep",
    by: Annotated[
        float | None, typer.Option(metavar="KCAL", help="Energy less or more a day.")
    ] = None,
    equation: Annotated[
        str | None, typer.Option(metavar="E", help="mifflin, cunningham or cunningham1991.")
    ] = None,
    protein: Annotated[
        str | None, typer.Option(metavar="SPAN", help="1.6g/kg, 1.4-2.0g/kg, 25% or 20-35%.")
    ] = None,
    fat: Annotated[str | None, typer.Option(metavar="SPAN", help="As protein.")] = None,
    carbohydrate: Annotated[str | None, typer.Option(metavar="SPAN", help="As protein.")] = None,
    room: Annotated[
        str, typer.Option(metavar="R", help="Room to both sides of a single figure.")
    ] = "5%",
    care: Annotated[
        list[str] | None,
        typer.Option(metavar="GROUP", help="Group for licensed care, such as pregnancy."),
    ] = None,
    into: Annotated[
        Path | None, typer.Option(metavar="FILE", help="Write into this scenario or roster.")
    ] = None,
    client: Annotated[
        str | None, typer.Option(metavar="ID", help="The client to write into.")
    ] = None,
    as_json: Annotated[bool, typer.Option("--json", help="Print the windows as JSON.")] = False,
) -> None:
    """Compute energy and macronutrient windows by published equations."""
    with errors_as_text(as_json):
        if (into is None) != (client is None):
            raise BadOption("--into and --client go together")
        file = client_file(into, client) if into is not None and client is not None else None
        if file is not None:
            sex, age = sex or file.sex, file.age_years if age is None else age
        sex = one_of(sex, ("female", "male"), "--sex")
        if sex is None or age is None:
            raise BadOption("--sex and --age are needed, or a client of --into that has both")
        person = Person(
            sex=sex,  # type: ignore[arg-type]  # one_of has seen to it
            age_years=age,
            height_cm=read_height_cm(height),
            weight_kg=read_weight_kg(weight),
            body_fat_percent=body_fat,
            care=tuple(care or ()),
        )
        wish = Wish(
            activity=activity,
            goal=one_of(goal, GOALS, "--goal"),
            by_kcal=by,
            equation=equation,
            protein=_span(protein, "--protein"),
            fat=_span(fat, "--fat"),
            carbohydrate=_span(carbohydrate, "--carbohydrate"),
            room=_room(room),
        )
        found = targets_for(person, wish)
        if file is not None:
            file.write(found)
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


def _span(text: str | None, option: str) -> Span | None:
    return None if text is None else read_span(text, option)


def _room(text: str) -> float:
    number, percent = (text[:-1], True) if text.endswith("%") else (text, False)
    try:
        room = float(number) / 100 if percent else float(number)
    except ValueError:
        room = -1.0
    if not 0 <= room <= 0.5:
        raise BadOption(f"--room {text}: write a share from 0 to 0.5, such as 5%")
    return room
