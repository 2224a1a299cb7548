"""The command line: plan, whatif, check, audit, new, schema."""

from __future__ import annotations

import json
import sys
from collections.abc import Iterator
from contextlib import contextmanager
from pathlib import Path
from typing import Annotated, Any

import typer
from pydantic import ValidationError

from planopt import __version__
from planopt.faults import AuditFailed, BadInput, ExitCode, NoCompliantWeek, PlanoptError
from planopt.pipeline import audit_folder, make_plan
from planopt.report.files import (
    check_out_dir,
    plan_json,
    plan_schema,
    recipe_schema,
    scenario_schema,
    write_plan,
)
from planopt.report.progress import ProgressLine
from planopt.report.terminal import summary_text
from planopt.report.words import money_code, plural
from planopt.scenario.load import check_paths_and_warn, load_kitchen
from planopt.solve.settings import SolveSettings
from planopt.starter import write_starter
from planopt.whatif.ask import Questions, ask, base_plan, chosen_variants
from planopt.whatif.files import check_findings_dir, findings_json, write_findings
from planopt.whatif.text import findings_text
from planopt.whatif.windowcurve import parse_target

_DEFAULTS = SolveSettings()

app = typer.Typer(
    name="planopt",
    help="Plan a week of meals for several clients at the least cost that complies.",
    no_args_is_help=True,
    add_completion=False,
    pretty_exceptions_enable=False,
    rich_markup_mode=None,
)


def _show_json(data: object) -> None:
    typer.echo(json.dumps(data, indent=2, ensure_ascii=False))


def _error_dict(error: PlanoptError) -> dict[str, Any]:
    data: dict[str, Any] = {"ok": False, "exit_code": int(error.exit_code)}
    match error:
        case BadInput():
            data["faults"] = [fault.as_dict() for fault in error.faults]
        case NoCompliantWeek():
            data["reasons"] = list(error.reasons)
            if error.explanation is not None:
                data["explanation"] = error.explanation.as_dict()
        case AuditFailed():
            data["findings"] = list(error.findings)
        case _:
            data["error"] = str(error)
    return data


@contextmanager
def _errors_as_text(as_json: bool = False) -> Iterator[None]:
    """Turn errors raised on purpose into text and an exit code; bugs keep their traceback."""
    try:
        yield
    except PlanoptError as error:
        typer.echo(str(error), err=True)
        if as_json:
            _show_json(_error_dict(error))
        raise typer.Exit(int(error.exit_code)) from error


def _show_version(wanted: bool) -> None:
    if wanted:
        typer.echo(f"planopt {__version__}")
        raise typer.Exit


@app.callback()
def _root(
    version: Annotated[
        bool,
        typer.Option("--version", callback=_show_version, is_eager=True, help="Show the version."),
    ] = False,
) -> None:
    """Plan a week of meals for several clients at the least cost that complies."""


def parse_gap(text: str) -> float:
    """Return a gap given as a share (0.02) or in percent (2%).

    Raises:
        typer.BadParameter: the text is neither, or not from 0 up to but excluding 1.
    """
    number, is_percent = (text[:-1], True) if text.endswith("%") else (text, False)
    try:
        gap = float(number) / 100 if is_percent else float(number)
    except ValueError as error:
        raise typer.BadParameter(f"{text!r} is no gap; write 0.02 or 2%") from error
    if not 0 <= gap < 1:
        raise typer.BadParameter(f"{text!r} is not below 1 (100%); for two percent write 2%")
    return gap


def parse_options(texts: list[str]) -> dict[str, str]:
    """Return solver options given as NAME=VALUE.

    Raises:
        typer.BadParameter: a text has no `=` or no name, or a name comes twice.
    """
    options: dict[str, str] = {}
    for text in texts:
        name, equals, value = text.partition("=")
        if not equals or not name:
            raise typer.BadParameter(f"{text!r} is not NAME=VALUE", param_hint="--option")
        if name in options:
            raise typer.BadParameter(f"{name!r} is given twice", param_hint="--option")
        options[name] = value
    return options


def _settings(given: dict[str, Any]) -> SolveSettings:
    try:
        return SolveSettings(**{name: v for name, v in given.items() if v is not None})
    except ValidationError as error:
        faults = [f"{d['loc'][0]}: {d['msg']} (given: {d['input']})" for d in error.errors()]
        raise typer.BadParameter("; ".join(faults)) from error


def _shown_path(path: Path) -> str:
    try:
        return str(path.resolve().relative_to(Path.cwd().resolve()))
    except ValueError:
        return str(path)


