"""Clients and cook days as plain numbers: what the problem keeps of them."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass, field
from datetime import date
from decimal import Decimal
from typing import Literal

from planopt.scenario.records import Client, CookDay


@dataclass(frozen=True)
class PortionRange:
    """Portions in servings: from the smallest to the largest by steps, or any amount."""

    step: float | Literal["any"]
    smallest: float
    largest: float


@dataclass(frozen=True)
class Eater:
    """One client: portions, what is never eaten, and the rules that count recipes.

    `tastes` has the price of a portion of what is rated, "" of what is not; of favourites it is 0.
    `had` are the recipes of earlier weeks with the day number on which each was eaten last.
    """

    client_id: str
    portions: PortionRange
    allergens: tuple[str, ...]
    excluded_foods: tuple[str, ...]
    most_repeats: int | None
    least_different_recipes: int
    most_different_recipes: int | None = None
    had: Mapping[str, int] = field(default_factory=dict)
    tastes: Mapping[str, float] = field(default_factory=dict)

    def taste(self, recipe_id: str) -> float:
        """Return what a portion of a recipe counts for being no favourite."""
        return self.tastes.get(recipe_id, self.tastes.get("", 0.0))


@dataclass(frozen=True)
class CookTime:
    """One cook day and its limits; None where there is none."""

    day: int
    hands_on_minutes: float | None
    oven_minutes: float | None
    hob_minutes: float | None
    most_recipes: int | None


def eater_of(client: Client, start: date | None = None) -> Eater:
    """Return a client as plain numbers; what they had before the plan where its start is given."""
    sizes = client.portions
    had = {} if start is None else {
        recipe: (on - start).days + 1 for recipe, on in sorted(client.eaten_before.items())
    }  # fmt: skip
    return Eater(
        client.client_id,
        PortionRange(sizes.step, sizes.smallest, sizes.largest),
        client.allergens,
        client.excluded_foods,
        client.most_repeats,
        client.least_different_recipes,
        client.most_different_recipes,
        had,
        tastes_of(client),
    )


def tastes_of(client: Client) -> dict[str, float]:
    """Return what a portion counts for being no favourite: by recipe, "" for those not rated.

    It is by how much its rating is below the best one, where no rating counts as 0. So it is never
    negative, and a bound on a week's cost stays above nothing.
    """
    if not any(client.ratings.values()):
        return {}
    best = max(Decimal(0), *client.ratings.values())
    return {"": float(best), **{r: float(best - rating) for r, rating in client.ratings.items()}}


def cook_time_of(cook: CookDay) -> CookTime:
    """Return a cook day as plain numbers."""
    return CookTime(
        cook.day, cook.hands_on_minutes, cook.oven_minutes, cook.hob_minutes, cook.most_recipes
    )
