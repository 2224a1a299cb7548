"""Page and labels in a real headless browser: width, errors, ticks, totals, accessibility."""

from __future__ import annotations

import io
import json
import re
from decimal import Decimal
from math import floor
from pathlib import Path
from typing import Any

import pytest
from pypdf import PdfReader

from forms.renamed import renamed
from page.axe import PAPER, PRINTED, WIDTHS, open_folds, too_wide, violations
from page.crowd import crowd_plan
from page.longlabels import long_labels
from planopt.cookday.containers import containers_of
from planopt.report.analysis.labels import labels_of
from planopt.report.files.folder import write_plan
from planopt.report.page.html import labels_html
from planopt.report.words.locale import Display
from planopt.scenario.labelsheet import LabelSheet
from report_samples import sample_catalog, sample_plan, sample_scenario
from slow import few

# The costly sample is made once for all tests of this module, in one process.
pytestmark = pytest.mark.xdist_group("browser")

HOSTILE = '<script>alert(1)</script><b title="x" onmouseover="alert(2)">=1+1 {{ 7 * 7 }} &amp;'
MM = 96 / 25.4


@pytest.fixture(scope="module")
def folder(tmp_path_factory: pytest.TempPathFactory) -> Path:
    """Write the plan of two clients once."""
    out = tmp_path_factory.mktemp("crowd") / "plan"
    write_plan(*crowd_plan(2, recipes=4), out)
    return out


@pytest.fixture(scope="module")
def sample(tmp_path_factory: pytest.TempPathFactory) -> Path:
    """Write the sample plan once: few rows, and every kind of them."""
    out = tmp_path_factory.mktemp("sample") / "plan"
    write_plan(sample_plan(), sample_catalog(), sample_scenario(), out)
    return out


@pytest.fixture(scope="module")
def hostile(tmp_path_factory: pytest.TempPathFactory) -> Path:
    """Write a plan in which every name is markup, a template and a formula at once."""
    out = tmp_path_factory.mktemp("hostile") / "plan"
    write_plan(*renamed(HOSTILE), out)
    return out


@pytest.mark.parametrize("width", WIDTHS)
@pytest.mark.parametrize("name", ["folder", "hostile"])
def test_it_fits_the_screen_and_nothing_goes_wrong(
    request: pytest.FixtureRequest, opened: Any, name: str, width: int
) -> None:
    """No sideways scrolling, no message of the browser, no request but the file itself."""
    page, wrong = opened(request.getfixturevalue(name) / "report.html", width)
    assert too_wide(page) == 0
    page.emulate_media(media="print")
    page.set_viewport_size({"width": 700, "height": 900})
    assert too_wide(page) == 0
    assert wrong == []


@pytest.mark.parametrize(
    ("file", "width"),
    [
        ("report.html", 390), ("report.html", 1280), ("report.html", PRINTED),
        ("labels.html", 390), ("labels.html", 1280), ("labels.html", PRINTED),
        ("clients/ana.html", 390), ("clients/ana.html", 1280), ("clients/ana.html", PRINTED),
    ],
)  # fmt: skip
def test_an_accessibility_checker_finds_nothing(
    opened: Any, sample: Path, file: str, width: int
) -> None:
    """The rules of axe-core (WCAG 2 A and AA, and best practices) are met, contrast among them."""
    page, _ = opened(sample / file, width)
    open_folds(page)
    if width == PRINTED:
        page.emulate_media(media="print")
    assert violations(page) == []


