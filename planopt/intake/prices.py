"""Prices that somebody else lists: price lists by a column map, receipts as table or text.

Foods are known by our ids, by names that the person has settled, or by a name that is the catalog's
own. Nothing else is taken: what is not understood is listed with the foods that may be meant.
"""

from __future__ import annotations

import csv
import io
import re
from collections.abc import Iterable, Mapping
from dataclasses import dataclass, field
from datetime import date, datetime
from decimal import Decimal, InvalidOperation
from pathlib import Path

from rapidfuzz import fuzz

from planopt.catalog.foodwords import words_of
from planopt.catalog.records import Catalog
from planopt.intake.columnmap import PricesMap, check_columns, read_number
from planopt.intake.mappedfoods import table_lines

PACK_UNITS = ("g", "kg", "ml", "l", "oz", "lb", "each")
IGNORE = "ignore"
_UNIT_WORDS = {
    "gr": "g", "gram": "g", "grams": "g", "kilo": "kg", "kgs": "kg", "litre": "l", "liter": "l",
    "lt": "l", "ltr": "l", "cl": "cl", "pc": "each", "pcs": "each", "piece": "each",
    "pieces": "each", "ct": "each", "pk": "each", "stk": "each", "ea": "each", "x": "each",
    "lbs": "lb", "ozs": "oz",
}  # fmt: skip
_SIZE = re.compile(
    r"(?<![\w.,])(\d+(?:[.,]\d+)?)\s*(kg|kgs|g|gr|ml|cl|l|lt|ltr|oz|lb|lbs|ct|pcs|pc|ea|each)\b",
    re.IGNORECASE,
)
_MONEY = re.compile(r"(?<![\d.,])(-?\d{1,5}[.,]\d{2})(?!\d)\s*[A-Z*]?\s*$")
_COUNT = re.compile(r"^\s*(\d{1,3})\s*[xX@*]\s+|\b(\d{1,3})\s*[xX@]\s*\d+[.,]\d{2}")
_WEIGHED = re.compile(
    r"(\d+(?:[.,]\d+)?)\s*(kg|g|lb|oz)\s*(?:net\s*)?[@xX]\s*\D{0,3}(\d+[.,]\d{2})\s*/?\s*(?:per\s*)?"
    r"(kg|lb)?",
    re.IGNORECASE,
)
_NO_GOODS = re.compile(
    r"\b(sub ?total|total|tax|vat|cash|change|card|visa|debit|balance|tender|thank|receipt|till|"
    r"saving|discount|coupon|points|tel|www|invoice|sum|due|paid)\b",
    re.IGNORECASE,
)
NO_FOOD = "no food of the catalog has this name"
NEAR_ENOUGH = 60.0
_MOST_GUESSES = 3


@dataclass(frozen=True)
class SeenPrice:
    """One price as read: what it buys, of which food, where it stands and what was written."""

    line: int
    written: str
    food_id: str
    seller_id: str
    size: Decimal
    unit: str
    price: Decimal
    day: date
    sold: str = "pack"
    currency: str = "USD"


@dataclass(frozen=True)
class NotTaken:
    """A row or line that was not understood: why, and foods that may be meant, the best first.

    `goods` is the name that is to be settled, where that is what is missing.
    """

    line: int
    written: str
    why: str
    guesses: tuple[str, ...] = ()
    goods: str = ""


@dataclass
class Reading:
    """What a list or receipt says: prices, and what was not understood."""

    prices: list[SeenPrice] = field(default_factory=list)
    not_taken: list[NotTaken] = field(default_factory=list)


class Names:
    """Turns names of goods into foods: settled ones, ids, and the catalog's own names."""

    def __init__(self, catalog: Catalog, settled: Mapping[str, str]) -> None:
        """Take the catalog and names that the person has settled, with food ids or `ignore`."""
        self._catalog = catalog
        self._settled = {_plain(name): food_id for name, food_id in settled.items()}
        self._known: dict[str, str | None] = {}
        for food_id, food in catalog.foods.items():
            for plain in {_plain(food.name), _plain(food_id)}:
                # A name of two foods is that of neither for certain.
                self._known[plain] = None if plain in self._known else food_id

    def food(self, name: str) -> str | None:
        """Return the food that a name surely means, `ignore`, or None."""
        plain = _plain(name)
        return self._settled.get(plain) or self._known.get(plain)

    def guesses(self, name: str) -> tuple[str, ...]:
        """Return foods that a name may mean with their nearness in percent, the best first."""
        plain = _plain(name)
        scored = []
        for food_id, food in self._catalog.foods.items():
            near = max(fuzz.token_set_ratio(plain, _plain(text)) for text in (food.name, food_id))
            order = fuzz.token_sort_ratio(plain, _plain(food.name))
            if near >= NEAR_ENOUGH:
                scored.append((-near, -order, food_id))
        return tuple(
            f"{food_id} ({-near:.0f} %)" for near, _, food_id in sorted(scored)[:_MOST_GUESSES]
        )


def _plain(text: str) -> str:
    """Return the words of a name in the form in which they are compared, and its numbers."""
    return " ".join([*words_of(text.replace("_", " ")), *re.findall(r"\d+", text)])


