"""Are plans ever absurd? Random kitchens over the demo catalog, quick plans against slow ones.

`python tests/benchmarks/random_kitchens.py --count N --seconds S --long L [--out FILE]` plans each
kitchen in S seconds as `planopt plan` does, then lets every other way look for a cheaper plan in L
seconds, and prints the ratios of the quick plan's cost to the cheapest known. With --proof-counts,
a kitchen whose bound already proves that no plan costs less than 1 / 1.5 of the quick one is not
looked at longer: nothing that any way could find would make it absurd. With --out, each kitchen is
one JSON line; kitchens that are in the file already are not run again.
"""

from __future__ import annotations

import argparse
import json
import sys
from collections import Counter
from collections.abc import Sequence
from pathlib import Path
from tempfile import TemporaryDirectory
from time import perf_counter
from typing import Any

import yaml
from tabulate import tabulate

# The benchmarks are no installed package; neither is planopt, in a bare checkout.
sys.path.insert(0, str(Path(__file__).resolve().parents[1]))
sys.path.append(str(Path(__file__).resolve().parents[2]))

from benchmarks.pantry import CATALOGS
from benchmarks.randomdemo import random_demo
from planopt.faults import AuditFailed, BadInput, NoCompliantWeek, NoPlanInTime
from planopt.pipeline import make_plan
from planopt.plan.records import Plan
from planopt.plan.reread import decisions_of
from planopt.problem.build import Problem, build_problem
from planopt.problem.decisions import Decisions, cost_of
from planopt.scenario.reading.load import Kitchen, load_kitchen
from planopt.solve.engine.search import search
from planopt.solve.heuristics.tidy import tidied
from planopt.solve.highs.daymodel import search_plain
from planopt.solve.settings import SolveSettings

ABSURD = 1.5
_MARKS = (1.0001, 1.02, 1.05, 1.1, 1.2, 1.3, ABSURD)

Row = dict[str, Any]


def run_kitchen(
    seed: int, seconds: float, long_seconds: float, threads: int, proof_counts: bool = False
) -> Row:
    """Return the figures of one kitchen: what it is, the quick plan, the cheapest known."""
    keys = random_demo(seed, tuple(sorted(p.stem for p in (CATALOGS / "recipes").glob("*.yaml"))))
    row: Row = {"seed": seed, "days": keys["days"], "clients": len(keys["clients"])}
    row["options"] = sorted(set(keys) | {name for one in keys["clients"] for name in one})
    with TemporaryDirectory() as folder:
        path = Path(folder) / "kitchen.yaml"
        path.write_text(yaml.safe_dump(keys), encoding="utf-8")
        try:
            kitchen = load_kitchen(path)
        except BadInput as error:
            return row | {"state": "refused", "why": str(error)[:300]}
        quick = SolveSettings(time_limit_s=seconds, gap=0.0, threads=threads)
        row |= _quick(kitchen, quick)
        enough = proof_counts and row["state"] == "planned" and _at_most(row) <= ABSURD
        open_end = row["state"] in ("planned", "no plan", "audit failed")
        if long_seconds > 0 and open_end and not enough:
            row |= _slow(kitchen, row.pop("week"), quick, long_seconds)
    row.pop("week", None)
    if row.get("objective") and row.get("least"):
        row["ratio"] = row["objective"] / row["least"]
    return row


def _at_most(row: Row) -> float:
    """Return how many times the cheapest plan the quick one costs at most, as its bound proves."""
    return row["objective"] / row["bound"] if row["bound"] > 0 else float("inf")


