"""What all tests of pages in a browser share: sizes, and an automated checker of accessibility."""

from __future__ import annotations

import importlib
from typing import Any

# A4 and Letter in points; ISO 216 and ANSI/ASME Y14.1.
PAPER = {"A4": (595.3, 841.9), "Letter": (612.0, 792.0)}
# No published figure: 390 CSS pixels are a common phone, 1280 a common small desktop.
WIDTHS = (390, 1280)
# The width of a sheet between its margins, where the style of print is looked at.
PRINTED = 700


def too_wide(page: Any) -> int:
    """Return by how many pixels a page is wider than the screen."""
    wide: int = page.evaluate(
        "document.documentElement.scrollWidth - document.documentElement.clientWidth"
    )
    return wide


def open_folds(page: Any) -> None:
    """Show all views and folds of a page at once."""
    page.add_style_tag(content="@media screen { main > .view { display: block !important } }")
    page.evaluate("document.querySelectorAll('details').forEach(fold => fold.open = true)")


def violations(page: Any) -> list[tuple[str, list[str]]]:
    """Return what axe-core finds (WCAG 2 A and AA, best practices); contrast was looked at."""
    axe = importlib.import_module("axe_playwright_python.sync_playwright").Axe()
    response = axe.run(page).response
    assert "color-contrast" in {rule["id"] for rule in response["passes"]}
    return [(v["id"], [n["html"] for n in v["nodes"][:3]]) for v in response["violations"]]
