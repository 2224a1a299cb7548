"""Records of single changes to a scenario, as its variants have them."""

from __future__ import annotations

from decimal import Decimal
from typing import Annotated

from pydantic import Field

from planopt import ranges
from planopt.catalog.records import Id, Record

Day = Annotated[int, ranges.DAY]


class PriceChange(Record):
    """Prices of one food, or of everything one seller sells, moved by percent or by an amount."""

    food: Id | None = None
    seller: Id | None = None
    percent: Annotated[float | None, ranges.PRICE_PERCENT] = Field(
        default=None, description="added to each price"
    )
    amount: Annotated[Decimal | None, ranges.PRICE_MOVE] = Field(
        default=None, description="money added to each pack's price"
    )


class WindowChange(Record):
    """One client's window of one nutrient, moved by an amount or to a value.

    `day` is a single day; without it every day, or with `week` the whole plan.
    """

    client: Id
    nutrient: str
    day: Day | None = None
    week: bool = False
    min: Annotated[float | None, ranges.NUTRIENT_WINDOW] = Field(
        default=None, description="new least amount"
    )
    max: Annotated[float | None, ranges.NUTRIENT_WINDOW] = Field(
        default=None, description="new most amount"
    )
    min_by: Annotated[float | None, ranges.NUTRIENT_MOVE] = Field(
        default=None, description="added to the least amount"
    )
    max_by: Annotated[float | None, ranges.NUTRIENT_MOVE] = Field(
        default=None, description="added to the most amount"
    )


class AwayChange(Record):
    """Days on which one client needs no food; no days = not in this plan at all."""

    client: Id
    days: tuple[Day, ...] = ()
    meals: tuple[Id, ...] = Field(default=(), description="skipped on those days; default: all")