def _quick(kitchen: Kitchen, settings: SolveSettings) -> Row:
    """Plan as the command line does, and tell how it ended."""
    began = perf_counter()
    found: Row = {"state": "planned", "week": None}
    try:
        plan = make_plan(kitchen, settings, explain_s=0)
        found["objective"] = float(plan.solution.objective)
        found["bound"] = float(plan.solution.best_bound)
        found["allergens_served"] = allergens_served(plan, kitchen)
        found["days_below_floor"] = days_below_floor(plan, kitchen)
        found["week"] = decisions_of(plan, build_problem(kitchen.catalog, kitchen.scenario))
    except NoCompliantWeek:
        found["state"] = "impossible"
    except NoPlanInTime as error:
        found |= {"state": "no plan", "why": str(error)[:300]}
    except AuditFailed as error:
        found |= {"state": "audit failed", "why": str(error)[:600]}
    return found | {"seconds": round(perf_counter() - began, 2)}


def allergens_served(plan: Plan, kitchen: Kitchen) -> int:
    """Count portions of a food that its client's exclusions bar, or may bar, from recipe lines."""
    foods = kitchen.catalog.foods
    cooked = {
        (b.recipe_id, b.version, b.cook_day): [foods[line.food_id].allergens for line in b.lines]
        for b in plan.batches
    }
    barred = {client.client_id: set(client.allergens) for client in kitchen.scenario.clients}
    return sum(
        bool(barred[p.client_id])
        and any(
            barred[p.client_id] & set(held) or "not_known" in held
            for held in cooked[p.recipe_id, p.version, p.cook_day]
        )
        for p in plan.portions
    )


def days_below_floor(plan: Plan, kitchen: Kitchen) -> int:
    """Count days of unsupervised clients below 800 kcal, scaled by the meals eaten of all meals."""
    catalog = kitchen.catalog
    made = {(b.recipe_id, b.version, b.cook_day): b for b in plan.batches}
    energy: dict[tuple[str, int], float] = {}
    meals: dict[tuple[str, int], set[str]] = {}
    for portion in plan.portions:
        batch = made[portion.recipe_id, portion.version, portion.cook_day]
        kcal = sum(
            line.grams / 100.0 * (catalog.foods[line.food_id].nutrients["energy_kcal"] or 0.0)
            for line in batch.lines
        )
        servings = batch.batches * catalog.recipes[portion.recipe_id].yield_servings
        day = (portion.client_id, portion.day)
        energy[day] = energy.get(day, 0.0) + kcal / servings * portion.servings
        meals.setdefault(day, set()).add(portion.meal)
    free = {c.client_id for c in kitchen.scenario.clients if not c.medically_supervised}
    every = len(kitchen.scenario.meals)
    return sum(
        who in free and kcal < 800.0 * len(meals[who, day]) / every - 0.01
        for (who, day), kcal in energy.items()
    )


def _slow(kitchen: Kitchen, week: Decisions | None, settings: SolveSettings, seconds: float) -> Row:
    """Return the cheapest cost known after every way has had its time, and who found it."""
    problem = build_problem(kitchen.catalog, kitchen.scenario)
    best = (float("inf"), "nobody")
    if week is not None:
        best = (_cost(problem, week), "the quick plan")
    longer = settings.model_copy(update={"time_limit_s": seconds})
    other = longer.model_copy(update={"seed": settings.seed + 1})
    again = search(problem, other)
    impossible = again.infeasible
    if again.decisions is not None:
        cost = _cost(problem, again.decisions)
        if cost < best[0] - 1e-6:
            best, week = (cost, "the search"), again.decisions
    plain = search_plain(problem, longer, None, week, whole=week is not None)
    if plain.decisions is not None:
        cost = _cost(problem, tidied(problem, plain.decisions))
        best = (cost, "HiGHS") if cost < best[0] - 1e-6 else best
    impossible = impossible or plain.infeasible
    found: Row = {"found_by": best[1], "impossible": impossible}
    return found | ({"least": best[0]} if best[0] < float("inf") else {})


def _cost(problem: Problem, week: Decisions) -> float:
    return round(cost_of(problem, week).objective, 6)


