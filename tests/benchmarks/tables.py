"""The tables: which kitchens are measured in which ways, and the columns that are printed."""

from __future__ import annotations

from collections.abc import Callable, Mapping
from dataclasses import asdict
from math import log

from benchmarks.ablation import MERGED, VARIANTS
from benchmarks.bench import (
    Bench,
    Table,
    first_plans,
    gap_at,
    gap_percents,
    middle,
    plans,
    trouble,
    values,
    worst,
)
from benchmarks.households import measure_households
from benchmarks.instances import Shape, book, knobs, shared, single
from benchmarks.measure import Result

Runs = dict[str, list[Result]]

_PLAN_HEADERS = (
    "plans",
    "objective",
    "bound",
    "gap %",
    "worst",
    "first plan s",
    "worst",
    "build s",
    "total s",
)


def _plan_cells(results: list[Result]) -> list[object]:
    gaps, first = gap_percents(results), first_plans(results)
    return [
        plans(results),
        middle(values(results, "objective")),
        middle(values(results, "bound")),
        middle(gaps, 1),
        worst(gaps, 1),
        middle(first, 1),
        worst(first, 1),
        middle(values(results, "build_s")),
        middle(values(results, "total_s"), 1),
    ]


def _notes(runs: Mapping[str, list[Result]]) -> tuple[str, ...]:
    return trouble([(label, result) for label, results in runs.items() for result in results])


def demo(bench: Bench) -> Table:
    """The demo week, day by day and searched, one solver seed after the other."""
    options = bench.options
    marks = [mark for mark in options.marks if mark < options.seconds] + [options.seconds]
    ways = {
        "plain, HiGHS": "plain",
        "plain and strengthening, HiGHS": "strong",
        "search": "search",
    }
    runs: Runs = {
        label: [
            bench.run("demo", label, bench.job(way, None, seed=1 + n)) for n in range(options.seeds)
        ]
        for label, way in ways.items()
    }
    rows = []
    for label, results in runs.items():
        row: list[object] = [label, *_plan_cells(results)]
        for mark in marks:
            row.append(middle([gap_at(result, mark) for result in results], 1))
        rows.append(row)
    return Table(
        "demo: the demo week (solver seeds)",
        ("way", *_PLAN_HEADERS, *(f"gap % at {mark:g} s" for mark in marks)),
        rows,
        _notes(runs),
    )


def single_client(bench: Bench) -> Table:
    """One client, 60 recipes, 76 foods: the ways side by side, for the same seconds."""
    ways = {
        "plain, HiGHS": "plain",
        "plain and strengthening, HiGHS": "strong",
        "plain, CBC": "cbc",
        "plain, SCIP": "scip",
        "plain, CP-SAT": "cp_sat",
        "search": "search",
    }
    runs: Runs = {label: [] for label in ways}
    over: dict[str, list[float]] = {label: [] for label in ways}
    for n in range(bench.options.seeds):
        shape = asdict(single(n + 1))
        for label, way in ways.items():
            runs[label].append(bench.run("single", label, bench.job(way, shape)))
        found = {label: runs[label][n].get("objective") for label in ways}
        best = min((float(v) for v in found.values() if v is not None), default=0.0)
        for label, value in found.items():
            if value is not None and best > 0:
                over[label].append(100.0 * (float(value) / best - 1.0))
    rows: list[list[object]] = [
        [label, *_plan_cells(results), middle(over[label], 1), worst(over[label], 1)]
        for label, results in runs.items()
    ]
    return Table(
        "single: one client, 60 recipes, 76 foods; plain day-by-day model against search",
        ("way", *_PLAN_HEADERS, "over best %", "worst"),
        rows,
        _notes(runs),
    )


def _by_shape(
    bench: Bench, table: str, title: str, shapes: Callable[[int], dict[str, Shape]]
) -> Table:
    """Search each of some shapes, over all seeds."""
    runs: Runs = {}
    for n in range(bench.options.seeds):
        for label, shape in shapes(n + 1).items():
            job = bench.job("search", asdict(shape))
            runs.setdefault(label, []).append(bench.run(table, label, job))
    rows: list[list[object]] = [
        [
            label,
            middle(values(results, "options"), 0),
            "/".join(sorted({str(result.get("by", "-")) for result in results})),
            *_plan_cells(results),
        ]
        for label, results in runs.items()
    ]
    return Table(title, ("kitchen", "options", "searched by", *_PLAN_HEADERS), rows, _notes(runs))


