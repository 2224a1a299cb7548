"""The page as text: sound HTML, nothing from outside, names as text, the same bytes each time."""

from __future__ import annotations

import itertools
import re
import subprocess
import sys
from decimal import Decimal
from pathlib import Path
from typing import Any
from xml.etree import ElementTree

import html5lib
import pytest

from forms.renamed import renamed
from page.crowd import crowd_plan
from planopt.catalog.records import Catalog
from planopt.cookday.containers import containers_of
from planopt.cookday.schedule import schedule_cook_days
from planopt.plan.records import Plan
from planopt.report.page.figures import BAR, Canvas
from planopt.report.page.handout import client_html
from planopt.report.page.html import labels_html, report_html
from planopt.report.page.parts import cautions_about, plan_mark, signed, window_words
from planopt.report.words.locale import Display, showing
from planopt.scenario.records import Scenario
from report_samples import sample_catalog, sample_plan, sample_scenario

ROOT = Path(__file__).resolve().parents[2]
# What a name may hold at worst: markup, an attribute's end, a template, a formula, a turn of
# direction, a null byte, letters of another script.
NAMES = (
    "<script>alert(1)</script>",
    '" onmouseover="alert(1)',
    "=1+1",
    "{{ 7 * 7 }}{% raw %}",
    "$x^2$ zq0qz",
    "\u202ereversed\x00\u2028",
    "\u4e2d\u6587 \U0001f957",
    "</style></title></svg>",
)


def pages(plan: Plan, catalog: Catalog, scenario: Scenario) -> dict[str, str]:
    """Return the pages of a plan by name; of the clients', that of the first."""
    boxes = containers_of(plan, catalog, scenario)
    schedules = schedule_cook_days(plan, catalog, scenario)
    first = scenario.clients[0]
    return {
        "report": report_html(plan, catalog, scenario, schedules, boxes),
        "labels": labels_html(plan, catalog, scenario, boxes),
        "client": client_html(plan, catalog, scenario, first, boxes, plan_mark(plan)),
    }


@pytest.fixture(scope="module")
def sample() -> dict[str, str]:
    """Return the pages of the sample plan."""
    return pages(sample_plan(), sample_catalog(), sample_scenario())


def tree(text: str) -> Any:
    """Parse HTML strictly and return its elements without namespaces."""
    parser = html5lib.HTMLParser(strict=True, namespaceHTMLElements=False)
    return parser.parse(text)


@pytest.mark.parametrize("page", ["report", "labels", "client"])
def test_it_is_sound_html_with_ids_of_its_own(sample: dict[str, str], page: str) -> None:
    """A strict parser finds no error, no id comes twice, and every reference has its aim."""
    elements = list(tree(sample[page]).iter())
    ids = [e.get("id") for e in elements if e.get("id")]
    assert len(ids) == len(set(ids))
    aims = [e.get("for") for e in elements if e.get("for")]
    aims += [e.get("href")[1:] for e in elements if e.get("href")]
    for name in ("aria-labelledby", "aria-describedby"):
        aims += [e.get(name) for e in elements if e.get(name)]
    assert aims or page != "report"
    assert set(aims) <= set(ids)


@pytest.mark.parametrize("page", ["report", "labels", "client"])
def test_it_asks_for_nothing_outside(sample: dict[str, str], page: str) -> None:
    """No address, no import, no source; the policy forbids the rest."""
    elements = list(tree(sample[page]).iter())
    for name in ("src", "srcset", "action", "data", "poster"):
        assert [e.tag for e in elements if e.get(name)] == []
    assert [h for e in elements if (h := e.get("href", "#")) and not h.startswith("#")] == []
    # The name of the SVG format is the one address, and nobody fetches it.
    addresses = set(re.findall(r"(?:https?:)?//[\w.]+[^\s\"']*", sample[page]))
    assert addresses <= {"http://www.w3.org/2000/svg"}
    assert not re.search(r"@import|url\(", sample[page])
    (policy,) = [e.get("content") for e in elements if e.get("http-equiv")]
    assert policy.startswith("default-src 'none'; ")


@pytest.mark.parametrize("page", ["report", "labels", "client"])
def test_headings_go_down_one_step_at_a_time(sample: dict[str, str], page: str) -> None:
    """One title, and no level of heading is left out."""
    levels = [
        int(e.tag[1]) for e in tree(sample[page]).iter() if re.fullmatch("h[1-6]", str(e.tag))
    ]
    assert levels.count(1) == 1
    assert levels[0] == 1
    assert all(new <= old + 1 for old, new in itertools.pairwise(levels))


