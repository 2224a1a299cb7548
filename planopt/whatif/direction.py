"""Which way a variant can move the least cost, by logic alone, before anything is solved.

A variant that *only tightens* has only weeks of the scenario, at no lower cost: what it costs more
is never below 0. One that *only loosens* has all weeks of the scenario, at no higher cost. Of
anything else, and of both together, nothing is said.
"""

from __future__ import annotations

from collections import defaultdict
from collections.abc import Collection
from datetime import date, timedelta
from decimal import Decimal
from typing import Literal

from planopt.catalog.records import Catalog
from planopt.problem.limits import COOK_LIMITS, limits_of
from planopt.scenario.byhand import ByHand, settled_together
from planopt.scenario.records import Scenario, Variant
from planopt.scenario.references import guarded
from planopt.scenario.variants.apply import apply_variant

Direction = Literal["tightens", "loosens", "either"]

_BOTH_WAYS = ("name", "budget", "windows", "prices", "stock", "stock_gone", "cook_days")
_NO_LIMITS: dict[str, None] = {str(kind): None for kind in COOK_LIMITS}


def direction_of(catalog: Catalog, scenario: Scenario, variant: Variant) -> Direction:
    """Return which way a variant can move the least cost; `either` where both are possible."""
    if only_tightens(catalog, scenario, variant):
        return "tightens"
    return "loosens" if only_loosens(catalog, scenario, variant) else "either"


def only_tightens(catalog: Catalog, scenario: Scenario, variant: Variant) -> bool:
    """Tell whether every week of the variant is one of the scenario, at no lower cost.

    Then what is proven for the scenario holds for the variant as well. Only changes of which that
    is certain count: a lower budget, narrower windows, recipes and cook days out, prices up, less
    on hand, foods gone from the shops. If such a food is on hand, its waste would lose its price;
    then the change does not count.
    """
    if not _has_only(variant, "recipes_out", "cook_days_out", "unavailable", "by_hand"):
        return False
    if not _settles_more(scenario, variant):
        return False
    rising = all((p.percent or 0) >= 0 and (p.amount or 0) >= 0 for p in variant.prices)
    on_hand = {stock.food for stock in scenario.stock}
    if not rising or on_hand & set(variant.unavailable):
        return False
    _, changed = apply_variant(catalog, scenario, variant)
    if scenario.recipes.include and not changed.recipes.include:
        # No list means all recipes.
        return False
    return _within(guarded(catalog, changed), guarded(catalog, scenario))


def only_loosens(catalog: Catalog, scenario: Scenario, variant: Variant) -> bool:
    """Tell whether every week of the scenario is one of the variant, at no higher cost.

    A higher budget, wider windows, recipes and cook days added, prices down, and more on hand of
    what does not spoil, as more that spoils would be more waste.
    """
    if not _has_only(variant, "recipes_in"):
        return False
    falling = all((p.percent or 0) <= 0 and (p.amount or 0) <= 0 for p in variant.prices)
    if not falling:
        return False
    _, changed = apply_variant(catalog, scenario, variant)
    return _within(guarded(catalog, scenario), guarded(catalog, changed))


def _has_only(variant: Variant, *names: str) -> bool:
    """Tell whether a variant makes only these changes and ones that may go both ways."""
    kept = variant.model_dump(include={*_BOTH_WAYS, *names}, by_alias=True)
    return Variant.model_validate(kept) == variant


def _settles_more(scenario: Scenario, variant: Variant) -> bool:
    """Tell whether all that is settled by hand stays so; what is settled besides only forbids."""
    before, after = scenario.by_hand, settled_together(scenario.by_hand, variant.by_hand)
    if before == after:
        return True
    return before == ByHand()


def _within(tight: Scenario, loose: Scenario) -> bool:
    """Tell whether the first allows no more than the second: cook days, limits and stock."""
    if tight.same_dish != loose.same_dish:
        # Tied meals count once, so that a tie may allow what its absence does not.
        return False
    days = {cook.day: cook for cook in loose.cook_days}
    for cook in tight.cook_days:
        other = days.get(cook.day)
        if other is None or cook.model_copy(update=_NO_LIMITS) != other.model_copy(
            update=_NO_LIMITS
        ):
            return False
    shared = {cook.day for cook in tight.cook_days}
    return _limits_within(tight, loose, shared) and _stock_within(tight, loose)


def _limits_within(tight: Scenario, loose: Scenario, cook_days: Collection[int]) -> bool:
    values = {limit.key: limit.value for limit in limits_of(tight)}
    for limit in limits_of(loose):
        if limit.key.kind in COOK_LIMITS and limit.key.day not in cook_days:
            continue
        value = values.get(limit.key)
        if value is None:
            return False
        if value < limit.value if limit.from_below else value > limit.value:
            return False
    return True


def _stock_within(tight: Scenario, loose: Scenario) -> bool:
    """Tell whether the second has all food on hand of the first, and more only of what keeps.

    What is left of food that spoils counts as waste, so that having less of it may save.
    """
    less, more = _on_hand(tight), _on_hand(loose)
    spoils_before = loose.date_of(loose.days) + timedelta(days=loose.carry_days)
    for key in less.keys() | more.keys():
        extra = more[key] - less[key]
        use_by = key[2]
        if extra < 0 or (extra > 0 and use_by is not None and use_by < spoils_before):
            return False
    return True


def _on_hand(scenario: Scenario) -> defaultdict[tuple[str, str, date | None], Decimal]:
    found: defaultdict[tuple[str, str, date | None], Decimal] = defaultdict(Decimal)
    for stock in scenario.stock:
        found[stock.food, stock.unit, stock.use_by] += stock.amount
    return found
