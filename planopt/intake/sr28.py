"""USDA National Nutrient Database for Standard Reference, Release 28: the table shipped with us.

Public domain; US Department of Agriculture, Agricultural Research Service, September 2015, slightly
revised May 2016.
"""

from __future__ import annotations

import csv
import gzip
import io
from collections import defaultdict
from functools import lru_cache
from importlib.resources import files

from planopt.intake.composition import CompositionFood, PortionSize

SOURCE = "USDA SR28"
_PLAIN = ("ndb_no", "description", "food_group", "refuse_percent")
_FACTORS = ("protein_factor", "fat_factor", "carbohydrate_factor")


@lru_cache(maxsize=1)
def sr28_foods() -> tuple[CompositionFood, ...]:
    """Return every food of the release, in the order of its numbers."""
    portions: dict[str, list[PortionSize]] = defaultdict(list)
    for row in _rows("sr28_portions.csv.gz"):
        size = PortionSize(float(row["amount"]), row["unit_description"], float(row["grams"]))
        portions[row["ndb_no"]].append(size)
    found = []
    for row in _rows("sr28_foods.csv.gz"):
        nutrients = {
            name: float(text)
            for name, text in row.items()
            if text and name not in _PLAIN and name not in _FACTORS
        }
        found.append(
            CompositionFood(
                key=row["ndb_no"],
                description=row["description"],
                source=SOURCE,
                group=row["food_group"],
                nutrients=nutrients,
                refuse_percent=float(row["refuse_percent"]) if row["refuse_percent"] else None,
                portions=tuple(portions.get(row["ndb_no"], ())),
                ndb_no=row["ndb_no"],
            )
        )
    return tuple(found)


def _rows(name: str) -> csv.DictReader[str]:
    packed = (files("planopt.intake") / "data" / name).read_bytes()
    return csv.DictReader(io.StringIO(gzip.decompress(packed).decode("utf-8"), newline=""))
