"""How far are plans above the cheapest ever found? `python tests/benchmarks/bestknown.py [group]`.

Each kitchen of a group is planned for some seconds, by seeds, and the table says by how much the
plans are above the best known, and which gap is proven. Best-known plans are kept in the folder
`bestknown` beside this file, as portions; whatever is cheaper, by any way, is audited and kept with
--keep. `--look S` lets searches of S seconds, with one seed after the other, look for cheaper ones.
`--walks` has the search without compiled annealing as a yardstick.
"""

from __future__ import annotations

import argparse
import json
import sys
from collections.abc import Callable, Iterator, Sequence
from dataclasses import dataclass
from functools import lru_cache
from pathlib import Path
from statistics import median
from tempfile import TemporaryDirectory
from time import perf_counter
from typing import Any
from unittest.mock import patch

import yaml
from tabulate import tabulate

# The benchmarks are no installed package; neither is planopt, in a bare checkout.
sys.path.insert(0, str(Path(__file__).resolve().parents[1]))
sys.path.append(str(Path(__file__).resolve().parents[2]))

from benchmarks.households import write_households
from benchmarks.instances import Shape, book, make_instance, shared, single
from benchmarks.measure import findings
from benchmarks.pantry import CATALOGS, DEMO_WEEK
from benchmarks.randomdemo import random_demo
from planopt.catalog.records import Catalog
from planopt.problem.build import Problem, build_problem
from planopt.problem.decisions import Decisions, cost_of
from planopt.scenario.households.parties import load_kitchens
from planopt.scenario.reading.load import load_kitchen
from planopt.scenario.records import Scenario
from planopt.solve.annealing.compiled import Compilation
from planopt.solve.engine.search import search
from planopt.solve.heuristics.tidy import carried_out
from planopt.solve.progress import Progress
from planopt.solve.settings import SolveSettings

STORE = Path(__file__).resolve().parent / "bestknown"
# Random kitchens over the demo catalog with one to four days and one or two meals.
SMALL = range(1, 9)

Made = tuple[Catalog, Scenario, Problem]
Row = list[Any]


@dataclass(frozen=True)
class Group:
    """Kitchens that are one row of the table, and the limits under which they are planned."""

    kitchens: tuple[str, ...]
    seconds: float
    threads: int = 2
    seeds: int = 1


GROUPS = {
    "single": Group(tuple(f"single-{seed}" for seed in range(1, 11)), 10),
    "demo": Group(("demo",), 30, seeds=5),
    "clients": Group(("clients-10",), 60),
    "book": Group(("recipes-500",), 30),
    "households": Group(tuple(f"household-{n}" for n in range(1, 9)), 2, threads=1),
    "small": Group(tuple(f"small-{seed}" for seed in SMALL), 5),
}


@lru_cache(maxsize=4)
def kitchen(name: str) -> Made:
    """Return the catalog, scenario and problem of a kitchen by its name."""
    kind, _, number = name.partition("-")
    if kind == "demo":
        found = load_kitchen(DEMO_WEEK)
        return found.catalog, found.scenario, build_problem(found.catalog, found.scenario)
    if kind in _SHAPES:
        drawn = make_instance(_SHAPES[kind](int(number)))
        return drawn.catalog, drawn.scenario, build_problem(drawn.catalog, drawn.scenario)
    with TemporaryDirectory() as place:
        if kind == "household":
            kitchens = load_kitchens(write_households(Path(place), 8))
            scenario = kitchens.parts[int(number) - 1].scenario
            assert scenario is not None
            return kitchens.catalog, scenario, build_problem(kitchens.catalog, scenario)
        path = Path(place) / "kitchen.yaml"
        ids = tuple(sorted(file.stem for file in (CATALOGS / "recipes").glob("*.yaml")))
        path.write_text(yaml.safe_dump(small_demo(int(number), ids)), encoding="utf-8")
        found = load_kitchen(path)
        return found.catalog, found.scenario, build_problem(found.catalog, found.scenario)


