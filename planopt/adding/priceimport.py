"""Prices of a list or receipt put into a catalog: new packs, and new prices of known packs.

A price of a known pack on another day goes into price_history.csv; packs.csv keeps its row. One
that is ten times dearer a kilogram than the food was before is asked about and not taken.
"""

from __future__ import annotations

from collections.abc import Collection, Mapping, Sequence
from dataclasses import dataclass, field
from pathlib import Path
from typing import Any

from planopt.adding.prices import free_id
from planopt.adding.trial import on_trial
from planopt.catalog.load import read_catalog
from planopt.catalog.prices import OUTLIER_TIMES, price_on, prices_of
from planopt.catalog.quantities import Quantities, UnitUnknown
from planopt.catalog.records import Catalog
from planopt.faults import BadInput, Fault
from planopt.folders import write_file
from planopt.intake.prices import NotTaken, Reading, SeenPrice
from planopt.reading.documents import read_document
from planopt.reading.files import regular_bytes
from planopt.units import minor_digits
from planopt.writing.tablefile import TableFile
from planopt.writing.yamlfile import flow_text

HISTORY = "price_history.csv"
_FIRST_LINE = "# Names on lists and receipts. Write the food's id behind each, or ignore.\n"
_HEADER = "pack_id,price_date,price\n"


@dataclass
class Taken:
    """What an import did, as rows of words; `asked` were held back as outliers."""

    new_packs: list[str] = field(default_factory=list)
    new_prices: list[str] = field(default_factory=list)
    known: int = 0
    asked: list[NotTaken] = field(default_factory=list)
    not_taken: list[NotTaken] = field(default_factory=list)
    warnings: list[Fault] = field(default_factory=list)


def take_prices(folder: Path, reading: Reading, accept: Collection[int] = ()) -> Taken:
    """Put prices into a catalog; lines in `accept` are taken though they look like outliers.

    Raises:
        BadInput: the catalog cannot take them; its files are then as they were.
    """
    catalog = read_catalog(folder).catalog
    quantities = Quantities(catalog)
    taken = Taken(not_taken=list(reading.not_taken))
    history = folder / HISTORY
    packs = TableFile(folder / "packs.csv")
    rows: list[dict[str, str]] = []
    ids = set(catalog.packs)
    fresh: dict[tuple[Any, ...], str] = {}
    known_prices = prices_of(catalog)
    for seen in sorted(reading.prices, key=lambda one: (one.day, one.line)):
        why = _cannot(catalog, quantities, seen)
        if why:
            taken.not_taken.append(NotTaken(seen.line, seen.written, why))
            continue
        question = _question(catalog, quantities, seen)
        if question and seen.line not in accept:
            taken.asked.append(NotTaken(seen.line, seen.written, question))
            continue
        told = f"{seen.food_id}, {_unit_price(quantities, seen)}"
        pack_id = _same_pack(catalog, seen) or fresh.get(_key(seen))
        if pack_id is None:
            wanted = f"{seen.food_id}_{seen.seller_id}_{seen.size:f}{seen.unit}"
            pack_id = free_id(wanted, ids)
            ids.add(pack_id)
            fresh[_key(seen)] = pack_id
            packs.append(_pack_cells(pack_id, seen))
            known_prices[pack_id] = [(seen.day, seen.price)]
            taken.new_packs.append(f"{pack_id}: {told}")
            continue
        days = dict(known_prices[pack_id])
        if days.get(seen.day) == seen.price:
            taken.known += 1
        elif seen.day in days:
            why = f"{pack_id} cost {days[seen.day]} on {seen.day} already"
            taken.not_taken.append(NotTaken(seen.line, seen.written, why))
        else:
            known_prices[pack_id] = sorted([*days.items(), (seen.day, seen.price)])
            rows.append(
                {
                    "pack_id": pack_id,
                    "price_date": seen.day.isoformat(),
                    "price": str(seen.price),
                }
            )
            taken.new_prices.append(f"{pack_id} on {seen.day}: {told}")
    with on_trial((packs.path, history), lambda: _found(folder)) as warnings:
        if taken.new_packs:
            packs.save()
        if rows:
            if not history.exists():
                write_file(history, _HEADER)
            table = TableFile(history)
            for row in rows:
                table.append(row)
            table.save()
    taken.warnings = warnings
    return taken


def _found(folder: Path) -> tuple[list[Fault], list[Fault]]:
    reading = read_catalog(folder)
    return list(reading.faults), reading.warnings()


