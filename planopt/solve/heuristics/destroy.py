"""What a search destroys of a week to build it anew: neighbourhoods, one class for each.

The large neighbourhood search of days takes menus out: days that eat of one cooking, of all of its
recipe, or of all that share a food are opened together, so that these may go; others by chance.

Method: destroy operators of a large neighbourhood search, related and by chance.
Source: Shaw, Using constraint programming and local search methods to solve vehicle routing
problems, CP98 (1998). From memory.
"""

from __future__ import annotations

import random
from abc import ABC, abstractmethod
from collections.abc import Sequence
from dataclasses import dataclass
from typing import ClassVar, Generic, Protocol, TypeVar

from planopt.problem.build import Problem
from planopt.solve.parameters import PARAMETERS

Day = tuple[int, int]

_DESTROY = PARAMETERS.destroy

Place = TypeVar("Place")
Freed = TypeVar("Freed")


class Neighbourhood(ABC, Generic[Place, Freed]):
    """One way to choose what of a week is destroyed; its docstring says what, `name` in short."""

    name: ClassVar[str]

    @abstractmethod
    def draw(self, place: Place, chance: random.Random) -> Freed:
        """Draw what is freed, from where the search stands."""


class PlannedDays(Protocol):
    """What a neighbourhood of days sees of the week."""

    problem: Problem
    days: list[Day]

    def client_of(self, day: Day) -> int:
        """Return the client of a day."""

    def eating(self, cookings: frozenset[int]) -> list[Day]:
        """Return the planned days that eat of any of these cookings."""

    def in_use(self) -> tuple[list[int], list[float]]:
        """Return the cookings in use, and how much each asks to be taken out."""

    def sharing(self, food_id: str) -> frozenset[int]:
        """Return the cookings that take a food."""


@dataclass(frozen=True)
class Opened:
    """Days to plan anew, and cookings to avoid in them."""

    days: Sequence[Day]
    avoid: frozenset[int] = frozenset()


class OneCooking(Neighbourhood[PlannedDays, Opened]):
    """All days that eat of one cooking; those hardly eaten of, or beyond a limit, come first."""

    name = "one cooking"

    def draw(self, place: PlannedDays, chance: random.Random) -> Opened:
        """Draw a cooking in use, and open its days."""
        used, weights = place.in_use()
        avoid = self.alike(place, int(chance.choices(used, weights)[0]), chance)
        return Opened(place.eating(avoid), avoid)

    def alike(self, place: PlannedDays, cooking: int, chance: random.Random) -> frozenset[int]:
        """Return the cookings that go together with the one drawn."""
        return frozenset([cooking])


class OneRecipe(OneCooking):
    """All days that eat of one recipe, whenever it is cooked."""

    name = "one recipe"

    def alike(self, place: PlannedDays, cooking: int, chance: random.Random) -> frozenset[int]:
        """Return all cookings of the recipe."""
        dishes, cookings = place.problem.dishes, place.problem.cookings
        recipe_id = dishes[cookings[cooking].dish].recipe_id
        return frozenset(
            n for n, other in enumerate(cookings) if dishes[other.dish].recipe_id == recipe_id
        )


class OneFood(OneCooking):
    """All days that eat of dishes with one food, so that its packs may go."""

    name = "one food"

    def alike(self, place: PlannedDays, cooking: int, chance: random.Random) -> frozenset[int]:
        """Return all cookings that take a food of the dish."""
        dish = place.problem.dishes[place.problem.cookings[cooking].dish]
        if not dish.grams:
            # Of portions that are ready no food is cooked.
            return frozenset([cooking])
        return place.sharing(chance.choice(sorted(dish.grams)))


class SomeDays(Neighbourhood[PlannedDays, Opened]):
    """A few days of any clients."""

    name = "some days"

    def draw(self, place: PlannedDays, chance: random.Random) -> Opened:
        """Draw the days by chance."""
        count = min(len(place.days), chance.choice(_DESTROY.some_days))
        return Opened(chance.sample(place.days, count))


class DaysOfOneClient(Neighbourhood[PlannedDays, Opened]):
    """A few days of one client, whose rules over the plan may then be met in another way."""

    name = "days of one client"

    def draw(self, place: PlannedDays, chance: random.Random) -> Opened:
        """Draw the client and the days by chance."""
        client = chance.randrange(len(place.problem.clients))
        mine = [day for day in place.days if place.client_of(day) == client]
        return Opened(chance.sample(mine, min(len(mine), chance.choice(_DESTROY.client_days))))


# Each with the chance below which it is drawn in `DestroyParameters.upto`.
DAY_NEIGHBOURHOODS: tuple[Neighbourhood[PlannedDays, Opened], ...] = (
    OneCooking(),
    OneRecipe(),
    OneFood(),
    SomeDays(),
    DaysOfOneClient(),
)
_WHERE_TOO_MANY = SomeDays()


def draw_days(place: PlannedDays, chance: random.Random) -> Opened:
    """Draw a neighbourhood and what it opens; some days where that would be too many of them."""
    at = chance.random()
    chosen = next(
        one for upto, one in zip(_DESTROY.upto, DAY_NEIGHBOURHOODS, strict=True) if at < upto
    )
    opened = chosen.draw(place, chance)
    if len(opened.days) > max(_DESTROY.most_opened, len(place.days) // 2):
        return _WHERE_TOO_MANY.draw(place, chance)
    return opened
