"""Seeded households on the demo catalog, as a roster, and what planning all of them takes.

The clients are invented: four kinds of windows and exclusions as in the demo week, moved about.
"""

from __future__ import annotations

import csv
import io
import multiprocessing
import random
from contextlib import suppress
from pathlib import Path
from statistics import median
from tempfile import TemporaryDirectory
from time import perf_counter
from typing import Any

import yaml

from benchmarks.memory import peak_mb
from benchmarks.pantry import DEMO_WEEK
from planopt.faults import BadInput
from planopt.plan.file import read_plan
from planopt.runs.run import RunMoment, plan_weeks
from planopt.scenario.kitchens import path_from
from planopt.solve.settings import SolveSettings

_COLUMNS = (
    "id", "name", "household", "energy_kcal_min", "energy_kcal_max", "protein_g_min",
    "protein_g_max", "fibre_g_min", "sodium_mg_week_max", "allergens", "excluded_foods",
    "dislikes", "most_repeats", "least_different_recipes",
)  # fmt: skip
# Kind of client -> allergens, excluded foods, dislikes.
_KINDS = (
    ("", "", "mushrooms:1"),
    ("milk", "sardines_canned", ""),
    ("peanut|tree_nuts", "", "tofu_firm:1"),
    ("", "ground_beef_93|ground_beef_85|beef_chuck|beef_sirloin|pork_loin|ground_pork", ""),
)
# Eaters of a household: mostly one, as the coach's clients mostly come alone.
_EATERS = (1, 1, 1, 1, 2)


def roster_text(households: int, seed: int = 1) -> str:
    """Return a roster of so many households; the first ones are the same for any number."""
    draw = random.Random(seed)
    out = io.StringIO()
    writer = csv.writer(out, lineterminator="\n")
    writer.writerow(_COLUMNS)
    for n in range(households):
        for eater in range(draw.choice(_EATERS)):
            allergens, foods, dislikes = draw.choice(_KINDS)
            energy = draw.randrange(1550, 2700, 50)
            protein = round(energy * draw.uniform(0.045, 0.058))
            name = f"h{n:04d}_{'ab'[eater]}"
            writer.writerow(
                [name, f"Client {name}", f"h{n:04d}", energy, energy + 250, protein,
                 round(protein * 1.6), draw.randrange(18, 25), 7 * 2500, allergens, foods,
                 dislikes, 4, 8]
            )  # fmt: skip
    return out.getvalue()


def write_households(folder: Path, households: int, seed: int = 1) -> Path:
    """Write the demo week with a roster in place of its clients; return the scenario's path."""
    scenario = yaml.safe_load(DEMO_WEEK.read_text(encoding="utf-8"))
    del scenario["clients"]
    # Shares of a day need windows of a day, which these clients do not all have.
    scenario.pop("windows_per_meal", None)
    scenario |= {
        "name": f"{households} invented households",
        "catalog": path_from(folder, DEMO_WEEK.parent / scenario["catalog"]),
        "start_date": scenario["start_date"].isoformat(),
        "roster": "clients.csv",
        "budget": None,
    }
    for entry in scenario["stock"]:
        if "use_by" in entry:
            entry["use_by"] = entry["use_by"].isoformat()
    (folder / "clients.csv").write_text(roster_text(households, seed), encoding="utf-8")
    path = folder / "households.yaml"
    path.write_text(yaml.safe_dump(scenario, sort_keys=False), encoding="utf-8")
    return path


def measure_households(
    households: int, seed: int, seconds: float, gap: float, processes: int
) -> dict[str, Any]:
    """Plan so many households and return the figures; memory in MB, gaps in percent."""
    peaks: dict[int, float] = {}

    def progress(moment: RunMoment) -> None:
        for child in multiprocessing.active_children():
            if child.pid is not None and (peak := peak_mb(child.pid)) is not None:
                peaks[child.pid] = peak

    settings = SolveSettings(time_limit_s=seconds, gap=gap, threads=1)
    with TemporaryDirectory() as place:
        path, out = write_households(Path(place), households, seed), Path(place) / "out"
        done = plan_weeks(path, out, settings, workers=processes, progress=progress)
        began = perf_counter()
        again = plan_weeks(path, out, settings, workers=processes)
        resumed = perf_counter() - began
        gaps = []
        for kitchen in done.index.kitchens:
            with suppress(BadInput):
                plan = read_plan(out / "plans" / kitchen.kitchen_id)
                gaps.append(100 * plan.solution.proven_gap)
    used = min(processes, households)
    return {
        "households": households,
        "planned": len(gaps),
        "within": sum(g <= 100 * gap + 1e-9 for g in gaps),
        "gap": median(gaps) if gaps else None,
        "worst": max(gaps, default=None),
        "wall_s": done.seconds,
        "per_minute": 60 * len(gaps) / done.seconds,
        "work_s": done.work_seconds / households,
        "overhead": 100 * (1 - done.work_seconds / (used * done.seconds)),
        "worker_mb": max(peaks.values(), default=None),
        "run_mb": peak_mb(),
        "again_s": resumed,
        "kept": again.kept,
    }
