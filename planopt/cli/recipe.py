"""The command that tells the facts of a recipe: recipe."""

from __future__ import annotations

from pathlib import Path
from typing import Annotated

import typer

from planopt.catalog.load import load_catalog
from planopt.cli import completing
from planopt.cli.shared import errors_as_text, one_of, show_json
from planopt.facts.rounding import RULES
from planopt.facts.text import facts_data, facts_text
from planopt.front import dishes


def recipe(
    name: Annotated[
        str,
        typer.Argument(metavar="NAME", help="Id of the recipe.", autocompletion=completing.dishes),
    ],
    catalog: Annotated[Path, typer.Option(metavar="DIR", help="The catalog's folder.")] = Path(
        "catalogs"
    ),
    servings: Annotated[
        float | None,
        typer.Option(
            metavar="N", min=0.01, max=10000, help="Scale to so many servings. Default: one batch."
        ),
    ] = None,
    label: Annotated[str, typer.Option(metavar="RULES", help="Round labels as us or eu.")] = "us",
    seller: Annotated[
        list[str] | None,
        typer.Option(metavar="ID", help="Only prices of this seller. Default: all sellers."),
    ] = None,
    currency: Annotated[
        str | None,
        typer.Option(metavar="CODE", help="Currency of prices. Default: the only one there is."),
    ] = None,
    as_json: Annotated[bool, typer.Option("--json", help="Print the facts as JSON.")] = False,
) -> None:
    """Show a recipe at any yield: nutrition, cost, allergens, keeping, what can be changed."""
    with errors_as_text(as_json):
        rules = one_of(label, RULES, "--label")
        known = load_catalog(catalog)
        facts = dishes.facts_in(
            known, str(catalog), name, servings=servings, sellers=seller, currency=currency
        )
    if as_json:
        show_json(facts_data(facts, rules))
    else:
        typer.echo(facts_text(facts, known, rules))
