"""Commands on one plan: plan, show, audit, carry."""

from __future__ import annotations

import sys
from pathlib import Path
from time import perf_counter
from typing import Annotated

import typer

from planopt.adjust.explain import plate_of_words, reasons_for, reasons_text
from planopt.adjust.week import SECONDS, read_written
from planopt.carry import carried_file_name, write_stock
from planopt.cli import completing, limits
from planopt.cli.personal import (
    HandlesOption,
    LocaleOption,
    MarkOption,
    Personal,
    UnitsOption,
    personal,
    scenario_of,
)
from planopt.cli.shared import (
    end_stopped,
    errors_as_text,
    say,
    shown_path,
    was_stopped,
)
from planopt.deadlines import command_began
from planopt.faults import AuditFailed
from planopt.pipeline import audit_folder, carry_folder, make_plan
from planopt.report.files.folder import as_shown, check_out_dir, plan_json, write_plan
from planopt.report.files.pdf import Paper, PdfUnavailable, add_pdfs, pdf_fault
from planopt.report.terminal.progress import ProgressLine, Steps
from planopt.report.terminal.show import Part, show_folder
from planopt.report.terminal.summary import summary_text
from planopt.report.words.locale import showing
from planopt.report.words.plain import money_code, plural
from planopt.runs.carry import carried_folder_name, carry_run, is_run, write_stocks
from planopt.scenario.households.handles import Handles, handles_of_file, kitchen_with_handles
from planopt.scenario.reading.load import load_kitchen
from planopt.solve.progress import Progress
from planopt.solve.settings import SolveSettings

# Loading and reading take a moment; of very large files the time counts.
_STARTING_SECONDS = 1.0


def plan(
    scenario: completing.ScenarioFile,
    out: Annotated[
        Path | None,
        typer.Option(metavar="DIR", help="Folder for the plan. Default: NAME-plan, here."),
    ] = None,
    time_limit: limits.TimeLimit = None,
    gap: limits.Gap = None,
    seed: limits.Seed = None,
    threads: limits.Threads = None,
    work_limit: limits.WorkLimit = None,
    option: limits.Option = None,
    locale: LocaleOption = None,
    units: UnitsOption = None,
    byte_order_mark: MarkOption = None,
    pdf: Annotated[
        str | None,
        typer.Option(
            metavar="PAPER",
            help="Print the pages to PDF too, on a4 or letter. "
            "Default: yours (planopt defaults), else none.",
        ),
    ] = None,
    handles: HandlesOption = None,
    quiet: Annotated[bool, typer.Option("--quiet", help="Show no progress.")] = False,
    as_json: Annotated[
        bool, typer.Option("--json", help="Print the plan as JSON instead of the summary.")
    ] = False,
) -> None:
    """Find the cheapest plan, audit it and write it to a folder."""
    settings = limits.settings(time_limit, gap, seed, threads, work_limit, option)
    began = command_began()
    out_dir = out if out is not None else Path(f"{scenario.stem}-plan")
    with errors_as_text(as_json):
        mine = personal(
            scenario, locale=locale, units=units, byte_order_mark=byte_order_mark,
            handles=handles, pdf=pdf,
        )  # fmt: skip
    display, paper = mine.display, mine.paper
    names = handles_of_file(scenario) if mine.handles else Handles()
    with errors_as_text(as_json, names.hide):
        # Before the search: a minute of it must not be lost to a taken folder.
        check_out_dir(out_dir)
        if paper is not None and (missing := pdf_fault()) is not None:
            typer.echo(missing, err=True)
            paper = None
        kitchen = load_kitchen(scenario)
        if mine.handles:
            kitchen = kitchen_with_handles(kitchen, names)
        line = None if quiet else ProgressLine(sys.stderr, kitchen.scenario.currency)
        began = min(perf_counter(), began + _STARTING_SECONDS)
        try:
            found = as_shown(make_plan(kitchen, settings, line, began=began), display)
            if line is not None:
                line(Progress("writing the files", perf_counter() - began))
            files = write_plan(found, kitchen.catalog, kitchen.scenario, out_dir, display)
        finally:
            if line is not None:
                line.close()
    if paper is not None and not was_stopped(found):
        files += _printed(out_dir, paper)
    if as_json:
        typer.echo(plan_json(found), nl=False)
    else:
        with showing(display):
            typer.echo(summary_text(found, kitchen.catalog, kitchen.scenario))
    if not quiet:
        written = ", ".join(path.name for path in files)
        typer.echo(f"Written to {shown_path(out_dir)}: {written}", err=True)
    if was_stopped(found):
        end_stopped(f"Stopped: the best plan so far is audited and in {shown_path(out_dir)}.")


