"""Print what-if figures: `python tests/benchmarks/whatif.py [--each S] [--base S] [--only PART]`.

Parts: `variants` solves those of the demo week, each from the base plan; `why` explains weeks
of single clients of the demo that have no plan; `curves` draws two curves of the quick scenario.
Nothing here is asserted: figures depend on the machine.
"""

from __future__ import annotations

import argparse
import sys
from pathlib import Path
from statistics import median
from time import perf_counter, process_time

from tabulate import tabulate

sys.path.append(str(Path(__file__).resolve().parents[2]))

from planopt.pipeline import load_kitchen, make_plan
from planopt.scenario.reading.load import Kitchen
from planopt.scenario.variants.apply import apply_variant
from planopt.scenario.variants.words import variant_of_words
from planopt.solve.settings import SolveSettings
from planopt.whatif.curves import budget_curve
from planopt.whatif.variants import settled, solve_variants
from planopt.whatif.windowcurve import parse_target, window_curve
from planopt.whynot.explain import explain

SCENARIOS = Path(__file__).resolve().parents[2] / "scenarios"
# One client of the demo week each, with changes after which no week complies.
WITHOUT_A_WEEK = (
    ("tomas", ("budget 40",)),
    ("mira", ("mira protein_g min 148", "mira energy_kcal max 1560")),
    ("june", ("june iron_mg min 300 over the week",)),
)
Rows = list[list[object]]


def only(kitchen: Kitchen, client_id: str) -> Kitchen:
    """Return the kitchen with one of its clients."""
    clients = tuple(c for c in kitchen.scenario.clients if c.client_id == client_id)
    scenario = kitchen.scenario.model_copy(update={"clients": clients, "variants": ()})
    return Kitchen(
        kitchen.catalog, scenario, kitchen.scenario_path, kitchen.catalog_folder, "0", "1"
    )


def variants(base_s: float, each_s: float) -> tuple[list[str], Rows]:
    """Return the variants of the demo week: cost, proven gap, seconds."""
    kitchen = load_kitchen(SCENARIOS / "demo_week.yaml")
    base = make_plan(kitchen, SolveSettings(time_limit_s=base_s))
    solve = SolveSettings(time_limit_s=each_s)
    results = solve_variants(kitchen, base, kitchen.scenario.variants, solve)
    settled_base, results = settled(kitchen, base, results)
    rows: Rows = [
        [name, plan.solution.objective, 100 * plan.solution.proven_gap, base_s, ""]
        for name, plan in (("base", base), ("base at the end", settled_base))
    ]
    for result in results:
        name = result.variant.name
        if result.plan is None or result.comparison is None:
            rows.append([name, "", "", result.seconds, result.note])
            continue
        cost = result.plan.solution.objective
        gap = 100 * float((cost - result.bound) / cost)
        rows.append([name, cost, gap, result.seconds, result.comparison.verdict])
    seconds = [result.seconds for result in results]
    rows.append(["median", "", "", median(seconds), ""])
    return ["variant", "all counted", "gap %", "seconds", "against the base"], rows


def why() -> tuple[list[str], Rows]:
    """Return the explanations: rules of the clash, whether minimal, repairs, seconds, CPU."""
    demo = load_kitchen(SCENARIOS / "demo_week.yaml")
    rows: Rows = []
    for client_id, words in WITHOUT_A_WEEK:
        kitchen = only(demo, client_id)
        variant = variant_of_words(words, kitchen.catalog, kitchen.scenario)
        catalog, scenario = apply_variant(kitchen.catalog, kitchen.scenario, variant)
        began, worked = perf_counter(), process_time()
        found = explain(catalog, scenario, SolveSettings())
        rules = 0 if found.conflict is None else len(found.conflict.rules)
        minimal = "" if found.conflict is None else found.conflict.minimal
        seconds, cpu = perf_counter() - began, process_time() - worked
        name = f"{client_id}: {variant.name}"
        rows.append([name, rules, minimal, len(found.repairs), seconds, cpu])
    return ["week", "rules", "minimal", "repairs", "seconds", "of one core"], rows


def curves() -> tuple[list[str], Rows]:
    """Return the curves of the quick scenario: points, worst gap, seconds."""
    kitchen = load_kitchen(SCENARIOS / "one_client_quick.yaml")
    settings = SolveSettings(time_limit_s=10.0)
    base = make_plan(kitchen, settings)
    money = budget_curve(kitchen, settings, base)
    window = window_curve(kitchen, parse_target(kitchen, "ivo protein_g"), settings, base)
    rows: Rows = []
    for name, points, short, seconds in (
        ("budget", money.points, len(money.short), money.seconds),
        ("protein of ivo", window.points, 0, window.seconds),
    ):
        gaps = [100 * point.gap for point in points if point.gap is not None]
        rows.append([name, len(points) + short, len(gaps), max(gaps, default=0.0), seconds])
    return ["curve", "points", "with a plan", "worst gap %", "seconds"], rows


def main() -> None:
    """Measure the parts asked for, and print a table of each."""
    parser = argparse.ArgumentParser(description=(__doc__ or "").splitlines()[0])
    parser.add_argument("--base", type=float, default=60.0, help="seconds for the base plan")
    parser.add_argument("--each", type=float, default=10.0, help="seconds for each variant")
    parser.add_argument("--only", choices=("variants", "why", "curves"))
    given = parser.parse_args()
    parts = {
        "variants": lambda: variants(given.base, given.each),
        "why": why,
        "curves": curves,
    }
    for name, part in parts.items():
        if given.only in (None, name):
            headers, rows = part()
            print(f"\n{name}\n{tabulate(rows, headers=headers, floatfmt='.2f')}", flush=True)


if __name__ == "__main__":
    main()
