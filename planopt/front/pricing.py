"""Prices: prices_import, prices_receipt, prices_list."""

from __future__ import annotations

from collections.abc import Collection
from datetime import date
from decimal import Decimal
from fractions import Fraction
from pathlib import Path
from typing import NamedTuple

import pandas as pd

from planopt.adding.priceimport import Taken, settled_names, take_prices
from planopt.catalog.load import load_catalog, read_catalog
from planopt.catalog.prices import price_on, prices_of
from planopt.catalog.quantities import Quantities
from planopt.catalog.records import Catalog
from planopt.faults import BadInput, BadOption, nearest
from planopt.front.frames import typed
from planopt.front.sources import PathLike
from planopt.intake.columnmap import PricesMap, read_map
from planopt.intake.prices import Names, read_price_list, read_receipt, receipt_rows
from planopt.reading.files import read_text
from planopt.report.analysis import tables
from planopt.units import exact, minor_digits, round_half_up


def day_of(day: date | str | None) -> date:
    """Return a day given as a date or as YYYY-MM-DD; None is today.

    Raises:
        BadOption: the text is no day.
    """
    if day is None:
        return date.today()
    if isinstance(day, date):
        return day
    try:
        return date.fromisoformat(day)
    except ValueError:
        raise BadOption(f"--date {day}: write the day as YYYY-MM-DD") from None


def prices_import(
    file: PathLike,
    column_map: PathLike,
    catalog: PathLike = "catalogs",
    *,
    names: PathLike | None = None,
    accept: Collection[int] = (),
    day: date | str | None = None,
) -> Taken:
    """Take the prices of a list into a catalog; `names` is a table of goods settled by a person.

    Raises:
        BadInput: a file cannot be read, or the catalog cannot take them.
        BadOption: `day` is no day.
    """
    table = read_map(Path(column_map), PricesMap)
    folder = Path(catalog)
    known = Names(read_catalog(folder).catalog, settled_names(_path(names)))
    reading = read_price_list(Path(file), table, known, day_of(day))
    return take_prices(folder, reading, accept)


def prices_receipt(
    file: PathLike,
    seller: str,
    catalog: PathLike = "catalogs",
    *,
    names: PathLike | None = None,
    accept: Collection[int] = (),
    day: date | str | None = None,
    currency: str = "USD",
) -> Taken:
    """Take the prices of a receipt into a catalog; `names` is a table of goods settled.

    Raises:
        BadInput: a file cannot be read, or the catalog cannot take them.
        BadOption: the seller is unknown, or `day` is no day.
    """
    path, folder = Path(file), Path(catalog)
    found = read_catalog(folder).catalog
    if seller not in found.sellers:
        raise BadOption(f"--seller {seller}: {nearest(seller, found.sellers)}")
    text, faults = read_text(path)
    if text is None:
        raise BadInput(faults)
    lines = receipt_rows(text) if path.suffix.lower() == ".csv" else None
    known = Names(found, settled_names(_path(names)))
    reading = read_receipt(lines or text, known, seller, day_of(day), currency)
    return take_prices(folder, reading, accept)


def prices_list(
    *foods: str, catalog: Catalog | PathLike = "catalogs", day: date | str | None = None
) -> pd.DataFrame:
    """Return what a kilogram of edible food costs at each seller, the cheapest first.

    Of all foods if none is named. `price` and `price_per_kg` are Decimals in `currency`.

    Raises:
        BadInput: the catalog has faults.
        BadOption: a food is unknown, or `day` is no day.
    """
    return typed(
        tables.frame(PackPrice._fields, price_rows(*foods, catalog=catalog, day=day)),
        money=("size", "price", "price_per_kg"),
        dates=("seen",),
        categories=("seller_id", "unit", "currency"),
    )


class PackPrice(NamedTuple):
    """What a pack costs on a day; both prices in its currency, that of a kilogram rounded."""

    food_id: str
    seller_id: str
    pack_id: str
    size: Decimal
    unit: str
    price: Decimal
    price_per_kg: Decimal
    currency: str
    seen: date


def price_rows(
    *foods: str, catalog: Catalog | PathLike = "catalogs", day: date | str | None = None
) -> list[PackPrice]:
    """Return the rows of `prices_list`.

    Raises:
        BadInput: the catalog has faults.
        BadOption: a food is unknown, or `day` is no day.
    """
    found = catalog if isinstance(catalog, Catalog) else load_catalog(Path(catalog))
    for food_id in foods:
        if food_id not in found.foods:
            raise BadOption(f"{food_id}: {nearest(food_id, found.foods)}")
    at, quantities, prices = day_of(day), Quantities(found), prices_of(found)
    rows = []
    for pack in found.packs.values():
        if foods and pack.food_id not in foods:
            continue
        seen, price = price_on(prices[pack.pack_id], at)
        grams = exact(quantities.pack_edible_g(pack))
        per_kg = Fraction(price) / grams * 1000 if grams else Fraction(0)
        row = PackPrice(
            pack.food_id, pack.seller_id, pack.pack_id, pack.size, pack.unit, price,
            round_half_up(per_kg, minor_digits(pack.currency)), pack.currency, seen,
        )  # fmt: skip
        rows.append((pack.food_id, per_kg, pack.pack_id, row))
    return [row for *_, row in sorted(rows, key=lambda one: one[:3])]


def _path(path: PathLike | None) -> Path | None:
    return None if path is None else Path(path)