def clients(bench: Bench) -> Table:
    """1, 3 and 10 clients who share a kitchen."""

    def shapes(seed: int) -> dict[str, Shape]:
        return {f"{count} clients": shared(count, seed) for count in (1, 3, 10)}

    return _by_shape(bench, "clients", "clients: clients who share a kitchen, 60 recipes", shapes)


def recipes(bench: Bench) -> Table:
    """20 to 500 recipes for one client."""

    def shapes(seed: int) -> dict[str, Shape]:
        return {f"{count} recipes": book(count, seed) for count in (20, 60, 200, 500)}

    return _by_shape(bench, "recipes", "recipes: growing catalogs, one client", shapes)


def knob(bench: Bench) -> Table:
    """One client with one thing changed at a time: what makes a week hard."""
    return _by_shape(bench, "knobs", "knobs: one thing changed at a time, one client", knobs)


def build(bench: Bench) -> Table:
    """Seconds to build problem and models, against the least solve, and how they grow."""
    shapes: dict[str, Callable[[int], Shape]] = {
        "20 recipes": lambda seed: book(20, seed),
        "60 recipes": lambda seed: book(60, seed),
        "200 recipes": lambda seed: book(200, seed),
        "500 recipes": lambda seed: book(500, seed),
        "60 recipes, 3 clients": lambda seed: shared(3, seed),
        "60 recipes, 10 clients": lambda seed: shared(10, seed),
    }
    runs: Runs = {}
    for n in range(bench.options.seeds):
        for label, shape in shapes.items():
            job = bench.job("build", asdict(shape(n + 1)))
            runs.setdefault(label, []).append(bench.run("build", label, job))
    rows: list[list[object]] = []
    # Clients grow from 60 recipes, so each row names the row that it grew from.
    grew_from = {
        "60 recipes": "20 recipes",
        "200 recipes": "60 recipes",
        "500 recipes": "200 recipes",
        "60 recipes, 3 clients": "60 recipes",
        "60 recipes, 10 clients": "60 recipes, 3 clients",
    }
    for label, results in runs.items():
        keys = ("problem_s", "plain_s", "strong_s", "weekly_s", "proofs_s", "menus_s", "lp_s")
        rows.append(
            [
                label,
                *(middle(values(results, key), 0) for key in ("options", "columns", "rows")),
                *(middle(values(results, key), 2) for key in keys),
                *(worst(values(results, key), 2) for key in ("weekly_s", "lp_s")),
                *(
                    _growth(runs, label, grew_from.get(label), key)
                    for key in ("plain_s", "weekly_s")
                ),
            ]
        )
    headers = ("kitchen", "options", "plain columns", "plain rows", "problem s", "plain s")
    more = ("plain, strong s", "weekly s", "merged s", "menus s", "weekly LP solve s")
    worse = ("worst weekly s",)
    last = ("worst LP s", "growth, plain", "growth, weekly")
    note = "growth: power of the number of options with which seconds grow from the smaller kitchen"
    return Table(
        "build: seconds to build, against the LP of the weekly relaxation",
        (*headers, *more, *worse, *last),
        rows,
        (
            note,
            "weekly and menus are empty where day menus are too many and search is plain",
            *_notes(runs),
        ),
    )


def _growth(runs: Runs, label: str, smaller: str | None, key: str) -> str:
    if smaller is None:
        return "-"
    powers = []
    for small, large in zip(runs[smaller], runs[label], strict=True):
        if small.get(key) and large.get(key):
            ratio = float(large["options"]) / float(small["options"])
            powers.append(log(float(large[key]) / float(small[key])) / log(ratio))
    return middle(powers)