def _printed(folder: Path, paper: Paper) -> list[Path]:
    """Return the PDF files made; where none can be made, the plan is as good without them."""
    try:
        return add_pdfs(folder, paper)
    except PdfUnavailable as error:
        typer.echo(str(error), err=True)
        return []


def show(
    folder: completing.PlanFolder,
    part: Annotated[
        Part, typer.Argument(metavar="PART", help="client, groceries, cook or labels.")
    ] = Part.SUMMARY,
    client: Annotated[
        str | None,
        typer.Option(
            metavar="ID",
            help="Only this client; with client and labels. Default: all.",
            autocompletion=completing.clients,
        ),
    ] = None,
    pot: Annotated[
        list[str] | None,
        typer.Option(
            metavar="DISH=GRAMS",
            help="With cook: grams for each box of a pot that weighs so much; may be repeated. "
            "Default: none.",
        ),
    ] = None,
    explain: Annotated[
        str | None,
        typer.Option(
            metavar="MEAL", help="Why a dish is there, as: 'mira day 2 dinner'. Default: not asked."
        ),
    ] = None,
    locale: LocaleOption = None,
    units: UnitsOption = None,
    handles: HandlesOption = None,
) -> None:
    """Print a part of a written plan; without PART its summary."""
    if explain is not None:
        with errors_as_text():
            mine = personal(scenario_of(folder), locale=locale, units=units, handles=handles)
            typer.echo(_explained(folder, explain, mine))
        return
    with errors_as_text():
        mine = personal(scenario_of(folder), locale=locale, units=units, handles=handles)
        text, notes = show_folder(
            folder, part, client, mine.display, handles=mine.handles, pots=pot or ()
        )
    for note in notes:
        typer.echo(note, err=True)
    typer.echo(text)


def _explained(folder: Path, meal: str, mine: Personal) -> str:
    """Return why a dish is at a meal, and what the next best would cost."""
    with showing(mine.display):
        written = read_written(folder, by_handles=mine.handles)
        rows = plate_of_words(meal, written.plan, written.kitchen.scenario)
        Steps(sys.stderr, SECONDS)("looking for the next best week without that dish")
        return reasons_text(reasons_for(written, rows, SolveSettings(time_limit_s=SECONDS)))


def audit(
    folder: completing.PlanFolder,
) -> None:
    """Recompute a written plan and compare."""
    with errors_as_text():
        found, findings = audit_folder(folder)
        if findings:
            raise AuditFailed(finding.text() for finding in findings)
    cost = money_code(found.solution.objective, found.currency)
    typer.echo(f"The audit agrees: every rule is met, and the week costs {cost}, all counted.")


def carry(
    folder: Annotated[
        Path,
        typer.Argument(
            metavar="DIR",
            help="Folder of a plan or of a run.",
            autocompletion=completing.plan_folders,
        ),
    ],
    out: Annotated[
        Path | None,
        typer.Option(
            metavar="PATH", help="Stock file, of a run their folder. Default: carried-DATE, here."
        ),
    ] = None,
) -> None:
    """Write what a plan, or each plan of a run, leaves over as stock for the next week."""
    if is_run(folder):
        _carry_run(folder, out)
        return
    with errors_as_text():
        found, stock = carry_folder(folder)
        target = out if out is not None else Path(carried_file_name(found))
        write_stock(stock, target)
    say(f"{plural(len(stock.stock), 'leftover')} written to {shown_path(target)}.")
    say(
        "Name the file under stock_files: in the next scenario, and take out of its stock: what "
        "the file lists."
    )


def _carry_run(folder: Path, out: Path | None) -> None:
    with errors_as_text():
        index, stocks = carry_run(folder)
        target = out if out is not None else Path(carried_folder_name(index))
        write_stocks(stocks, target)
    count = sum(len(stock.stock) for stock in stocks.values())
    kitchens = plural(len(stocks), "kitchen")
    say(f"{plural(count, 'leftover')} of {kitchens} written to {shown_path(target)}.")
    say(
        "Name the folder as stock_folder: in the next scenario; a kitchen's file there is all the "
        "stock it has."
    )