def test_ticks_stay_over_a_reload_and_belong_to_this_plan(
    opened: Any, folder: Path, sample: Path
) -> None:
    """What is in the basket is remembered; another plan beside it begins without ticks."""
    page, wrong = opened(folder / "report.html#shopping", 390)
    boxes = page.locator(".buy input[type=checkbox]")
    count = boxes.count()
    assert count == len(json.loads((folder / "plan.json").read_text("utf-8"))["purchases"])
    page.locator(".buy label").nth(1).click()
    boxes.nth(3).check()
    page.reload()
    assert [n for n in range(count) if boxes.nth(n).is_checked()] == [1, 3]
    assert page.locator("output").first.text_content().startswith("2 of ")
    other, _ = opened(sample / "report.html#shopping", 390)
    assert other.locator("input:checked").count() == 0
    page.get_by_role("button", name="Untick all").first.click()
    page.reload()
    assert page.locator("input:checked").count() == 0
    assert wrong == []


def test_totals_are_those_of_the_plan(opened: Any, folder: Path) -> None:
    """The list, its visits, and the cost shared out all come to the groceries of plan.json."""
    plan = json.loads((folder / "plan.json").read_text(encoding="utf-8"))
    page, _ = opened(folder / "report.html")
    assert page.locator("[data-total]").count() == 3
    for place in ("groceries", "shares"):
        shown = page.locator(f"[data-total={place}]").text_content()
        assert shown == plan["solution"]["grocery_cost"]
    lines = page.locator(".buy .price").all_text_contents()
    assert sum(map(Decimal, lines)) == Decimal(plan["solution"]["grocery_cost"])


def test_names_are_text_and_nothing_runs(opened: Any, hostile: Path) -> None:
    """A name of markup is read letter by letter, in the report and on the labels."""
    for file, scripts in (("report.html", 1), ("labels.html", 0)):
        page, wrong = opened(hostile / file)
        assert HOSTILE in page.locator("h1").text_content()
        assert page.locator("body").text_content().count(HOSTILE) > 10
        assert page.locator("script").count() == scripts
        assert page.locator("[onmouseover], body b").count() == 0
        assert wrong == []


def _shown_views(page: Any) -> list[str]:
    return page.evaluate(
        "[...document.querySelectorAll('main > .view')].filter(v => v.checkVisibility())"
        ".map(v => v.id)"
    )


def test_it_reads_without_script(browser: Any, folder: Path) -> None:
    """With scripts forbidden every view is a link away, folds open, and no button is dead."""
    page = browser.new_page()
    session = browser.new_cdp_session(page)
    session.send("Emulation.setScriptExecutionDisabled", {"value": True})
    page.goto((folder / "report.html").as_uri())
    ids = page.locator("main > .view").evaluate_all("views => views.map(view => view.id)")
    assert len(ids) == 10
    seen = [_shown_views(page)]
    for link in ("Shop", "Cook", "Pack", "People", "Money", "Week"):
        page.locator(".views").get_by_text(link, exact=True).click()
        seen.append(_shown_views(page))
    assert seen == [["week"], ["shopping"], ["cooking"], ["packing"], ["people"], ["why"], ["week"]]
    page.goto((folder / "report.html").as_uri() + "#client-client-002")
    assert _shown_views(page) == ["client-client-002"]
    page.goto((folder / "report.html").as_uri() + "#cooking")
    fold = page.locator("#cooking details.dish").first
    fold.locator("summary").click()
    assert fold.locator(".amounts").is_visible()
    assert page.locator("button, .tally:visible, .pot:visible").count() == 0
    session.send("Emulation.setScriptExecutionDisabled", {"value": False})
    page.close()


def test_a_link_into_another_view_opens_its_fold_below_the_bar(opened: Any, folder: Path) -> None:
    """From a dish on the cook sheet to its boxes: the view changes and the heading is in sight."""
    page, wrong = opened(folder / "report.html#cooking", 390)
    fold = page.locator("#cooking details.dish").first
    fold.locator("summary").click()
    link = fold.get_by_text("Pack into")
    aim = page.locator(link.get_attribute("href"))
    link.click()
    assert _shown_views(page) == ["packing"]
    bar = page.locator(".views").bounding_box()
    at = aim.bounding_box()
    assert bar["y"] + bar["height"] <= at["y"] < 844
    page.go_back()
    assert _shown_views(page) == ["cooking"]
    assert wrong == []


