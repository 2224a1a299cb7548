"""Whether the plan can be audited at all; its head; rows that are there twice."""

from __future__ import annotations

from collections import Counter
from collections.abc import Iterator
from decimal import Decimal

from pydantic import ValidationError

from planopt.audit.books import Books
from planopt.audit.findings import Finding, unequal
from planopt.plan.records import Plan

LARGEST = 10**12
MOST_DECIMALS = 30


def check_numbers(plan: Plan) -> Iterator[Finding]:
    """Yield findings that stop the audit: values of the wrong kind, or absurd in size.

    Records copied in memory are not validated; the audit must not fall over them.
    """
    # By the names of the format: clients that a change adds have some of their own.
    data = plan.model_dump(by_alias=True, warnings=False)
    try:
        Plan.model_validate(data)
    except ValidationError as error:
        for fault in error.errors():
            where = ".".join(str(step) for step in fault["loc"])
            yield Finding("record", where, "a value of the plan format", fault["type"])
    yield from _numbers("plan", data)


def _numbers(where: str, value: object) -> Iterator[Finding]:
    if isinstance(value, dict):
        for key, inner in value.items():
            if not _plausible(key):
                yield _out_of_range(f"{where}, a key")
            elif key != "settings":  # a solver's own limits may be as large as it likes
                yield from _numbers(f"{where}.{key}", inner)
    elif isinstance(value, (list, tuple)):
        for index, inner in enumerate(value):
            yield from _numbers(f"{where}.{index}", inner)
    elif not _plausible(value):
        yield _out_of_range(where)


def _out_of_range(where: str) -> Finding:
    return Finding("record", where, f"a number within {LARGEST:.0e}", "a number beyond")


def _plausible(value: object) -> bool:
    """Tell whether a value is fit for arithmetic; what is no number always passes."""
    if isinstance(value, Decimal):
        exponent = value.as_tuple().exponent
        fine = isinstance(exponent, int) and abs(exponent) <= MOST_DECIMALS
        return fine and abs(value) <= LARGEST
    return not isinstance(value, (int, float)) or abs(value) <= LARGEST


def check_head(books: Books) -> Iterator[Finding]:
    """Compare the plan's head with the scenario."""
    plan, scenario = books.plan, books.scenario
    yield from unequal("head", "scenario_name", scenario.name, plan.scenario_name)
    yield from unequal("head", "currency", scenario.currency, plan.currency)
    yield from unequal("head", "start_date", scenario.start_date, plan.start_date)
    yield from unequal("head", "days", scenario.days, plan.days)


def check_unique(books: Books) -> Iterator[Finding]:
    """Yield a finding for each key that more than one row has."""
    plan = books.plan
    keys: list[tuple[object, ...]] = [
        ("purchase", row.shop_day, row.pack_id) for row in plan.purchases
    ]
    keys += [("batch", row.cook_day, row.recipe_id, row.version) for row in plan.batches]
    keys += [("ready", row.cook_day, row.recipe_id, row.version) for row in plan.ready]
    keys += [
        ("portion", row.client_id, row.day, row.meal, row.recipe_id, row.version, row.cook_day)
        for row in plan.portions
    ]
    keys += [("food use", row.food_id, row.supply) for row in plan.food_uses]
    for key, rows in Counter(keys).items():
        if rows > 1:
            yield Finding("duplicate-row", " ".join(map(str, key)), "one row", f"{rows} rows")
