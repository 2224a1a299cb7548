"""The overview of many kitchens in a real browser: phone, desk and paper, and fifty clients."""

from __future__ import annotations

import io
from collections.abc import Iterator
from datetime import date
from decimal import Decimal
from pathlib import Path
from typing import Any

import pytest
from pypdf import PdfReader

from page.axe import PAPER, PRINTED, WIDTHS, open_folds, too_wide, violations
from planopt.overview.gather import (
    BuyLine,
    ClientLine,
    KitchenLine,
    KitchenPack,
    Overview,
    SellerLine,
)
from planopt.overview.page import overview_html
from planopt.overview.savings import Saving
from planopt.runs.records import ClientState, KitchenState, RunIndex

# The costly sample is made once for all tests of this module, in one process.
pytestmark = pytest.mark.xdist_group("browser")

DAY = date(2027, 1, 3)
CAUSE = "round.csv:18: allergens: 'milc' [unknown_allergen]\n    mend: did you mean 'milk'?"
NAME = "The household with a rather long name, number"
FOODS = 40


def _packs(kitchen: int) -> Iterator[KitchenPack]:
    for food in range(FOODS):
        seller = food % 2
        if (kitchen + food) % 5 == 0:
            continue
        yield KitchenPack(
            kitchen_id=f"k{kitchen:02}", kitchen=f"{NAME} {kitchen}", seller_id=f"s{seller}",
            seller=f"Seller {seller}", shop_date=DAY, aisle=f"aisle {food // 8}",
            food_id=f"food_{food:02}", food=f"Food {food:02}, canned and drained",
            pack_id=f"pack_{food:02}", pack="2 x 400 g" if seller else "300 g loose",
            count=2.0, price=Decimal("1.25"),
        )  # fmt: skip


def many(count: int) -> Overview:
    """Return an overview of so many kitchens of one; one client has failed, one misses a window."""
    states = tuple(
        KitchenState(
            kitchen_id=f"k{n:02}", name=f"{NAME} {n}", state="planned",
            clients=(ClientState(client_id=f"c{n:02}", name=f"Client {n}", state="planned"),),
        )
        for n in range(count)
    )  # fmt: skip
    index = RunIndex(
        planopt_version="0.1.0", name=f"Weeks of {count}", scenario_file="round.yaml",
        catalog_folder="catalogs", catalog_sha256="0", currency="USD", start_date=date(2027, 1, 4),
        days=7, kitchens=states,
    )  # fmt: skip
    packs = [pack for n in range(1, count) for pack in _packs(n)]
    together: dict[str, list[KitchenPack]] = {}
    for pack in packs:
        together.setdefault(pack.pack_id, []).append(pack)
    buy = [
        BuyLine(
            first.seller_id, first.seller, DAY, first.aisle, first.food_id, first.food, pack_id,
            f"{2 * len(mine)} x 400 g" if "x" in first.pack else f"{300 * len(mine)} g loose",
            2.0 * len(mine), len(mine) * first.price, len(mine),
        )
        for pack_id, mine in together.items()
        for first in mine[:1]
    ]  # fmt: skip
    money = {"pays": Decimal("41.86"), "pays_by_alone": Decimal("40.00"),
             "alone_bill": Decimal("52.10"), "windows_met": 28, "windows_set": 28}  # fmt: skip
    missed = ("energy_kcal on 2027-01-05",)
    note = ("Fibre (fibre_g) is unknown for Coconut milk; it is counted as 0 there.",)
    costs = (Decimal("40"), Decimal("2"), Decimal("3"), Decimal("45"), Decimal("30"))
    sold = {line.seller_id: [b for b in buy if b.seller_id == line.seller_id] for line in buy}
    return Overview(
        index,
        clients=[
            ClientLine(
                f"k{n:02}", f"c{n:02}", f"Client {n}", "planned", missed=missed if n == 1 else (),
                warnings=note, **money,
            )
            if n
            else ClientLine("k00", "c00", "Client 0", "failed", cause=CAUSE)
            for n in range(count)
        ],
        kitchens=[
            KitchenLine(f"k{n:02}", f"{NAME} {n}", "planned", 1, 1, *costs)
            if n
            else KitchenLine("k00", f"{NAME} 0", "failed", 0, 1, cause=CAUSE)
            for n in range(count)
        ],
        buy=buy,
        packs=packs,
        sellers=[
            SellerLine(one, lines[0].seller, len(lines), sum((x.price for x in lines), Decimal(0)))
            for one, lines in sold.items()
        ],
        savings=[Saving("k01", f"{NAME} 1", 2, *map(Decimal, ("90", "70", "99", "80")), ())],
        bill=Decimal(42) * (count - 1),
    )  # fmt: skip


