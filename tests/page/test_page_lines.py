"""Lines of the pages: no quantity is broken, and no heading is left alone on paper."""

from __future__ import annotations

import io
import re
from pathlib import Path
from typing import Any

import pytest
from pypdf import PdfReader

from page.axe import PAPER, PRINTED, open_folds, too_wide
from page.crowd import crowd_plan
from planopt.report.files.folder import write_plan
from planopt.report.page.parts import readable

# The costly sample is made once for all tests of this module, in one process.
pytestmark = pytest.mark.xdist_group("browser")

_UNITS = "%|g|kg|ml|l|kcal|min|USD|C|F|boxes|pieces?|cloves?|cups?|tbsp|tsp|each"
# Text nodes in sight, with the quantities of which parts stand on lines of their own.
_BROKEN = f"""
[...document.querySelectorAll('header *, main *')].flatMap(e => [...e.childNodes]).filter(
  n => n.nodeType === 3 && n.parentElement.checkVisibility()).flatMap(n =>
  [...n.data.matchAll(/(?:\\d|\\/)\\s(?:{_UNITS})(?![\\w])/g)].filter(found => {{
    const range = document.createRange();
    range.setStart(n, found.index);
    range.setEnd(n, found.index + found[0].length);
    return new Set([...range.getClientRects()].map(r => Math.round(r.bottom))).size > 1;
  }}).map(found => n.data))
"""


@pytest.fixture(scope="module")
def folder(tmp_path_factory: pytest.TempPathFactory) -> Path:
    """Write the plan of three clients once."""
    out = tmp_path_factory.mktemp("lines") / "plan"
    write_plan(*crowd_plan(3, recipes=12), out)
    return out


def test_quantities_are_joined_and_other_words_are_not() -> None:
    """Numbers keep their units, a temperature both its scales; a line may still end elsewhere."""
    for text, joined in (
        ("heat through to 74 C (165 F) now", "heat through to 74~C~(165~F) now"),
        ("1 hour above 32 C / 90 F", "1 hour above 32~C~/~90~F"),
        ("2 x 400 ml of milk", "2~x~400~ml of milk"),
        ("377.40 USD, at most 23.8 % of 2 lemons", "377.40~USD, at most 23.8~% of 2 lemons"),
        ("3 lines and 1 gram", "3 lines and 1 gram"),
    ):
        assert readable(text) == joined.replace("~", "\N{NO-BREAK SPACE}")


@pytest.mark.parametrize("width", [390, PRINTED])
@pytest.mark.parametrize("file", ["report.html", "clients/client_001.html"])
def test_no_quantity_is_broken(opened: Any, folder: Path, file: str, width: int) -> None:
    """With all views and folds open, each number stands on one line with its unit."""
    page, _ = opened(folder / file, width)
    open_folds(page)
    if width == PRINTED:
        page.emulate_media(media="print")
        page.add_style_tag(content="#short, #people { display: block !important }")
    assert page.evaluate(_BROKEN) == []
    assert too_wide(page) == 0
    # The measure finds what is broken: here every quantity has room for its number alone.
    page.add_style_tag(content="main * { white-space: pre-line !important; }")
    page.evaluate(
        "document.querySelectorAll('main p, main li, main td').forEach("
        "e => { e.textContent = e.textContent.replaceAll('\\u00a0', '\\n'); })"
    )
    assert page.evaluate(_BROKEN) != []


def test_a_client_finds_a_day_from_anywhere_on_the_page(opened: Any, folder: Path) -> None:
    """The days stay at the top of a phone, lead to their headings, and cover none of them."""
    page, wrong = opened(folder / "clients/client_001.html", 390)
    days = page.locator("nav a")
    assert days.all_text_contents() == ["Mon", "Tue", "Wed", "Thu", "Fri", "Sat", "Sun"]
    days.nth(4).click()
    bar = page.locator("nav").bounding_box()
    heading = page.locator(days.nth(4).get_attribute("href")).bounding_box()
    assert 0 <= bar["y"] < 5
    assert bar["y"] + bar["height"] <= heading["y"] < 844
    names = page.locator("table tbody th")
    assert "Carbohydrate" in names.all_text_contents()
    lines = names.evaluate_all(
        "all => all.map(th => { const range = document.createRange(); range.selectNodeContents(th);"
        " return range.getClientRects().length; })"
    )
    assert set(lines) == {1}, "no name of a nutrient is broken"
    assert wrong == []


def test_the_grid_of_meals_is_found_and_reads_as_the_other_views(opened: Any, folder: Path) -> None:
    """From People a link leads to it; dates are as everywhere, tables are cards."""
    page, _ = opened(folder / "report.html#people", 390)
    page.get_by_role("link", name="Energy by meal").click()
    view = page.locator("#meals")
    assert view.is_visible()
    text = view.inner_text()
    assert re.search(r"\d{4}-\d\d", text) is None
    assert "`" not in text
    assert "Breakfast: " in view.locator("td").first.evaluate(
        "cell => getComputedStyle(cell, '::before').content.replaceAll('\"', '')"
    )


@pytest.mark.parametrize("paper", PAPER)
def test_no_heading_is_left_alone_on_paper(opened: Any, folder: Path, paper: str) -> None:
    """No page ends with a heading, nor with the caution or words that open a part."""
    page, _ = opened(folder / "report.html")
    alone = page.locator(
        "main :is(h2, h3), #shopping > .caution, #cooking > .caution, #cooking > .quiet, "
        "#meals > p, summary + .quiet"
    ).all_text_contents()
    ends = {" ".join(text.split())[-25:] for text in alone if text.strip()}
    printed = PdfReader(io.BytesIO(page.pdf(format=paper, prefer_css_page_size=False)))
    for number, sheet in enumerate(printed.pages, 1):
        text = " ".join(sheet.extract_text().split())
        text = re.sub(r"A week for 3 clients \S+ \w{4}|\d+ of \d+$", "", text).strip()
        assert not [end for end in ends if text.endswith(end)], number
