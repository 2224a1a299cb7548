"""Soft rules: amounts over the plan that may be missed, at a price. They enter the objective."""

from __future__ import annotations

from collections.abc import Iterator
from fractions import Fraction
from math import inf

from planopt.catalog.records import Catalog
from planopt.problem.limits import LimitKey
from planopt.problem.rules import Coefficients, LinearRule
from planopt.scenario.records import Scenario
from planopt.scenario.references import days_eaten, priced_references

TENTHS = 10


def soft_rules(catalog: Catalog, scenario: Scenario, table: Coefficients) -> Iterator[LinearRule]:
    """Yield what `nutrient_guard: limit` with a `nutrient_price` asks of each client.

    The price is for each tenth of the reference amount, over the days that the client eats here.
    """
    for c, client in enumerate(scenario.clients):
        days = days_eaten(scenario, client)
        if client.nutrient_price is None or days <= 0:
            continue
        for one in priced_references(catalog, client):
            amount = round(one.row.amount * days, 9)
            if amount > 0:
                price = Fraction(client.nutrient_price) * TENTHS / Fraction(str(amount))
                low, high = (amount, inf) if one.side == "below" else (0.0, amount)
                key = LimitKey("reference", client.client_id, one.row.nutrient_id)
                yield table.rule(key, c, low, high, price=float(price))


def ready_prices(scenario: Scenario, table: Coefficients) -> Iterator[LinearRule]:
    """Yield the price of ready portions: each serving above none costs it."""
    for c, client in enumerate(scenario.clients):
        for index, entry in enumerate(scenario.ready_portions):
            if entry.price > 0:
                key = LimitKey("ready", client.client_id, str(index))
                rule = table.rule(key, c, 0.0, 0.0, price=float(entry.price))
                if rule.coefficients:
                    yield rule
