"""Plan tiny kitchens with numbers at the ends of their ranges: none crashes or fails its audit.

`--ends` puts each end of each range into a kitchen of its own; `--count` draws so many kitchens
with three odd numbers each. What `check` accepts must end as a plan, as proven impossible, or
without a plan in time; anything else is printed, and the exit code is 1.
"""

from __future__ import annotations

import argparse
import sys
import tempfile
import traceback
from collections import Counter
from collections.abc import Iterator, Mapping
from pathlib import Path
from random import Random
from typing import Any

sys.path.insert(0, str(Path(__file__).parents[1]))

from extremes import base_files, ended, put, spots


def kitchens(ends: bool, first: int, count: int) -> Iterator[tuple[str, Mapping[str, Any]]]:
    """Yield the kitchens to try, each with its odd numbers in words."""
    files = base_files()
    known = list(spots(files))
    if ends:
        for spot in known:
            for value in spot.values()[:2]:
                yield f"{spot.name} = {value}", put(files, spot, value)
    for seed in range(first, first + count):
        yield drawn(seed)


def drawn(seed: int) -> tuple[str, Mapping[str, Any]]:
    """Return a kitchen with three numbers drawn by chance from within their ranges."""
    rng = Random(seed)
    files: Mapping[str, Any] = base_files()
    words = []
    for spot in rng.sample(list(spots(files)), 3):
        value = rng.choice(spot.values())
        files = put(files, spot, value)
        words.append(f"{spot.name} = {value}")
    return "; ".join(words), files


def main() -> int:
    """Try them all and return how it went."""
    parser = argparse.ArgumentParser()
    parser.add_argument("--ends", action="store_true")
    parser.add_argument("--first", type=int, default=1)
    parser.add_argument("--count", type=int, default=0)
    parser.add_argument("--seconds", type=float, default=1.0)
    asked = parser.parse_args()
    told: Counter[str] = Counter()
    for words, files in kitchens(asked.ends, asked.first, asked.count):
        with tempfile.TemporaryDirectory() as folder:
            try:
                told[ended(Path(folder), files, asked.seconds)] += 1
            except Exception:
                told["crashed or refused by the audit"] += 1
                print(f"{words}\n{traceback.format_exc()}", flush=True)
    print("; ".join(f"{count} {how}" for how, count in sorted(told.items())))
    return int("crashed or refused by the audit" in told)


if __name__ == "__main__":
    sys.exit(main())