_SHAPES: dict[str, Callable[[int], Shape]] = {
    "single": single,
    "clients": shared,
    "recipes": book,
}


def small_demo(seed: int, recipe_ids: tuple[str, ...]) -> dict[str, Any]:
    """Return a random kitchen over the demo catalog, the first of its seed with so few meals."""
    for turn in range(1000):
        keys = random_demo(1000 * seed + turn, recipe_ids)
        if keys["days"] == 1 + seed % 4 and len(keys["meals"]) <= 2 and "budget" not in keys:
            return keys
    raise AssertionError(f"no small kitchen with seed {seed}")


def portions_of(problem: Problem, week: Decisions) -> list[Row]:
    """Return what is served, by names, so that it outlives an order of indices."""
    rows = []
    for (i, j), servings in sorted(week.servings.items()):
        slot = problem.slots[i]
        option = slot.options[j]
        dish, cook = problem.dishes[option.dish], problem.cook_days[option.cook]
        who = problem.clients[slot.client].client_id
        rows.append(
            [who, slot.day, slot.meal, dish.recipe_id, dish.version, cook.day, servings]
        )  # fmt: skip
    return rows


def week_of(problem: Problem, rows: Sequence[Row]) -> Decisions | None:
    """Return the week of stored portions with exact batches and packs; None if it cannot be."""
    slots = {
        (problem.clients[slot.client].client_id, slot.day, slot.meal): i
        for i, slot in enumerate(problem.slots)
    }
    servings: dict[tuple[int, int], float] = {}
    for who, day, meal, recipe_id, version, cook_day, amount in rows:
        i = slots[who, day, meal]
        for j, option in enumerate(problem.slots[i].options):
            dish, cook = problem.dishes[option.dish], problem.cook_days[option.cook]
            if (dish.recipe_id, dish.version, cook.day) == (recipe_id, version, cook_day):
                servings[i, j] = amount
    return carried_out(problem, servings) if len(servings) == len(rows) else None


def stored(name: str) -> dict[str, Any] | None:
    """Return what is known of a kitchen: `objective`, `bound`, `portions`."""
    path = STORE / f"{name}.json"
    known: dict[str, Any] | None = json.loads(path.read_text("utf-8")) if path.exists() else None
    return known


def keep(name: str, week: Decisions | None, bound: float) -> bool:
    """Keep a cheaper week or a higher bound; tell whether there was one.

    Raises:
        ValueError: the audit objects to the week.
    """
    catalog, scenario, problem = kitchen(name)
    known = stored(name) or {"objective": None, "bound": 0.0, "portions": []}
    best = known["objective"]
    better = False
    if week is not None:
        cost = round(cost_of(problem, week).objective, 4)
        if best is None or cost < best - 1e-4:
            wrong = findings(catalog, scenario, problem, week)
            if wrong:
                raise ValueError(f"{name}: {wrong[0]}")
            known |= {"objective": cost, "portions": portions_of(problem, week)}
            better = True
    if known["objective"] is not None and bound > known["bound"] + 1e-3:
        known["bound"] = round(bound - 1e-4, 4)
        better = True
    if better:
        STORE.mkdir(exist_ok=True)
        rows = ",\n".join(json.dumps(row) for row in known["portions"])
        head = {name: value for name, value in known.items() if name != "portions"}
        text = json.dumps(head)[:-1] + ', "portions": [\n' + rows + "\n]}\n"
        (STORE / f"{name}.json").write_text(text, encoding="utf-8")
    return better


@dataclass(frozen=True)
class Run:
    """What one search of one kitchen came to."""

    kitchen: str
    objective: float | None
    bound: float
    first_plan_s: float | None
    seconds: float
    week: Decisions | None

    @property
    def gap(self) -> float:
        """Return the proven gap in percent; 100 without a plan."""
        if self.objective is None:
            return 100.0
        return 100 * max(0.0, 1 - self.bound / self.objective) if self.objective else 0.0

    def above(self, best: float) -> float:
        """Return by how many percent the plan is dearer than the best known; 100 without one."""
        if self.objective is None:
            return 100.0
        return 100 * (self.objective / best - 1) if best > 0 else 0.0