def read_price_list(path: Path, table: PricesMap, names: Names, today: date) -> Reading:
    """Return the prices of a list; rows that are not understood are listed, not guessed at.

    Raises:
        BadInput: the file cannot be read, or lacks a column of its map.
    """
    text = table_lines(path, table.encoding)
    reader = csv.reader(io.StringIO(text, newline=""), delimiter=table.separator)
    rows = [(reader.line_num, row) for row in reader]
    header = [cell.strip() for _, row in rows[table.header_line - 1 :][:1] for cell in row]
    fields = ("food", "name", "seller", "size", "unit", "price", "date", "sold")
    columns = {name: one for name in fields if (one := getattr(table, name))}
    check_columns(str(path), table.header_line, header, columns)
    found = Reading()
    for line, row in rows[table.header_line :]:
        if not any(cell.strip() for cell in row):
            continue
        cells = {
            name: row[place].strip() if (place := header.index(column)) < len(row) else ""
            for name, column in columns.items()
        }
        written = " ".join(part for part in (cells.get("food"), cells.get("name")) if part)
        try:
            found.prices += _of_row(line, written, cells, table, names, today)
        except ValueError as error:
            goods = cells.get("name", "") if str(error) == NO_FOOD else ""
            guesses = names.guesses(goods) if goods else ()
            found.not_taken.append(NotTaken(line, written, str(error), guesses, goods))
    return found


def _of_row(
    line: int,
    written: str,
    cells: Mapping[str, str],
    table: PricesMap,
    names: Names,
    today: date,
) -> list[SeenPrice]:
    food_id = cells.get("food") or table.foods.get(cells.get("name", ""))
    food_id = names.food(food_id) if food_id else names.food(cells.get("name", ""))
    if food_id == IGNORE:
        return []
    if food_id is None:
        raise ValueError(NO_FOOD)
    seller = cells.get("seller") or table.seller_id
    if not seller:
        raise ValueError("no seller: give a column `seller` or a `seller_id` in the map")
    size, unit = _size_of(cells, table)
    price = _money(cells["price"], table.decimal)
    day = _day(cells.get("date", ""), table, today)
    sold = cells.get("sold") or "pack"
    if sold not in ("pack", "loose", "any"):
        raise ValueError(f"sold is {sold!r}, and pack, loose or any is needed")
    currency = table.currency
    return [SeenPrice(line, written, food_id, seller, size, unit, price, day, sold, currency)]


def _size_of(cells: Mapping[str, str], table: PricesMap) -> tuple[Decimal, str]:
    text, unit = cells.get("size", ""), cells.get("unit", "")
    if not unit:
        found = _SIZE.search(text) or _SIZE.search(cells.get("name", ""))
        if found is None:
            raise ValueError(f"the size {text!r} has no unit")
        text, unit = found[1], found[2]
    unit = table.units.get(unit, unit).casefold()
    return _in_pack_unit(text, unit, table.decimal)


def _in_pack_unit(text: str, unit: str, decimal: str) -> tuple[Decimal, str]:
    plain = _UNIT_WORDS.get(unit.casefold(), unit.casefold())
    if plain != "cl" and plain not in PACK_UNITS:
        raise ValueError(f"the unit {unit!r} is none of {', '.join(PACK_UNITS)}")
    size = Decimal(str(read_number(text.replace(",", decimal) if "," in text else text, decimal)))
    if size <= 0:
        raise ValueError(f"the size {text!r} is not above 0")
    size, plain = (size * 10, "ml") if plain == "cl" else (size, plain)
    return (size.to_integral_value() if size == size.to_integral_value() else size), plain


def _money(text: str, decimal: str) -> Decimal:
    plain = re.sub(r"[^\d.,-]", "", text)
    try:
        price = Decimal(str(read_number(plain, decimal))).quantize(Decimal("0.01"))
    except (ValueError, InvalidOperation):
        raise ValueError(f"the price {text!r} is no amount of money") from None
    if price <= 0:
        raise ValueError(f"the price {text!r} is not above 0")
    return price


def _day(text: str, table: PricesMap, today: date) -> date:
    if not text:
        return date.fromisoformat(table.price_date) if table.price_date else today
    try:
        return datetime.strptime(text, table.date_form).date()
    except ValueError:
        raise ValueError(f"the date {text!r} is not of the form {table.date_form}") from None


