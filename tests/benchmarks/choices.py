"""Hold outlines against full enumeration on random small kitchens, and print what was seen.

Of each kitchen the optimum over all versions is found by enumeration. No relaxation of the outline
may exceed it; the search among a few versions may not prove more, and is to find as cheap a plan.

    python tests/benchmarks/choices.py --count 200
"""

from __future__ import annotations

import argparse
import sys
from collections import Counter
from pathlib import Path

import pytest

sys.path.insert(0, str(Path(__file__).resolve().parents[1]))

from model.choicekitchens import choice_kitchen
from model.points import MONEY, optimum
from planopt.model.daymenus import one_dish_in_steps
from planopt.problem.build import build_problem
from planopt.problem.decisions import cost_of
from planopt.solve.bounding.relaxations import merged_arrays, weekly_arrays
from planopt.solve.engine.search import search
from planopt.solve.highs.daymodel import build_plain
from planopt.solve.settings import SolveSettings

_COUNTED = SolveSettings(gap=0.0, work_limit=200, threads=1)


def look(seed: int, seen: Counter[str]) -> None:
    """Count what one kitchen shows; a contradiction is printed with its seed."""
    with pytest.MonkeyPatch.context() as patch:
        kitchen = choice_kitchen(seed, patch)
        outline = kitchen.few.outline
        if outline is None:
            seen["without an outline"] += 1
            return
        least = None
        if all(slot.options for slot in kitchen.every.slots):
            least = optimum(build_plain(kitchen.every, strengthen=False).matrix).objective
        seen["a week exists" if least is not None else "no week complies"] += 1
        if all(slot.options for slot in outline.slots):
            arrays = {"plain": build_plain(outline).matrix}
            if one_dish_in_steps(outline):
                arrays["weekly"] = weekly_arrays(outline).matrix
                arrays["merged"] = merged_arrays(outline)
            for name, matrix in arrays.items():
                bound = optimum(matrix).objective
                if least is None:
                    seen[f"{name}: {'impossible too' if bound is None else 'has a point'}"] += 1
                elif bound is None or bound > least + MONEY:
                    seen["CONTRADICTIONS"] += 1
                    print(f"seed {seed}: {name} says {bound}, enumeration finds {least}")
                else:
                    seen[f"{name}: {'equal' if bound > least - MONEY else 'below'}"] += 1
        result = search(
            kitchen.few, _COUNTED, None, None,
            lambda keys: build_problem(kitchen.catalog, kitchen.scenario, keys),
        )  # fmt: skip
    if least is None:
        seen["search: proven impossible" if result.infeasible else "search: left open"] += 1
        return
    problem = result.problem or kitchen.few
    cost = None if result.decisions is None else cost_of(problem, result.decisions).objective
    if result.infeasible or result.bound > least + MONEY:
        seen["CONTRADICTIONS"] += 1
        print(f"seed {seed}: the search says {result}, enumeration finds {least}")
    cheap = cost is not None and cost < least + MONEY
    seen["search: cheapest plan" if cheap else "search: dearer or none"] += 1
    seen["search: proven optimal"] += result.status == "optimal"


def main() -> None:
    """Look at the kitchens asked for."""
    parser = argparse.ArgumentParser(description=__doc__)
    parser.add_argument("--first", type=int, default=0)
    parser.add_argument("--count", type=int, default=200)
    asked = parser.parse_args()
    seen: Counter[str] = Counter({"CONTRADICTIONS": 0})
    for seed in range(asked.first, asked.first + asked.count):
        look(seed, seen)
    for what, count in sorted(seen.items()):
        print(f"{count:5d}  {what}")


if __name__ == "__main__":
    main()
