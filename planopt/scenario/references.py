"""Published reference intakes that hold for a client, and the limits that `nutrient_guard` makes.

Where the table has no row for a client's sex and age, or these are not given, the widest range of
the adult groups stands in: the lowest least amount, and the lowest most amount.
"""

from __future__ import annotations

from dataclasses import dataclass
from typing import Literal

from planopt.catalog.records import Catalog, ReferenceIntake
from planopt.scenario.records import Client, Scenario, Window
from planopt.scenario.windows import share_of_day

ADULT_FROM_YEARS = 19
LEAST_KINDS = ("RDA", "AI")
Side = Literal["below", "above"]


@dataclass(frozen=True)
class Reference:
    """An amount of a full day that a client's average is held against.

    `own_group` tells that it is that of the client's own sex and age; else it is the widest.
    """

    row: ReferenceIntake
    own_group: bool

    @property
    def side(self) -> Side:
        """Return on which side of the amount an average is outside."""
        return "below" if self.row.kind in LEAST_KINDS else "above"


def too_young(client: Client) -> bool:
    """Tell whether the ranges, which are for adults, say nothing about a client."""
    return client.age_years is not None and client.age_years < ADULT_FROM_YEARS


def references_of(catalog: Catalog, client: Client) -> tuple[Reference, ...]:
    """Return what a client is held against, one for each nutrient and kind; nothing under 19."""
    if too_young(client):
        return ()
    groups: dict[tuple[str, str], list[ReferenceIntake]] = {}
    for row in catalog.reference_intakes:
        if row.age_to >= ADULT_FROM_YEARS and row.nutrient_id in catalog.nutrients:
            groups.setdefault((row.nutrient_id, row.kind), []).append(row)
    return tuple(_chosen(rows, client) for rows in groups.values())


def _chosen(rows: list[ReferenceIntake], client: Client) -> Reference:
    fit = [
        row
        for row in rows
        if client.sex in (None, row.sex)
        and (client.age_years is None or row.age_from <= client.age_years <= row.age_to)
    ]
    known = bool(fit) and client.sex is not None and client.age_years is not None
    return Reference(min(fit or rows, key=lambda row: row.amount), known)


def days_eaten(scenario: Scenario, client: Client) -> float:
    """Return how many full days a client eats here; a day with meals away counts by its share."""
    return sum(share_of_day(scenario, client, day) for day in range(1, scenario.days + 1))


def guarded(catalog: Catalog, scenario: Scenario) -> Scenario:
    """Return the scenario with every hard `nutrient_guard: limit` as windows of the plan.

    One with a `nutrient_price` is a soft limit, and stays as it is. The reference
    amounts times the days eaten join what `windows_per_week` says already, and the stricter side
    holds. What is spelled out is an ordinary limit from there on.
    """
    if not any(_is_hard(client) for client in scenario.clients):
        return scenario
    clients = tuple(
        _guarded(catalog, scenario, client) if _is_hard(client) else client
        for client in scenario.clients
    )
    return scenario.model_copy(update={"clients": clients})


def _is_hard(client: Client) -> bool:
    return client.nutrient_guard == "limit" and client.nutrient_price is None


def priced_references(catalog: Catalog, client: Client) -> tuple[Reference, ...]:
    """Return the references that a client's averages may miss at a price."""
    if client.nutrient_guard != "limit" or client.nutrient_price is None:
        return ()
    return guard_references(catalog, client)


def guard_references(catalog: Catalog, client: Client) -> tuple[Reference, ...]:
    """Return the references that are limits for a client who is guarded."""
    wanted = set(client.guarded_nutrients)
    return tuple(
        one for one in references_of(catalog, client) if not wanted or one.row.nutrient_id in wanted
    )


def _guarded(catalog: Catalog, scenario: Scenario, client: Client) -> Client:
    days = days_eaten(scenario, client)
    weekly = dict(client.windows_per_week)
    for one in guard_references(catalog, client):
        nutrient_id, amount = one.row.nutrient_id, round(one.row.amount * days, 9)
        old = weekly.get(nutrient_id, Window())
        low, high = old.min, old.max
        if one.side == "below":
            low = amount if low is None else max(low, amount)
        else:
            high = amount if high is None else min(high, amount)
        weekly[nutrient_id] = Window.model_construct(min=low, max=high)
    return client.model_copy(update={"windows_per_week": weekly, "nutrient_guard": "caution"})
