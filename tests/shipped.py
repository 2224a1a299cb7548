"""The shipped catalog, read once for all tests of a process. Its records are frozen."""

from __future__ import annotations

from functools import cache
from pathlib import Path

from planopt.catalog.load import CatalogReading, read_catalog
from planopt.catalog.records import Catalog

ROOT = Path(__file__).parents[1]


@cache
def shipped_reading() -> CatalogReading:
    """Return what was read of the shipped catalog."""
    return read_catalog(ROOT / "catalogs")


def shipped_catalog() -> Catalog:
    """Return the shipped catalog."""
    return shipped_reading().catalog
