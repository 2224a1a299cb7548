"""The commands that add to a kitchen's files: add food, add recipe, add price, add client."""

from __future__ import annotations

import sys
from pathlib import Path
from typing import Annotated

import typer

from planopt.adding.asking import Prompt
from planopt.adding.foods import Added
from planopt.cli import completing
from planopt.cli.helping import ExampleCommand, WholeGroup
from planopt.cli.shared import errors_as_text
from planopt.front import additions

app = typer.Typer(
    help="Add a food, recipe, price or client: asked for on a terminal, by options elsewhere.",
    cls=WholeGroup,
    no_args_is_help=True,
    rich_markup_mode=None,
)
CatalogOption = Annotated[Path, typer.Option(metavar="DIR", help="The catalog's folder.")]
_CATALOG = Path("catalogs")


def on_terminal() -> bool:
    """Tell whether somebody can be asked."""
    return sys.stdin.isatty() and sys.stdout.isatty()


def _prompt() -> Prompt | None:
    return _ask if on_terminal() else None


def _ask(words: str, default: str | None) -> str:
    return str(typer.prompt(words, default=default, show_default=bool(default)))


def _show(added: Added) -> None:
    for warning in added.warnings:
        typer.echo(f"look at this: {warning.text()}", err=True)
    for line in added.lines:
        typer.echo(line)


@app.command(cls=ExampleCommand)
def food(
    food_id: Annotated[str, typer.Argument(metavar="ID", help="Id of the new food.")],
    catalog: CatalogOption = _CATALOG,
    composition: Annotated[
        str | None,
        typer.Option(
            metavar="TEXT", help="Words or number in the table. Default: the words of the id."
        ),
    ] = None,
    table: Annotated[
        Path | None,
        typer.Option(metavar="PATH", help="USDA download or CSV. Default: the shipped SR28."),
    ] = None,
    column_map: Annotated[
        Path | None,
        typer.Option(
            "--map",
            metavar="FILE",
            help="Column map of --table. Default: none, for USDA's own forms.",
        ),
    ] = None,
    label: Annotated[
        Path | None,
        typer.Option(
            metavar="FILE", help="A nutrition label typed in. Default: none; the table is used."
        ),
    ] = None,
    serving_g: Annotated[
        float | None,
        typer.Option(
            metavar="G", help="Grams of a serving of --label. Default: as the label says."
        ),
    ] = None,
    name: Annotated[
        str | None,
        typer.Option(metavar="TEXT", help="Name for reports. Default: the words of the id."),
    ] = None,
    state: Annotated[
        str | None,
        typer.Option(
            metavar="STATE", help="raw, cooked, drained or ready. Default: by the table's words."
        ),
    ] = None,
    edible_share: Annotated[
        str | None,
        typer.Option(
            metavar="SHARE", help="Edible part of one gram as bought. Default: the table's."
        ),
    ] = None,
    density: Annotated[
        str | None,
        typer.Option(
            metavar="D",
            help="Grams in a millilitre, if it is poured. Default: the table's, if any.",
        ),
    ] = None,
    allergens: Annotated[
        str | None,
        typer.Option(metavar="IDS", help="With bars between, or none. Default: not known."),
    ] = None,
    aisle: Annotated[
        str | None,
        typer.Option(
            metavar="TEXT", help="Aisle of the shop. Default: by the table's group, else needed."
        ),
    ] = None,
    storage: Annotated[
        str | None,
        typer.Option(
            metavar="PLACE",
            help="shelf, fridge, freezer or tap. Default: by the table's group, else needed.",
        ),
    ] = None,
    keeps_days: Annotated[
        str | None,
        typer.Option(
            metavar="DAYS",
            help="Days it keeps unopened. Default: long enough; needed for the fridge.",
        ),
    ] = None,
    opened_keeps_days: Annotated[
        str | None,
        typer.Option(metavar="DAYS", help="Days it keeps once opened. Default: as unopened."),
    ] = None,
    safety_group: Annotated[
        str | None,
        typer.Option(metavar="GROUP", help="Group of safety_groups.csv, or none. Needed."),
    ] = None,
) -> None:
    """Add a food with its composition, measures and keeping to a catalog."""
    given: additions.FoodAnswers = {
        "composition": composition,
        "table": table,
        "column_map": column_map,
        "label": label,
        "serving_g": serving_g,
        "name": name,
        "state": state,
        "edible_share": edible_share,
        "density": density,
        "allergens": allergens,
        "aisle": aisle,
        "storage": storage,
        "keeps_days": keeps_days,
        "opened_keeps_days": opened_keeps_days,
        "safety_group": safety_group,
    }
    with errors_as_text():
        added = additions.add_food(food_id, catalog, prompt=_prompt(), **given)
    _show(added)


