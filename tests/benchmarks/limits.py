"""Print what a time limit is worth on odd inputs: many choices, recipes, clients, rows, meals.

Each kitchen is written to a fresh folder and planned by the command line in a process of its own.
The machine may be shared, so the table gives seconds by the clock and processor seconds; "over" is
what the clock shows beyond the limit. "read and build" are processor seconds of a process that only
does that.

    python tests/benchmarks/limits.py --seconds 10
    python tests/benchmarks/limits.py --seconds 10 --only "30 optional" "1000 clients"
"""

from __future__ import annotations

import argparse
import csv
import json
import os
import random
import shutil
import subprocess
import sys
import tempfile
from collections.abc import Callable
from dataclasses import dataclass
from pathlib import Path
from time import perf_counter
from typing import Any

import yaml

ROOT = Path(__file__).resolve().parents[2]
_QUICK, _DEMO = "one_client_quick.yaml", "demo_week.yaml"
_BUILD = """\
import sys
from pathlib import Path
from time import process_time
from planopt.problem.build import build_problem
from planopt.scenario.reading.load import load_kitchen
began = process_time()
kitchen = load_kitchen(Path(sys.argv[1]))
build_problem(kitchen.catalog, kitchen.scenario)
print(process_time() - began)
"""


@dataclass(frozen=True)
class Case:
    """An odd kitchen: its name, the scenario it begins from, and what is done to its folder."""

    name: str
    scenario: str
    change: Callable[[Path, dict[str, Any]], None]


def _rows(folder: Path, table: str) -> list[dict[str, str]]:
    with (folder / "catalogs" / table).open(encoding="utf-8", newline="") as given:
        return list(csv.DictReader(given))


def _append(folder: Path, table: str, rows: list[dict[str, str]]) -> None:
    with (folder / "catalogs" / table).open("a", encoding="utf-8", newline="") as given:
        csv.DictWriter(given, list(rows[0]), lineterminator="\n").writerows(rows)


def _free_foods(folder: Path) -> list[str]:
    """Return foods that are sold and ask nothing of a dish: no temperature, no safety group."""
    sold = {row["food_id"] for row in _rows(folder, "packs.csv")}
    return [
        row["food_id"]
        for row in _rows(folder, "foods.csv")
        if row["food_id"] in sold
        and not row["safe_temperature"]
        and row["safety_group"] == "none"
        and row["storage"] != "tap"
    ]


def _bowl(folder: Path, name: str, optional: int, first: int = 0) -> None:
    """Write a recipe of two foods and so many optional ones."""
    foods = _free_foods(folder)
    foods = foods[first:] + foods[:first]
    lines: list[dict[str, Any]] = [
        {"food": food, "amount": 40 + 5 * (n % 7), "unit": "g", "optional": True}
        for n, food in enumerate(foods[2 : 2 + optional])
    ]
    recipe = {
        "name": name.replace("_", " ").capitalize(),
        "meals": ["lunch", "dinner"],
        "yield_servings": 2,
        "batch": {"step": "half", "most_per_cook_day": 4},
        "minutes": {"hands_on": 10, "hands_on_per_extra_batch": 4},
        "equipment": {"hob_minutes": 10},
        "keeps": {"kind": "leftovers_in_general", "fridge_days": 3, "serve": "cold"},
        "lines": [
            {"food": foods[0], "amount": 150, "unit": "g"},
            {"food": foods[1], "amount": 100, "unit": "g"},
            *lines,
        ],
        "steps": [{"do": "Mix all and simmer until soft."}, {"do": "Cool fast and chill."}],
    }
    path = folder / "catalogs" / "recipes" / f"{name}.yaml"
    path.write_text(yaml.safe_dump(recipe, sort_keys=False), encoding="utf-8")


def _choices(optional: int) -> Case:
    def change(folder: Path, scenario: dict[str, Any]) -> None:
        _bowl(folder, "market_bowl", optional)
        scenario["recipes"]["include"].append("market_bowl")

    return Case(f"{optional} optional lines", _QUICK, change)