@dataclass(frozen=True)
class _Till:
    """A receipt's seller, day and currency, the names known, and what is found."""

    names: Names
    seller_id: str
    day: date
    currency: str
    found: Reading = field(default_factory=Reading)

    def refuse(self, line: int, written: str, why: str, goods: str = "") -> None:
        guesses = self.names.guesses(goods) if goods else ()
        self.found.not_taken.append(NotTaken(line, written, why, guesses, goods))

    def take(
        self,
        line: int,
        written: str,
        food_id: str,
        size: tuple[Decimal, str],
        price: Decimal,
        sold: str,
    ) -> None:
        who, day, currency = self.seller_id, self.day, self.currency
        self.found.prices.append(
            SeenPrice(line, written, food_id, who, *size, price, day, sold, currency)
        )

    def weighed(self, line: int, written: str, name: str, weight: re.Match[str]) -> None:
        food_id = self.names.food(_goods(name))
        if food_id is None:
            self.refuse(line, written, NO_FOOD, _goods(name))
            return
        if food_id == IGNORE:
            return
        size, unit, sold = Decimal(1), (weight[4] or weight[2]).casefold(), "any"
        price = Decimal(weight[3].replace(",", "."))
        tenth = price / 10
        if unit == "kg" and tenth == tenth.quantize(Decimal("0.01")):
            # Weighed by the hundred grams, where that is a whole price.
            size, unit, price, sold = Decimal(100), "g", tenth.quantize(Decimal("0.01")), "loose"
        self.take(line, written, food_id, (size, unit), price, sold)

    def bought(self, line: int, written: str, words: str, paid_text: str) -> None:
        counted = _COUNT.search(words)
        count = int(next(part for part in counted.groups() if part)) if counted else 1
        size, name = _SIZE.search(words), _goods(words)
        food_id = self.names.food(name)
        paid = Decimal(paid_text.replace(",", "."))
        if food_id == IGNORE:
            return
        if food_id is None:
            self.refuse(line, written, NO_FOOD, name)
        elif size is None:
            self.refuse(line, written, "the line has no size, such as 500 g")
        elif count < 1 or paid <= 0:
            self.refuse(line, written, "what was paid is not above 0")
        elif paid / count != (paid / count).quantize(Decimal("0.01")):
            self.refuse(line, written, f"{paid} is not {count} times one price")
        else:
            amount = _in_pack_unit(size[1].replace(",", "."), size[2], ".")
            price = (paid / count).quantize(Decimal("0.01"))
            self.take(line, written, food_id, amount, price, "pack")


def read_receipt(text: str, names: Names, seller_id: str, day: date, currency: str) -> Reading:
    """Return the prices of a receipt in plain text, a line each; what is not understood is listed.

    A line has the goods, their size and, last, what was paid: `2 x ROLLED OATS 500G 3.20`. Weighed
    goods are told as `0.450 kg @ 1.80/kg 0.81`, in the line of the goods or the one below.
    """
    till = _Till(names, seller_id, day, currency)
    before: tuple[int, str] | None = None
    for number, line in enumerate(text.splitlines(), start=1):
        words = line.strip()
        weight = _WEIGHED.search(words)
        below = weight is not None and not re.search(r"[^\W\d_]{4}", words[: weight.start()])
        if weight is not None and below and before is not None:
            till.weighed(*before, before[1], weight)
            before = None
            continue
        if before is not None and not _NO_GOODS.search(before[1]):
            till.refuse(*before, "there is no price in this line")
        before = None
        if not words or _NO_GOODS.search(words) or not re.search(r"[^\W\d_]{2}", words):
            continue
        paid = _MONEY.search(words)
        if weight is not None:
            till.weighed(number, words, words[: weight.start()], weight)
        elif paid is not None:
            till.bought(number, words, words[: paid.start()], paid[1])
        else:
            before = (number, words)
    if before is not None:
        till.refuse(*before, "there is no price in this line")
    return till.found


def _goods(words: str) -> str:
    """Return the name in a line: without count, size, single prices and numbers of goods."""
    text = re.sub(r"\b\d{1,3}\s*[xX@*]\s*\d+[.,]\d{2}\b", " ", words)
    text = re.sub(r"^\s*\d{1,3}\s*[xX@*]\s+", " ", text)
    text = _SIZE.sub(" ", text)
    text = re.sub(r"\b\d{4,}\b|\d+[.,]\d{2}", " ", text)
    return " ".join(text.split()).strip(" -*@")


def receipt_rows(path_text: str) -> str | None:
    """Return a receipt that is a table as lines of text, None where it is text already.

    Its columns are told by their names: item or name, quantity, size, price or amount or total.
    """
    lines = path_text.strip().splitlines()
    first = lines[0] if lines else ""
    separator = next((one for one in (",", ";", "\t") if first.count(one) >= 1), None)
    if separator is None:
        return None
    header = [cell.strip().casefold() for cell in first.split(separator)]
    places = {
        "name": _place(header, ("item", "name", "product", "description", "article")),
        "count": _place(header, ("quantity", "qty", "count")),
        "size": _place(header, ("size", "pack")),
        "paid": _place(header, ("amount", "total", "paid", "price")),
    }
    if places["name"] is None or places["paid"] is None:
        return None
    # The header's line stays, so that line numbers are those of the file.
    rows = [""]
    for row in csv.reader(io.StringIO("\n".join(lines[1:])), delimiter=separator):
        cell = {
            key: row[place].strip() if place is not None and place < len(row) else ""
            for key, place in places.items()
        }
        count = f"{cell['count']} x " if cell["count"].isdigit() else ""
        rows.append(f"{count}{cell['name']} {cell['size']} {cell['paid']}".strip())
    return "\n".join(rows)


def _place(header: list[str], names: Iterable[str]) -> int | None:
    return next((header.index(name) for name in names if name in header), None)