@app.command()
def plan(
    scenario: Annotated[Path, typer.Argument(metavar="SCENARIO", help="Scenario file (YAML).")],
    out: Annotated[
        Path | None,
        typer.Option(metavar="DIR", help="Folder for the plan. Default: NAME-plan, here."),
    ] = None,
    time_limit: Annotated[
        float | None,
        typer.Option(metavar="S", help=f"Seconds to search. Default: {_DEFAULTS.time_limit_s:g}."),
    ] = None,
    gap: Annotated[
        str | None,
        typer.Option(metavar="G", help=f"Gap to prove, as 0.02 or 2%. Default: {_DEFAULTS.gap:g}."),
    ] = None,
    seed: Annotated[
        int | None, typer.Option(metavar="N", help=f"Default: {_DEFAULTS.seed}.")
    ] = None,
    threads: Annotated[
        int | None, typer.Option(metavar="N", help=f"Default: {_DEFAULTS.threads}.")
    ] = None,
    work_limit: Annotated[
        int | None,
        typer.Option(metavar="N", help="Search nodes instead of seconds, so that runs repeat."),
    ] = None,
    option: Annotated[
        list[str] | None, typer.Option(metavar="NAME=VALUE", help="Solver option; may be repeated.")
    ] = None,
    quiet: Annotated[bool, typer.Option("--quiet", help="Show no progress.")] = False,
    as_json: Annotated[
        bool, typer.Option("--json", help="Print the plan as JSON instead of the summary.")
    ] = False,
) -> None:
    """Find the cheapest plan, audit it and write it to a folder."""
    settings = _settings(
        {
            "time_limit_s": time_limit,
            "gap": None if gap is None else parse_gap(gap),
            "seed": seed,
            "threads": threads,
            "work_limit": work_limit,
            "options": parse_options(option or []),
        }
    )
    out_dir = out if out is not None else Path(f"{scenario.stem}-plan")
    with _errors_as_text(as_json):
        # Before the search: a minute of it must not be lost to a taken folder.
        check_out_dir(out_dir)
        kitchen = load_kitchen(scenario)
        line = None if quiet else ProgressLine(sys.stderr, kitchen.scenario.currency)
        try:
            found = make_plan(kitchen, settings, line)
        finally:
            if line is not None:
                line.close()
        files = write_plan(found, kitchen.catalog, kitchen.scenario, out_dir)
    if as_json:
        typer.echo(plan_json(found), nl=False)
    else:
        typer.echo(summary_text(found, kitchen.catalog, kitchen.scenario))
    if not quiet:
        names = ", ".join(path.name for path in files)
        typer.echo(f"Written to {_shown_path(out_dir)}: {names}", err=True)


def parse_spread(text: str) -> float:
    """Return a spread of prices given as a share (0.15) or in percent (15%).

    Raises:
        typer.BadParameter: the text is neither, or not above 0 and below 1.
    """
    spread = parse_gap(text)
    if spread <= 0:
        raise typer.BadParameter(f"{text!r} is not above 0; write for example 15%")
    return spread


