"""Commands on the weeks of many households: weeks, overview."""

from __future__ import annotations

import sys
from pathlib import Path
from typing import Annotated

import typer

from planopt import ranges
from planopt.cli import completing, limits
from planopt.cli.personal import HandlesOption, personal, scenario_of_run
from planopt.cli.shared import (
    errors_as_text,
    number_within,
    show_json,
    shown_path,
)
from planopt.faults import ExitCode, StoppedByUser
from planopt.overview.files import overview_data, write_overview
from planopt.overview.line import RunLine
from planopt.overview.terminal import overview_text
from planopt.runs.layout import INDEX_FILE
from planopt.runs.run import Shown, plan_weeks
from planopt.scenario.households.handles import handles_of_file
from planopt.start import STOPPED_TEXT


def weeks(
    scenario: completing.ScenarioFile,
    out: Annotated[
        Path | None,
        typer.Option(metavar="DIR", help="Folder for the run. Default: NAME-weeks, here."),
    ] = None,
    sharing: Annotated[
        bool,
        typer.Option("--sharing", help="Also plan each client of a shared kitchen alone."),
    ] = False,
    processes: Annotated[
        int | None,
        number_within(ranges.PROCESSES, "N", "Kitchens at a time. Default: the cores at hand."),
    ] = None,
    cluster: Annotated[
        str | None,
        typer.Option(
            metavar="ADDRESS",
            help="Dask scheduler that plans instead of this machine. Default: none.",
        ),
    ] = None,
    time_limit: limits.TimeLimit = None,
    gap: limits.Gap = None,
    seed: limits.Seed = None,
    threads: limits.Threads = None,
    work_limit: limits.WorkLimit = None,
    option: limits.Option = None,
    handles: HandlesOption = None,
    quiet: Annotated[bool, typer.Option("--quiet", help="Show no progress.")] = False,
    as_json: Annotated[
        bool, typer.Option("--json", help="Print the overview as JSON instead of the tables.")
    ] = False,
) -> None:
    """Plan the weeks of all households; the same command again finishes what is missing."""
    settings = limits.settings(time_limit, gap, seed, threads, work_limit, option)
    out_dir = out if out is not None else Path(f"{scenario.stem}-weeks")
    line = None if quiet else RunLine(sys.stderr)
    with errors_as_text(as_json):
        mine = personal(scenario, handles=handles)
    hide = handles_of_file(scenario).hide if mine.handles else str
    with errors_as_text(as_json, hide):
        try:
            done = plan_weeks(
                scenario,
                out_dir,
                settings,
                workers=processes if cluster is None else cluster,
                sharing=sharing,
                shown=Shown(mine.handles, mine.display),
                progress=line,
            )
            code = done.exit_code
        except KeyboardInterrupt:
            code = ExitCode.STOPPED
        finally:
            if line is not None:
                line.close()
        if code is ExitCode.STOPPED and not (out_dir / INDEX_FILE).is_file():
            raise StoppedByUser(STOPPED_TEXT)
        found = write_overview(out_dir, handles=mine.handles)
    if as_json:
        show_json(overview_data(found))
    else:
        typer.echo(overview_text(found))
    if code is ExitCode.STOPPED:
        typer.echo("Stopped. The same command goes on from here.", err=True)
    elif not quiet:
        typer.echo(f"Written to {shown_path(out_dir)}: overview.html and more", err=True)
    if code is not ExitCode.OK:
        raise typer.Exit(int(code))


def overview(
    folder: Annotated[
        Path,
        typer.Argument(
            metavar="DIR", help="Folder of a run.", autocompletion=completing.plan_folders
        ),
    ],
    handles: HandlesOption = None,
    as_json: Annotated[
        bool, typer.Option("--json", help="Print JSON instead of the tables.")
    ] = False,
) -> None:
    """Show all clients of a run, and write its overview files anew."""
    with errors_as_text(as_json):
        mine = personal(scenario_of_run(folder), handles=handles)
        found = write_overview(folder, handles=mine.handles)
    if as_json:
        show_json(overview_data(found))
    else:
        typer.echo(overview_text(found))