def test_no_view_of_a_phone_is_as_long_as_the_page_was(opened: Any, folder: Path) -> None:
    """Each view but the printed form is at most a dozen screens; the bar stays at the top."""
    page, _ = opened(folder / "report.html", 390)
    for view in ("week", "shopping", "cooking", "packing", "people", "why", "client-client-001"):
        page.goto((folder / "report.html").as_uri() + f"#{view}")
        assert page.evaluate("document.documentElement.scrollHeight") < 12 * 844, view
        page.mouse.wheel(0, 4000)
        assert page.locator(".views").bounding_box()["y"] <= 844


def test_tables_are_cards_on_a_phone_and_quantities_never_break(opened: Any, folder: Path) -> None:
    """No cell is narrower than a word; amounts come first and stand on one line, as dates do."""
    page, _ = opened(folder / "report.html#why", 390)
    page.get_by_role("heading", name="Windows in full").click()
    narrow = page.evaluate(
        "[...document.querySelectorAll('.cards td, .cards tbody th')]"
        ".filter(c => c.checkVisibility() && c.getBoundingClientRect().width < 200).length"
    )
    assert narrow == 0
    assert page.locator(".cards td:visible").count() > 20
    page.goto((folder / "report.html").as_uri() + "#shopping")
    first = page.locator(".buy label").evaluate_all(
        "labels => labels.map(l => [l.firstElementChild.className,"
        " l.firstElementChild.getClientRects().length])"
    )
    assert set(map(tuple, first)) == {("first", 1)}
    text = page.locator("main").text_content()
    days = re.findall(r"\b(?:Mon|Tue|Wed|Thu|Fri|Sat|Sun)\s\d{1,2}\s[A-Z][a-z]{2}\b", text)
    assert len(days) > 20
    assert not [day for day in days if " " in day]


_BROKEN = """
[...document.querySelectorAll('main *')].flatMap(e => [...e.childNodes]).filter(
  n => n.nodeType === 3 && n.parentElement.checkVisibility()).flatMap(n =>
  [...n.data.matchAll(WHAT)].filter(found => {
    const range = document.createRange();
    range.setStart(n, found.index);
    range.setEnd(n, found.index + found[0].length);
    return new Set([...range.getClientRects()].map(r => Math.round(r.top))).size > 1;
  }).map(found => n.data))
"""


@pytest.mark.parametrize("file", ["report.html", "clients/client_001.html", "labels.html"])
def test_no_date_is_broken_on_a_phone(opened: Any, folder: Path, file: str) -> None:
    """With every view and fold open, each date stands on one line, in tables too."""
    page, _ = opened(folder / file, 390)
    page.add_style_tag(content="main > .view { display: block !important }")
    page.evaluate("document.querySelectorAll('details').forEach(fold => fold.open = true)")
    days = r"/(Mon|Tue|Wed|Thu|Fri|Sat|Sun)\s\d{1,2}\s[A-Z][a-z]{2}/g"
    assert page.evaluate(_BROKEN.replace("WHAT", days)) == []
    # The measure finds what is broken: the words around the dates.
    assert file == "labels.html" or page.evaluate(_BROKEN.replace("WHAT", "/.{90}/g")) != []


def test_the_weight_of_a_pot_becomes_grams_a_box(opened: Any, folder: Path) -> None:
    """Thousands may be written with a comma; what is left over is told, and nothing is invented."""
    page, wrong = opened(folder / "report.html#packing", 390)
    fold = page.locator("#packing details").first
    fold.locator("summary").click()
    shares = fold.locator(".pot-groups").first.locator(".share")
    before = shares.all_text_contents()
    field = fold.locator("input[data-pot]").first
    field.fill("4,310")
    each = [float(one) for one in shares.evaluate_all("all => all.map(s => s.dataset.share)")]
    grams = [int(text.split(" g ")[0]) for text in shares.all_text_contents()]
    assert grams == [floor(4310 * share + 1e-6) for share in each]
    left = 4310 - sum(grams)
    assert f"{left} g left over" in fold.locator("output").first.text_content()
    page.reload()
    assert shares.first.text_content().startswith(f"{grams[0]} g")
    fold.locator("summary").click()
    field.fill("a lot")
    assert shares.all_text_contents() == before
    assert "write grams" in fold.locator(".pot output").first.text_content()
    assert wrong == []