def _cannot(catalog: Catalog, quantities: Quantities, seen: SeenPrice) -> str:
    """Return why a price cannot go into the catalog, "" if it can."""
    if seen.food_id not in catalog.foods:
        return f"the catalog has no food {seen.food_id}"
    if seen.seller_id not in catalog.sellers:
        return f"sellers.csv has no seller {seen.seller_id}"
    try:
        quantities.stock_edible_g(seen.food_id, seen.size, seen.unit)
    except UnitUnknown as unknown:
        return f"{unknown.why}; {unknown.mend}"
    return ""


def _per_kg(quantities: Quantities, food_id: str, size: Any, unit: str, price: Any) -> float:
    grams = quantities.stock_edible_g(food_id, size, unit)
    return float(price) / grams * 1000 if grams else 0.0


def _question(catalog: Catalog, quantities: Quantities, seen: SeenPrice) -> str:
    """Return what speaks against a price beside what the food cost before, "" if nothing does."""
    before = []
    for pack_id, prices in prices_of(catalog).items():
        pack = catalog.packs.get(pack_id)
        if pack is None or pack.food_id != seen.food_id or pack.currency != seen.currency:
            continue
        day, price = price_on(prices, seen.day)
        if day <= seen.day:
            before.append(_per_kg(quantities, pack.food_id, pack.size, pack.unit, price))
    now = _per_kg(quantities, seen.food_id, seen.size, seen.unit, seen.price)
    dearest = max(before, default=0.0)
    if dearest > 0 and now >= OUTLIER_TIMES * dearest:
        return (
            f"{now:.2f} {seen.currency} a kilogram, and {seen.food_id} was {dearest:.2f} at most"
            " before; a slip of size or price?"
        )
    return ""


def _unit_price(quantities: Quantities, seen: SeenPrice) -> str:
    per_kg = _per_kg(quantities, seen.food_id, seen.size, seen.unit, seen.price)
    digits = minor_digits(seen.currency)
    return f"{seen.price} for {seen.size:f} {seen.unit}, {per_kg:.{digits}f} a kilogram edible"


def _key(seen: SeenPrice) -> tuple[Any, ...]:
    return (seen.food_id, seen.seller_id, seen.size, seen.unit, seen.sold, seen.currency)


def _same_pack(catalog: Catalog, seen: SeenPrice) -> str | None:
    """Return the pack that a price is of: the same food, seller, way of selling and amount."""
    wanted = (_key(seen)[:2], seen.sold, seen.currency, _amount(seen.size, seen.unit))
    for pack_id, pack in catalog.packs.items():
        who = (pack.food_id, pack.seller_id)
        if (who, pack.sold, pack.currency, _amount(pack.size, pack.unit)) == wanted:
            return pack_id
    return None


def _amount(size: Any, unit: str) -> tuple[Any, str]:
    """Return a size in grams or millilitres where it is metric."""
    factor, plain = {"kg": (1000, "g"), "l": (1000, "ml")}.get(unit, (1, unit))
    return size * factor, plain


def _pack_cells(pack_id: str, seen: SeenPrice) -> dict[str, str]:
    return {
        "pack_id": pack_id,
        "food_id": seen.food_id,
        "seller_id": seen.seller_id,
        "sold": seen.sold,
        "size": f"{seen.size:f}",
        "unit": seen.unit,
        "price": str(seen.price),
        "currency": seen.currency,
        "price_date": seen.day.isoformat(),
    }


def settled_names(path: Path | None) -> dict[str, str]:
    """Return the names that a person has settled in a file; names without an answer are left out.

    Raises:
        BadInput: the file cannot be read, or is no mapping.
    """
    return {name: food for name, food in _names_in(path).items() if food}


def _names_in(path: Path | None) -> dict[str, str]:
    if path is None or not path.exists():
        return {}
    document, faults = read_document(path)
    if document is None:
        # Nothing but comments: nobody has been asked yet.
        if all(fault.code == "empty_file" for fault in faults):
            return {}
        raise BadInput(faults)
    data = document.data
    if not isinstance(data, Mapping):
        why, mend = "names of goods with their foods are needed", "write NAME: food_id"
        raise BadInput([document.place().fault("", path.name, why, mend, "not_a_mapping")])
    return {str(name): str(food or "") for name, food in data.items()}


def ask_names(path: Path, not_taken: Sequence[NotTaken]) -> int:
    """Add names to settle to the file, with foods that may be meant; return how many are new.

    Raises:
        BadInput: the file cannot be read or written.
    """
    known = set(_names_in(path))
    rows = []
    for one in not_taken:
        if one.goods and one.goods not in known:
            known.add(one.goods)
            hint = f"   # {', '.join(one.guesses)}" if one.guesses else ""
            rows.append(f"{flow_text(one.goods)}:{hint}\n")
    if rows:
        old = regular_bytes(path).decode("utf-8") if path.exists() else _FIRST_LINE
        write_file(path, (old if old.endswith("\n") else old + "\n") + "".join(rows))
    return len(rows)
