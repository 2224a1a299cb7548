"""Print benchmark tables: `python tests/benchmarks/run.py [table ...] [--seeds N] [--seconds S]`.

Every row is the median over the seeds, with the worst beside it where that says something. Nothing
here is asserted: figures depend on the machine.
"""

from __future__ import annotations

import argparse
import json
import os
import platform
import sys
from dataclasses import replace
from importlib.metadata import version
from pathlib import Path
from time import perf_counter

from tabulate import tabulate

# The benchmarks are no installed package; neither is planopt, in a bare checkout.
sys.path.insert(0, str(Path(__file__).resolve().parents[1]))
sys.path.append(str(Path(__file__).resolve().parents[2]))

from benchmarks.bench import Bench, Options, Table
from benchmarks.tables import TABLES


def _parser() -> argparse.ArgumentParser:
    parser = argparse.ArgumentParser(description=__doc__.splitlines()[0] if __doc__ else None)
    parser.add_argument(
        "tables", nargs="*", metavar="table", help=f"all by default: {', '.join(TABLES)}"
    )
    parser.add_argument("--seeds", type=int, default=3, help="kitchens a row (default 3)")
    parser.add_argument("--seconds", type=float, default=60, help="for each run (default 60)")
    parser.add_argument("--gap", type=float, default=0, help="proven gap to stop at (default 0)")
    parser.add_argument("--threads", type=int, default=2, help="for each run (default 2)")
    parser.add_argument(
        "--households",
        type=lambda text: tuple(int(part) for part in text.split(",")),
        default=(1, 20),
        metavar="N,N",
        help="sizes of the table households (default 1,20)",
    )
    parser.add_argument("--json", type=Path, metavar="FILE", help="write every run's figures")
    return parser


def machine(options: Options) -> dict[str, object]:
    """Return what the figures depend on."""
    return {
        "python": platform.python_version(),
        "system": f"{platform.system()} {platform.machine()}",
        "cores": os.cpu_count(),
        "highspy": version("highspy"),
        "pulp": version("pulp"),
        "seeds": options.seeds,
        "seconds": options.seconds,
        "gap": options.gap,
        "threads": options.threads,
    }


def table_text(table: Table) -> str:
    """Return a table as plain text, its notes beneath."""
    body = tabulate(
        table.rows,
        headers=[_wrapped(header) for header in table.headers],
        disable_numparse=True,
        colalign=["left", *["right"] * (len(table.headers) - 1)],
    )
    return "\n".join([table.title, "", body, *(f"- {note}" for note in table.notes)])


def _wrapped(header: str) -> str:
    """Return a header on two lines if it has several words: numbers are narrow."""
    words = header.split()
    half = (len(words) + 1) // 2
    return header if len(words) < 2 else " ".join(words[:half]) + "\n" + " ".join(words[half:])


def main() -> int:
    """Run the tables asked for."""
    parser = _parser()
    asked = parser.parse_args()
    names = asked.tables or list(TABLES)
    unknown = [name for name in names if name not in TABLES]
    if unknown:
        parser.error(f"unknown table {unknown[0]!r}; there are {', '.join(TABLES)}")
    if asked.seeds < 1 or asked.seconds <= 0:
        parser.error("--seeds and --seconds must be above 0")
    options = Options(asked.seeds, asked.seconds, asked.gap, asked.threads)
    options = replace(options, households=asked.households)
    about = machine(options)
    print(", ".join(f"{key} {value}" for key, value in about.items()), flush=True)
    began = perf_counter()

    def tell(text: str) -> None:
        print(f"[{perf_counter() - began:6.0f} s] {text}", file=sys.stderr, flush=True)

    bench = Bench(options, tell)
    for name in names:
        print("\n" + table_text(TABLES[name](bench)), flush=True)
        if asked.json is not None:
            # Written after every table, so that a stopped run keeps what it has.
            told = {"machine": about, "runs": bench.done}
            asked.json.write_text(json.dumps(told, indent=1) + "\n", encoding="utf-8")
    return 0


if __name__ == "__main__":
    sys.exit(main())
