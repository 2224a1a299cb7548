"""The command that tells the facts of a recipe: recipe."""

from __future__ import annotations

from fractions import Fraction
from pathlib import Path
from typing import Annotated

import typer

from planopt.catalog.load import read_catalog
from planopt.cli.shared import errors_as_text, one_of, show_json
from planopt.facts.recipe import FactsOf
from planopt.facts.rounding import RULES
from planopt.facts.text import facts_data, facts_text
from planopt.faults import BadInput, BadOption, nearest
from planopt.reading.files import Place


def recipe(
    name: Annotated[str, typer.Argument(metavar="NAME", help="Id of the recipe.")],
    catalog: Annotated[Path, typer.Option(metavar="DIR", help="The catalog's folder.")] = Path(
        "catalogs"
    ),
    servings: Annotated[
        float | None,
        typer.Option(metavar="N", min=0.01, max=10000, help="Scale to so many servings."),
    ] = None,
    label: Annotated[str, typer.Option(metavar="RULES", help="Round labels as us or eu.")] = "us",
    seller: Annotated[
        list[str] | None, typer.Option(metavar="ID", help="Only prices of this seller.")
    ] = None,
    currency: Annotated[
        str | None, typer.Option(metavar="CODE", help="Currency of prices, if there are several.")
    ] = None,
    as_json: Annotated[bool, typer.Option("--json", help="Print the facts as JSON.")] = False,
) -> None:
    """Show a recipe at any yield: nutrition, cost, allergens, keeping, what can be changed."""
    with errors_as_text(as_json):
        rules = one_of(label, RULES, "--label")
        reading = read_catalog(catalog)
        if reading.faults:
            raise BadInput(reading.faults)
        found = reading.catalog.recipes.get(name)
        if found is None:
            place = Place(str(catalog), 0)
            mend = nearest(name, reading.catalog.recipes)
            why = "the catalog has no such recipe"
            raise BadInput([place.fault("", name, why, mend, "unknown_recipe")])
        for one in seller or ():
            if one not in reading.catalog.sellers:
                raise BadOption(f"--seller {one}: {nearest(one, reading.catalog.sellers)}")
        codes = sorted({pack.currency for pack in reading.catalog.packs.values()})
        if currency is None and len(codes) > 1:
            raise BadOption(f"--currency is needed: one of {', '.join(codes)}")
        if currency is not None and currency not in codes:
            raise BadOption(f"--currency {currency}: {nearest(currency, codes)}")
        code = currency or (codes[0] if codes else "USD")
        asked = None if servings is None else Fraction(repr(servings))
        facts = FactsOf(reading.catalog, code, seller).facts(found, asked)
    if as_json:
        show_json(facts_data(facts, rules))
    else:
        typer.echo(facts_text(facts, reading.catalog, rules))
