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
from planopt.adding.trial import found_in, on_trial
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
    run = _Import(folder, reading, accept)
    for seen in sorted(reading.prices, key=lambda one: (one.day, one.line)):
        run.take(seen)
    with on_trial((run.packs.path, run.history), lambda: found_in(folder)) as warnings:
        run.save()
    run.taken.warnings = warnings
    return run.taken


class _Import:
    """One import: the catalog as it was, and what is to be written."""

    def __init__(self, folder: Path, reading: Reading, accept: Collection[int]) -> None:
        self.catalog = read_catalog(folder).catalog
        self.quantities = Quantities(self.catalog)
        self.accept = accept
        self.taken = Taken(not_taken=list(reading.not_taken))
        self.history = folder / HISTORY
        self.packs = TableFile(folder / "packs.csv")
        self._rows: list[dict[str, str]] = []
        self._ids = set(self.catalog.packs)
        self._fresh: dict[tuple[Any, ...], str] = {}
        self._prices = prices_of(self.catalog)

    def take(self, seen: SeenPrice) -> None:
        """Take one price, or note why not."""
        why = _cannot(self.catalog, self.quantities, seen)
        if why:
            self.taken.not_taken.append(NotTaken(seen.line, seen.written, why))
            return
        question = _question(self.catalog, self.quantities, seen)
        if question and seen.line not in self.accept:
            self.taken.asked.append(NotTaken(seen.line, seen.written, question))
            return
        told = f"{seen.food_id}, {_unit_price(self.quantities, seen)}"
        pack_id = _same_pack(self.catalog, seen) or self._fresh.get(_key(seen))
        if pack_id is None:
            self._new_pack(seen, told)
        else:
            self._new_price(seen, told, pack_id)

    def _new_pack(self, seen: SeenPrice, told: str) -> None:
        pack_id = free_id(f"{seen.food_id}_{seen.seller_id}_{seen.size:f}{seen.unit}", self._ids)
        self._ids.add(pack_id)
        self._fresh[_key(seen)] = pack_id
        self.packs.append(_pack_cells(pack_id, seen))
        self._prices[pack_id] = [(seen.day, seen.price)]
        self.taken.new_packs.append(f"{pack_id}: {told}")

    def _new_price(self, seen: SeenPrice, told: str, pack_id: str) -> None:
        days = dict(self._prices[pack_id])
        if days.get(seen.day) == seen.price:
            self.taken.known += 1
            return
        if seen.day in days:
            why = f"{pack_id} cost {days[seen.day]} on {seen.day} already"
            self.taken.not_taken.append(NotTaken(seen.line, seen.written, why))
            return
        self._prices[pack_id] = sorted([*days.items(), (seen.day, seen.price)])
        day = seen.day.isoformat()
        self._rows.append({"pack_id": pack_id, "price_date": day, "price": str(seen.price)})
        self.taken.new_prices.append(f"{pack_id} on {seen.day}: {told}")

    def save(self) -> None:
        """Write what is new: packs, and prices of another day."""
        if self.taken.new_packs:
            self.packs.save()
        if self._rows:
            if not self.history.exists():
                write_file(self.history, _HEADER)
            table = TableFile(self.history)
            for row in self._rows:
                table.append(row)
            table.save()


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
