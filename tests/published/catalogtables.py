"""The shipped catalogs as plain rows, read without planopt's readers, and the published tables."""

from __future__ import annotations

import csv
from functools import lru_cache
from pathlib import Path
from typing import Any

import yaml

from planopt.catalog.load import load_catalog
from planopt.catalog.records import Catalog
from published.dietproblems import rows_of

CATALOGS = Path(__file__).parents[2] / "catalogs"
Row = dict[str, str]
# Sources that were seen; what was only remembered is no pass-or-fail test.
SEEN = ("CONFIRMED", "CONFIRMED-SECONDARY")


def catalog_rows(name: str) -> list[Row]:
    """Return the rows of one table of the shipped catalogs, as text."""
    with (CATALOGS / f"{name}.csv").open(encoding="utf-8", newline="") as file:
        return list(csv.DictReader(file))


@lru_cache
def recipes() -> dict[str, dict[str, Any]]:
    """Return the shipped recipes as plain data by id."""
    return {
        path.stem: yaml.safe_load(path.read_text(encoding="utf-8"))
        for path in sorted((CATALOGS / "recipes").glob("*.yaml"))
    }


@lru_cache
def foods() -> dict[str, Row]:
    """Return the shipped foods as text by id."""
    return {row["food_id"]: row for row in catalog_rows("foods")}


@lru_cache
def sr28() -> dict[str, Row]:
    """Return the copied rows of USDA SR28 by NDB number."""
    return {row["ndb_no"]: row for row in rows_of("sr28_excerpt.csv")}


@lru_cache
def shipped() -> Catalog:
    """Return the shipped catalogs as planopt reads them."""
    return load_catalog(CATALOGS)


def published_rows(name: str, key: str) -> dict[str, Row]:
    """Return the rows of a published table whose source was seen, by one column."""
    return {row[key]: row for row in rows_of(name) if row["status"] in SEEN}


def foods_of(recipe: dict[str, Any]) -> list[str]:
    """Return every food a recipe may hold, alternatives included."""
    return [
        food
        for line in recipe["lines"]
        for food in (line["food"], *(other["food"] for other in line.get("alternatives", ())))
    ]


def steps_text(recipe: dict[str, Any]) -> str:
    """Return the steps of a recipe as one text in lower case."""
    return " ".join(step["do"] for step in recipe["steps"]).lower()
