"""The command on changes to one scenario: whatif."""

from __future__ import annotations

import sys
from collections.abc import Callable
from pathlib import Path
from typing import Annotated

import typer

from planopt import ranges
from planopt.cli import completing, limits
from planopt.cli.personal import HandlesOption, personal
from planopt.cli.shared import (
    end_stopped,
    errors_as_text,
    number_within,
    parse_gap,
    shown_path,
    was_stopped,
)
from planopt.plan.records import Plan
from planopt.report.terminal.progress import ProgressLine, Steps
from planopt.report.words.plain import plural
from planopt.scenario.households.handles import Handles, handles_of_file, kitchen_with_handles
from planopt.scenario.reading.load import load_kitchen
from planopt.whatif.ask import Questions, ask, base_plan, chosen_variants, most_seconds
from planopt.whatif.files import check_findings_dir, findings_json, write_findings
from planopt.whatif.text import findings_text
from planopt.whatif.windowcurve import parse_target


def parse_spread(text: str) -> float:
    """Return a spread of prices given as a share (0.15) or in percent (15%).

    Raises:
        typer.BadParameter: the text is neither, or not above 0 and below 1.
    """
    spread = parse_gap(text)
    if not ranges.SPREAD.holds(spread):
        raise typer.BadParameter(f"{text!r} is not above 0; write for example 15%")
    return spread


def whatif(
    scenario: completing.ScenarioFile,
    change: Annotated[
        list[str] | None,
        typer.Option(
            metavar="TEXT",
            help="A change in words, as 'no egg': a variant of its own; may be repeated. "
            "Default: the scenario's variants.",
        ),
    ] = None,
    together: Annotated[
        bool,
        typer.Option(
            "--together",
            help="All changes make one variant.",
        ),
    ] = False,
    variant: Annotated[
        list[str] | None,
        typer.Option(
            metavar="NAME",
            help="A variant of the scenario by name. Default: all, if nothing else is asked.",
        ),
    ] = None,
    budget_curve: Annotated[
        bool, typer.Option("--budget-curve", help="What a week costs against its budget.")
    ] = False,
    target: Annotated[
        list[str] | None,
        typer.Option(
            metavar="TEXT",
            help="A window, as 'ivo protein_g': what a week costs by it. Default: none.",
        ),
    ] = None,
    limit_prices: Annotated[
        bool, typer.Option("--limit-prices", help="What the limits cost near the plan.")
    ] = False,
    spread: Annotated[
        str | None,
        typer.Option(metavar="P", help="Try prices up to P (as 15%) off. Default: not tried."),
    ] = None,
    points: Annotated[int, number_within(ranges.POINTS, "N", "Points of a curve.")] = 12,
    base: Annotated[
        Path | None, typer.Option(metavar="DIR", help="A plan to begin from. Default: a new one.")
    ] = None,
    out: Annotated[
        Path | None,
        typer.Option(
            metavar="DIR",
            help="Folder for tables, pictures and plans. Default: nothing is written.",
        ),
    ] = None,
    time_limit: limits.TimeLimit = None,
    each: Annotated[
        float, number_within(ranges.SECONDS_EACH, "S", "Seconds for each variant.")
    ] = 10.0,
    curve_time: Annotated[
        float, number_within(ranges.SECONDS_OF_A_CURVE, "S", "Seconds for each curve.")
    ] = 60.0,
    gap: limits.Gap = None,
    seed: limits.Seed = None,
    threads: limits.Threads = None,
    work_limit: limits.WorkLimit = None,
    option: limits.Option = None,
    handles: HandlesOption = None,
    quiet: Annotated[bool, typer.Option("--quiet", help="Show no progress.")] = False,
    as_json: Annotated[bool, typer.Option("--json", help="Print the findings as JSON.")] = False,
) -> None:
    """Tell what changes would cost, and what the limits cost."""
    if together and not change:
        raise typer.BadParameter("--together joins changes: give a --change, or leave it out")
    settings = limits.settings(time_limit, gap, seed, threads, work_limit, option)
    spread_share = None if spread is None else parse_spread(spread)
    asked = bool(budget_curve or target or limit_prices or spread)
    with errors_as_text(as_json):
        mine = personal(scenario, handles=handles)
    names = handles_of_file(scenario) if mine.handles else Handles()
    with errors_as_text(as_json, names.hide):
        if out is not None:
            check_findings_dir(out)
        kitchen = load_kitchen(scenario)
        if mine.handles:
            kitchen = kitchen_with_handles(kitchen, names)
        questions = Questions(
            variants=chosen_variants(
                kitchen, variant or [], change or [], otherwise_all=not asked, together=together
            ),
            budget=budget_curve,
            targets=tuple(target or ()),
            prices=limit_prices,
            spread=spread_share,
            points=points,
            each_s=each,
            curve_s=curve_time,
        )
        if not asked and not questions.variants:
            raise typer.BadParameter(
                "nothing is asked: the scenario has no variants; give a --change, or one of "
                "--budget-curve, --target, --limit-prices and --spread"
            )
        for text in questions.targets:
            parse_target(kitchen, text)
        line = None if quiet else ProgressLine(sys.stderr, kitchen.scenario.currency)
        try:
            plan = base_plan(kitchen, settings, base, line, names)
        finally:
            if line is not None:
                line.close()
        if base is None and plan.solution.status == "interrupted":
            questions = Questions()

        tell = _telling(most_seconds(questions), quiet=quiet)
        found = ask(kitchen, plan, questions, settings, tell, keep_base=base is not None)
        files = [] if out is None else write_findings(found, out, mine.display)
    typer.echo(findings_json(found) if as_json else findings_text(found), nl=not as_json)
    if files and out is not None and not quiet:
        typer.echo(f"{plural(len(files), 'file')} written to {shown_path(out)}.", err=True)
    _end_if_stopped(new_base=base is None, plan=plan)


def _telling(seconds: float, *, quiet: bool) -> Callable[[str], None]:
    """Return what tells which question is being answered."""
    steps = Steps(sys.stderr, seconds)

    def tell(text: str) -> None:
        if not (quiet or was_stopped()):
            steps(f"now: {text}")

    return tell


def _end_if_stopped(*, new_base: bool, plan: Plan) -> None:
    """End with the code of a stop, if the first plan or a question was stopped."""
    if new_base and plan.solution.status == "interrupted":
        end_stopped("Stopped: this is the plan found so far, and nothing was asked of it.")
    if was_stopped():
        end_stopped("Stopped: what is not answered yet is left out.")