def test_what_is_cooked_and_packed_can_be_ticked(opened: Any, folder: Path) -> None:
    """Tasks and boxes have ticks of their own, each list with its count."""
    page, _ = opened(folder / "report.html#cooking", 390)
    task = page.locator("#cooking .tasks input").first
    task.check()
    assert page.locator("#cooking output").first.text_content().startswith("1 of ")
    page.goto((folder / "report.html").as_uri() + "#packing")
    page.locator("#packing details summary").first.click()
    page.locator("#packing .boxes input").first.check()
    page.reload()
    ticked = page.locator("input:checked").evaluate_all("all => all.map(one => one.id)")
    assert len(ticked) == 2


@pytest.mark.parametrize("paper", few(PAPER, 0))
def test_it_prints_on_paper(opened: Any, folder: Path, paper: str) -> None:
    """The pages have the size asked for, and hold the list, the cook days and the cautions."""
    page, _ = opened(folder / "report.html")
    printed = PdfReader(io.BytesIO(page.pdf(format=paper, prefer_css_page_size=False)))
    size = tuple(float(side) for side in printed.pages[0].mediabox[2:])
    assert size == pytest.approx(PAPER[paper], abs=1)
    text = " ".join(" ".join(page.extract_text() for page in printed.pages).split())
    for words in ("Shop", "Oven by temperature", "All cautions", "Client 002 of the crowd"):
        assert words in text
    assert f"1 of {len(printed.pages)}" in text, "feet with the page"
    assert text.count("A week for 2 clients \N{MIDDLE DOT} ") == len(printed.pages)
    # Folds are open on paper: the steps of every dish are there.
    plan = json.loads((folder / "plan.json").read_text(encoding="utf-8"))
    assert text.count("Weight Food Measure") == len(plan["batches"])
    lines = [len(page.extract_text().splitlines()) for page in printed.pages]
    assert min(lines[:-1]) > 15, "no lone rows"


@pytest.mark.parametrize("paper", PAPER)
def test_the_short_form_is_three_pages(opened: Any, folder: Path, paper: str) -> None:
    """Asked for by its address: to shop, to cook and pack, who eats what; and nothing else."""
    page, _ = opened(folder / "report.html#short")
    printed = PdfReader(io.BytesIO(page.pdf(format=paper, prefer_css_page_size=False)))
    texts = [" ".join(page.extract_text().split()) for page in printed.pages]
    assert len(texts) == 3
    for text, words in zip(texts, ("Shop", "Cook and pack", "Who eats what"), strict=True):
        assert words in text


def test_a_view_is_printed_alone(opened: Any, folder: Path) -> None:
    """From the shopping list nobody prints the cook days, nor from a client's week another's."""
    page, _ = opened(folder / "report.html#client-client-001")
    printed = PdfReader(io.BytesIO(page.pdf(format="A4")))
    text = " ".join(page.extract_text() for page in printed.pages)
    assert "Client 001" in text
    assert "Client 002" not in text
    assert "Oven by temperature" not in text


def test_colours_of_the_key_are_printed(opened: Any, folder: Path) -> None:
    """The key's colours are marked as exact, else printers leave backgrounds out."""
    page, _ = opened(folder / "report.html#cooking")
    adjust = page.locator(".key span").evaluate_all(
        "all => all.map(one => getComputedStyle(one).printColorAdjust)"
    )
    assert len(adjust) > 4
    assert set(adjust) == {"exact"}