def test_every_table_says_what_its_heads_are_for(sample: dict[str, str]) -> None:
    """Each head of a table has a scope."""
    heads = list(tree(sample["report"]).iter("th"))
    assert len(heads) > 50
    assert {e.get("scope") for e in heads} == {"col", "row", "rowgroup"}


@pytest.fixture(scope="module")
def shape() -> dict[str, list[tuple[str, list[str]]]]:
    """Return elements and attributes of both pages when every name is harmless."""
    return {page: _elements(tree(text)) for page, text in pages(*renamed("plain")).items()}


def _elements(found: Any) -> list[tuple[str, list[str]]]:
    """Return elements with the names of their attributes; a name on a figure may take two lines."""
    every = [(str(e.tag), sorted(e.attrib)) for e in found.iter()]
    return [(tag, names) for tag, names in every if not tag.endswith("}text")]


@pytest.mark.parametrize("name", NAMES)
def test_a_name_is_text_wherever_it_stands(
    name: str, shape: dict[str, list[tuple[str, list[str]]]]
) -> None:
    """The elements and attributes of both pages are those of a plan with harmless names."""
    visible = re.sub(r"[\u2028]", " ", re.sub(r"[\u202e\x00]", "", name))
    for page, text in pages(*renamed(name)).items():
        found = tree(text)
        assert _elements(found) == shape[page]
        words = " ".join(" ".join(found.itertext()).split())
        assert words.count(" ".join(visible.split())) > 10
        assert not {"\x00", "\u202e"} & set(text)


def test_the_same_plan_gives_the_same_bytes(sample: dict[str, str]) -> None:
    """In another process, with another hash seed, both pages are the same to the byte."""
    code = (
        "import sys, hashlib; sys.path.insert(0, 'tests')\n"
        "from page.test_page_html import pages\n"
        "from report_samples import sample_catalog, sample_plan, sample_scenario\n"
        "found = pages(sample_plan(), sample_catalog(), sample_scenario())\n"
        "sys.stdout.buffer.write((''.join(found.values())).encode())\n"
    )
    home = Path(sys.modules["planopt"].__path__[0]).parent
    done = subprocess.run(
        [sys.executable, "-c", code], cwd=ROOT, capture_output=True, check=True,
        env={"PYTHONHASHSEED": "7", "PYTHONPATH": str(home)},
    )  # fmt: skip
    assert done.stdout.decode() == "".join(sample.values())


@pytest.mark.slow
def test_fifty_clients_stay_small() -> None:
    """Report and labels of fifty clients, seven days and four meals stay below 3 MB each."""
    found = pages(*crowd_plan(50, recipes=8))
    assert all(len(text.encode()) < 3_000_000 for text in found.values())
    assert found["report"].count('<svg xmlns="http://www.w3.org/2000/svg" class="figure"') == 54


def test_the_picture_of_the_readme_is_there_and_small() -> None:
    """README.md shows a picture that `tests/page/picture.py` has rendered, below 300 kB."""
    (name,) = re.findall(r"!\[[^\]]+\]\(([^)]+)\)", (ROOT / "README.md").read_text("utf-8"))
    picture = (ROOT / name).read_bytes()
    assert picture.startswith(b"\x89PNG\r\n")
    assert len(picture) < 300_000


def test_totals_and_days_of_the_sample(sample: dict[str, str]) -> None:
    """The list comes to 15.10, and each visit to what its lines come to."""
    found = tree(sample["report"])
    totals = {e.get("data-total"): e.text for e in found.iter("td") if e.get("data-total")}
    assert totals == {"groceries": "15.10", "shares": "15.10", "bill": "17.10"}
    visits = [e.text for e in found.iter("strong") if e.get("data-visit")]
    assert sorted(visits) == ["12.70", "2.40"]


def test_who_pays_what_adds_up_to_the_bill(sample: dict[str, str]) -> None:
    """Each client has a row, and what they pay together is groceries and visits of the plan."""
    (table,) = [
        t for t in tree(sample["report"]).iter("table")
        if "The bill" in (t.findtext("caption") or "")
    ]  # fmt: skip
    pays = [Decimal(row.findall("td")[2].text) for row in table.find("tbody").findall("tr")]
    solution = sample_plan().solution
    assert len(pays) == len(sample_scenario().clients) > 1
    assert sum(pays) == solution.grocery_cost + solution.visit_cost


