"""Boxes of a portion: one for a dish eaten cold, but for what its recipe packs apart."""

from __future__ import annotations

from pathlib import Path
from typing import Any

import pytest
import yaml

from kitchens import tiny_catalog_files, tiny_client, write_kitchen
from planopt.audit import audit_plan
from planopt.cookday.containers import containers_of
from planopt.pipeline import load_kitchen, make_plan
from planopt.problem.build import build_problem
from planopt.solve.settings import SolveSettings

SOUP = "recipes/lentil_soup.yaml"
CASES: list[tuple[str, list[str], list[tuple[str, ...]]]] = [
    ("cold", [], [("main", "dry", "sauce")]),
    ("cold", ["sauce"], [("main", "dry"), ("sauce",)]),
    ("cold", ["main"], [("main",), ("dry", "sauce")]),
    ("cold", ["main", "dry", "sauce"], [("main",), ("dry",), ("sauce",)]),
    ("reheated", [], [("main",), ("dry", "sauce")]),
    ("either", ["dry"], [("main",), ("dry",), ("sauce",)]),
]


@pytest.mark.parametrize(("serve", "apart", "boxes"), CASES)
def test_boxes_are_counted_alike_everywhere(
    tmp_path: Path, serve: str, apart: list[str], boxes: list[tuple[str, ...]]
) -> None:
    """Problem, plan, containers and audit all have so many boxes, at their price."""
    soup: dict[str, Any] = yaml.safe_load(tiny_catalog_files()[SOUP])
    soup["keeps"]["serve"] = serve
    soup["lines"] = [line for line in soup["lines"] if not line.get("optional")]
    soup["lines"][0]["part"] = "dry"
    soup["lines"] += [{"food": "onion", "amount": 20, "unit": "g", "part": "sauce"}]
    if apart:
        soup["parts_apart"] = apart
    client = tiny_client(meals=["lunch"], windows_per_day={}, most_repeats=None)
    path = write_kitchen(
        tmp_path,
        clients=[client],
        recipes={"include": ["lentil_soup"]},
        work_prices={"box": "0.25"},
    )
    (tmp_path / "catalogs" / SOUP).write_text(yaml.safe_dump(soup), encoding="utf-8")
    kitchen = load_kitchen(path)
    problem = build_problem(kitchen.catalog, kitchen.scenario)
    assert {dish.boxes for dish in problem.dishes} == {len(boxes)}
    plan = make_plan(kitchen, SolveSettings(time_limit_s=60.0))
    assert plan.solution.work_cost * 4 == len(boxes) * len(plan.portions)
    assert audit_plan(plan, kitchen.catalog, kitchen.scenario) == []
    packed = containers_of(plan, kitchen.catalog, kitchen.scenario)
    assert len(packed) == len(boxes) * len(plan.portions)
    first = [box for box in packed if box.number <= len(boxes)]
    assert [(box.part, *box.parts_beside) for box in first] == boxes
    grams = sum(box.grams for box in packed)
    assert grams == pytest.approx(
        sum(
            line.grams * portion.servings / batch.servings
            for batch in plan.batches
            for line in batch.lines
            for portion in plan.portions
        )
    )