def _many_choices(folder: Path, scenario: dict[str, Any]) -> None:
    for n in range(20):
        _bowl(folder, f"market_bowl_{n}", 15, 3 * n)
    scenario.pop("variants", None)


def _many_recipes(folder: Path, scenario: dict[str, Any]) -> None:
    recipes = folder / "catalogs" / "recipes"
    for path in sorted(recipes.glob("*.yaml")):
        for n in range(8):
            shutil.copy(path, recipes / f"{path.stem}_{n}.yaml")
    scenario.pop("variants", None)


def _many_clients(count: int, stock: int) -> Case:
    def change(folder: Path, scenario: dict[str, Any]) -> None:
        rng = random.Random(1)
        foods = [r["food_id"] for r in _rows(folder, "foods.csv") if r["storage"] != "tap"]
        scenario.pop("variants", None)
        scenario.pop("budget", None)
        scenario["cook_days"] = [{"day": cook["day"]} for cook in scenario["cook_days"]]
        scenario["clients"] = [_client(n, foods) for n in range(count)]
        scenario["stock"] = [_entry(rng, foods) for _ in range(stock)]

    return Case(f"{count} clients, {stock} stock rows", _DEMO, change)


def _client(n: int, foods: list[str]) -> dict[str, Any]:
    energy = {"min": 1500 + n % 300, "max": 2000 + n % 400}
    client: dict[str, Any] = {
        "id": f"c{n}",
        "name": f"Client {n}",
        "windows_per_day": {"energy_kcal": energy},
    }
    if n % 7 == 0:
        client["allergens"] = ["milk"]
    if n % 11 == 0:
        client["excluded_foods"] = [foods[n % len(foods)]]
    return client


def _entry(rng: random.Random, foods: list[str]) -> dict[str, Any]:
    entry: dict[str, Any] = {"food": rng.choice(foods), "amount": rng.randint(50, 500), "unit": "g"}
    if rng.random() < 0.5:
        entry["use_by"] = f"2026-12-{rng.randint(1, 20):02d}"
    return entry


def _long_catalog(folder: Path, scenario: dict[str, Any]) -> None:
    foods, packs = _rows(folder, "foods.csv"), _rows(folder, "packs.csv")
    more_foods, more_packs = [], []
    for n in range(24):
        more_foods += [{**row, "food_id": f"{row['food_id']}_{n}"} for row in foods]
        more_packs += [
            {**row, "pack_id": f"{row['pack_id']}_{n}", "food_id": f"{row['food_id']}_{n}"}
            for row in packs
            if row["unit"] in ("g", "kg")
        ]
    _append(folder, "foods.csv", more_foods)
    _append(folder, "packs.csv", more_packs)
    scenario.pop("variants", None)


def _many_packs(folder: Path, scenario: dict[str, Any]) -> None:
    packs = _rows(folder, "packs.csv")
    more = []
    for n in range(1, 40):
        for row in packs:
            if row["unit"] == "g":
                size = f"{float(row['size']) * (1 + n / 97):.1f}"
                price = f"{float(row['price']) * (1 + n / 101):.2f}"
                more.append(
                    {**row, "pack_id": f"{row['pack_id']}_{n}", "size": size, "price": price}
                )
    _append(folder, "packs.csv", more)
    scenario.pop("variants", None)


def _many_meals(folder: Path, scenario: dict[str, Any]) -> None:
    served = scenario["meals"]
    meals = [f"{meal}_{n}" for n in range(6) for meal in served]
    for path in (folder / "catalogs" / "recipes").glob("*.yaml"):
        recipe = yaml.safe_load(path.read_text(encoding="utf-8"))
        recipe["meals"] = [f"{meal}_{n}" for meal in recipe["meals"] for n in range(6)]
        path.write_text(yaml.safe_dump(recipe, sort_keys=False), encoding="utf-8")
    scenario["meals"] = meals
    scenario["clients"][0].update(
        windows_per_day={"energy_kcal": {"min": 4000, "max": 9000}}, most_repeats=None
    )


