"""What `check` accepts, `plan` can end: kitchens with numbers at the ends of their ranges.

The long run is `python tests/benchmarks/extreme_numbers.py --ends --count 300`.
"""

from __future__ import annotations

from collections import Counter
from pathlib import Path

from benchmarks.extreme_numbers import drawn
from extremes import base_files, ended, put, spots

# Numbers that are rare by chance, and near what once crashed.
_NARROW = {
    "scenario.yaml:carry_days": 366,
    "scenario.yaml:appliances.oven_batches": 0.25,
    "scenario.yaml:stock.0.amount": 1000000,
    "recipes/oat_porridge.yaml:batch.most_per_cook_day": 1000,
    "recipes/egg_rice.yaml:lines.2.alternatives.0.ratio": 100,
    "foods.csv:1.keeps_days": 3650,
}


def test_a_kitchen_of_several_ends_at_once_is_planned(tmp_path: Path) -> None:
    """Each of these is the end of its range."""
    files = base_files()
    known = {spot.name: spot for spot in spots(files)}
    for name, value in _NARROW.items():
        spot = known[name]
        assert value in (spot.range.least, spot.range.most) or "stock" in name, name
        files = put(files, spot, value)
    assert ended(tmp_path, files) == "planned"


def test_odd_kitchens_never_crash_nor_fail_their_audit(tmp_path: Path) -> None:
    """Three odd numbers each; some are planned, and none ends in another way."""
    told = Counter(ended(tmp_path / str(seed), drawn(seed)[1]) for seed in range(1, 31))
    assert sum(told.values()) == 30
    assert told["planned"] >= 3
