"""The short form: a page to shop from, one to cook and pack from, and one with who eats what."""

from __future__ import annotations

from collections import defaultdict
from collections.abc import Sequence
from typing import Any

from planopt.catalog.records import Catalog
from planopt.plan.records import Plan
from planopt.report.analysis import tables
from planopt.report.words.plain import dish_words, number, plain, short_day
from planopt.scenario.records import Client, Scenario

Row = dict[str, Any]
# Columns of people that a page has room for.
_ABREAST = 4


def _eaten(plan: Plan, catalog: Catalog, scenario: Scenario) -> dict[tuple[str, int, str], str]:
    found: dict[tuple[str, int, str], list[str]] = defaultdict(list)
    for p in tables.portions_in_order(plan, scenario):
        dish = dish_words(catalog, p.recipe_id, p.recipe_name, p.version)
        found[p.client_id, p.day, p.meal].append(f"{number(p.servings, 2)} x {dish}")
    return {key: "; ".join(words) for key, words in found.items()}


def _table(
    scenario: Scenario, clients: Sequence[Client], eaten: dict[tuple[str, int, str], str]
) -> Row:
    days = []
    for day in range(1, scenario.days + 1):
        rows = [
            {
                "meal": plain(meal).capitalize(),
                "cells": [eaten.get((one.client_id, day, meal), "-") for one in clients],
            }
            for meal in scenario.meals
        ]
        kept = [row for row in rows if any(cell != "-" for cell in row["cells"])]
        if kept:
            days.append({"day": short_day(scenario.date_of(day)), "rows": kept})
    return {"clients": [one.name for one in clients], "days": days}


def short_form(plan: Plan, catalog: Catalog, scenario: Scenario) -> list[Row]:
    """Return who eats what, in tables of as many people as a page has room for."""
    eaten = _eaten(plan, catalog, scenario)
    return [
        _table(scenario, scenario.clients[at : at + _ABREAST], eaten)
        for at in range(0, len(scenario.clients), _ABREAST)
    ]