def _many_days(_: Path, scenario: dict[str, Any]) -> None:
    scenario.pop("variants", None)
    scenario.pop("budget", None)
    scenario["days"] = 28
    scenario["cook_days"] = [{"day": day} for day in range(0, 28, 3)]
    for client in scenario["clients"]:
        client["away"] = {}
        client.pop("windows_on_days", None)
        client["most_repeats"] = 12


def _as_it_is(_: Path, __: dict[str, Any]) -> None:
    return


CASES: tuple[Case, ...] = (
    Case("as shipped", _QUICK, _as_it_is),
    *(_choices(count) for count in (0, 5, 9, 14, 30)),
    Case("20 recipes of 15 optional lines", _DEMO, _many_choices),
    Case("600 recipes", _DEMO, _many_recipes),
    Case("5,000 foods, 7,000 packs", _DEMO, _long_catalog),
    Case("40 packs of each food", _DEMO, _many_packs),
    Case("18 meals a day", _QUICK, _many_meals),
    Case("28 days, 10 cook days", _DEMO, _many_days),
    _many_clients(30, 100),
    _many_clients(200, 1000),
    _many_clients(1000, 10000),
)


def write(case: Case, folder: Path) -> Path:
    """Write a case's kitchen into a folder and return the path of its scenario."""
    shutil.copytree(ROOT / "catalogs", folder / "catalogs")
    scenario = yaml.safe_load((ROOT / "scenarios" / case.scenario).read_text(encoding="utf-8"))
    case.change(folder, scenario)
    path = folder / "scenarios" / case.scenario
    path.parent.mkdir()
    path.write_text(yaml.safe_dump(scenario, sort_keys=False), encoding="utf-8")
    return path


def measure(case: Case, folder: Path, seconds: float, gap: str) -> str:
    """Return the row of the table for a case: what building took, and what planning it did."""
    scenario = write(case, folder)
    env = {**os.environ, "PYTHONPATH": str(ROOT)}
    built = subprocess.run(
        [sys.executable, "-c", _BUILD, str(scenario)], env=env, capture_output=True, text=True
    )
    build = f"{float(built.stdout):.1f}" if built.returncode == 0 else "refused"
    command = [
        sys.executable, "-m", "planopt", "plan", str(scenario), "--time-limit", str(seconds),
        "--gap", gap, "--out", str(folder / "out"), "--quiet",
    ]  # fmt: skip
    began = perf_counter()
    process = subprocess.Popen(
        command, env=env, stdout=subprocess.DEVNULL, stderr=subprocess.PIPE, text=True
    )
    assert process.stderr is not None
    told = process.stderr.read()
    _, status, used = os.wait4(process.pid, 0)
    clock = perf_counter() - began
    process.returncode = os.waitstatus_to_exitcode(status)
    cost, bound = "-", "-"
    plan = folder / "out" / "plan.json"
    if plan.exists():
        solution = json.loads(plan.read_text(encoding="utf-8"))["solution"]
        cost, bound = solution["objective"], solution["best_bound"]
    elif process.returncode not in (4, 5):
        print(*told.splitlines()[:4], sep="\n", file=sys.stderr)
    return (
        f"| {case.name} | {build} | {clock:.1f} | {max(0.0, clock - seconds):.1f} "
        f"| {used.ru_utime + used.ru_stime:.1f} | {used.ru_maxrss / 1e3:.0f} "
        f"| {process.returncode} | {cost} | {bound} |"
    )


def main() -> None:
    """Measure the cases asked for, one row each."""
    parser = argparse.ArgumentParser(description=__doc__)
    parser.add_argument("--seconds", type=float, default=10.0)
    parser.add_argument("--gap", default="0")
    parser.add_argument("--only", nargs="*", default=[])
    asked = parser.parse_args()
    print("| kitchen | read and build, CPU s | clock s | over | CPU s | MB | exit | cost | bound |")
    print("|:--|--:|--:|--:|--:|--:|--:|--:|--:|")
    for case in CASES:
        if asked.only and not any(word in case.name for word in asked.only):
            continue
        with tempfile.TemporaryDirectory() as folder:
            print(measure(case, Path(folder), asked.seconds, asked.gap), flush=True)


if __name__ == "__main__":
    main()
