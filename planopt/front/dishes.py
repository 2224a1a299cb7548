"""Recipes: recipe, import_recipes, export_recipes."""

from __future__ import annotations

from collections.abc import Sequence
from fractions import Fraction
from pathlib import Path
from typing import Literal, TypedDict, Unpack

from planopt.catalog.load import load_catalog
from planopt.catalog.records import Catalog
from planopt.facts.recipe import Facts, FactsOf
from planopt.faults import BadInput, BadOption, nearest
from planopt.front.sources import PathLike
from planopt.intake.exports import export_recipes as _export
from planopt.intake.imports import Imported
from planopt.intake.imports import import_recipes as _import
from planopt.intake.sentences import Cups
from planopt.reading.files import Place
from planopt.units import exact

CUPS: dict[str, Cups] = {"us": "us_customary", "imperial": "imperial", "metric": "metric"}


class Priced(TypedDict, total=False):
    """How a recipe is looked at: for how many servings, and at whose prices."""

    servings: float | Fraction | None
    sellers: Sequence[str] | None
    currency: str | None


def recipe(name: str, catalog: Catalog | PathLike = "catalogs", **priced: Unpack[Priced]) -> Facts:
    """Return the facts of a recipe at any yield: nutrition, cost, allergens, keeping.

    Raises:
        BadInput: the catalog has faults, or no such recipe.
        BadOption: a seller is unknown, or the currency of prices is unknown or not clear.
    """
    if isinstance(catalog, Catalog):
        return facts_in(catalog, "catalog", name, **priced)
    return facts_in(load_catalog(Path(catalog)), str(catalog), name, **priced)


def facts_in(known: Catalog, where: str, name: str, **priced: Unpack[Priced]) -> Facts:
    """Return the facts of a recipe of a catalog; `where` tells in faults which it is.

    Raises:
        BadInput: the catalog has no such recipe.
        BadOption: a seller is unknown, or the currency of prices is unknown or not clear.
    """
    found = known.recipes.get(name)
    if found is None:
        why, mend = "the catalog has no such recipe", nearest(name, known.recipes)
        raise BadInput([Place(where, 0).fault("", name, why, mend, "unknown_recipe")])
    sellers = priced.get("sellers")
    for one in sellers or ():
        if one not in known.sellers:
            raise BadOption(f"--seller {one}: {nearest(one, known.sellers)}")
    codes = sorted({pack.currency for pack in known.packs.values()})
    currency = priced.get("currency")
    if currency is None and len(codes) > 1:
        raise BadOption(f"--currency is needed: one of {', '.join(codes)}")
    if currency is not None and currency not in codes:
        raise BadOption(f"--currency {currency}: {nearest(currency, codes)}")
    code = currency or (codes[0] if codes else "USD")
    servings = priced.get("servings")
    asked = None if servings is None else exact(servings)
    return FactsOf(known, code, sellers).facts(found, asked)


def import_recipes(
    *paths: PathLike,
    into: PathLike,
    answers: PathLike | None = None,
    cups: Literal["us", "imperial", "metric"] = "us",
) -> Imported:
    """Import recipes (schema.org Recipe) into a kitchen; what they leave open is in `questions`.

    Raises:
        BadInput: the kitchen's catalog cannot be read or written.
    """
    if cups not in CUPS:
        raise BadOption(f"cups {cups!r}: {nearest(cups, CUPS)}")
    file = None if answers is None else Path(answers)
    return _import([Path(path) for path in paths], Path(into), file, CUPS[cups])


def export_recipes(kitchen: PathLike, out: PathLike, recipes: Sequence[str] = ()) -> list[Path]:
    """Write recipes as schema.org Recipe in JSON-LD, all if none is named, and return the files.

    Raises:
        BadInput: the catalog cannot be read, a recipe is unknown, or nothing can be written.
    """
    return _export(Path(kitchen), Path(out), recipes)
