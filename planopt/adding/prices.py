"""Adding a pack with its price to a catalog, with its seller where that is new."""

from __future__ import annotations

import re
from datetime import date
from decimal import Decimal, InvalidOperation
from pathlib import Path

from planopt.adding.asking import Asker, any_text, id_text, one_of
from planopt.adding.foods import Added
from planopt.adding.trial import found_in, on_trial
from planopt.catalog.load import read_catalog
from planopt.catalog.quantities import Quantities
from planopt.catalog.records import Catalog
from planopt.units import minor_digits
from planopt.writing.tablefile import TableFile

SOLD = ("pack", "loose", "any")
PACK_UNITS = ("g", "kg", "ml", "l", "oz", "lb", "each")
_SIZE = re.compile(r"(\d+(?:\.\d+)?)\s*([a-z]+)")


def read_size(text: str) -> tuple[str, str]:
    """Return amount and unit of a size such as `500 g`, as texts.

    Raises:
        ValueError: the text is no size.
    """
    found = _SIZE.fullmatch(text.strip().lower())
    if found is None or found[2] not in PACK_UNITS:
        raise ValueError(f"write an amount with one of {', '.join(PACK_UNITS)}, as in 500 g")
    return found[1], found[2]


def price_text(text: str) -> str:
    """Return a price as it is written.

    Raises:
        ValueError: the text is no amount of money.
    """
    try:
        price = Decimal(text)
    except InvalidOperation:
        raise ValueError("this is no price; decimals have a point") from None
    if not price.is_finite() or price < 0:
        raise ValueError("a price is 0 or more")
    return text


def day_text(text: str) -> str:
    """Return a date as it is written, `YYYY-MM-DD`.

    Raises:
        ValueError: the text is no date.
    """
    try:
        return date.fromisoformat(text).isoformat()
    except ValueError:
        raise ValueError("write the day as YYYY-MM-DD") from None


def add_price(folder: Path, food_id: str, asker: Asker, today: date) -> Added:
    """Add a pack to packs.csv; a seller that is not in sellers.csv yet is added as well.

    Raises:
        BadOption: an answer is missing or wrong.
        BadInput: the catalog cannot take it; its files are then as they were.
    """
    catalog = read_catalog(folder).catalog
    pack, seller_name = _answers(catalog, food_id, asker, today)
    packs, sellers = TableFile(folder / "packs.csv"), TableFile(folder / "sellers.csv")
    wanted = f"{food_id}_{pack['seller_id']}_{pack['size']}{pack['unit']}"
    pack_id = free_id(wanted, set(catalog.packs))
    packs.append({"pack_id": pack_id, **pack})
    with on_trial((packs.path, sellers.path), lambda: found_in(folder)) as warnings:
        if seller_name is not None:
            sellers.append({"seller_id": pack["seller_id"], "name": seller_name})
            sellers.save()
        packs.save()
    told = [f"{pack_id} added to {packs.path}.", *_unit_price(folder, pack_id), *asker.told()]
    return Added(tuple(told), tuple(warnings))


def _answers(
    catalog: Catalog, food_id: str, asker: Asker, today: date
) -> tuple[dict[str, str], str | None]:
    """Return the row of the pack without its id, and the name of its seller if that is new."""
    one_food = one_of(sorted(catalog.foods))
    try:
        one_food(food_id)
    except ValueError as error:
        asker.complain(f"{food_id}: the catalog has no such food; {error}")
    seller = asker.get("seller", f"Seller: {', '.join(catalog.sellers) or 'a new id'}", id_text)
    name = None
    if seller is not None and seller not in catalog.sellers:
        words = f"Name of the new seller {seller}"
        name = asker.get("seller-name", words, any_text)
    size = asker.get("size", "Size as bought, such as 500 g or 6 each", read_size)
    price = asker.get("price", "Price of that", price_text)
    currencies = sorted({pack.currency for pack in catalog.packs.values()})
    usual = currencies[0] if len(currencies) == 1 else None
    currency = asker.get("currency", "Currency, such as USD", any_text, usual)
    day = asker.get("date", "Day on which it was seen", day_text, today.isoformat())
    sold = asker.get("sold", "pack, loose (by weight) or any", one_of(SOLD), "pack")
    asker.done()
    # Where `done` lets go, every answer is there.
    if not (seller and size and price and currency and day and sold):
        raise AssertionError("an answer is missing that done() has not missed")
    return {
        "food_id": food_id,
        "seller_id": seller,
        "sold": sold,
        "size": size[0],
        "unit": size[1],
        "price": price,
        "currency": currency,
        "price_date": day,
    }, name


def free_id(wanted: str, taken: set[str]) -> str:
    """Return an id made of a text, with a number behind it where it is taken."""
    plain = re.sub(r"_+", "_", re.sub(r"[^a-z0-9]+", "_", wanted.lower())).strip("_")[:56]
    found, nth = plain, 2
    while found in taken:
        found, nth = f"{plain}_{nth}", nth + 1
    return found


def unit_price_text(catalog: Catalog, pack_id: str) -> str:
    """Return what a kilogram of a pack's edible food costs, as text."""
    pack = catalog.packs[pack_id]
    grams = Quantities(catalog).pack_edible_g(pack)
    per_kg = float(pack.price) / grams * 1000
    return f"{per_kg:.{minor_digits(pack.currency)}f} {pack.currency} a kilogram, edible"


def _unit_price(folder: Path, pack_id: str) -> list[str]:
    catalog = read_catalog(folder).catalog
    return [f"This is {unit_price_text(catalog, pack_id)}."]