@app.command()
def whatif(
    scenario: Annotated[Path, typer.Argument(metavar="SCENARIO", help="Scenario file (YAML).")],
    change: Annotated[
        list[str] | None,
        typer.Option(metavar="TEXT", help="A change in words, as 'no egg'; may be repeated."),
    ] = None,
    variant: Annotated[
        list[str] | None, typer.Option(metavar="NAME", help="A variant of the scenario by name.")
    ] = None,
    budget_curve: Annotated[
        bool, typer.Option("--budget-curve", help="What a week costs against its budget.")
    ] = False,
    target: Annotated[
        list[str] | None,
        typer.Option(metavar="TEXT", help="A window, as 'ivo protein_g': what a week costs by it."),
    ] = None,
    limit_prices: Annotated[
        bool, typer.Option("--limit-prices", help="What the limits cost near the plan.")
    ] = False,
    spread: Annotated[
        str | None, typer.Option(metavar="P", help="Try prices up to P (as 15%) off.")
    ] = None,
    points: Annotated[int, typer.Option(metavar="N", min=3, max=100, help="Of a curve.")] = 12,
    base: Annotated[
        Path | None, typer.Option(metavar="DIR", help="A plan to begin from. Default: a new one.")
    ] = None,
    out: Annotated[
        Path | None, typer.Option(metavar="DIR", help="Folder for tables, pictures and plans.")
    ] = None,
    time_limit: Annotated[
        float | None, typer.Option(metavar="S", help="Seconds for the base plan.")
    ] = None,
    each: Annotated[
        float, typer.Option(metavar="S", min=0.1, help="Seconds for each variant.")
    ] = 10.0,
    curve_time: Annotated[
        float, typer.Option(metavar="S", min=1.0, help="Seconds for each curve.")
    ] = 60.0,
    gap: Annotated[str | None, typer.Option(metavar="G", help="As for plan.")] = None,
    seed: Annotated[int | None, typer.Option(metavar="N", help="As for plan.")] = None,
    threads: Annotated[int | None, typer.Option(metavar="N", help="As for plan.")] = None,
    work_limit: Annotated[int | None, typer.Option(metavar="N", help="As for plan.")] = None,
    quiet: Annotated[bool, typer.Option("--quiet", help="Show no progress.")] = False,
    as_json: Annotated[bool, typer.Option("--json", help="Print the findings as JSON.")] = False,
) -> None:
    """Tell what changes would cost, and what the limits do."""
    settings = _settings(
        {
            "time_limit_s": time_limit,
            "gap": None if gap is None else parse_gap(gap),
            "seed": seed,
            "threads": threads,
            "work_limit": work_limit,
        }
    )
    spread_share = None if spread is None else parse_spread(spread)
    asked = bool(budget_curve or target or limit_prices or spread)
    with _errors_as_text(as_json):
        if out is not None:
            check_findings_dir(out)
        kitchen = load_kitchen(scenario)
        questions = Questions(
            variants=chosen_variants(kitchen, variant or [], change or [], otherwise_all=not asked),
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
            plan = base_plan(kitchen, settings, base, line)
        finally:
            if line is not None:
                line.close()
        tell = None if quiet else lambda text: typer.echo(f"now: {text}", err=True)
        found = ask(kitchen, plan, questions, settings, tell)
        files = [] if out is None else write_findings(found, out)
    typer.echo(findings_json(found) if as_json else findings_text(found), nl=not as_json)
    if files and out is not None and not quiet:
        typer.echo(f"{plural(len(files), 'file')} written to {_shown_path(out)}.", err=True)


@app.command()
def check(
    paths: Annotated[
        list[Path],
        typer.Argument(metavar="PATH", help="Scenarios, recipes, catalogs, or folders of them."),
    ],
    as_json: Annotated[bool, typer.Option("--json", help="Print the faults as JSON.")] = False,
) -> None:
    """List every fault of scenarios and catalogs."""
    with _errors_as_text(as_json):
        faults, warnings = check_paths_and_warn(paths)
        if not as_json:
            for warning in warnings:
                typer.echo(f"warning, stops nothing: {warning.text()}", err=True)
        if faults:
            raise BadInput(faults)
    if as_json:
        shown = [warning.as_dict() for warning in warnings]
        _show_json({"ok": True, "exit_code": int(ExitCode.OK), "faults": [], "warnings": shown})
    else:
        typer.echo(
            f"No faults in {plural(len(paths), 'path')}, {plural(len(warnings), 'warning')}."
        )


@app.command()
def audit(
    folder: Annotated[Path, typer.Argument(metavar="DIR", help="Folder of a plan.")],
) -> None:
    """Recompute a written plan and compare."""
    with _errors_as_text():
        found, findings = audit_folder(folder)
        if findings:
            raise AuditFailed(finding.text() for finding in findings)
    cost = money_code(found.solution.objective, found.currency)
    typer.echo(f"The audit agrees: every rule is met, and the cost is {cost}.")


@app.command()
def new(
    folder: Annotated[Path, typer.Argument(metavar="DIR", help="New or empty folder.")],
) -> None:
    """Copy starter catalogs and scenarios to a new folder."""
    with _errors_as_text():
        files = write_starter(folder)
    typer.echo(f"{plural(len(files), 'file')} written to {_shown_path(folder)}.")
    for path in files:
        if path.parent.name == "scenarios" and path.suffix in (".yaml", ".yml"):
            typer.echo(f"Try: planopt plan {_shown_path(path)}")
            break


@app.command()
def schema(
    scenario: Annotated[bool, typer.Option("--scenario", help="That of scenario files.")] = False,
    recipe: Annotated[bool, typer.Option("--recipe", help="That of recipe files.")] = False,
) -> None:
    """Print the JSON Schema of a kind of file, by default of plan.json."""
    if scenario and recipe:
        raise typer.BadParameter("choose one of --scenario and --recipe")
    _show_json(scenario_schema() if scenario else recipe_schema() if recipe else plan_schema())


def main() -> None:
    """Run the command line; a terminal that cannot show a letter shows `?` instead."""
    for stream in (sys.stdout, sys.stderr):
        if hasattr(stream, "reconfigure"):
            stream.reconfigure(errors="replace")
    app(prog_name="planopt")