@app.command(cls=ExampleCommand)
def recipe(
    recipe_id: Annotated[str, typer.Argument(metavar="ID", help="Id of the new recipe.")],
    catalog: CatalogOption = _CATALOG,
    name: Annotated[
        str | None, typer.Option(metavar="TEXT", help="Name. Default: the words of the id.")
    ] = None,
    meals: Annotated[
        str | None, typer.Option(metavar="MEALS", help="With commas between. Needed.")
    ] = None,
    servings: Annotated[
        str | None, typer.Option(metavar="N", help="Servings of one batch. Needed.")
    ] = None,
    hands_on: Annotated[
        str | None, typer.Option(metavar="MIN", help="Minutes of work for one batch. Needed.")
    ] = None,
    extra: Annotated[
        str | None,
        typer.Option(metavar="MIN", help="Minutes of work a further batch adds. Needed."),
    ] = None,
    unattended: Annotated[
        str | None, typer.Option(metavar="MIN", help="Minutes it cooks by itself. Default: 0.")
    ] = None,
    hob: Annotated[
        str | None, typer.Option(metavar="MIN", help="Minutes on the hob. Default: 0.")
    ] = None,
    oven: Annotated[
        str | None, typer.Option(metavar="TEXT", help="Such as 180 C 30 min. Default: none.")
    ] = None,
    kind: Annotated[
        str | None, typer.Option(metavar="KIND", help="Kind of storage_limits.csv. Needed.")
    ] = None,
    fridge_days: Annotated[
        str | None,
        typer.Option(metavar="DAYS", help="Days in the fridge. Default: the shortest of its kind."),
    ] = None,
    freezer_months: Annotated[
        str | None, typer.Option(metavar="N", help="Months in the freezer. Default: 0, not frozen.")
    ] = None,
    serve: Annotated[
        str | None, typer.Option(metavar="HOW", help="reheated, cold or either. Needed.")
    ] = None,
    line: Annotated[
        list[str] | None,
        typer.Option(
            metavar="TEXT", help="Ingredient, as 200 g oats_rolled; one option for each. Needed."
        ),
    ] = None,
    step: Annotated[
        list[str] | None,
        typer.Option(metavar="TEXT", help="Step; one option for each. Default: none."),
    ] = None,
) -> None:
    """Add a recipe file to a catalog."""
    given: additions.RecipeAnswers = {
        "name": name,
        "meals": meals,
        "servings": servings,
        "hands_on": hands_on,
        "extra": extra,
        "unattended": unattended,
        "hob": hob,
        "oven": oven,
        "kind": kind,
        "fridge_days": fridge_days,
        "freezer_months": freezer_months,
        "serve": serve,
    }
    with errors_as_text():
        added = additions.add_recipe(
            recipe_id, line or (), step or (), catalog, prompt=_prompt(), **given
        )
    _show(added)


@app.command(cls=ExampleCommand)
def price(
    food_id: Annotated[str, typer.Argument(metavar="FOOD", help="Id of the food in the pack.")],
    catalog: CatalogOption = _CATALOG,
    seller: Annotated[str | None, typer.Option(metavar="ID", help="Who sells it. Needed.")] = None,
    seller_name: Annotated[
        str | None,
        typer.Option(metavar="TEXT", help="Name of a seller that is new. Needed for such a one."),
    ] = None,
    size: Annotated[
        str | None, typer.Option(metavar="SIZE", help="As bought, such as 500g or 6each. Needed.")
    ] = None,
    price: Annotated[str | None, typer.Option(metavar="P", help="Price of that. Needed.")] = None,
    currency: Annotated[
        str | None,
        typer.Option(metavar="CODE", help="Such as USD. Default: that of the other packs."),
    ] = None,
    date_seen: Annotated[
        str | None, typer.Option("--date", metavar="DAY", help="When seen. Default: today.")
    ] = None,
    sold: Annotated[
        str | None, typer.Option(metavar="HOW", help="pack, loose or any. Default: pack.")
    ] = None,
) -> None:
    """Add a pack with its price to a catalog."""
    given: additions.PriceAnswers = {
        "seller": seller,
        "seller_name": seller_name,
        "size": size,
        "price": price,
        "currency": currency,
        "date": date_seen,
        "sold": sold,
    }
    with errors_as_text():
        added = additions.add_price(food_id, catalog, prompt=_prompt(), **given)
    _show(added)


@app.command(cls=ExampleCommand)
def client(
    scenario: Annotated[
        Path,
        typer.Argument(
            metavar="SCENARIO", help="The scenario file.", autocompletion=completing.scenario_files
        ),
    ],
    client_id: Annotated[str, typer.Argument(metavar="ID", help="Id of the new client.")],
    name: Annotated[
        str | None,
        typer.Option(metavar="TEXT", help="Name for reports. Default: the words of the id."),
    ] = None,
    sex: Annotated[
        str | None, typer.Option(metavar="S", help="female or male. Default: not known.")
    ] = None,
    age: Annotated[
        str | None, typer.Option(metavar="YEARS", help="Age in years. Default: not known.")
    ] = None,
    allergens: Annotated[
        str | None,
        typer.Option(metavar="IDS", help="To exclude, with commas between, or none. Needed."),
    ] = None,
    excluded_foods: Annotated[
        str | None,
        typer.Option(metavar="IDS", help="Foods never served, with commas between. Default: none."),
    ] = None,
    window: Annotated[
        list[str] | None,
        typer.Option(
            metavar="TEXT", help="Of a day, as energy_kcal 1800-2100; one for each. Default: none."
        ),
    ] = None,
) -> None:
    """Add a client to a scenario, or to its roster."""
    given: additions.ClientAnswers = {
        "name": name,
        "sex": sex,
        "age": age,
        "allergens": allergens,
        "excluded_foods": excluded_foods,
    }
    with errors_as_text():
        added = additions.add_client(scenario, client_id, window or (), prompt=_prompt(), **given)
    _show(added)
