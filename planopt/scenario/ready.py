"""Records of portions that are cooked already: boxes in the fridge or freezer of earlier weeks."""

from __future__ import annotations

from datetime import date
from decimal import Decimal
from typing import Annotated, Literal

from pydantic import Field

from planopt import ranges
from planopt.catalog.records import Id, Record


class ReadyPortions(Record):
    """Portions of one dish of one earlier cook day, as their labels say.

    They are eaten up to `use_by`, and never later than the catalog lets the dish be kept.
    """

    recipe: Id
    version: str = Field(default="base", description="default: as the recipe says")
    servings: Annotated[float | None, ranges.SERVINGS_READY] = Field(
        default=None, description="servings in all the boxes together"
    )
    grams: Annotated[float | None, ranges.GRAMS_READY] = Field(
        default=None, description="in place of servings: grams as labels tell them"
    )
    cooked_on: date
    use_by: date
    kept: Literal["fridge", "freezer"] = "freezer"
    clients: tuple[Id, ...] = Field(
        default=(), description="who may have them; default: all who may eat the dish"
    )
    price: Annotated[Decimal, ranges.READY_PRICE] = Field(
        default=Decimal(0), description="money a serving, in the choice of the week only"
    )
