"""Prices over time, price lists by column map, receipts; what is asked about and what is listed."""

from __future__ import annotations

from datetime import date
from decimal import Decimal
from pathlib import Path

import pytest
from typer.testing import CliRunner

from kitchens import write_catalog, write_kitchen
from planopt import cli
from planopt.adding.priceimport import ask_names, settled_names, take_prices
from planopt.catalog.load import load_catalog
from planopt.catalog.prices import catalog_on
from planopt.faults import BadInput, ExitCode
from planopt.intake.columnmap import PricesMap
from planopt.intake.prices import Names, NotTaken, read_price_list, read_receipt, receipt_rows
from planopt.pipeline import load_kitchen
from planopt.scenario.households.parties import load_kitchens

runner = CliRunner()
DAY = date(2026, 11, 27)
HISTORY = """\
pack_id,price_date,price
oats_500g,2026-11-25,1.75
oats_500g,2026-12-05,1.95
oats_500g,2026-11-01,1.40
"""


@pytest.mark.parametrize(
    ("day", "price"),
    [
        ("2026-10-01", "1.40"),
        ("2026-11-01", "1.40"),
        ("2026-11-19", "1.40"),
        ("2026-11-20", "1.60"),
        ("2026-11-24", "1.60"),
        ("2026-11-25", "1.75"),
        ("2026-12-04", "1.75"),
        ("2027-01-01", "1.95"),
    ],
)
def test_the_newest_price_on_or_before_a_day_holds(day: str, price: str, tmp_path: Path) -> None:
    """The row of packs.csv, of 20 November, is one of them; before all of them the earliest."""
    catalog = load_catalog(write_catalog(tmp_path, {"price_history.csv": HISTORY}))
    on_day = catalog_on(catalog, date.fromisoformat(day)).packs
    assert on_day["oats_500g"].price == Decimal(price)
    assert on_day["milk_1l"] == catalog.packs["milk_1l"]


def test_a_plan_takes_the_prices_of_its_first_day(tmp_path: Path) -> None:
    """Of one kitchen and of many; the tiny week begins on 30 November."""
    path = write_kitchen(tmp_path, files={"price_history.csv": HISTORY})
    assert load_kitchen(path).catalog.packs["oats_500g"].price == Decimal("1.75")
    assert load_kitchens(path).catalog.packs["oats_500g"].price == Decimal("1.75")
    plain = write_kitchen(tmp_path / "plain")
    assert load_kitchen(plain).catalog.packs["oats_500g"].price == Decimal("1.60")


@pytest.fixture
def folder(tmp_path: Path) -> Path:
    """Return the tiny catalog."""
    return write_catalog(tmp_path / "catalogs")


def names_of(folder: Path, **settled: str) -> Names:
    """Return the names known with the tiny catalog."""
    return Names(load_catalog(folder), settled)


LIST = """\
Preisliste;;;;
Article;Shop;Content;Price;Seen
Haferflocken;corner;500 g;1,80;26.11.2026
White rice;market;1 kg;2,10;26.11.2026
Egg;corner;6 pcs;2,60;26.11.2026
Eggs;corner;6 pcs;2,60;26.11.2026
Red lentils;corner;1 Sack;2,10;26.11.2026
Milk;corner;1 l;free;26.11.2026
Onion;nowhere;1 kg;1,00;26.11.2026
Onion;corner;1 kg;-1,00;26.11.2026
Whole milk;corner;1 l;1,55;tomorrow
Whole milk;corner;1,5 l;2,20;26.11.2026
Weisswurst;corner;1 kg;9,00;26.11.2026
;;;;
"""
MAP = PricesMap(
    name="Article",
    foods={"Haferflocken": "oats_rolled", "Milk": "milk_whole"},
    seller="Shop",
    size="Content",
    price="Price",
    date="Seen",
    date_form="%d.%m.%Y",
    separator=";",
    decimal=",",
    header_line=2,
)


