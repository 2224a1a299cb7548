"""Checks of a scenario's variants: what they name exists, and what they give holds together."""

from __future__ import annotations

from collections.abc import Callable, Iterator, Mapping
from dataclasses import replace

from planopt.catalog.records import Catalog
from planopt.faults import Fault, nearest
from planopt.reading.files import PathPart, Place
from planopt.scenario.changes import PriceChange
from planopt.scenario.checks.subject import Checking
from planopt.scenario.checks.whole import check_scenario
from planopt.scenario.records import Scenario, Variant
from planopt.scenario.variants.apply import apply_variant, window_before

Path = tuple[PathPart, ...]


def check_variants(
    scenario: Scenario,
    catalog: Catalog,
    locate: Callable[[Path], Place],
    known: Mapping[str, frozenset[str] | None],
    complete: bool = True,
) -> list[Fault]:
    """Return all faults of a scenario's variants and of its order of importance.

    Each variant is also applied, and the scenario that it makes is checked like any other.
    """
    checking = Checking(scenario, catalog, locate, known, complete)
    found = set(_importance(checking))
    names: set[str] = set()
    for index, variant in enumerate(scenario.variants):
        path: Path = ("variants", index)
        if variant.name in names:
            found.add(
                checking.fault(
                    (*path, "name"),
                    variant.name,
                    "another variant has this name already",
                    "give this variant another name",
                    "duplicate_id",
                )
            )
        names.add(variant.name)
        found |= set(check_variant(checking, path, variant))
    return sorted(found)


def check_variant(c: Checking, path: Path, variant: Variant) -> list[Fault]:
    """Return all faults of one variant that stands at a path."""
    found = set(_own_faults(c, path, variant))
    if found:
        return sorted(found)
    before = {
        (fault.field, fault.code)
        for fault in check_scenario(c.scenario, c.catalog, lambda _: Place("", 0), c.known)
    }
    catalog, changed = apply_variant(c.catalog, c.scenario, variant)
    if not changed.clients:
        return [_empty(c, path, variant, "it leaves no client", "keep at least one client")]
    if not changed.cook_days:
        return [_empty(c, path, variant, "it leaves no cook day", "keep at least one cook day")]
    for fault in check_scenario(changed, catalog, lambda _: c.locate(path), c.known, c.complete):
        if (fault.field, fault.code) not in before:
            where = f"variants[{path[1]}], its {fault.field}" if len(path) > 1 else fault.field
            found.add(replace(fault, field=where))
    return sorted(found)


def _empty(c: Checking, path: Path, variant: Variant, why: str, mend: str) -> Fault:
    return c.fault(path, variant.name, why, mend, "variant_leaves_nothing")


def _importance(c: Checking) -> Iterator[Fault]:
    for index, nutrient in enumerate(c.scenario.importance):
        yield from c.unknown_amount(("importance", index), nutrient)


def _own_faults(c: Checking, path: Path, variant: Variant) -> Iterator[Fault]:
    if variant == Variant(name=variant.name):
        yield c.fault(
            path,
            variant.name,
            "the variant changes nothing",
            "write at least one change, or remove it",
            "variant_without_change",
        )
    for field, foods in (("unavailable", variant.unavailable), ("stock_gone", variant.stock_gone)):
        for index, food in enumerate(foods):
            yield from c.unknown("foods", (*path, field, index), food)
    for field, recipes in (
        ("recipes_in", variant.recipes_in),
        ("recipes_out", variant.recipes_out),
    ):
        for index, recipe in enumerate(recipes):
            yield from c.unknown("recipes", (*path, field, index), recipe)
    for index, stock in enumerate(variant.stock):
        yield from c.unknown("foods", (*path, "stock", index, "food"), stock.food)
    for index, price in enumerate(variant.prices):
        yield from _price(c, (*path, "prices", index), price)
    for index, client_id in enumerate(variant.clients_alike):
        yield from _client(c, variant, (*path, "clients_alike", index), client_id)
    for index, away in enumerate(variant.away):
        yield from _client(c, variant, (*path, "away", index, "client"), away.client)
    yield from _windows(c, path, variant)
    cooking = {cook.day for cook in c.scenario.cook_days}
    for index, day in enumerate(variant.cook_days_out):
        if day not in cooking:
            yield c.fault(
                (*path, "cook_days_out", index),
                day,
                "nothing is cooked on this day",
                f"use one of: {', '.join(str(known) for known in sorted(cooking))}",
                "unknown_cook_day",
            )


def _price(c: Checking, path: Path, price: PriceChange) -> Iterator[Fault]:
    if price.food is not None:
        yield from c.unknown("foods", (*path, "food"), price.food)
    if price.seller is not None:
        yield from c.unknown("sellers", (*path, "seller"), price.seller)
    if price.food is None and price.seller is None:
        yield c.fault(
            path, "food", "no food and no seller is named", "name one or both", "price_of_nothing"
        )
    if (price.percent is None) == (price.amount is None):
        yield c.fault(
            path,
            "percent",
            "a price moves either by percent or by an amount",
            "write one of percent and amount",
            "percent_or_amount",
        )


def _client(c: Checking, variant: Variant, path: Path, client_id: str) -> Iterator[Fault]:
    ids = _clients(c, variant)
    if client_id not in ids:
        yield c.fault(
            path, client_id, "there is no such client", nearest(client_id, ids), "unknown_client"
        )


def _clients(c: Checking, variant: Variant) -> list[str]:
    return [client.client_id for client in (*c.scenario.clients, *variant.clients_added)]


def _windows(c: Checking, path: Path, variant: Variant) -> Iterator[Fault]:
    clients = {client.client_id: client for client in (*c.scenario.clients, *variant.clients_added)}
    for index, move in enumerate(variant.windows):
        here = (*path, "windows", index)
        yield from c.unknown_amount((*here, "nutrient"), move.nutrient)
        yield from _client(c, variant, (*here, "client"), move.client)
        if move.week and move.day is not None:
            yield c.fault(
                (*here, "day"),
                move.day,
                "a window is either of one day or of the week",
                "remove one of day and week",
                "day_or_week",
            )
        client = clients.get(move.client)
        if client is None:
            continue
        before = window_before(client, move)
        for side, value, by, old in (
            ("min", move.min, move.min_by, before.min),
            ("max", move.max, move.max_by, before.max),
        ):
            if value is not None and by is not None:
                yield c.fault(
                    (*here, side),
                    f"{value:g}",
                    f"{side} and {side}_by exclude each other",
                    "remove one of the two",
                    "value_or_move",
                )
            if by is not None and old is None:
                yield c.fault(
                    (*here, f"{side}_by"),
                    f"{by:g}",
                    f"{move.client} has no {side} of {move.nutrient} to move",
                    f"write {side} with a value",
                    "window_not_set",
                )
        if all(v is None for v in (move.min, move.max, move.min_by, move.max_by)):
            yield c.fault(
                here,
                move.nutrient,
                "the window is not moved",
                "write min, max, min_by or max_by",
                "window_not_moved",
            )
