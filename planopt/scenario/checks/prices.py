"""Checks of what prices say together: all of them nothing, dated after the plan, or mistaken."""

from __future__ import annotations

from collections.abc import Iterator

from planopt.catalog.records import Pack
from planopt.faults import Fault
from planopt.scenario.checks.subject import Check, Checking

# Beyond it a visit is no cost any more but a rule, and sums lose the cents of the food.
_PACKS_OF_A_VISIT = 1000
_MOST_NAMED = 3


def _offered(c: Checking) -> list[Pack]:
    """Return the packs that this scenario may buy."""
    sellers = c.scenario.sellers
    return [
        pack
        for pack in c.catalog.packs.values()
        if pack.currency == c.scenario.currency and (sellers is None or pack.seller_id in sellers)
    ]


def prices_of_nothing(c: Checking) -> Iterator[Fault]:
    """Not everything is free, or every week would be the cheapest."""
    packs = _offered(c)
    if c.complete and packs and all(pack.price == 0 for pack in packs):
        yield c.fault(
            ("currency",),
            c.scenario.currency,
            f"every pack that may be bought ({len(packs)}) has the price 0, so every week is the"
            " cheapest",
            "write what packs cost in packs.csv; where that is not known, an estimate",
            "prices_all_zero",
        )


def visits_beside_prices(c: Checking) -> Iterator[Fault]:
    """A visit costs no more than a thousand of the dearest packs."""
    dearest = max((pack.price for pack in _offered(c)), default=None)
    if not c.complete or not dearest or c.scenario.visit_cost <= _PACKS_OF_A_VISIT * dearest:
        return
    yield c.fault(
        ("visit_cost",),
        c.scenario.visit_cost,
        f"the dearest pack costs {dearest}, and a visit more than {_PACKS_OF_A_VISIT} of it",
        "correct the amount; to forbid further visits, name fewer shop_days and sellers",
        "out_of_range",
    )


def prices_of_tomorrow(c: Checking) -> Iterator[Fault]:
    """Yield one warning for all packs whose price was seen after the plan's first day."""
    start = c.scenario.start_date
    late = sorted(pack.pack_id for pack in _offered(c) if pack.price_date > start)
    if late:
        named = ", ".join(late[:_MOST_NAMED])
        more = f" and {len(late) - _MOST_NAMED} more" if len(late) > _MOST_NAMED else ""
        yield c.fault(
            ("start_date",),
            start,
            f"prices are dated after the first day of the plan: {named}{more}",
            "correct start_date, or the price_date of these packs",
            "prices_after_start",
        )


PRICE_CHECKS: tuple[Check, ...] = (prices_of_nothing, visits_beside_prices)
PRICE_WARNINGS: tuple[Check, ...] = (prices_of_tomorrow,)
