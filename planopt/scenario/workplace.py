"""Records of the kitchen as a place of work: what it has, and what its work is priced at."""

from __future__ import annotations

from decimal import Decimal
from typing import Annotated

from pydantic import Field

from planopt import ranges
from planopt.catalog.records import Record


class Appliances(Record):
    """What the kitchen cooks with, the same on every cook day; for the timetable."""

    ovens: Annotated[int, ranges.OVENS] = 1
    oven_batches: Annotated[float, ranges.OVEN_BATCHES] = Field(
        default=2, description="most batches in one oven at once"
    )
    oven_change_minutes: Annotated[int, ranges.OVEN_CHANGE_MINUTES] = Field(
        default=10, description="minutes for an oven to reach a temperature"
    )
    hob_rings: Annotated[int, ranges.HOB_RINGS] = 4
    # Common practice, no source.
    clean_down_minutes: Annotated[int, ranges.CLEAN_DOWN_MINUTES] = Field(
        default=5, description="hands-on minutes to clean work surface and tools"
    )


class WorkPrices(Record):
    """What the cook's work is worth; it counts in the choice of the week, not in the bill."""

    cook_hour: Annotated[Decimal, ranges.COOK_HOUR] = Field(
        default=Decimal(0), description="money for an hour of hands-on time, washing-up included"
    )
    washing_up_minutes: Annotated[float, ranges.WASHING_UP_MINUTES] = Field(
        default=0, description="minutes of washing-up for each dish cooked on a cook day"
    )
    box: Annotated[Decimal, ranges.BOX_PRICE] = Field(
        default=Decimal(0), description="money for each box that a portion is packed in"
    )