def summary(rows: Sequence[Row]) -> str:
    """Return the tables: how kitchens ended, and the distribution of the ratio."""
    states = Counter(row["state"] for row in rows)
    missed = [row for row in rows if row["state"] == "no plan" and row.get("least")]
    proven = [row for row in rows if row["state"] == "no plan" and row.get("impossible")]
    ratios = sorted(row["ratio"] for row in rows if "ratio" in row)
    ends = [(state, count) for state, count in sorted(states.items())]
    ends += [("no plan, but one exists", len(missed)), ("no plan, later proven", len(proven))]
    text = [tabulate(ends, headers=["ended", "kitchens"])]
    plans = [row for row in rows if "allergens_served" in row]
    unsafe = [
        ("plans", len(plans)),
        ("portions with an excluded allergen", sum(row["allergens_served"] for row in plans)),
        ("days below the energy floor", sum(row["days_below_floor"] for row in plans)),
    ]
    text.append(tabulate(unsafe, headers=["safety, reckoned apart", "count"]))
    if ratios:
        within = [(f"{mark:g}", sum(r <= mark for r in ratios)) for mark in _MARKS]
        within.append((f"above {ABSURD:g}", sum(r > ABSURD for r in ratios)))
        text.append(tabulate(within, headers=["ratio at most", "kitchens"]))
        middle, last = ratios[len(ratios) // 2], ratios[-1]
        text.append(f"{len(ratios)} ratios: median {middle:.4f}, worst {last:.4f}")
    proofs = [row for row in rows if row["state"] == "planned" and _at_most(row) <= ABSURD]
    text.append(
        f"{len(proofs)} plans proven, by their bounds, to be within {ABSURD:g} of any other"
    )
    odd = [
        f"seed {row['seed']}: {row['state']}, ratio {row.get('ratio', float('nan')):.3f} "
        f"{row.get('why', '')}"
        for row in rows
        if row.get("ratio", 1.0) > ABSURD
        or row["state"] in ("audit failed", "refused", "error")
        or row in missed
    ]
    return "\n\n".join([*text, *odd])


def _parser() -> argparse.ArgumentParser:
    parser = argparse.ArgumentParser(description=(__doc__ or "").splitlines()[0])
    parser.add_argument("--count", type=int, default=12, help="kitchens (default 12)")
    parser.add_argument("--first", type=int, default=1, help="seed of the first (default 1)")
    parser.add_argument("--seconds", type=float, default=10, help="of the quick plan (default 10)")
    parser.add_argument("--long", type=float, default=60, help="of each other way (default 60)")
    parser.add_argument("--threads", type=int, default=2, help="for each run (default 2)")
    parser.add_argument("--proof-counts", action="store_true", help="no long run where not needed")
    parser.add_argument("--out", type=Path, metavar="FILE", help="a JSON line for each kitchen")
    return parser


def main(arguments: Sequence[str] | None = None) -> None:
    """Run the kitchens that the file lacks, and print the summary of all asked for."""
    asked = _parser().parse_args(arguments)
    seeds = range(asked.first, asked.first + asked.count)
    done: dict[int, Row] = {}
    if asked.out is not None and asked.out.exists():
        lines = asked.out.read_text(encoding="utf-8").splitlines()
        done = {row["seed"]: row for row in map(json.loads, lines)}
    for seed in seeds:
        if seed in done:
            continue
        try:
            row = run_kitchen(seed, asked.seconds, asked.long, asked.threads, asked.proof_counts)
        except Exception as error:
            # One kitchen that breaks the program is a figure too, and the worst of all.
            row = {"seed": seed, "state": "error", "why": f"{type(error).__name__}: {error}"}
        done[seed] = row
        if asked.out is not None:
            with asked.out.open("a", encoding="utf-8") as file:
                file.write(json.dumps(row) + "\n")
        told = {name: row.get(name) for name in ("objective", "least", "ratio", "found_by")}
        print(seed, row["state"], told, row.get("why", ""), file=sys.stderr, flush=True)
    print(summary([done[seed] for seed in seeds]))


if __name__ == "__main__":
    main()
