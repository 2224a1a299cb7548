"""The sheet that labels are printed on: a grid of equal labels on a page, in millimetres.

Page sizes: A4 is ISO 216, Letter is ANSI/ASME Y14.1 A (8 1/2 by 11 inches).
"""

from __future__ import annotations

from collections.abc import Iterator
from decimal import Decimal
from typing import Annotated, Literal

from pydantic import Field

from planopt import ranges
from planopt.catalog.records import Record

PAGES: dict[str, tuple[Decimal, Decimal]] = {
    "A4": (Decimal(210), Decimal(297)),
    "Letter": (Decimal("215.9"), Decimal("279.4")),
}


class PageSize(Record):
    """A page of any other size."""

    width_mm: Annotated[Decimal, ranges.PAGE_MM]
    height_mm: Annotated[Decimal, ranges.PAGE_MM]


class LabelSheet(Record):
    """A grid of labels; what is left out is the plain grid that fits both A4 and Letter."""

    page: Literal["A4", "Letter"] | PageSize = "A4"
    columns: Annotated[int, ranges.LABEL_COLUMNS] = 2
    rows: Annotated[int, ranges.LABEL_ROWS] = 5
    label_width_mm: Annotated[Decimal, ranges.LABEL_WIDTH_MM] = Decimal(94)
    label_height_mm: Annotated[Decimal, ranges.LABEL_HEIGHT_MM] = Decimal(50)
    left_mm: Annotated[Decimal | None, ranges.MARGIN_MM] = Field(
        default=None, description="default: centred"
    )
    top_mm: Annotated[Decimal | None, ranges.MARGIN_MM] = Field(
        default=None, description="default: centred"
    )
    gap_across_mm: Annotated[Decimal, ranges.MARGIN_MM] = Decimal(4)
    gap_down_mm: Annotated[Decimal, ranges.MARGIN_MM] = Decimal(3)
    skip: Annotated[int, ranges.LABELS_SKIPPED] = Field(
        default=0, description="labels already used up on the first sheet"
    )
    order: Literal["dish", "client"] = Field(
        default="dish", description="dish = as the dishes of a day are packed; client = by client"
    )

    def page_mm(self) -> tuple[Decimal, Decimal]:
        """Return width and height of the page."""
        if isinstance(self.page, PageSize):
            return self.page.width_mm, self.page.height_mm
        return PAGES[self.page]

    def grid_mm(self) -> tuple[Decimal, Decimal]:
        """Return width and height of the grid, gaps included, margins not."""
        return (
            self.columns * self.label_width_mm + (self.columns - 1) * self.gap_across_mm,
            self.rows * self.label_height_mm + (self.rows - 1) * self.gap_down_mm,
        )

    def corner_mm(self) -> tuple[Decimal, Decimal]:
        """Return how far the grid's corner is from the left and the top of the page."""
        (page_width, page_height), (width, height) = self.page_mm(), self.grid_mm()
        return (
            (page_width - width) / 2 if self.left_mm is None else self.left_mm,
            (page_height - height) / 2 if self.top_mm is None else self.top_mm,
        )

    def per_sheet(self) -> int:
        """Return the labels of one sheet."""
        return self.columns * self.rows

    def misfits(self) -> Iterator[tuple[str, Decimal | int, str, str]]:
        """Yield field, value, why and how to mend it for all that does not fit page or sheet."""
        (page_width, page_height), (width, height) = self.page_mm(), self.grid_mm()
        across = (self.left_mm or Decimal(0)) + width
        down = (self.top_mm or Decimal(0)) + height
        mend = "use fewer or smaller labels, or smaller gaps and margins"
        if across > page_width:
            why = f"the labels and gaps need {across} mm across, the page is {page_width} mm wide"
            yield "columns", self.columns, why, mend
        if down > page_height:
            why = f"the labels and gaps need {down} mm down, the page is {page_height} mm high"
            yield "rows", self.rows, why, mend
        if self.skip >= self.per_sheet():
            why = f"a sheet has only {self.per_sheet()} labels"
            yield "skip", self.skip, why, "skip fewer labels"
