"""What-if findings as text, tables, pictures and files."""

from __future__ import annotations

import csv
import io
import json
import re
from dataclasses import replace
from decimal import Decimal
from pathlib import Path
from xml.etree import ElementTree

import pytest

from planopt.faults import BadInput
from planopt.report.page import figures
from planopt.report.words.columns import screen_width
from planopt.whatif.chart import scale
from planopt.whatif.curves import Missed, ShortPoint
from planopt.whatif.files import TABLES, findings_files, write_findings
from planopt.whatif.ladder import Rung
from planopt.whatif.pictures import pictures
from planopt.whatif.text import findings_text
from whatif.samples import sample_findings

# The costly sample is made once for all tests of this module, in one process.
pytestmark = pytest.mark.xdist_group("findings")

SVG = "{http://www.w3.org/2000/svg}"


def test_text_fits_the_screen_and_names_every_variant() -> None:
    """No line is wider than 80 columns; the table has the base and each variant once."""
    found = sample_findings()
    text = findings_text(found)
    assert max(screen_width(line) for line in text.splitlines()) <= 80
    table = text.split("\n\n")[1].splitlines()
    assert table[0].split() == [
        "Change", "All", "USD", "Diff.", "Sure", "Waste", "Dishes", "Plates", "Windows",
    ]  # fmt: skip
    assert table[1].startswith("as it is")
    assert [line[:5] for line in table[2:5]] == ["ana p", "price", "ana p"]