def run(name: str, settings: SolveSettings) -> Run:
    """Search a kitchen once."""
    problem = kitchen(name)[2]
    began = perf_counter()
    first: list[float] = []

    def progress(moment: Progress) -> None:
        if moment.best_objective is not None and not first:
            first.append(perf_counter() - began)

    result = search(problem, settings, progress)
    seconds = perf_counter() - began
    if result.decisions is None:
        return Run(name, None, result.bound, None, seconds, None)
    cost = cost_of(problem, result.decisions).objective
    return Run(name, cost, result.bound, first[0] if first else seconds, seconds, result.decisions)


def runs_of(group: Group, settings: SolveSettings, seeds: int, saved: bool) -> Iterator[Run]:
    """Search every kitchen of a group with every seed, and keep what is better if asked to."""
    for name in group.kitchens:
        for seed in range(1, seeds + 1):
            done = run(name, settings.model_copy(update={"seed": seed}))
            if saved:
                keep(name, done.week, done.bound)
            print(f"{name} seed {seed}: {done.objective} {done.gap:.1f} %", file=sys.stderr)
            yield done


def row_of(label: str, runs: Sequence[Run]) -> Row:
    """Return a row of the table: medians and worst over the runs of a group."""
    best = {one.kitchen: (stored(one.kitchen) or {}).get("objective") for one in runs}
    # A plan that is cheaper than the store, where it is not kept, is its own best known.
    for one in runs:
        if one.objective is not None:
            known = best[one.kitchen]
            best[one.kitchen] = one.objective if known is None else min(known, one.objective)
    above = [one.above(best[one.kitchen] or 0.0) for one in runs]
    gaps = [one.gap for one in runs]
    first = [one.first_plan_s for one in runs if one.first_plan_s is not None]
    return [
        label,
        len(runs),
        f"{median(above):.1f}",
        f"{max(above):.1f}",
        f"{median(gaps):.1f}",
        f"{max(gaps):.1f}",
        f"{median(first):.1f}" if first else "-",
        f"{max(first):.1f}" if first else "-",
        f"{median(one.seconds for one in runs):.1f}",
    ]


def _parser() -> argparse.ArgumentParser:
    parser = argparse.ArgumentParser(description=(__doc__ or "").splitlines()[0])
    parser.add_argument("groups", nargs="*", help=f"all by default: {', '.join(GROUPS)}")
    parser.add_argument("--seconds", type=float, help="for each run (default: the group's)")
    parser.add_argument("--seeds", type=int, help="for each kitchen (default: the group's)")
    parser.add_argument("--threads", type=int, help="for each run (default: the group's)")
    parser.add_argument("--keep", action="store_true", help="keep what is better than the store")
    parser.add_argument("--look", type=float, metavar="S", help="look for better ones instead")
    parser.add_argument("--walks", action="store_true", help="without compiled annealing")
    return parser


def main(arguments: Sequence[str] | None = None) -> None:
    """Print the table, or look for better plans."""
    asked = _parser().parse_args(arguments)
    rows = []
    for label in asked.groups or GROUPS:
        group = GROUPS[label]
        seconds = asked.look or asked.seconds or group.seconds
        settings = SolveSettings(
            time_limit_s=seconds, gap=0.0, threads=asked.threads or group.threads
        )
        with patch.object(Compilation, "ready", _never if asked.walks else Compilation.ready):
            saved = asked.keep or asked.look is not None
            runs = list(runs_of(group, settings, asked.seeds or group.seeds, saved))
        rows.append(row_of(f"{label}, {seconds:g} s", runs))
    heads = [
        "kitchens", "runs", "above best\nmedian %", "above best\nworst %", "gap\nmedian %",
        "gap\nworst %", "first plan\nmedian s", "first plan\nworst s", "seconds",
    ]  # fmt: skip
    print(tabulate(rows, headers=heads, disable_numparse=True))


def _never(_: Compilation) -> bool:
    return False


if __name__ == "__main__":
    main()
