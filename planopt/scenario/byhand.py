"""What a coach settles by hand: dishes on plates, packs already bought, batches already cooked."""

from __future__ import annotations

from typing import Annotated

from pydantic import Field

from planopt import ranges
from planopt.catalog.records import Id, Record

Day = Annotated[int, ranges.DAY]
PrepDay = Annotated[int, ranges.PREP_DAY]
CookedDay = Annotated[int, ranges.COOKED_DAY]


class PlateRule(Record):
    """A recipe that plates must have, or must not have. What is left out means all.

    `put` is the dish of each plate it covers, alone or beside others that are put there; where no
    client is named, of all who eat that meal then. It is as the recipe says, with alternatives only
    for those who cannot have it so, unless a version is named. `without` keeps a recipe off them.
    """

    put: Id | None = Field(default=None, description="recipe that these plates have")
    without: Id | None = Field(default=None, description="recipe that none of these plates has")
    client: Id | None = Field(default=None, description="default: all clients")
    day: Day | None = Field(default=None, description="default: every day")
    meal: Id | None = Field(default=None, description="default: every meal the recipe is for")
    version: str | None = Field(default=None, description="of `put`; default: as written")
    cook_day: CookedDay | None = Field(default=None, description="of `put`; default: any")
    servings: Annotated[float | None, ranges.LARGEST_PORTION] = Field(
        default=None, description="of `put`, exactly; default: any portion of the client"
    )

    @property
    def recipe(self) -> str:
        """Return the recipe that the rule is about."""
        return self.put or self.without or ""

    def covers(self, client: str, day: int, meal: str) -> bool:
        """Tell whether the rule is about a plate."""
        return (
            self.client in (None, client) and self.day in (None, day) and self.meal in (None, meal)
        )


class BoughtPacks(Record):
    """Packs that are bought already: they stand in the plan at their price, and cannot go back."""

    pack: Id
    count: Annotated[float, ranges.PACKS_BOUGHT] = Field(
        description="packs, or steps of loose food"
    )
    day: PrepDay = Field(description="shop day")


class CookedBatches(Record):
    """Batches that are cooked already: there are these, no more and no fewer."""

    recipe: Id
    version: str = "base"
    batches: Annotated[float, ranges.BATCHES_COOKED]
    day: PrepDay = Field(description="cook day")
    lost: Annotated[float, ranges.SERVINGS_OF_PLAN] = Field(
        default=0, description="servings that nobody can eat, as of an overcooked pot"
    )


class ByHand(Record):
    """All that is settled by hand. Nothing else is bought or cooked before `from_day`."""

    plates: tuple[PlateRule, ...] = ()
    bought: tuple[BoughtPacks, ...] = ()
    cooked: tuple[CookedBatches, ...] = ()
    sold_out: tuple[Id, ...] = Field(
        default=(), description="foods of which no shop has more than is bought already"
    )
    from_day: PrepDay | None = Field(
        default=None,
        description="cook and shop days before this one are over; default: none is",
    )

    def is_over(self, day: int) -> bool:
        """Tell whether a cook or shop day is over."""
        return self.from_day is not None and day < self.from_day

    def puts_on(self, client: str, day: int, meal: str) -> tuple[PlateRule, ...]:
        """Return the dishes put on a plate: by those rules that say most precisely where."""
        found = [
            rule for rule in self.plates if rule.put is not None and rule.covers(client, day, meal)
        ]
        most = max(map(_precision, found), default=0)
        return tuple(rule for rule in found if _precision(rule) == most)

    def kept_off(self, client: str, day: int, meal: str) -> frozenset[str]:
        """Return the recipes that a plate must not have."""
        return frozenset(
            rule.without
            for rule in self.plates
            if rule.without is not None and rule.covers(client, day, meal)
        )


def _precision(rule: PlateRule) -> int:
    return sum(value is not None for value in (rule.client, rule.day, rule.meal))


def settled_together(first: ByHand, then: ByHand) -> ByHand:
    """Return both together. What comes later counts where the two are about the same thing."""
    replaced = {_plate(rule) for rule in then.plates if rule.put is not None}
    kept = [rule for rule in first.plates if rule.put is None or _plate(rule) not in replaced]
    plates = dict.fromkeys((*kept, *then.plates))
    return ByHand(
        plates=tuple(plates),
        bought=tuple({(b.pack, b.day): b for b in (*first.bought, *then.bought)}.values()),
        cooked=tuple(
            {(b.recipe, b.version, b.day): b for b in (*first.cooked, *then.cooked)}.values()
        ),
        sold_out=tuple(dict.fromkeys((*first.sold_out, *then.sold_out))),
        from_day=then.from_day if then.from_day is not None else first.from_day,
    )


def _plate(rule: PlateRule) -> tuple[str | None, int | None, str | None]:
    return (rule.client, rule.day, rule.meal)
