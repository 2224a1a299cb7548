"""The price of the cook's work: what a first batch, a further one and a portion's boxes cost."""

from __future__ import annotations

from dataclasses import dataclass

from planopt.problem.dishes import Dish
from planopt.problem.past import seen_price
from planopt.scenario.records import Scenario


@dataclass(frozen=True)
class WorkPrice:
    """Money, in units of the currency, for a dish on a cook day.

    `start` for cooking it at all (hands-on minutes of the first batch, and washing-up), `extra`
    for each further batch, `portion` for the boxes of each portion, and for its dish where that
    was seen in an earlier week.
    """

    start: float
    extra: float
    portion: float

    def of_batches(self, batches: float) -> float:
        """Return what so many batches cost."""
        return self.start + self.extra * max(0.0, batches - 1.0) if batches > 0 else 0.0


def work_price(scenario: Scenario, dish: Dish) -> WorkPrice:
    """Return what the work on a dish costs."""
    prices = scenario.work_prices
    seen = seen_price(scenario, dish)
    if dish.ready is not None:
        return WorkPrice(0.0, 0.0, seen)
    minute = float(prices.cook_hour) / 60.0
    return WorkPrice(
        minute * (dish.hands_on + prices.washing_up_minutes),
        minute * dish.hands_on_extra,
        float(prices.box) * dish.boxes + seen,
    )
