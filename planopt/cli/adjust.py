"""The command that changes a written plan: adjust."""

from __future__ import annotations

from pathlib import Path
from typing import Annotated

import typer

from planopt import ranges
from planopt.adjust.nextweek import next_week
from planopt.adjust.text import adjustment_text
from planopt.adjust.week import SECONDS, adjust, read_written
from planopt.adjust.words import changes_of_words
from planopt.cli import limits
from planopt.cli.shared import errors_as_text, number_within, shown_path, was_stopped
from planopt.report.files.folder import check_out_dir, plan_json, write_plan
from planopt.report.words.plain import plural


def adjusting(
    folder: Annotated[Path, typer.Argument(metavar="DIR", help="Folder of a plan.")],
    change: Annotated[
        list[str] | None,
        typer.Option(metavar="TEXT", help="A change in words; may be repeated."),
    ] = None,
    from_day: Annotated[
        int | None,
        number_within(
            ranges.DAY,
            "DAY",
            "What is eaten, cooked and bought before the morning of this day stands.",
            "--from",
        ),
    ] = None,
    price: Annotated[
        float | None,
        number_within(
            ranges.CHANGE_PRICE,
            "MONEY",
            "What a plate with another dish is taken to cost. Default: two mean plates.",
        ),
    ] = None,
    out: Annotated[
        Path | None,
        typer.Option(metavar="DIR", help="Folder for the new plan. Default: DIR-adjusted."),
    ] = None,
    time_limit: Annotated[
        float | None, typer.Option(metavar="S", help=f"Seconds to search. Default: {SECONDS:g}.")
    ] = None,
    seed: Annotated[int | None, typer.Option(metavar="N", help="As for plan.")] = None,
    threads: Annotated[int | None, typer.Option(metavar="N", help="As for plan.")] = None,
    work_limit: Annotated[int | None, typer.Option(metavar="N", help="As for plan.")] = None,
    quiet: Annotated[bool, typer.Option("--quiet", help="Show no progress.")] = False,
    as_json: Annotated[bool, typer.Option("--json", help="Print the new plan as JSON.")] = False,
) -> None:
    """Change a written plan by hand: a small wish makes a small difference."""
    if not change and from_day is None:
        raise typer.BadParameter("nothing is asked: give a --change, or --from DAY")
    seconds = SECONDS if time_limit is None else time_limit
    settings = limits.settings(seconds, None, seed, threads, work_limit, None)
    target = out if out is not None else folder.with_name(f"{folder.name}-adjusted")

    def tell(text: str) -> None:
        if not (quiet or was_stopped()):
            typer.echo(f"now: {text}", err=True)

    with errors_as_text(as_json):
        check_out_dir(target)
        written = read_written(folder)
        variant = changes_of_words(change or [], written.kitchen, written.plan, from_day)
        found = adjust(written, variant, settings, price, tell)
        files = write_plan(found.plan, found.kitchen.catalog, found.kitchen.scenario, target)
    typer.echo(plan_json(found.plan) if as_json else adjustment_text(found), nl=not as_json)
    if not quiet:
        typer.echo(f"{len(files)} files written to {shown_path(target)}.", err=True)


adjusting.__name__ = "adjust"


def following(
    folder: Annotated[Path, typer.Argument(metavar="DIR", help="Folder of a plan.")],
    out: Annotated[
        Path | None,
        typer.Option(metavar="FILE", help="Scenario file. Default: NAME-DATE.yaml beside the old."),
    ] = None,
) -> None:
    """Lay out next week's scenario from a written plan."""
    with errors_as_text():
        found = next_week(folder, out)
        path = found.save()
    typer.echo(
        f"{shown_path(path)} begins on {found.start}, with {plural(len(found.stock), 'leftover')} "
        "on hand; plan it with `planopt plan`."
    )
    for name, servings, until in found.uneaten:
        typer.echo(
            f"Not counted on: {plural(servings, 'serving')} of {name} cooked and not eaten, "
            f"in the fridge until {until}."
        )
    if found.single_days:
        days = ", ".join(found.single_days)
        typer.echo(f"Look over what is of single days, as it came along: {days}.")


following.__name__ = "next"
