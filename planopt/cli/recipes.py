"""Commands on recipes of others and for others: import recipes, export recipes."""

from __future__ import annotations

from pathlib import Path
from typing import Annotated, Any

import typer

from planopt.cli.helping import ExampleCommand, WholeGroup
from planopt.cli.shared import errors_as_text, one_of, show_json, shown_path
from planopt.faults import BadInput, ExitCode
from planopt.intake.drafting import Draft
from planopt.intake.exports import export_recipes
from planopt.intake.imports import Imported, import_recipes
from planopt.report.words.plain import plural

importing = typer.Typer(
    name="import",
    help="Bring your own data into a kitchen.",
    no_args_is_help=True,
    cls=WholeGroup,
)
exporting = typer.Typer(
    name="export",
    help="Give a kitchen's data to other programs.",
    no_args_is_help=True,
    cls=WholeGroup,
)
_CUPS = {"us": "us_customary", "imperial": "imperial", "metric": "metric"}
_MOST_SHOWN = 20


@importing.command("recipes", cls=ExampleCommand)
def import_(
    paths: Annotated[
        list[Path],
        typer.Argument(metavar="PATH", help="JSON-LD files, saved web pages, or folders of them."),
    ],
    into: Annotated[Path, typer.Option(metavar="KITCHEN", help="Kitchen or catalog folder.")],
    answers: Annotated[
        Path | None,
        typer.Option(metavar="FILE", help="Questions and answers. Default: a file in the catalog."),
    ] = None,
    cups: Annotated[
        str, typer.Option(metavar="SYSTEM", help="Cups and pints: us, imperial or metric.")
    ] = "us",
    as_json: Annotated[bool, typer.Option("--json", help="Print what was done as JSON.")] = False,
) -> None:
    """Import recipes (schema.org Recipe) and ask about what they leave open."""
    one_of(cups, tuple(_CUPS), "--cups")
    with errors_as_text(as_json):
        done = import_recipes(paths, into, answers, _CUPS[cups])  # type: ignore[arg-type]
        if not as_json:
            _tell(done)
        else:
            show_json(_as_dict(done))
    if done.faults:
        if not as_json:
            typer.echo(str(BadInput(done.faults)), err=True)
        raise typer.Exit(int(ExitCode.BAD_INPUT))


@exporting.command("recipes", cls=ExampleCommand)
def export(
    kitchen: Annotated[Path, typer.Argument(metavar="KITCHEN", help="Kitchen or catalog folder.")],
    out: Annotated[Path, typer.Option(metavar="DIR", help="Folder for the JSON-LD files.")],
    recipe: Annotated[
        list[str] | None,
        typer.Option(metavar="NAME", help="Only this recipe; may be repeated. Default: all."),
    ] = None,
) -> None:
    """Write recipes as schema.org Recipe in JSON-LD, with nutrition of a serving."""
    with errors_as_text():
        written = export_recipes(kitchen, out, recipe or ())
    typer.echo(f"{plural(len(written), 'recipe')} written to {shown_path(out)}.")


def _tell(done: Imported) -> None:
    written = set(done.written) | set(done.unchanged)
    for draft in done.drafts:
        if draft.recipe_id in written:
            _tell_lines(draft)
    waiting = {recipe for question in done.questions for recipe in question.recipes}
    parts = [f"{plural(len(done.written), 'recipe')} written"]
    parts += [f"{len(done.unchanged)} as before"] if done.unchanged else []
    parts += [f"{plural(len(done.waiting), 'recipe')} waiting for answers"] if done.waiting else []
    typer.echo(", ".join(parts) + ".")
    if done.kept:
        typer.echo(
            "Not written over, as you made or changed the file: "
            + ", ".join(f"{name}.yaml" for name in done.kept)
            + ". Remove a file to have it imported again."
        )
    if done.twice:
        typer.echo("Found twice, taken once: " + ", ".join(done.twice) + ".")
    if done.without_recipe:
        names = ", ".join(shown_path(path) for path in done.without_recipe[:_MOST_SHOWN])
        typer.echo(f"Without a recipe: {names}.")
    if done.questions:
        typer.echo(
            f"{plural(len(done.questions), 'question')} on {plural(len(waiting), 'recipe')} in"
            f" {shown_path(done.answers_file)}: fill in the column answer, then import again."
        )


def _tell_lines(draft: Draft) -> None:
    """Show which foods were taken without being called quite so, and what else is to be known."""
    for line in draft.lines:
        if line.confidence < 1:
            typer.echo(
                f"{draft.recipe_id}: {line.sentence!r} is taken as {line.food_id}, whose name"
                f" fits {line.confidence:.0%}."
            )
    for note in draft.notes:
        typer.echo(f"{draft.recipe_id}: {note}.")


def _as_dict(done: Imported) -> dict[str, Any]:
    return {
        "ok": not done.faults,
        "exit_code": int(ExitCode.BAD_INPUT if done.faults else ExitCode.OK),
        "written": done.written,
        "unchanged": done.unchanged,
        "kept": done.kept,
        "waiting": done.waiting,
        "twice": done.twice,
        "without_recipe": [str(path) for path in done.without_recipe],
        "answers": str(done.answers_file),
        "questions": [
            {
                "ask": question.ask,
                "recipe": question.recipe,
                "about": question.about,
                "suggestion": question.suggestion,
                "why": question.why,
                "recipes": list(question.recipes),
            }
            for question in done.questions
        ],
        "recipes": [
            {
                "recipe_id": draft.recipe_id,
                "name": draft.source.name,
                "file": draft.source.file,
                "notes": draft.notes,
                "lines": [
                    {
                        "sentence": line.sentence,
                        "food": line.food_id,
                        "amount": float(line.amount.amount),
                        "unit": line.amount.unit,
                        "state": line.amount.state,
                        "grams": round(line.grams, 1),
                        "confidence": line.confidence,
                        "settled": line.settled,
                    }
                    for line in draft.lines
                ],
            }
            for draft in done.drafts
        ],
        "faults": [fault.as_dict() for fault in sorted(set(done.faults))],
    }
