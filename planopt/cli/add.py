"""The commands that add to a kitchen's files: add food, add recipe, add price, add client."""

from __future__ import annotations

import sys
from collections.abc import Mapping
from datetime import date
from pathlib import Path
from typing import Annotated

import typer

from planopt.adding.asking import Asker, id_text
from planopt.adding.clients import add_client
from planopt.adding.foods import Added, add_food, choose
from planopt.adding.prices import add_price
from planopt.adding.recipes import add_recipe
from planopt.cli.shared import errors_as_text
from planopt.faults import BadOption
from planopt.intake.columnmap import FoodsMap, read_map
from planopt.intake.composition import CompositionFood
from planopt.intake.fooddata import read_usda
from planopt.intake.mappedfoods import read_mapped_foods
from planopt.intake.nutritionlabel import read_label
from planopt.intake.sr28 import sr28_foods

app = typer.Typer(
    help="Add a food, recipe, price or client: asked for on a terminal, by options elsewhere.",
    no_args_is_help=True,
    rich_markup_mode=None,
)
CatalogOption = Annotated[Path, typer.Option(metavar="DIR", help="The catalog's folder.")]
_CATALOG = Path("catalogs")


def on_terminal() -> bool:
    """Tell whether somebody can be asked."""
    return sys.stdin.isatty() and sys.stdout.isatty()


def _asker(given: Mapping[str, object]) -> Asker:
    texts = {name: None if value is None else str(value) for name, value in given.items()}
    return Asker(texts, _ask if on_terminal() else None)


def _ask(words: str, default: str | None) -> str:
    return str(typer.prompt(words, default=default, show_default=bool(default)))


def _checked_id(text: str) -> str:
    try:
        return id_text(text)
    except ValueError as error:
        raise BadOption(f"{text}: {error}") from error


def _show(added: Added) -> None:
    for warning in added.warnings:
        typer.echo(f"look at this: {warning.text()}", err=True)
    for line in added.lines:
        typer.echo(line)


@app.command()
def food(
    food_id: Annotated[str, typer.Argument(metavar="ID", help="Id of the new food.")],
    catalog: CatalogOption = _CATALOG,
    composition: Annotated[
        str | None,
        typer.Option(metavar="TEXT", help="Words or number in the table; the id's words if not."),
    ] = None,
    table: Annotated[
        Path | None,
        typer.Option(metavar="PATH", help="USDA download or CSV; the shipped SR28 if left out."),
    ] = None,
    column_map: Annotated[
        Path | None, typer.Option("--map", metavar="FILE", help="Column map of --table.")
    ] = None,
    label: Annotated[
        Path | None, typer.Option(metavar="FILE", help="A nutrition label typed in.")
    ] = None,
    serving_g: Annotated[
        float | None, typer.Option(metavar="G", help="Grams of a serving of --label.")
    ] = None,
    name: Annotated[str | None, typer.Option(metavar="TEXT", help="Name for reports.")] = None,
    state: Annotated[
        str | None, typer.Option(metavar="STATE", help="raw, cooked, drained or ready.")
    ] = None,
    edible_share: Annotated[
        str | None, typer.Option(metavar="SHARE", help="Edible part of one gram as bought.")
    ] = None,
    density: Annotated[
        str | None, typer.Option(metavar="D", help="Grams in a millilitre, if it is poured.")
    ] = None,
    allergens: Annotated[
        str | None, typer.Option(metavar="IDS", help="With bars between, or none.")
    ] = None,
    aisle: Annotated[str | None, typer.Option(metavar="TEXT", help="Aisle of the shop.")] = None,
    storage: Annotated[
        str | None, typer.Option(metavar="PLACE", help="shelf, fridge, freezer or tap.")
    ] = None,
    keeps_days: Annotated[
        str | None, typer.Option(metavar="DAYS", help="Days it keeps unopened.")
    ] = None,
    opened_keeps_days: Annotated[
        str | None, typer.Option(metavar="DAYS", help="Days it keeps once opened.")
    ] = None,
    safety_group: Annotated[
        str | None, typer.Option(metavar="GROUP", help="Group of safety_groups.csv, or none.")
    ] = None,
) -> None:
    """Add a food with its composition, measures and keeping to a catalog."""
    given = {
        "composition": composition,
        "name": name,
        "state": state,
        "edible-share": edible_share,
        "density": density,
        "allergens": allergens,
        "aisle": aisle,
        "storage": storage,
        "keeps-days": keeps_days,
        "opened-keeps-days": opened_keeps_days,
        "safety-group": safety_group,
    }
    with errors_as_text():
        new_id = _checked_id(food_id)
        asker = _asker({**given, "composition": None})
        plain = (name or food_id).replace("_", " ")
        not_used: tuple[str, ...] = ()
        if label is not None:
            read = read_label(label, plain, serving_g)
            source, not_used = read.food, read.not_used
        else:
            source = choose(_foods(table, column_map), composition or plain, asker)
        added = add_food(catalog, new_id, source, asker)
    _show(added)
    if not_used:
        typer.echo("Lines of the label that were not used: " + "; ".join(not_used))


def _foods(table: Path | None, column_map: Path | None) -> list[CompositionFood]:
    if table is None:
        if column_map is not None:
            raise BadOption("--map goes with --table")
        return list(sr28_foods())
    if column_map is not None:
        return read_mapped_foods(table, read_map(column_map, FoodsMap))
    return read_usda(table)


