"""report.pdf and labels.pdf read by another library; and plans that stand without them.

Page sizes: A4 is 210 x 297 mm (ISO 216), Letter 8 1/2 x 11 inches (ANSI/ASME Y14.1). A PDF point is
1/72 inch.
"""

from __future__ import annotations

import io
import os
import sys
from pathlib import Path
from types import ModuleType
from typing import Any

import pypdf
import pytest

from planopt.cookday.containers import containers_of
from planopt.report.analysis.labels import labels_of
from planopt.report.files import pdf
from planopt.report.files.folder import OWNED_FILES, PLAN_FILES, plan_contents, write_plan
from planopt.report.files.pdf import PdfUnavailable, add_pdfs, pdf_bytes, pdf_fault
from report_samples import sample_catalog, sample_plan, sample_scenario

A4, LETTER = (210.0, 297.0), (215.9, 279.4)
_WHY_NOT = pdf_fault()
if os.environ.get("PLANOPT_REQUIRE_PDF") == "1" and _WHY_NOT is not None:
    pytest.fail(f"PLANOPT_REQUIRE_PDF is set: {_WHY_NOT}", pytrace=False)
needs_pdf = pytest.mark.skipif(_WHY_NOT is not None, reason=_WHY_NOT or "")


def _parts() -> tuple[Any, Any, Any]:
    return sample_plan(), sample_catalog(), sample_scenario()


@pytest.fixture(scope="module")
def folder(tmp_path_factory: pytest.TempPathFactory) -> Path:
    """A written plan with its pages printed, the report on Letter."""
    out = tmp_path_factory.mktemp("plans") / "week"
    write_plan(*_parts(), out)
    made = [path.relative_to(out).as_posix() for path in add_pdfs(out, "letter")]
    assert made == [
        "report.pdf", "labels.pdf", "short.pdf", "clients/ana.pdf", "clients/ben.pdf"
    ]  # fmt: skip
    return out


def _mm(points: Any) -> float:
    return round(float(points) / 72 * 25.4, 1)


def _sizes_mm(reader: pypdf.PdfReader) -> set[tuple[float, float]]:
    boxes = (page.mediabox for page in reader.pages)
    return {(_mm(box.width), _mm(box.height)) for box in boxes}


@needs_pdf
def test_the_report_prints_on_letter_and_says_what_the_page_says(folder: Path) -> None:
    """Both files are made; the report has its sections on pages of the paper asked for."""
    report = pypdf.PdfReader(folder / "report.pdf")
    assert _sizes_mm(report) == {LETTER}
    assert 3 <= len(report.pages) <= 12
    text = " ".join(" ".join(page.extract_text() for page in report.pages).split())
    for words in (
        "Plan for Two days of fish",
        "Fish and potato bake",
        "Haddock fillet",
        "15.10",
        "Check every label for allergens.",
    ):
        assert words in text
    assert report.metadata is not None
    assert report.metadata.title == "Plan for Two days of fish"
    assert {path.name for path in folder.iterdir()} == OWNED_FILES


@needs_pdf
def test_the_short_form_has_three_pages_and_a_client_page_nobody_else(folder: Path) -> None:
    """To shop, to cook and pack, who eats what; and what is handed to Ana does not name Ben."""
    short = pypdf.PdfReader(folder / "short.pdf")
    assert _sizes_mm(short) == {LETTER}
    first, second, third = (" ".join(page.extract_text().split()) for page in short.pages)
    assert "Haddock fillet" in first
    assert "11 boxes" not in first
    assert "Fish and potato bake" in second
    assert "Ana" in third
    assert "Ben" in third
    ana = " ".join(p.extract_text() for p in pypdf.PdfReader(folder / "clients/ana.pdf").pages)
    assert "Plain mash" in ana
    assert "Ben" not in ana


@needs_pdf
def test_labels_lie_on_their_sheet_to_the_millimetre(folder: Path) -> None:
    """Each dish name begins at the inset of its own label, to a hundredth of a millimetre."""
    plan, catalog, scenario = _parts()
    labels = labels_of(containers_of(plan, catalog, scenario), catalog, scenario.label_sheet)
    reader = pypdf.PdfReader(folder / "labels.pdf")
    assert _sizes_mm(reader) == {A4}
    assert len(reader.pages) == max(label.page for label in labels)
    found: list[tuple[int, float, float]] = []

    for number, page in enumerate(reader.pages, start=1):

        def at(words: str, cm: Any, tm: Any, font: Any, size: Any, number: int = number) -> None:
            if words.strip().startswith(("Fish and potato", "Plain mash")):
                x = cm[0] * tm[4] + cm[2] * tm[5] + cm[4]
                y = cm[1] * tm[4] + cm[3] * tm[5] + cm[5]
                found.append((number, x / 72 * 25.4, A4[1] - y / 72 * 25.4))

        page.extract_text(visitor_text=at)
    assert len(found) == len(labels)
    offsets = set()
    for label, (page, x, y) in zip(labels, found, strict=True):
        assert page == label.page
        offsets.add((round(x - float(label.left_mm), 2), round(y - float(label.top_mm), 2)))
    # The insets of usual, tight and dense labels; all labels of one size are set alike.
    assert {across for across, _ in offsets} <= {3.0, 2.5, 1.5}
    assert len(offsets) == len({across for across, _ in offsets})
    assert all(0 < down < 10 for _, down in offsets)


