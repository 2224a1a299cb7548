"""The commands on prices: prices import, prices receipt, prices list."""

from __future__ import annotations

from collections.abc import Sequence
from datetime import date
from pathlib import Path
from typing import Annotated

import typer

from planopt.adding.priceimport import Taken, ask_names, settled_names, take_prices
from planopt.catalog.load import read_catalog
from planopt.catalog.prices import price_on, prices_of
from planopt.catalog.quantities import Quantities
from planopt.cli.shared import errors_as_text, shown_path
from planopt.faults import BadInput, BadOption, nearest
from planopt.intake.columnmap import PricesMap, read_map
from planopt.intake.prices import Names, NotTaken, read_price_list, read_receipt, receipt_rows
from planopt.reading.files import read_text
from planopt.report.words.plain import plural

app = typer.Typer(
    help="Take prices from lists and receipts, and show what foods cost.",
    no_args_is_help=True,
    rich_markup_mode=None,
)
CatalogOption = Annotated[Path, typer.Option(metavar="DIR", help="The catalog's folder.")]
NamesOption = Annotated[
    Path | None,
    typer.Option(metavar="FILE", help="Names of goods that you settle; new ones are added to it."),
]
AcceptOption = Annotated[
    list[int] | None,
    typer.Option(metavar="LINE", help="Take this line though it was asked about."),
]
_CATALOG = Path("catalogs")


def _day(text: str | None) -> date:
    if text is None:
        return date.today()
    try:
        return date.fromisoformat(text)
    except ValueError:
        raise BadOption(f"--date {text}: write the day as YYYY-MM-DD") from None


@app.command("import")
def import_list(
    file: Annotated[Path, typer.Argument(metavar="LIST", help="The price list, a CSV file.")],
    column_map: Annotated[Path, typer.Option("--map", metavar="FILE", help="Its column map.")],
    catalog: CatalogOption = _CATALOG,
    names: NamesOption = None,
    accept: AcceptOption = None,
    day: Annotated[
        str | None, typer.Option("--date", metavar="DAY", help="Of rows without one; else today.")
    ] = None,
) -> None:
    """Take the prices of a list into a catalog."""
    with errors_as_text():
        known = Names(read_catalog(catalog).catalog, settled_names(names))
        table = read_map(column_map, PricesMap)
        reading = read_price_list(file, table, known, _day(day))
        taken = take_prices(catalog, reading, accept or ())
    _show(taken, names)


@app.command()
def receipt(
    file: Annotated[Path, typer.Argument(metavar="FILE", help="A receipt as text or CSV.")],
    seller: Annotated[str, typer.Option(metavar="ID", help="Whose receipt it is.")],
    catalog: CatalogOption = _CATALOG,
    day: Annotated[
        str | None, typer.Option("--date", metavar="DAY", help="Its day; today if left out.")
    ] = None,
    currency: Annotated[str, typer.Option(metavar="CODE", help="Its currency.")] = "USD",
    names: NamesOption = None,
    accept: AcceptOption = None,
) -> None:
    """Take the prices of a receipt into a catalog."""
    with errors_as_text():
        found = read_catalog(catalog).catalog
        if seller not in found.sellers:
            raise BadOption(f"--seller {seller}: {nearest(seller, found.sellers)}")
        text, faults = read_text(file)
        if text is None:
            raise BadInput(faults)
        lines = receipt_rows(text) if file.suffix.lower() == ".csv" else None
        known = Names(found, settled_names(names))
        reading = read_receipt(lines or text, known, seller, _day(day), currency)
        taken = take_prices(catalog, reading, accept or ())
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


@app.command("list")
def list_prices(
    foods: Annotated[
        list[str] | None, typer.Argument(metavar="FOOD", help="Foods; all if left out.")
    ] = None,
    catalog: CatalogOption = _CATALOG,
    day: Annotated[
        str | None, typer.Option("--date", metavar="DAY", help="As they were on this day.")
    ] = None,
) -> None:
    """Show what a kilogram of edible food costs at each seller, the cheapest first."""
    with errors_as_text():
        reading = read_catalog(catalog)
        if reading.faults:
            raise BadInput(reading.faults)
        found = reading.catalog
        for food_id in foods or ():
            if food_id not in found.foods:
                raise BadOption(f"{food_id}: {nearest(food_id, found.foods)}")
        at, quantities, prices = _day(day), Quantities(found), prices_of(found)
        rows = []
        for pack in found.packs.values():
            if not foods or pack.food_id in foods:
                seen, price = price_on(prices[pack.pack_id], at)
                grams = quantities.pack_edible_g(pack)
                per_kg = float(price) / grams * 1000 if grams else 0.0
                rows.append((pack.food_id, per_kg, pack, seen, price))
    rows.sort(key=lambda row: (row[0], row[1], row[2].pack_id))
    typer.echo(f"{'Food':<26}{'Seller':<16}{'Pack':>10}{'Price':>9}{'a kg':>10}  Seen")
    for food_id, per_kg, pack, seen, price in rows:
        size = f"{pack.size.normalize():f} {pack.unit}"
        who = f"{food_id[:25]:<26}{pack.seller_id[:15]:<16}"
        typer.echo(f"{who}{size:>10}{price:>9}{per_kg:>10.2f}  {seen}")
