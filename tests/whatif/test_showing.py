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
from planopt.report.words.columns import screen_width
from planopt.whatif.files import TABLES, findings_files, write_findings
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


def test_text_tells_what_is_certain_and_why_there_is_no_week() -> None:
    """A proven difference is called so; the variant without a week has its clash beneath it."""
    text = findings_text(sample_findings())
    assert "certainly dearer: the true difference is" in text
    assert "no week complies" in text
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


def test_pictures_have_units_on_their_axes_and_only_greys() -> None:
    """Each picture is well-formed SVG, names what its axes count, and is read without colours."""
    drawn = pictures(sample_findings())
    assert set(drawn) == {"budget_curve.svg", "window_ana_protein_g_min.svg", "price_samples.svg"}
    for name, text in drawn.items():
        root = ElementTree.fromstring(text)
        assert root.tag == f"{SVG}svg"
        words = [element.text for element in root.iter(f"{SVG}text")]
        assert any("USD" in (word or "") for word in words), name
        for colour in re.findall(r"#([0-9a-fA-F]{6})", text):
            assert colour[:2] == colour[2:4] == colour[4:], f"{name}: {colour}"
    assert "g a day" in drawn["window_ana_protein_g_min.svg"]
    assert "Budget for groceries (USD)" in drawn["budget_curve.svg"]


def test_the_room_between_plan_and_limit_is_shaded() -> None:
    """The curve has a filled area under the plan's line, named in the legend."""
    text = pictures(sample_findings())["window_ana_protein_g_min.svg"]
    assert "FillBetweenPolyCollection" in text or "PolyCollection" in text
    assert "proven room between" in text
    assert "no week costs less" in text


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