def test_a_price_list_of_several_sellers(folder: Path) -> None:
    """Known packs get a new price, others a row; each row that is not understood says why."""
    path = folder.parent / "list.csv"
    path.write_text(LIST, encoding="utf-8")
    taken = take_prices(folder, read_price_list(path, MAP, names_of(folder), DAY))
    catalog = load_catalog(folder)
    assert [(row.pack_id, row.price) for row in catalog.price_history] == [
        ("eggs_6", Decimal("2.60")),
        ("oats_500g", Decimal("1.80")),
    ]
    assert catalog.packs["rice_white_long_market_1kg"].price == Decimal("2.10")
    assert catalog.packs["milk_whole_corner_1_5l"].size == Decimal("1.5")
    # Rows 5 and 6 are of one pack, as the plural is the same name.
    assert taken.known == 1
    why = {one.line: one.why for one in taken.not_taken}
    assert why == {
        7: "the size '1 Sack' has no unit",
        8: "the price 'free' is no amount of money",
        9: "sellers.csv has no seller nowhere",
        10: "the price '-1,00' is not above 0",
        11: "the date 'tomorrow' is not of the form %d.%m.%Y",
        13: "no food of the catalog has this name",
    }
    assert any("3.60 a kilogram edible" in row for row in taken.new_prices)


def test_a_list_without_its_header_is_told(folder: Path) -> None:
    """An empty file, and one that ends before the line of the header."""
    path = folder.parent / "list.csv"
    for text in ("", "Preisliste\n"):
        path.write_text(text, encoding="utf-8")
        with pytest.raises(BadInput) as told:
            read_price_list(path, MAP, names_of(folder), DAY)
        assert {fault.code for fault in told.value.faults} == {"missing_column"}
    assert read_receipt("", names_of(folder), "corner", DAY, "USD").prices == []


def test_ten_times_dearer_is_asked_about(folder: Path) -> None:
    """2.10 for 500 g of lentils before; 21.00 is asked about, 20.90 is not, and may be accepted."""
    receipt = "Red lentils 500 g 21.00\n"
    reading = read_receipt(receipt, names_of(folder), "market", DAY, "USD")
    taken = take_prices(folder, reading)
    assert [one.line for one in taken.asked] == [1]
    assert "42.00 USD a kilogram, and lentils_red_dry was 4.20 at most before" in taken.asked[0].why
    assert not (folder / "price_history.csv").exists()
    assert take_prices(folder, reading, accept=[1]).new_packs
    less = read_receipt("Red lentils 500 g 20.90\n", names_of(folder), "corner", DAY, "USD")
    assert take_prices(folder, less).asked == []


RECEIPT = """\
CORNER SHOP
2 x Rolled oats 500 g        3.60
WHOLE MILK 1L  1.79 A
ONIONS
  0.450 kg @ 1.80/kg         0.81
White rice 0.612 kg x 1.99/kg   1.22
RD LNTLS 500G  2.20
Egg 6 each 0.00
3 x Egg 12 each  10.00
Red lentils  2.20
SUBTOTAL 12.00
TOTAL                       61.39
VISA                        61.39
"""


def test_a_receipt_in_plain_text(folder: Path) -> None:
    """Counts, weights, sizes; sums and cards are passed over; the rest is listed with reasons."""
    reading = read_receipt(RECEIPT, names_of(folder), "corner", DAY, "USD")
    found = [(p.line, p.food_id, str(p.size), p.unit, str(p.price), p.sold) for p in reading.prices]
    assert found == [
        (2, "oats_rolled", "500", "g", "1.80", "pack"),
        (3, "milk_whole", "1", "l", "1.79", "pack"),
        (4, "onion", "100", "g", "0.18", "loose"),
        (6, "rice_white_long", "1", "kg", "1.99", "any"),
    ]
    assert [(one.line, one.why) for one in reading.not_taken] == [
        (1, "there is no price in this line"),
        (7, "no food of the catalog has this name"),
        (8, "what was paid is not above 0"),
        (9, "10.00 is not 3 times one price"),
        (10, "the line has no size, such as 500 g"),
    ]
    settled = names_of(folder, **{"RD LNTLS": "lentils_red_dry"})
    again = read_receipt("RD LNTLS 500G  2.20\n", settled, "corner", DAY, "USD")
    assert [one.food_id for one in again.prices] == ["lentils_red_dry"]
    ignored = read_receipt("Bag 0.10\n", names_of(folder, Bag="ignore"), "corner", DAY, "USD")
    assert (ignored.prices, ignored.not_taken) == ([], [])


