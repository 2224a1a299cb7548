"""Printable pages as PDF by WeasyPrint, where it is installed: the extra `pdf`.

WeasyPrint draws with the Pango library of the operating system, so it is no dependency of planopt:
a plan never fails for want of it. Pages load nothing: what they show is in them.
"""

from __future__ import annotations

import importlib
import logging
from pathlib import Path
from types import ModuleType
from typing import Any, Literal, get_args

from planopt.faults import BadInput
from planopt.folders import write_file

Paper = Literal["a4", "letter"]
PAPERS: tuple[str, ...] = get_args(Paper)
# The pages that are printed, and what they become.
REPORT_HTML, LABELS_HTML = "report.html", "labels.html"
REPORT_PDF, LABELS_PDF, SHORT_PDF = "report.pdf", "labels.pdf", "short.pdf"
PDF_FILES = (REPORT_PDF, LABELS_PDF, SHORT_PDF)
# What the style of the report knows the short form by.
_WHOLE, _SHORT = '<html lang="en"', '<html lang="en" data-print="short"'

CLIENTS_FOLDER = "clients"

_PAGE = "@page {{ size: {paper} !important }}"


class PdfUnavailable(Exception):
    """No PDF can be made here; the text says why and how to mend it. The plan is not at fault."""


def _weasyprint() -> ModuleType:
    try:
        found = importlib.import_module("weasyprint")
        importlib.import_module("weasyprint.urls")
    except ImportError as error:
        raise PdfUnavailable(
            "no PDF: WeasyPrint is not installed; install it with `pip install 'planopt[pdf]'`"
        ) from error
    except OSError as error:
        # The library is there and cannot load Pango.
        raise PdfUnavailable(
            f"no PDF: WeasyPrint cannot load a library of the system ({_first_line(error)}); "
            "install Pango, on Debian with `apt-get install libpango-1.0-0 libpangoft2-1.0-0`"
        ) from error
    return found


def _first_line(error: BaseException) -> str:
    return (str(error).splitlines() or [type(error).__name__])[0]


def pdf_fault() -> str | None:
    """Return why no PDF can be made here and how to mend it, or None if it can."""
    try:
        _weasyprint()
    except PdfUnavailable as error:
        return str(error)
    return None


def pdf_bytes(html: str, paper: Paper | None = None) -> bytes:
    """Return a page as PDF; equal pages give equal bytes.

    `paper` overrides the page size of the page's own style; None keeps it, to the millimetre.

    Raises:
        PdfUnavailable: WeasyPrint or a library below it is missing, or cannot draw this page.
    """
    library: Any = _weasyprint()
    # Print styles name what only browsers do; that is no news for whoever prints.
    logging.getLogger("weasyprint").setLevel(logging.CRITICAL)
    try:
        fetcher = library.urls.URLFetcher(allowed_protocols=("data",))
        styles = [library.CSS(string=_PAGE.format(paper=paper))] if paper is not None else []
        page = library.HTML(string=html, url_fetcher=fetcher, media_type="print")
        drawn: bytes = page.write_pdf(stylesheets=styles, pdf_identifier=b"planopt")
    except Exception as error:
        # A fault of a drawing library must not cost the coach a plan that is already found.
        raise PdfUnavailable(
            f"no PDF: WeasyPrint cannot draw the page ({_first_line(error)}); print the HTML file "
            "from a browser instead"
        ) from error
    return drawn


def add_pdfs(folder: Path, paper: Paper) -> list[Path]:
    """Print the HTML pages of a written plan to PDF files beside them, and return their paths.

    The report, its short form of three pages and the pages of clients are on `paper`; labels keep
    the sheet they are laid out for.

    Raises:
        PdfUnavailable: no PDF can be made here, or the system refuses to write; each file is then
            there whole or not at all.
    """

    def printed(html: Path, target: Path, size: Paper | None, short: bool = False) -> Path:
        try:
            text = html.read_text(encoding="utf-8")
            text = text.replace(_WHOLE, _SHORT, 1) if short else text
            write_file(target, pdf_bytes(text, size))
        except OSError as error:
            why = f"no {target.name}: {html.name}: {error.strerror or error}"
            raise PdfUnavailable(why) from error
        except BadInput as error:
            raise PdfUnavailable(f"no {target.name}: {error.faults[0].why}") from error
        return target

    made = [
        printed(folder / REPORT_HTML, folder / REPORT_PDF, paper),
        printed(folder / LABELS_HTML, folder / LABELS_PDF, None),
        printed(folder / REPORT_HTML, folder / SHORT_PDF, paper, short=True),
    ]
    pages = sorted((folder / CLIENTS_FOLDER).glob("*.html"))
    return made + [printed(page, page.with_suffix(".pdf"), paper) for page in pages]