def test_names_are_whole_however_long_they_are() -> None:
    """A long change goes on in its own column, and nothing in the table is cut."""
    found = sample_findings()
    name = (
        "price of lentils_red_dry +30%; ana away on days 2, 3; without recipe red_lentil_dal_rice"
    )
    first = replace(
        found.variants[0], variant=found.variants[0].variant.model_copy(update={"name": name})
    )
    text = findings_text(replace(found, variants=(first,)))
    assert max(screen_width(line) for line in text.splitlines()) <= 80
    assert "\u2026" not in text
    rows = text.split("\n\n")[1].splitlines()[2:]
    column = " ".join(" ".join(row[:26].split()) for row in rows[: len(name) // 20 + 1])
    assert column.startswith(name)


def test_the_parts_of_a_difference_add_up_to_it() -> None:
    """The difference is the sum of its parts; packs bought more and less make the groceries."""
    found = sample_findings()
    sums = []
    for result in found.variants[:2]:
        text = " ".join(findings_text(replace(found, variants=(result,))).split())
        c = result.comparison
        assert c is not None
        if c.difference:
            parts = re.search(r"Of that: (.*?)\. ", text)
            assert parts is not None
            sums.append(sum(map(Decimal, re.findall(r"[+-]\d+\.\d\d", parts[1]))))
            assert sums[-1] == c.difference
        packs = re.findall(
            r"(?:Buy more,|Buy less,|other prices:|single lines:) ([+-][\d.]+)", text
        )
        groceries = c.variant.grocery_cost - c.base.grocery_cost
        assert sum(map(Decimal, packs)) == groceries
    assert sums, "one of the two differs"


def test_text_tells_what_is_certain_and_why_there_is_no_week() -> None:
    """A proven difference is called so; the variant without a week has its clash beneath it."""
    text = findings_text(sample_findings())
    assert "certainly dearer: the true difference is" in text
    assert re.search(r"min 400: no .*\nweek complies$", text, re.MULTILINE)
    assert "Ana: Protein at least 400 g a day" in text
    assert "local estimates" in text
    assert "Plans never looked at may be" in " ".join(text.split())


def test_a_difference_that_cannot_be_true_tells_why_it_was_found() -> None:
    """A tighter week that costs less than the base plan shows that base is not cheapest."""
    found = sample_findings()
    first = found.variants[0]
    assert first.comparison is not None
    for difference, why in (
        (-1, "the base plan is not the cheapest"),
        (9, "no cheaper week of it"),
    ):
        odd = replace(
            first.comparison, difference=Decimal(difference), least=Decimal(0), most=Decimal(5)
        )
        text = findings_text(replace(found, variants=(replace(first, comparison=odd),)))
        flat = " ".join(text.split())
        assert f"but only because {why}" in flat
        assert "the true difference lies between 0.00 and +5.00." in flat


def test_a_difference_within_the_gaps_is_called_not_certain() -> None:
    """With a base whose bound is far below, the same difference is told as not certain."""
    found = sample_findings()
    first = found.variants[0]
    assert first.comparison is not None
    unsure = replace(first.comparison, verdict="not certain", least=first.comparison.least - 10)
    text = findings_text(replace(found, variants=(replace(first, comparison=unsure),)))
    assert "not certain, as it is within the gaps" in " ".join(text.split())


def test_json_is_plain_and_has_the_figures_of_the_findings() -> None:
    """Money is text, and what has no plan has none."""
    found = sample_findings()
    data = json.loads(findings_files(found)["whatif.json"])
    assert data["format_version"] == 1
    assert data["base"]["objective"] == str(found.base.solution.objective)
    assert [row["note"] for row in data["variants"]] == ["", "", "no week complies"]
    assert data["variants"][2]["solution"] is None
    assert data["variants"][2]["explanation"]["conflict"]
    assert len(data["window_curves"][0]["points"]) == len(found.windows[0].points)
    assert data["robustness"]["samples"] == 200


def test_tables_have_a_row_for_each_fact() -> None:
    """Every CSV table parses, has unit-bearing headers, and as many rows as there are facts."""
    found = sample_findings()
    texts = findings_files(found)
    rows = {name: list(csv.DictReader(io.StringIO(texts[name]))) for name in TABLES}
    assert [row["variant"] for row in rows["variants.csv"]] == [
        "base", "ana protein_g min +40", "price of egg +30%", "ana protein_g min 400",
    ]  # fmt: skip
    assert found.budget is not None
    assert found.robust is not None
    assert found.prices is not None
    assert len(rows["window_curves.csv"]) == len(found.windows[0].points)
    assert len(rows["price_samples.csv"]) == found.robust.samples
    assert len(rows["shadow_prices.csv"]) == len(found.prices)
    budgets = {row["budget"] for row in rows["budget_curve.csv"]}
    assert len(budgets) == len(found.budget.points) + len(found.budget.short)


def _words(text: str) -> list[str]:
    return [element.text or "" for element in ElementTree.fromstring(text).iter(f"{SVG}text")]


def _curve(points: list[Rung], name: str = "Ana") -> dict[str, str]:
    """Draw the window's curve of the sample with other points."""
    found = sample_findings()
    curve = replace(found.windows[0], points=tuple(points), client_name=name, now=60.0)
    return pictures(replace(found, windows=(curve,)))


def _rung(value: float, cost: str, bound: str) -> Rung:
    return Rung(value, "complies", sample_findings().base, Decimal(cost), Decimal(bound))


def test_pictures_say_in_words_what_they_show() -> None:
    """Titles have names and no ids, axes their units, and the type and colours are the report's."""
    drawn = pictures(sample_findings())
    assert set(drawn) == {"budget_curve.svg", "window_ana_protein_g_min.svg", "price_samples.svg"}
    window = _words(drawn["window_ana_protein_g_min.svg"])
    assert window[0] == "What a week costs by the least protein a day for Ana"
    assert "At least so much protein, g a day" in window
    assert "Cost of the week, USD" in window
    assert "Budget for groceries, USD" in _words(drawn["budget_curve.svg"])
    own = {figures.INK, figures.QUIET, figures.BAR, figures.BAND, figures.PALE, figures.GRID,
           figures.SOFT, "#ffffff", "#000000"}  # fmt: skip
    for name, text in drawn.items():
        assert not [words for words in _words(text) if "_" in words], name
        colours = {found.lower() for found in re.findall(r"#[0-9a-fA-F]{6}\b", text)}
        assert colours <= own, name
        assert ElementTree.fromstring(text).get("font-family") == figures.TYPE, name


def test_a_picture_tells_its_figures_to_those_who_do_not_see_it() -> None:
    """Title and description are there, and the description holds every cost of the curve."""
    text = _curve([_rung(42, "40.00", "38.62"), _rung(60, "53.10", "38.62")])
    root = ElementTree.fromstring(text["window_ana_protein_g_min.svg"])
    assert root.get("role") == "img"
    described = root.findtext(f"{SVG}desc") or ""
    assert "at 42 g a day: 40.00, and no week below 38.62" in described
    assert "at 60 g a day: 53.10" in described
    assert root.findtext(f"{SVG}title") == "What a week costs by the least protein a day for Ana"


def test_fifteen_cents_are_no_cliff() -> None:
    """Costs begin at zero, so 15 cents of 40 are a pixel; a scale that begins elsewhere says so."""
    points = [_rung(42, "40.00", "38.62"), _rung(60, "40.15", "38.62")]
    text = _curve(points)["window_ana_protein_g_min.svg"]
    assert "0" in _words(text)
    line = re.search(rf'<path d="M ([\d. ML-]+)"[^>]*stroke: {figures.BAR}', text)
    assert line is not None
    (x0, y0), (x1, y1) = (map(float, point.split()) for point in line[1].split("L"))
    assert abs(y1 - y0) < 2 < x1 - x0
    assert "The scale across begins at 40 g, not at zero." in _words(text)
    assert scale([40.0, 40.15], zero=True).low == 0


def test_what_is_proven_is_shaded_and_named_in_the_key() -> None:
    """Ground on which no week lies, and the room above it, are filled in colours of their own."""
    points = [_rung(42, "40.00", "30.00"), _rung(60, "41.00", "30.00")]
    closed = Rung(70.0, "no week", None, None, Decimal(0))
    text = _curve([*points, closed])["window_ana_protein_g_min.svg"]
    for fill, words in (
        (figures.BAND, "no week costs so little (proven)"),
        (figures.SOFT, "a cheaper week may lie here"),
        (figures.PALE, "no week complies"),
    ):
        assert text.count(f"fill: {fill}") == 2, "in the key and in the picture"
        assert words in _words(text)


def test_what_must_be_missed_has_a_panel_of_its_own() -> None:
    """Below the least budget that complies, misses are drawn from zero, and are told in words."""
    found = sample_findings()
    assert found.budget is not None
    short = tuple(
        ShortPoint(Decimal(budget), (Missed(("protein_g",), share, share / 2, (3.0,)),), False)
        for budget, share in ((8, 0.5), (10, 0.25))
    )
    text = pictures(replace(found, budget=replace(found.budget, short=short)))["budget_curve.svg"]
    assert "Windows missed, % of a limit, all days together" in _words(text)
    assert {"50", "25"} <= set(_words(text))
    described = ElementTree.fromstring(text).findtext(f"{SVG}desc") or ""
    assert "8 misses 50 %; 10 misses 25 % of a limit." in described


def test_a_name_is_text_in_a_picture_and_never_runs_out_of_it() -> None:
    """Markup and formulas in a name are words, and a long name goes on in a second line."""
    name = "<b>Ana</b> $x_1$ of the house with the very long name on the hill above the old town"
    text = _curve([_rung(42, "40.00", "38.62")], name)["window_ana_protein_g_min.svg"]
    title = " ".join(_words(text)[:3])
    assert name in title
    assert max(len(words) for words in _words(text)[:2]) <= 66


def test_pictures_are_the_same_for_the_same_findings() -> None:
    """No date, no random id: two drawings are equal to the letter."""
    assert pictures(sample_findings()) == pictures(sample_findings())


def test_files_are_written_whole_and_replace_an_earlier_folder(tmp_path: Path) -> None:
    """A second writing keeps the user's own file; plans lie in folders of their own."""
    found = sample_findings()
    folder = tmp_path / "found"
    files = write_findings(found, folder)
    assert all(path.is_file() for path in files)
    assert (folder / "plans" / "01_ana_protein_g_min_40" / "report.md").is_file()
    (folder / "notes.txt").write_text("mine", encoding="utf-8")
    write_findings(replace(found, variants=()), folder)
    assert (folder / "notes.txt").read_text(encoding="utf-8") == "mine"
    assert not (folder / "plans").exists()
    assert not (folder / "shopping_changes.csv").exists()


def test_a_folder_with_something_else_is_refused(tmp_path: Path) -> None:
    """Nothing of somebody else's folder is touched."""
    (tmp_path / "taken").mkdir()
    (tmp_path / "taken" / "photo.jpg").write_text("x", encoding="utf-8")
    with pytest.raises(BadInput) as caught:
        write_findings(sample_findings(), tmp_path / "taken")
    assert caught.value.faults[0].code == "out_dir_taken"
    assert [path.name for path in (tmp_path / "taken").iterdir()] == ["photo.jpg"]