@needs_pdf
def test_the_paper_asked_for_wins_over_that_of_the_page() -> None:
    """Without paper the style of the page holds, with it every page has that size."""
    page = "<html><style>@page { size: 100mm 50mm }</style><body>small</body></html>"
    sizes = [_sizes_mm(pypdf.PdfReader(io.BytesIO(pdf_bytes(page, p)))) for p in (None, "a4")]
    assert sizes == [{(100.0, 50.0)}, {A4}]


@needs_pdf
def test_equal_pages_give_equal_bytes_and_nothing_is_loaded(tmp_path: Path) -> None:
    """No clock is in the file; a picture on the disk or the network is not looked at."""
    (tmp_path / "own.svg").write_text(
        '<svg xmlns="http://www.w3.org/2000/svg"><text y="20">secret</text></svg>', encoding="utf-8"
    )
    page = f"<body>a <img src='{(tmp_path / 'own.svg').as_uri()}'><img src='http://[::1]/x.png'> b"
    drawn = pdf_bytes(page)
    assert drawn == pdf_bytes(page)
    text = pypdf.PdfReader(io.BytesIO(drawn)).pages[0].extract_text()
    assert text.split() == ["a", "b"]


def test_without_the_library_the_reason_and_the_mend_are_told(
    monkeypatch: pytest.MonkeyPatch,
) -> None:
    """A missing package is named with the command that brings it."""
    monkeypatch.setitem(sys.modules, "weasyprint", None)
    assert pdf_fault() == (
        "no PDF: WeasyPrint is not installed; install it with `pip install 'planopt[pdf]'`"
    )
    with pytest.raises(PdfUnavailable):
        pdf_bytes("<p>x")


def test_without_pango_the_system_package_is_told(monkeypatch: pytest.MonkeyPatch) -> None:
    """A library of the system that cannot be loaded is named, with what to install."""

    def failing(name: str) -> ModuleType:
        raise OSError("cannot load library 'libpango-1.0-0'\nsecond line")

    monkeypatch.setattr(pdf.importlib, "import_module", failing)
    why = pdf_fault() or ""
    assert "cannot load library 'libpango-1.0-0'" in why
    assert "apt-get install libpango-1.0-0" in why
    assert "\n" not in why


class _Broken:
    """Stands in for a drawing library that fails."""

    def __getattr__(self, name: str) -> None:
        raise AssertionError("a box without a box")


def test_a_fault_of_the_drawing_is_no_fault_of_the_plan(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    """Whatever the library raises becomes a reason, and no half file is left."""
    for name in ("report.html", "labels.html"):
        (tmp_path / name).write_text("<p>x", encoding="utf-8")
    monkeypatch.setattr(pdf, "_weasyprint", _Broken)
    with pytest.raises(PdfUnavailable, match=r"cannot draw the page \(a box without a box\)"):
        add_pdfs(tmp_path, "a4")
    assert {path.name for path in tmp_path.iterdir()} == {"report.html", "labels.html"}


def test_a_page_that_is_gone_is_told(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    """A folder without pages gives a reason, not a traceback."""
    monkeypatch.setattr(pdf, "_weasyprint", _Broken)
    with pytest.raises(PdfUnavailable, match=r"no report\.pdf: report\.html: No such file"):
        add_pdfs(tmp_path, "a4")


def test_a_full_disk_leaves_no_half_pdf(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    """When the system refuses to write, the reason is told and nothing stays behind."""
    (tmp_path / "report.html").write_text("<p>x", encoding="utf-8")

    def full(source: Path, target: Path) -> None:
        raise OSError(28, "No space left on device")

    monkeypatch.setattr(pdf, "pdf_bytes", lambda html, paper: b"%PDF")
    monkeypatch.setattr("os.replace", full)
    with pytest.raises(PdfUnavailable, match=r"no report\.pdf: .*No space left on device"):
        add_pdfs(tmp_path, "a4")
    assert {path.name for path in tmp_path.iterdir()} == {"report.html"}


def test_a_plan_written_anew_drops_pdf_files_of_the_old_one(tmp_path: Path) -> None:
    """Pages printed from an earlier plan would tell a cook the wrong thing."""
    out = tmp_path / "week"
    write_plan(*_parts(), out)
    (out / "report.pdf").write_bytes(b"old")
    (out / "notes.pdf").write_bytes(b"mine")
    write_plan(*_parts(), out)
    assert {path.name for path in out.iterdir()} == PLAN_FILES | {"notes.pdf"}


def test_every_file_of_a_plan_is_made() -> None:
    """What is promised in the folder is what is written, in one piece."""
    contents = plan_contents(*_parts())
    assert {Path(name).parts[0] for name in contents} == PLAN_FILES
    assert all(contents.values())
