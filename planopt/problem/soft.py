"""Soft limits: amounts over the plan that may be missed, at a price. They enter the objective."""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass
from fractions import Fraction

from planopt.catalog.records import Catalog
from planopt.scenario.records import Scenario
from planopt.scenario.references import Side, days_eaten, priced_references

TENTHS = 10


@dataclass(frozen=True)
class SoftLimit:
    """A least (`below`) or most (`above`) amount of a nutrient, for one client over the plan.

    `client` is a position; `price` is money for each unit of the nutrient that is missed.
    """

    client: int
    nutrient_id: str
    side: Side
    amount: float
    price: float

    def missed(self, total: float) -> float:
        """Return by how much a total is on the wrong side, in units of the nutrient."""
        return max(0.0, self.amount - total if self.side == "below" else total - self.amount)


def soft_limits(catalog: Catalog, scenario: Scenario) -> tuple[SoftLimit, ...]:
    """Return what `nutrient_guard: limit` with a `nutrient_price` asks of each client.

    The price is for each tenth of the reference amount, over the days that the client eats here.
    """
    return tuple(_soft_limits(catalog, scenario))


def _soft_limits(catalog: Catalog, scenario: Scenario) -> Iterator[SoftLimit]:
    for c, client in enumerate(scenario.clients):
        days = days_eaten(scenario, client)
        if client.nutrient_price is None or days <= 0:
            continue
        for one in priced_references(catalog, client):
            amount = round(one.row.amount * days, 9)
            if amount > 0:
                price = Fraction(client.nutrient_price) * TENTHS / Fraction(str(amount))
                yield SoftLimit(c, one.row.nutrient_id, one.side, amount, float(price))