def ablation(bench: Bench) -> Table:
    """The relaxations, and one family of rows left out: the LP, and the bound after the seconds."""
    runs: Runs = {label: [] for label in (*VARIANTS, *MERGED)}
    best: list[float] = []
    for n in range(bench.options.seeds):
        shape = asdict(single(n + 1))
        plan = bench.run("ablation", "search", bench.job("search", shape))
        best.append(float(plan.get("objective") or 0.0))
        for label in runs:
            job = bench.job("ablation", shape, variant=label, threads=1)
            runs[label].append(bench.run("ablation", label, job))
    rows: list[list[object]] = []
    for label, results in runs.items():
        lp_gaps, bound_gaps = [], []
        for objective, result in zip(best, results, strict=True):
            for key, gaps in (("lp", lp_gaps), ("bound", bound_gaps)):
                if objective > 0 and result.get(key) is not None:
                    gaps.append(100.0 * (1.0 - float(result[key]) / objective))
        rows.append(
            [
                label,
                middle(values(results, "columns"), 0),
                middle(values(results, "rows"), 0),
                middle(values(results, "lp")),
                middle(lp_gaps, 1),
                worst(lp_gaps, 1),
                middle(values(results, "lp_s")),
                middle(values(results, "bound")),
                middle(bound_gaps, 1),
                worst(bound_gaps, 1),
                middle(values(results, "nodes"), 0),
            ]
        )
    headers = ("relaxation", "columns", "rows", "LP", "gap of LP %", "worst", "LP s")
    after = f"bound at {bench.options.seconds:g} s"
    return Table(
        "ablation: one client, 60 recipes; one thread, as the bound worker",
        (*headers, after, "gap of bound %", "worst", "nodes"),
        rows,
        ("gaps: to the plan that search finds in the same seconds", *_notes(runs)),
    )


def memory(bench: Bench) -> Table:
    """Peak memory of the searching process and of its bound worker."""
    cases: dict[str, tuple[str, Callable[[int], Shape] | None]] = {
        "demo week, search": ("search", None),
        "1 client, 60 recipes, search": ("search", single),
        "1 client, 60 recipes, plain HiGHS": ("strong", single),
        "10 clients, 60 recipes, search": ("search", lambda seed: shared(10, seed)),
        "1 client, 200 recipes, search": ("search", lambda seed: book(200, seed)),
        "1 client, 500 recipes, search": ("search", lambda seed: book(500, seed)),
    }
    runs: Runs = {}
    for n in range(bench.options.seeds):
        for label, (way, shape) in cases.items():
            kitchen = None if shape is None else asdict(shape(n + 1))
            job = bench.job(way, kitchen, seed=n + 1)
            runs.setdefault(label, []).append(bench.run("memory", label, job))
    rows: list[list[object]] = []
    for label, results in runs.items():
        own, worker = values(results, "peak_mb"), values(results, "worker_mb")
        both = [a + b for a, b in zip(own, values(results, "worker_mb", 0.0), strict=False)]
        rows.append(
            [
                label,
                *(middle(own, 0), worst(own, 0)),
                *(middle(worker, 0), worst(worker, 0)),
                *(middle(both, 0), worst(both, 0)),
            ]
        )
    headers = ("kitchen and way", "search MB", "worst", "worker MB", "worst", "sum MB", "worst")
    return Table("memory: peak of each process", headers, rows, _notes(runs))


def households(bench: Bench) -> Table:
    """Separate households of the demo kind, planned side by side, one thread each."""
    options = bench.options
    rows: list[list[object]] = []
    before: Result | None = None
    for count in options.households:
        bench.tell(f"households: {count}")
        figures = measure_households(count, 1, options.seconds, options.gap, options.threads)
        bench.done.append({"table": "households", "label": str(count), "figures": figures})
        growth = "-"
        if before is not None:
            ratio = log(count / before["households"])
            growth = f"{log(figures['wall_s'] / before['wall_s']) / ratio:.2f}"
        before = figures
        digits = {
            "gap": 1, "worst": 1, "wall_s": 1, "per_minute": 1, "work_s": 1, "overhead": 1,
            "worker_mb": 0, "run_mb": 0, "again_s": 1,
        }  # fmt: skip
        cells = [middle(values([figures], key), places) for key, places in digits.items()]
        planned = f"{figures['planned']}/{count}"
        rows.append([str(count), planned, str(figures["within"]), *cells, growth])
    headers = ("households", "planned", "within gap", "gap %", "worst", "total s")
    more = ("weeks a minute", "work s a week", "overhead %", "worker MB", "run MB", "again s")
    return Table(
        f"households: demo kind, {options.threads} processes, gap asked {options.gap:g}",
        (*headers, *more, "growth of total"),
        rows,
        (
            "overhead: time of the processes that is no work on a week: start, waiting, the end",
            "again: the same command when all is finished",
            "growth: power of the number of households with which the total grows",
        ),
    )


TABLES: dict[str, Callable[[Bench], Table]] = {
    "demo": demo,
    "single": single_client,
    "clients": clients,
    "recipes": recipes,
    "build": build,
    "ablation": ablation,
    "memory": memory,
    "knobs": knob,
    "households": households,
}
