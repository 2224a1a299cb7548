"""Prices over time: which price of a pack holds on a day, and which look like slips."""

from __future__ import annotations

from collections import defaultdict
from collections.abc import Iterator
from datetime import date
from decimal import Decimal
from itertools import pairwise

from planopt.catalog.positions import Positions
from planopt.catalog.records import Catalog
from planopt.faults import Fault, nearest
from planopt.units import minor_digits, to_minor

# A price ten times dearer than the one before is asked about; common practice, no source.
OUTLIER_TIMES = 10

Prices = list[tuple[date, Decimal]]


def prices_of(catalog: Catalog) -> dict[str, Prices]:
    """Return all known prices of each pack, the oldest first.

    Of two prices of one day that of packs.csv holds.
    """
    found: dict[str, dict[date, Decimal]] = defaultdict(dict)
    for row in catalog.price_history:
        found[row.pack_id][row.price_date] = row.price
    for pack in catalog.packs.values():
        found[pack.pack_id][pack.price_date] = pack.price
    return {pack_id: sorted(days.items()) for pack_id, days in found.items()}


def price_on(prices: Prices, day: date) -> tuple[date, Decimal]:
    """Return the newest price on or before a day; where all are later, the earliest."""
    return max((one for one in prices if one[0] <= day), default=prices[0])


def catalog_on(catalog: Catalog, day: date) -> Catalog:
    """Return the catalog with each pack at the price that holds on a day."""
    if not catalog.price_history:
        return catalog
    known = prices_of(catalog)
    packs = {}
    for pack_id, pack in catalog.packs.items():
        seen, price = price_on(known[pack_id], day)
        packs[pack_id] = pack.model_copy(update={"price": price, "price_date": seen})
    return catalog.model_copy(update={"packs": packs})


def history_rows(catalog: Catalog, at: Positions) -> Iterator[Fault]:
    """A price of the history is of a pack that exists, in whole minor units of its currency."""
    known = at.known("packs")
    for row in catalog.price_history:
        place = at.row("price_history", row.pack_id, row.price_date.isoformat())
        pack = catalog.packs.get(row.pack_id)
        if pack is None:
            if known is not None and row.pack_id not in known:
                why, mend = "packs.csv has no such pack", nearest(row.pack_id, known)
                yield place.fault("pack_id", row.pack_id, why, mend, "unknown_pack")
            continue
        try:
            to_minor(row.price, pack.currency)
        except ValueError:
            yield place.fault(
                "price",
                str(row.price),
                f"{pack.currency} has {minor_digits(pack.currency)} decimals",
                "round the price",
                "money_decimals",
            )


def price_jumps(catalog: Catalog, at: Positions) -> Iterator[Fault]:
    """Warn of prices that are ten times the pack's price before."""
    if not catalog.price_history:
        return
    for pack_id, prices in prices_of(catalog).items():
        if pack_id not in catalog.packs:
            continue
        for (_, before), (day, after) in pairwise(prices):
            if before > 0 and after >= OUTLIER_TIMES * before:
                place = at.row("price_history", pack_id, day.isoformat())
                if not place.line:
                    place = at.row("packs", pack_id)
                yield place.fault(
                    "price",
                    str(after),
                    f"this pack cost {before} before, a tenth of it or less",
                    "compare the price with the shelf or the receipt",
                    "price_jump",
                )