def test_labels_lie_on_the_sheet_to_the_tenth_of_a_millimetre(opened: Any, folder: Path) -> None:
    """Each label is where the sheet says, and the printed page is that of the sheet."""
    plan, catalog, scenario = crowd_plan(2, recipes=4)
    labels = labels_of(containers_of(plan, catalog, scenario), catalog, scenario.label_sheet)
    page, _ = opened(folder / "labels.html")
    shown = page.evaluate(
        """[...document.querySelectorAll('.sheet')].flatMap((sheet, n) =>
        [...sheet.querySelectorAll('.label')].map(label => {
          const a = sheet.getBoundingClientRect(), b = label.getBoundingClientRect();
          return [n + 1, b.left - a.left, b.top - a.top, b.width, b.height]; }))"""
    )
    sheet = scenario.label_sheet
    size = (float(sheet.label_width_mm), float(sheet.label_height_mm))
    expected = [(label.page, float(label.left_mm), float(label.top_mm), *size) for label in labels]
    measured = [(n, *(pixels / MM for pixels in rest)) for n, *rest in shown]
    assert measured == [pytest.approx(row, abs=0.1) for row in expected]
    printed = PdfReader(io.BytesIO(page.pdf(prefer_css_page_size=True)))
    assert len(printed.pages) == labels[-1].page
    assert tuple(map(float, printed.pages[0].mediabox[2:])) == pytest.approx(PAPER["A4"], abs=1)


@pytest.mark.parametrize(
    "sheet",
    few([
        LabelSheet(),
        LabelSheet(page="Letter", columns=3, rows=7, label_width_mm=60, label_height_mm=39,
                   gap_across_mm=2, gap_down_mm=0),
        LabelSheet(columns=4, rows=7, label_width_mm=50, label_height_mm=38, gap_across_mm=1,
                   gap_down_mm=1),
    ], 1),
    ids=["usual", "medium", "smallest"],
)  # fmt: skip
def test_nothing_is_cut_off_a_label(opened: Any, tmp_path: Path, sheet: LabelSheet) -> None:
    """Long names, all allergens at once and a long date fit every sheet that is allowed."""
    plan, catalog, scenario = long_labels(sheet)
    path = tmp_path / "labels.html"
    boxes = [
        # Nothing is held and kept away at once: half of the allergens each, in every second box.
        box.model_copy(update={"allergens_of_dish": every[::2], "made_apart_from": every[1::2]})
        if box.number % 2
        else box
        for box in containers_of(plan, catalog, scenario)
        for every in [box.allergens_of_dish]
    ]
    path.write_text(labels_html(plan, catalog, scenario, boxes), encoding="utf-8")
    page, _ = opened(path)
    cut = page.evaluate(
        """[...document.querySelectorAll('.label')].filter(label =>
        label.scrollHeight > label.clientHeight || label.scrollWidth > label.clientWidth)
        .map(label => label.className + ' ' + label.innerText)"""
    )
    assert page.locator(".label").count() == len(boxes)
    assert cut == []


@pytest.mark.slow
def test_a_locale_reaches_page_and_labels(opened: Any, tmp_path: Path) -> None:
    """With a German locale, money has a comma and the sheet still measures in points of CSS."""
    plan, catalog, scenario = sample_plan(), sample_catalog(), sample_scenario()
    write_plan(plan, catalog, scenario, tmp_path / "plan", Display("de_DE"))
    page, wrong = opened(tmp_path / "plan" / "report.html", 390)
    assert page.locator("[data-total=groceries]").text_content() == "15,10"
    assert (too_wide(page), wrong) == (0, [])
    labels, wrong = opened(tmp_path / "plan" / "labels.html")
    width = labels.locator(".label").first.bounding_box()["width"]
    assert width / MM == pytest.approx(94, abs=0.1)
    assert wrong == []