def test_every_sum_of_a_client_is_part_of_one_bill(sample: dict[str, str]) -> None:
    """The amounts at a client's meals add up to the groceries of that client's bill.

    No other table has a client's money, so that nobody can take another sum for what to pay.
    """
    found = tree(sample["report"])
    (table,) = [t for t in found.iter("table") if "The bill" in (t.findtext("caption") or "")]
    owes = {
        row.findtext("th"): Decimal(row.findall("td")[0].text)
        for row in table.find("tbody").findall("tr")
    }
    weeks = [t for t in found.iter("table") if t.get("class") == "week"]
    names = [c.name for c in sample_scenario().clients]
    assert list(owes) == names
    assert len(weeks) == len(names)
    for name, week in zip(names, weeks, strict=True):
        days = [row for row in week.iter("tr") if row.get("class") == "sum"]
        meals = [row for row in week.iter("tr") if row.get("class") is None and row.findall("td")]
        assert sum(Decimal(row.findall("td")[-1].text) for row in days) == owes[name]
        assert sum(Decimal(row.findall("td")[-1].text) for row in meals) == owes[name]
    others = [
        t.findtext("caption")
        for t in found.iter("table")
        if t is not table and t not in weeks and any(th.text in names for th in t.iter("th"))
    ]
    assert not [caption for caption in others if caption and "USD" in caption]


def test_cautions_stand_where_they_matter() -> None:
    """Storage, cooling, reheating, allergens, and a low energy window beside its client."""
    plan = sample_plan()
    said = {
        "Storage: keep it cold.": ["packing"],
        "Cooling: chill it soon.": ["cooking", "packing", "short"],
        "Reheating: heat it through.": ["cooking", "short"],
        "Allergens: read labels.": ["shopping"],
        "Ana: the energy window starts low.": ["client-ana"],
    }
    plan = plan.model_copy(update={"cautions": (*said, "Something else.")})
    found = tree(pages(plan, sample_catalog(), sample_scenario())["report"])
    sections = {e.get("id"): " ".join(e.itertext()) for e in found.iter("section")}
    for words, places in said.items():
        here = {name for name, text in sections.items() if words in text}
        assert here == {"week", *places}, words
    # What is about this plan stands first of all, before anything is done.
    first = next(e for e in found.iter("section")).findtext("div/p")
    assert first in said
    assert "Something else." in sections["week"]
    assert cautions_about(plan, ["Storage"]) == ["Storage: keep it cold."]


def test_a_day_outside_its_window_is_told_in_words() -> None:
    """Should a window not be met, the figure says so in a word and not by a colour."""
    scenario = sample_scenario()
    low = scenario.clients[0].windows_per_day["energy_kcal"].model_copy(update={"min": 700})
    clients = tuple(
        c.model_copy(update={"windows_per_day": {"energy_kcal": low}}) for c in scenario.clients
    )
    text = pages(sample_plan(), sample_catalog(), scenario.model_copy(update={"clients": clients}))
    assert "548 outside" in text["report"]


def test_a_figure_is_sound_xml_and_escapes_its_words() -> None:
    """Words of a figure are text; equal figures are equal, and names are told to all readers."""

    def drawn() -> str:
        canvas = Canvas(120, 40)
        canvas.rects([(10, 5, 50, 10)], BAR)
        canvas.text(60, 30, "a<b & $c$", "right")
        return canvas.svg("one", "A & B", "Says <what>")

    root = ElementTree.fromstring(drawn())
    space = "{http://www.w3.org/2000/svg}"
    assert [e.tag.removeprefix(space) for e in root] == ["title", "desc", "path", "text"]
    assert root.find(f"{space}text").text == "a<b & $c$"
    assert root.find(f"{space}path").get("d").split() == (
        ["M", "10", "5", "L", "60", "5", "L", "60", "15", "L", "10", "15", "z"]
    )  # fmt: skip
    assert (root.find(f"{space}title").text, root.get("role")) == ("A & B", "img")
    assert drawn() == drawn()


def test_words_of_windows_and_changes() -> None:
    """Open sides have words of their own, and a change always shows its sign."""
    nan = float("nan")
    assert window_words(1, nan) == "at least 1"
    assert window_words(nan, 2.5, 1) == "at most 2.5"
    assert window_words(1, 2) == "1 to 2"
    assert window_words(nan, nan) == ""
    assert (signed(3), signed(-0.25, 1), signed(0.001, 1)) == ("+3", "\u22120.3", "no change")


def test_a_locale_changes_numbers_and_not_lengths() -> None:
    """German money has a comma; the millimetres of the style keep their point."""
    with showing(Display("de_DE")):
        found = pages(sample_plan(), sample_catalog(), sample_scenario())
    assert "15,10" in found["report"]
    assert "top:17.5mm" in found["labels"]
