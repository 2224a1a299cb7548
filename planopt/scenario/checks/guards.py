"""Check that what `nutrient_guard: limit` asks for has published reference intakes."""

from __future__ import annotations

from collections.abc import Iterator

from planopt.faults import Fault, nearest
from planopt.scenario.checks.subject import Checking
from planopt.scenario.references import ADULT_FROM_YEARS, references_of, too_young


def nutrient_guards(c: Checking) -> Iterator[Fault]:
    """A client with the guard `limit` has reference intakes, for each nutrient that it names."""
    for path, client in c.clients():
        for index, nutrient in enumerate(client.guarded_nutrients):
            yield from c.unknown("nutrients", (*path, "guarded_nutrients", index), nutrient)
        if client.nutrient_price is not None and client.nutrient_guard != "limit":
            yield c.fault(
                (*path, "nutrient_price"),
                client.nutrient_price,
                f"nothing has this price with nutrient_guard: {client.nutrient_guard}",
                "write nutrient_guard: limit, or leave the price out",
                "price_without_limit",
            )
        if client.nutrient_guard != "limit" or not c.complete:
            continue
        known = {one.row.nutrient_id for one in references_of(c.catalog, client)}
        if not known:
            yield c.fault(
                (*path, "nutrient_guard"),
                client.nutrient_guard,
                f"reference intakes are for adults from {ADULT_FROM_YEARS} years"
                if too_young(client)
                else "the catalog has no reference_intakes.csv",
                "write caution or off" if too_young(client) else "add the table, or write caution",
                "no_reference_intake",
            )
            continue
        for index, nutrient in enumerate(client.guarded_nutrients):
            if nutrient in c.catalog.nutrients and nutrient not in known:
                yield c.fault(
                    (*path, "guarded_nutrients", index),
                    nutrient,
                    "reference_intakes.csv has no row for it",
                    nearest(nutrient, known),
                    "no_reference_intake",
                )