def test_a_receipt_as_a_table(folder: Path) -> None:
    """Its columns are found by their names; lines keep their numbers."""
    rows = "Item,Quantity,Size,Amount\nRolled oats,2,500 g,3.60\nMystery,1,1 kg,2.00\n"
    text = receipt_rows(rows)
    assert text is not None
    reading = read_receipt(text, names_of(folder), "corner", DAY, "USD")
    assert [(p.line, p.price) for p in reading.prices] == [(2, Decimal("1.80"))]
    assert [one.line for one in reading.not_taken] == [3]
    assert receipt_rows("Rolled oats 500 g 1.80\n") is None


def test_names_are_settled_in_a_file(tmp_path: Path) -> None:
    """Asked once, with guesses; answers are kept, lines without one are not answers."""
    path = tmp_path / "names.yaml"
    assert settled_names(path) == {}
    asked = [NotTaken(1, "x", "why", ("onion (91 %)",), "ONIONS: red"), NotTaken(2, "y", "why")]
    assert ask_names(path, asked) == 1
    assert ask_names(path, asked) == 0
    assert settled_names(path) == {}
    text = path.read_text(encoding="utf-8")
    assert "'ONIONS: red':   # onion (91 %)\n" in text
    path.write_text(text.replace("red':", "red': onion"), encoding="utf-8")
    assert settled_names(path) == {"ONIONS: red": "onion"}
    assert ask_names(path, asked) == 0
    path.write_text("- a\n", encoding="utf-8")
    with pytest.raises(BadInput):
        settled_names(path)


def test_the_commands(folder: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    """From a receipt to the list of unit prices."""
    monkeypatch.chdir(folder.parent)
    Path("r.txt").write_text(RECEIPT, encoding="utf-8")
    words = ["prices", "receipt", "r.txt", "--seller", "corner", "--date", "2026-11-27"]
    result = runner.invoke(cli.app, [*words, "--names", "names.yaml"])
    assert result.exit_code == ExitCode.OK, result.output
    assert "oats_500g on 2026-11-27: oats_rolled, 1.80 for 500 g, 3.60 a kilogram" in result.stdout
    assert "line 7: RD LNTLS 500G  2.20: no food of the catalog has this name" in result.stdout
    assert "Write the foods into names.yaml" in result.stdout
    result = runner.invoke(cli.app, ["prices", "list", "oats_rolled", "--date", "2026-11-21"])
    assert result.stdout.splitlines()[1].split() == [
        "oats_rolled", "corner", "500", "g", "1.60", "3.20", "2026-11-20"
    ]  # fmt: skip
    result = runner.invoke(cli.app, ["prices", "list", "oats_rolled", "--date", "2026-11-28"])
    assert "3.60  2026-11-27" in result.stdout
    Path("l.csv").write_text(LIST, encoding="utf-8")
    Path("m.yaml").write_text(
        "name: Article\nseller_id: corner\nsize: Content\nprice: Price\nseparator: ';'\n"
        "decimal: ','\nheader_line: 2\nprice_date: 2026-11-26\n",
        encoding="utf-8",
    )
    result = runner.invoke(cli.app, ["prices", "import", "l.csv", "--map", "m.yaml"])
    assert result.exit_code == ExitCode.OK, result.output
    assert "line 13: Weisswurst" in result.stdout
    for extra in (["list", "oat"], ["receipt", "r.txt", "--seller", "crner"]):
        assert runner.invoke(cli.app, ["prices", *extra]).exit_code == ExitCode.USAGE
    bad = runner.invoke(cli.app, ["prices", "list", "--date", "soon"])
    assert bad.exit_code == ExitCode.USAGE
