"""The command that changes a written plan: adjust."""

from __future__ import annotations

import sys
from pathlib import Path
from typing import Annotated

import typer

from planopt import ranges
from planopt.adjust.nextweek import next_week
from planopt.adjust.text import adjustment_text
from planopt.adjust.week import SECONDS, adjust, read_written
from planopt.adjust.words import changes_of_words
from planopt.cli import completing, limits
from planopt.cli.personal import HandlesOption, personal, scenario_of
from planopt.cli.shared import errors_as_text, number_within, say, shown_path, was_stopped
from planopt.report.files.folder import check_out_dir, plan_json, write_plan
from planopt.report.terminal.progress import Steps
from planopt.report.words.plain import plural


def adjusting(
    folder: completing.PlanFolder,
    change: Annotated[
        list[str] | None,
        typer.Option(metavar="TEXT", help="A change in words; may be repeated. Default: none."),
    ] = None,
    from_day: Annotated[
        int | None,
        number_within(
            ranges.DAY,
            "DAY",
            "What is eaten, cooked and bought before the morning of this day stands. "
            "Default: nothing.",
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
    seed: limits.Seed = None,
    threads: limits.Threads = None,
    work_limit: limits.WorkLimit = None,
    handles: HandlesOption = None,
    quiet: Annotated[bool, typer.Option("--quiet", help="Show no progress.")] = False,
    as_json: Annotated[bool, typer.Option("--json", help="Print the new plan as JSON.")] = False,
) -> None:
    """Change a written plan by hand: a small wish makes a small difference."""
    if not change and from_day is None:
        raise typer.BadParameter("nothing is asked: give a --change, or --from DAY")
    seconds = SECONDS if time_limit is None else time_limit
    settings = limits.settings(seconds, None, seed, threads, work_limit, None)
    target = out if out is not None else folder.with_name(f"{folder.name}-adjusted")

    steps = Steps(sys.stderr, settings.time_limit_s)

    def tell(free: str) -> None:
        if not (quiet or was_stopped()):
            steps(f"looking for weeks in which {free} may change")

    with errors_as_text(as_json):
        check_out_dir(target)
        person = personal(scenario_of(folder), handles=handles)
        display = person.display
        written = read_written(folder, by_handles=person.handles)
        variant = changes_of_words(change or [], written.kitchen, written.plan, from_day)
        found = adjust(written, variant, settings, price, tell)
        kitchen = found.kitchen
        files = write_plan(found.plan, kitchen.catalog, kitchen.scenario, target, display)
    typer.echo(plan_json(found.plan) if as_json else adjustment_text(found), nl=not as_json)
    if not quiet:
        typer.echo(f"{len(files)} files written to {shown_path(target)}.", err=True)


adjusting.__name__ = "adjust"


def following(
    folder: completing.PlanFolder,
    out: Annotated[
        Path | None,
        typer.Option(metavar="FILE", help="Scenario file. Default: NAME-DATE.yaml beside the old."),
    ] = None,
) -> None:
    """Lay out next week's scenario from a written plan."""
    with errors_as_text():
        found = next_week(folder, out)
        path = found.save()
    say(
        f"{shown_path(path)} begins on {found.start}, with {plural(len(found.stock), 'leftover')} "
        "on hand; plan it with `planopt plan`."
    )
    for row in found.ready:
        frozen = ", if it was frozen when it was cooked" if row.kept == "freezer" else ""
        typer.echo(
            f"Ready: {plural(row.servings or 0, 'serving')} of {row.recipe}, in the {row.kept} "
            f"until {row.use_by}{frozen}; take the line out if it is not there."
        )
    for name, servings, until in found.uneaten:
        say(
            f"Not counted on: {plural(servings, 'serving')} of {name} cooked and not eaten, "
            f"to be eaten by {until}."
        )
    if found.single_days:
        days = ", ".join(found.single_days)
        say(f"Look over what is of single days, as it came along: {days}.")


following.__name__ = "next"