@pytest.fixture(scope="module")
def overview(tmp_path_factory: pytest.TempPathFactory) -> Path:
    """Write the overview of eight clients once: whatever fifty have, in a fraction of the time."""
    path = tmp_path_factory.mktemp("overview") / "overview.html"
    path.write_text(overview_html(many(8)), encoding="utf-8")
    return path


@pytest.mark.parametrize("width", [*WIDTHS, PRINTED])
def test_it_is_accessible_and_fits_the_screen(opened: Any, overview: Path, width: int) -> None:
    """With every view and fold open, the checker finds nothing and nothing scrolls sideways."""
    page, wrong = opened(overview, width)
    open_folds(page)
    if width == PRINTED:
        page.emulate_media(media="print")
    assert violations(page) == []
    assert too_wide(page) == 0
    assert wrong == []


def test_fifty_clients_are_a_small_page(opened: Any, tmp_path: Path) -> None:
    """At most 3 MB, and on a phone no view of over 15 screens; seconds are measured by hand.

    The limits are common practice, no source. A page of 20,000 elements opens in a second or two.
    """
    path = tmp_path / "overview.html"
    path.write_text(overview_html(many(50)), encoding="utf-8")
    assert path.stat().st_size < 3_000_000
    page, _ = opened(path, 390)
    assert page.evaluate("document.querySelectorAll('*').length") < 20_000
    for view in ("week", "shopping", "kitchens", "clients", "why"):
        page.goto(f"{path.as_uri()}#{view}")
        assert page.locator(f"#{view}").is_visible()
        assert page.evaluate("document.documentElement.scrollHeight") < 15 * 844, view


def test_what_needs_a_look_comes_first_and_who_gets_what_is_a_tap_away(
    opened: Any, overview: Path
) -> None:
    """The failure is on the first screen; a line of the list opens to its kitchens; ticks stay."""
    page, wrong = opened(overview, 390)
    assert page.locator(".trouble").first.bounding_box()["y"] < 844
    page.locator(".views").get_by_text("Shop", exact=True).click()
    who = page.locator("#shopping .who").first
    assert "for 6 kitchens" in who.text_content()
    who.locator("summary").click()
    shown = who.locator("li")
    assert shown.count() == 6
    assert shown.first.text_content() == f"{NAME} 1\N{NO-BREAK SPACE}300\N{NO-BREAK SPACE}g"
    page.locator("#shopping .buy input").nth(2).check()
    page.reload()
    assert page.locator("input:checked").count() == 1
    page.locator(".views").get_by_text("Kitchens", exact=True).click()
    bag = page.locator("#kitchens details").nth(1)
    bag.locator("summary").click()
    assert bag.locator("li:visible").count() == FOODS - FOODS // 5
    assert wrong == []


@pytest.mark.parametrize("paper", PAPER)
def test_it_prints_without_lone_rows(opened: Any, overview: Path, paper: str) -> None:
    """Every page is filled to a good part, has its foot, and no list of takers is printed twice."""
    page, _ = opened(overview)
    printed = PdfReader(io.BytesIO(page.pdf(format=paper)))
    texts = [page.extract_text() for page in printed.pages]
    assert len(texts) > 1
    assert min(len(text.splitlines()) for text in texts[:-1]) > 30
    assert f"1 of {len(texts)}" in " ".join(texts[0].split())
    flat = " ".join(" ".join(texts).split())
    for words in ("Without a plan", "Shop for all kitchens", "Kitchens", "What each kitchen costs"):
        assert words in flat
    # A kitchen in the middle: its bag, its client's row and its costs, and no more.
    assert flat.count(f"{NAME} 4 ") == 3
