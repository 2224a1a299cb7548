"""Windows from measures by published equations: targets."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from pathlib import Path
from typing import Any, TypedDict, Unpack

from planopt.faults import BadOption, nearest
from planopt.front.sources import PathLike
from planopt.targets.compute import Targets, targets_for
from planopt.targets.measures import read_height_cm, read_weight_kg
from planopt.targets.person import GOALS, Goal, Person, Sex, Wish
from planopt.targets.spans import Span, read_span
from planopt.targets.write import client_file

SEXES: tuple[Sex, ...] = ("female", "male")


class Wanted(TypedDict, total=False):
    """What is known of the person and wanted, as the options of `planopt targets`."""

    sex: Sex | None
    age: int | None
    body_fat: float | None
    goal: Goal
    by: float | None
    equation: str | None
    protein: str | None
    fat: str | None
    carbohydrate: str | None
    room: str | float
    care: Sequence[str]


def targets(
    *,
    height: str | float,
    weight: str | float,
    activity: str | float,
    into: PathLike | None = None,
    client: str | None = None,
    **wanted: Unpack[Wanted],
) -> Targets:
    """Return windows of energy and macronutrients, with cautions; no medical advice.

    Numbers for height and weight are in cm and kg; texts as `66in` and `154lb` are understood. With
    `into` and `client` they are written into that scenario or roster.

    Raises:
        BadInput: the file cannot be read or written, or has no such client.
        BadOption: a value is not understood, or of somebody for whom no equation here was made.
    """
    if (into is None) != (client is None):
        raise BadOption("--into and --client go together")
    file = client_file(Path(into), client) if into is not None and client is not None else None
    given: Mapping[str, Any] = wanted
    sex, age = given.get("sex"), given.get("age")
    if file is not None:
        sex, age = sex or file.sex, file.age_years if age is None else age
    if sex is None or age is None:
        raise BadOption("--sex and --age are needed, or a client of --into that has both")
    person = Person(
        sex=_one_of(sex, SEXES, "--sex"),
        age_years=age,
        height_cm=read_height_cm(str(height)),
        weight_kg=read_weight_kg(str(weight)),
        body_fat_percent=given.get("body_fat"),
        care=tuple(given.get("care") or ()),
    )
    wish = Wish(
        activity=str(activity),
        goal=_one_of(given.get("goal", "keep"), GOALS, "--goal"),
        by_kcal=given.get("by"),
        equation=given.get("equation"),
        protein=_span(given.get("protein"), "--protein"),
        fat=_span(given.get("fat"), "--fat"),
        carbohydrate=_span(given.get("carbohydrate"), "--carbohydrate"),
        room=_room(str(given.get("room", "5%"))),
    )
    found = targets_for(person, wish)
    if file is not None:
        file.write(found)
    return found


def _one_of(text: str, known: Sequence[str], option: str) -> Any:
    if text not in known:
        raise BadOption(f"{option} {text}: {nearest(text, known)}")
    return text


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
