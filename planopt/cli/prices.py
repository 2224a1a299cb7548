"""The commands on prices: prices import, prices receipt, prices list."""

from __future__ import annotations

from collections.abc import Sequence
from pathlib import Path
from typing import Annotated

import typer

from planopt.adding.priceimport import Taken, ask_names
from planopt.cli.helping import ExampleCommand, WholeGroup
from planopt.cli.shared import errors_as_text, shown_path
from planopt.front import pricing
from planopt.intake.prices import NotTaken
from planopt.report.words.columns import fit_table
from planopt.report.words.plain import plural

app = typer.Typer(
    help="Take prices from lists and receipts, and show what foods cost.",
    cls=WholeGroup,
    no_args_is_help=True,
    rich_markup_mode=None,
)
CatalogOption = Annotated[Path, typer.Option(metavar="DIR", help="The catalog's folder.")]
NamesOption = Annotated[
    Path | None,
    typer.Option(
        metavar="FILE",
        help="Names of goods that you settle; new ones are added to it. Default: none.",
    ),
]
AcceptOption = Annotated[
    list[int] | None,
    typer.Option(
        metavar="LINE",
        help="Take this line though it was asked about; may be repeated. Default: none.",
    ),
]
_CATALOG = Path("catalogs")
_WIDE = 200


@app.command("import", cls=ExampleCommand)
def import_list(
    file: Annotated[Path, typer.Argument(metavar="LIST", help="The price list, a CSV file.")],
    column_map: Annotated[Path, typer.Option("--map", metavar="FILE", help="Its column map.")],
    catalog: CatalogOption = _CATALOG,
    names: NamesOption = None,
    accept: AcceptOption = None,
    day: Annotated[
        str | None,
        typer.Option("--date", metavar="DAY", help="Day of rows without one. Default: today."),
    ] = None,
) -> None:
    """Take the prices of a list into a catalog."""
    with errors_as_text():
        taken = pricing.prices_import(
            file, column_map, catalog, names=names, accept=accept or (), day=day
        )
    _show(taken, names)


@app.command(cls=ExampleCommand)
def receipt(
    file: Annotated[Path, typer.Argument(metavar="FILE", help="A receipt as text or CSV.")],
    seller: Annotated[str, typer.Option(metavar="ID", help="Whose receipt it is.")],
    catalog: CatalogOption = _CATALOG,
    day: Annotated[
        str | None, typer.Option("--date", metavar="DAY", help="Its day. Default: today.")
    ] = None,
    currency: Annotated[str, typer.Option(metavar="CODE", help="Its currency.")] = "USD",
    names: NamesOption = None,
    accept: AcceptOption = None,
) -> None:
    """Take the prices of a receipt into a catalog."""
    with errors_as_text():
        taken = pricing.prices_receipt(
            file, seller, catalog, names=names, accept=accept or (), day=day, currency=currency
        )
    _show(taken, names)


def _show(taken: Taken, names: Path | None) -> None:
    for title, rows in (("New packs", taken.new_packs), ("New prices", taken.new_prices)):
        if rows:
            typer.echo(f"{title}:")
            for row in rows:
                typer.echo(f"  {row}")
    if taken.known:
        typer.echo(f"Known already: {plural(taken.known, 'price')}.")
    _show_open("Asked about and not taken; --accept LINE takes it", taken.asked)
    _show_open("Not understood", taken.not_taken)
    for warning in taken.warnings:
        typer.echo(f"look at this: {warning.text()}", err=True)
    if names is not None and ask_names(names, taken.not_taken):
        typer.echo(f"Write the foods into {shown_path(names)}, and run this again.")
    if not any((taken.new_packs, taken.new_prices, taken.known, taken.asked, taken.not_taken)):
        typer.echo("There is no price in this file.")


def _show_open(title: str, rows: Sequence[NotTaken]) -> None:
    if not rows:
        return
    typer.echo(f"{title}:")
    for one in sorted(rows, key=lambda row: row.line):
        hint = f" (may be {', '.join(one.guesses)})" if one.guesses else ""
        typer.echo(f"  line {one.line}: {one.written}: {one.why}{hint}")


@app.command("list", cls=ExampleCommand)
def list_prices(
    foods: Annotated[
        list[str] | None, typer.Argument(metavar="FOOD", help="Foods; all if left out.")
    ] = None,
    catalog: CatalogOption = _CATALOG,
    day: Annotated[
        str | None,
        typer.Option("--date", metavar="DAY", help="As they were on this day. Default: today."),
    ] = None,
) -> None:
    """Show what a kilogram of edible food costs at each seller, the cheapest first."""
    with errors_as_text():
        rows = pricing.price_rows(*(foods or ()), catalog=catalog, day=day)
    cells = [
        (
            row.food_id, row.seller_id, f"{row.size.normalize():f} {row.unit}", str(row.price),
            str(row.price_per_kg), str(row.seen),
        )
        for row in rows
    ]  # fmt: skip
    headers = ("Food", "Seller", "Pack", "Price", "a kg", "Seen")
    # Ids are typed again, so that none is broken; long ones make long lines.
    typer.echo(fit_table(headers, cells, flexible=0, right=(2, 3, 4), width=_WIDE))
