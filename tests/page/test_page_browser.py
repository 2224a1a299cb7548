"""Page and labels in a real headless browser: width, errors, ticks, totals, accessibility."""

from __future__ import annotations

import importlib
import io
import json
from decimal import Decimal
from pathlib import Path
from typing import Any

import pytest
from pypdf import PdfReader

from forms.renamed import renamed
from page.crowd import crowd_plan
from page.longlabels import long_labels
from planopt.cookday.containers import containers_of
from planopt.report.analysis.labels import labels_of
from planopt.report.files.folder import write_plan
from planopt.report.page.html import labels_html
from planopt.report.words.locale import Display
from planopt.scenario.labelsheet import LabelSheet
from report_samples import sample_catalog, sample_plan, sample_scenario

# The costly sample is made once for all tests of this module, in one process.
pytestmark = pytest.mark.xdist_group("browser")

HOSTILE = '<script>alert(1)</script><b title="x" onmouseover="alert(2)">=1+1 {{ 7 * 7 }} &amp;'
MM = 96 / 25.4
# A4 and Letter in points; ISO 216 and ANSI/ASME Y14.1.
PAPER = {"A4": (595.3, 841.9), "Letter": (612.0, 792.0)}
# No published figure: 390 CSS pixels are a common phone, 1280 a common small desktop.
WIDTHS = (390, 1280)


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


def _too_wide(page: Any) -> Any:
    return page.evaluate(
        "document.documentElement.scrollWidth - document.documentElement.clientWidth"
    )


@pytest.mark.parametrize("width", WIDTHS)
@pytest.mark.parametrize("name", ["folder", "hostile"])
def test_it_fits_the_screen_and_nothing_goes_wrong(
    request: pytest.FixtureRequest, opened: Any, name: str, width: int
) -> None:
    """No sideways scrolling, no message of the browser, no request but the file itself."""
    page, wrong = opened(request.getfixturevalue(name) / "report.html", width)
    assert _too_wide(page) == 0
    page.emulate_media(media="print")
    page.set_viewport_size({"width": 700, "height": 900})
    assert _too_wide(page) == 0
    assert wrong == []


@pytest.mark.parametrize(
    ("file", "width"), [("report.html", 390), ("report.html", 1280), ("labels.html", 1280)]
)
def test_an_accessibility_checker_finds_nothing(
    opened: Any, sample: Path, file: str, width: int
) -> None:
    """The rules of axe-core (WCAG 2 A and AA, and best practices) are met, contrast among them."""
    axe = importlib.import_module("axe_playwright_python.sync_playwright").Axe()
    page, _ = opened(sample / file, width)
    response = axe.run(page).response
    found = [(v["id"], [n["html"] for n in v["nodes"][:3]]) for v in response["violations"]]
    assert found == []
    assert "color-contrast" in {rule["id"] for rule in response["passes"]}


def test_ticks_stay_over_a_reload_and_belong_to_this_plan(
    opened: Any, folder: Path, sample: Path
) -> None:
    """What is in the basket is remembered; another plan beside it begins without ticks."""
    page, wrong = opened(folder / "report.html", 390)
    boxes = page.locator("input[type=checkbox]")
    count = boxes.count()
    assert count == len(json.loads((folder / "plan.json").read_text("utf-8"))["purchases"])
    page.locator("label").nth(1).click()
    boxes.nth(3).check()
    page.reload()
    assert [n for n in range(count) if boxes.nth(n).is_checked()] == [1, 3]
    assert page.locator("output").first.text_content().startswith("2 of ")
    other, _ = opened(sample / "report.html", 390)
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
    lines = page.locator(".buy tbody td.n").all_text_contents()
    assert sum(map(Decimal, lines)) == Decimal(plan["solution"]["grocery_cost"])


def test_names_are_text_and_nothing_runs(opened: Any, hostile: Path) -> None:
    """A name of markup is read letter by letter, in the report and on the labels."""
    for file, scripts in (("report.html", 1), ("labels.html", 0)):
        page, wrong = opened(hostile / file)
        assert HOSTILE in page.locator("h1").text_content()
        assert page.locator("body").inner_text().count(HOSTILE) > 10
        assert page.locator("script").count() == scripts
        assert page.locator("[onmouseover], body b").count() == 0
        assert wrong == []


def test_it_reads_without_script(browser: Any, folder: Path) -> None:
    """With scripts forbidden every section and every box is there, and no dead button."""
    page = browser.new_page()
    session = browser.new_cdp_session(page)
    session.send("Emulation.setScriptExecutionDisabled", {"value": True})
    page.goto((folder / "report.html").as_uri())
    session.send("Emulation.setScriptExecutionDisabled", {"value": False})
    assert page.locator("main > section:visible").count() == 7
    assert page.locator(".buy input:visible").count() == page.locator(".buy input").count() > 0
    assert page.locator("button, .tally:visible").count() == 0
    page.close()


@pytest.mark.parametrize("paper", PAPER)
def test_it_prints_on_paper(opened: Any, folder: Path, paper: str) -> None:
    """The pages have the size asked for, and hold the list, the cook days and the cautions."""
    page, _ = opened(folder / "report.html")
    printed = PdfReader(io.BytesIO(page.pdf(format=paper, prefer_css_page_size=False)))
    size = tuple(float(side) for side in printed.pages[0].mediabox[2:])
    assert size == pytest.approx(PAPER[paper], abs=1)
    text = " ".join(" ".join(page.extract_text() for page in printed.pages).split())
    for words in ("Shopping list", "Oven by temperature", "Cautions", "Client 002 of the crowd"):
        assert words in text


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
    [
        LabelSheet(),
        LabelSheet(page="Letter", columns=3, rows=7, label_width_mm=60, label_height_mm=39,
                   gap_across_mm=2, gap_down_mm=0),
        LabelSheet(columns=4, rows=7, label_width_mm=50, label_height_mm=38, gap_across_mm=1,
                   gap_down_mm=1),
    ],
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


def test_a_locale_reaches_page_and_labels(opened: Any, tmp_path: Path) -> None:
    """With a German locale, money has a comma and the sheet still measures in points of CSS."""
    plan, catalog, scenario = sample_plan(), sample_catalog(), sample_scenario()
    write_plan(plan, catalog, scenario, tmp_path / "plan", Display("de_DE"))
    page, wrong = opened(tmp_path / "plan" / "report.html", 390)
    assert page.locator("[data-total=groceries]").text_content() == "15,10"
    assert (_too_wide(page), wrong) == (0, [])
    labels, wrong = opened(tmp_path / "plan" / "labels.html")
    width = labels.locator(".label").first.bounding_box()["width"]
    assert width / MM == pytest.approx(94, abs=0.1)
    assert wrong == []
