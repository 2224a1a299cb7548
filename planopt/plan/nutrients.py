"""Nutrients of each client that lie outside published reference intakes. Never advice."""

from __future__ import annotations

from collections import defaultdict
from collections.abc import Iterable, Iterator

from planopt.catalog.records import Catalog, ReferenceIntake
from planopt.plan.records import NutrientNote, Portion
from planopt.problem.build import Problem
from planopt.scenario.records import Client, Scenario
from planopt.scenario.references import Reference, days_eaten, references_of
from planopt.tolerances import REFERENCE_SHARE

KIND_WORDS = {
    "RDA": "recommended amount",
    "AI": "adequate amount",
    "UL": "upper level",
    "CDRR": "level of risk",
}


def nutrient_notes(
    problem: Problem, catalog: Catalog, scenario: Scenario, portions: Iterable[Portion]
) -> tuple[NutrientNote, ...]:
    """Return what of each client lies outside, below first, in the order of the food table.

    An average counts full days: a day with meals away counts by its share. Of what has a most
    amount the days are looked at as well, as they are eaten.
    """
    rows = list(portions)
    unknown = _unknown_nutrients(problem, catalog)
    order = {nutrient_id: n for n, nutrient_id in enumerate(catalog.nutrients)}
    found: list[NutrientNote] = []
    for client in scenario.clients:
        days = days_eaten(scenario, client)
        if client.nutrient_guard == "off" or days <= 0:
            continue
        mine = [row for row in rows if row.client_id == client.client_id]
        notes = [
            note
            for one in references_of(catalog, client)
            for note in _noted(client, one, mine, days, unknown)
        ]
        found += sorted(notes, key=lambda n: (n.side == "above", order[n.nutrient_id], n.kind))
    return tuple(found)


def _unknown_nutrients(problem: Problem, catalog: Catalog) -> dict[tuple[str, str], set[str]]:
    """Return, for each dish, the nutrients that some food in it does not tell."""
    return {
        dish.key: {
            nutrient_id
            for food_id in dish.contents
            for nutrient_id in catalog.nutrients
            if catalog.foods[food_id].nutrients.get(nutrient_id) is None
        }
        for dish in problem.dishes
    }


def _noted(
    client: Client,
    one: Reference,
    mine: list[Portion],
    days: float,
    unknown: dict[tuple[str, str], set[str]],
) -> Iterator[NutrientNote]:
    nutrient_id, amount = one.row.nutrient_id, one.row.amount
    by_day: dict[int, float] = defaultdict(float)
    for row in mine:
        by_day[row.day] += row.nutrients.get(nutrient_id, 0.0)
    average = sum(by_day.values()) / days
    slack = REFERENCE_SHARE * max(1.0, amount)
    over = {day: total for day, total in by_day.items() if total > amount + slack}
    peak_day = min(over, key=lambda day: (-over[day], day), default=None)
    if one.side == "below":
        outside, over, peak_day = average < amount - slack, {}, None
    else:
        outside = average > amount + slack or bool(over)
    if outside:
        yield NutrientNote(
            client_id=client.client_id,
            nutrient_id=nutrient_id,
            side=one.side,
            kind=one.row.kind,
            reference=amount,
            average=round(average, 9),
            at_least=any(nutrient_id in unknown[row.recipe_id, row.version] for row in mine),
            days_above=len(over),
            peak=None if peak_day is None else round(over[peak_day], 9),
            peak_day=peak_day,
            sex=one.row.sex if one.own_group else None,
            ages=_ages(one.row) if one.own_group else None,
            source=one.row.source,
        )


def _ages(row: ReferenceIntake) -> str:
    return f"{row.age_from}-{row.age_to}"