@app.command()
def recipe(
    recipe_id: Annotated[str, typer.Argument(metavar="ID", help="Id of the new recipe.")],
    catalog: CatalogOption = _CATALOG,
    name: Annotated[str | None, typer.Option(metavar="TEXT", help="Name.")] = None,
    meals: Annotated[str | None, typer.Option(metavar="MEALS", help="With commas between.")] = None,
    servings: Annotated[
        str | None, typer.Option(metavar="N", help="Servings of one batch.")
    ] = None,
    hands_on: Annotated[
        str | None, typer.Option(metavar="MIN", help="Minutes of work for one batch.")
    ] = None,
    extra: Annotated[
        str | None, typer.Option(metavar="MIN", help="Minutes of work a further batch adds.")
    ] = None,
    unattended: Annotated[
        str | None, typer.Option(metavar="MIN", help="Minutes it cooks by itself.")
    ] = None,
    hob: Annotated[str | None, typer.Option(metavar="MIN", help="Minutes on the hob.")] = None,
    oven: Annotated[str | None, typer.Option(metavar="TEXT", help="Such as 180 C 30 min.")] = None,
    kind: Annotated[
        str | None, typer.Option(metavar="KIND", help="Kind of storage_limits.csv.")
    ] = None,
    fridge_days: Annotated[
        str | None, typer.Option(metavar="DAYS", help="Days in the fridge.")
    ] = None,
    freezer_months: Annotated[
        str | None, typer.Option(metavar="N", help="Months in the freezer; 0 = not frozen.")
    ] = None,
    serve: Annotated[
        str | None, typer.Option(metavar="HOW", help="reheated, cold or either.")
    ] = None,
    line: Annotated[
        list[str] | None,
        typer.Option(metavar="TEXT", help="Ingredient, as 200 g oats_rolled; one option for each."),
    ] = None,
    step: Annotated[
        list[str] | None, typer.Option(metavar="TEXT", help="Step; one option for each.")
    ] = None,
) -> None:
    """Add a recipe file to a catalog."""
    given = {
        "name": name,
        "meals": meals,
        "servings": servings,
        "hands-on": hands_on,
        "extra": extra,
        "unattended": unattended,
        "hob": hob,
        "oven": oven,
        "kind": kind,
        "fridge-days": fridge_days,
        "freezer-months": freezer_months,
        "serve": serve,
    }
    with errors_as_text():
        new_id = _checked_id(recipe_id)
        added = add_recipe(catalog, new_id, line or (), step or (), _asker(given))
    _show(added)


@app.command()
def price(
    food_id: Annotated[str, typer.Argument(metavar="FOOD", help="Id of the food in the pack.")],
    catalog: CatalogOption = _CATALOG,
    seller: Annotated[str | None, typer.Option(metavar="ID", help="Who sells it.")] = None,
    seller_name: Annotated[
        str | None, typer.Option(metavar="TEXT", help="Name of a seller that is new.")
    ] = None,
    size: Annotated[
        str | None, typer.Option(metavar="SIZE", help="As bought, such as 500g or 6each.")
    ] = None,
    price: Annotated[str | None, typer.Option(metavar="P", help="Price of that.")] = None,
    currency: Annotated[str | None, typer.Option(metavar="CODE", help="Such as USD.")] = None,
    date_seen: Annotated[
        str | None, typer.Option("--date", metavar="DAY", help="When seen; today if left out.")
    ] = None,
    sold: Annotated[str | None, typer.Option(metavar="HOW", help="pack, loose or any.")] = None,
) -> None:
    """Add a pack with its price to a catalog."""
    given = {
        "seller": seller,
        "seller-name": seller_name,
        "size": size,
        "price": price,
        "currency": currency,
        "date": date_seen,
        "sold": sold,
    }
    with errors_as_text():
        added = add_price(catalog, food_id, _asker(given), date.today())
    _show(added)


@app.command()
def client(
    scenario: Annotated[Path, typer.Argument(metavar="SCENARIO", help="The scenario file.")],
    client_id: Annotated[str, typer.Argument(metavar="ID", help="Id of the new client.")],
    name: Annotated[str | None, typer.Option(metavar="TEXT", help="Name for reports.")] = None,
    sex: Annotated[str | None, typer.Option(metavar="S", help="female or male.")] = None,
    age: Annotated[str | None, typer.Option(metavar="YEARS", help="Age in years.")] = None,
    allergens: Annotated[
        str | None, typer.Option(metavar="IDS", help="To exclude, with commas between, or none.")
    ] = None,
    excluded_foods: Annotated[
        str | None, typer.Option(metavar="IDS", help="Foods never served, with commas between.")
    ] = None,
    window: Annotated[
        list[str] | None,
        typer.Option(metavar="TEXT", help="Of a day, as energy_kcal 1800-2100; one for each."),
    ] = None,
) -> None:
    """Add a client to a scenario, or to its roster."""
    given = {"name": name, "sex": sex, "age": age, "allergens": allergens}
    with errors_as_text():
        new_id = _checked_id(client_id)
        lists = {"excluded_foods": excluded_foods}
        added = add_client(scenario, new_id, window or (), lists, _asker(given))
    _show(added)
