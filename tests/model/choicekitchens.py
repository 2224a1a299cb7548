"""Random small kitchens whose recipes have choices, with all versions and with an outline."""

from __future__ import annotations

from dataclasses import dataclass
from random import Random
from typing import Any

import pytest

from model.small import catalog, client, food, limit, pack, recipe, scenario
from planopt.catalog.records import Catalog
from planopt.problem import versions
from planopt.problem.build import Problem, build_problem
from planopt.scenario.records import Scenario

FOODS = ("barley", "beans", "curd", "greens", "roots", "seeds")


@dataclass(frozen=True)
class Choices:
    """One kitchen: its files, the problem with every version, and the one with an outline."""

    catalog: Catalog
    scenario: Scenario
    every: Problem
    few: Problem


def choice_kitchen(seed: int, patch: pytest.MonkeyPatch, at_hand: int = 3) -> Choices:
    """Return the kitchen of a seed; recipes of more than two versions have an outline."""
    rng = Random(seed)
    table, week = _catalog(rng), _scenario(rng)
    patch.setattr(versions, "_ALL_UP_TO", 100)
    every = build_problem(table, week)
    assert every.outline is None
    patch.setattr(versions, "_ALL_UP_TO", 2)
    patch.setattr(versions, "_LEAST_AT_HAND", at_hand)
    patch.setattr(versions, "_MOST_AT_HAND", at_hand)
    return Choices(table, week, every, build_problem(table, week))


def _catalog(rng: Random) -> Catalog:
    foods = [
        food(
            name,
            rng.randint(60, 380),
            rng.randint(2, 24),
            keeps_days=rng.choice((None, None, 1, 4)),
            allergens=["milk"] if name == "curd" else [],
        )
        for name in FOODS
    ]
    packs = [
        pack(name, grams, f"{grams * rng.randint(3, 20) / 1000 + 0.1:.2f}", rng.choice(SELLERS))
        for name in FOODS
        for grams in rng.sample((150, 250, 400, 700), rng.choice((1, 1, 2)))
    ]
    return catalog(foods, packs, [_recipe(rng, n) for n in range(3)], [limit(), limit("short", 1)])


SELLERS = ("corner", "market")


def _recipe(rng: Random, number: int) -> dict[str, Any]:
    names = rng.sample(FOODS, 4)
    lines: list[dict[str, Any]] = []
    for n, name in enumerate(names if number < 2 else names[:2]):
        line: dict[str, Any] = {"food": name, "amount": rng.randint(8, 40) * 10, "unit": "g"}
        if number < 2 and n:
            line["optional"] = rng.random() < 0.7
            if rng.random() < 0.5:
                others = [other for other in FOODS if other not in names]
                ratio = rng.choice((0.8, 1.0, 1.5))
                line["alternatives"] = [{"food": rng.choice(others), "ratio": ratio}]
        lines.append(line)
    return recipe(
        f"pot{number}",
        {},
        lines=lines,
        batch={
            "step": rng.choice(("whole", "half", "any")),
            "most_per_cook_day": rng.choice((1, 2, 3)),
        },
        meals=rng.choice((["lunch"], ["lunch", "dinner"])),
    )


def _scenario(rng: Random) -> Scenario:
    clients = []
    for name in ("ana", "ben")[: rng.choice((1, 1, 2))]:
        low = rng.randint(150, 500)
        more: dict[str, Any] = {
            "windows_per_day": {"energy_kcal": {"min": low, "max": 3 * low}},
            "portions": {"step": 0.5, "smallest": 0.5, "largest": 1.5},
        }
        if rng.random() < 0.3:
            more["windows_per_week"] = {"protein_g": {"min": rng.randint(5, 50)}}
        if rng.random() < 0.3:
            more["allergens"] = ["milk"]
        if rng.random() < 0.3:
            more["excluded_foods"] = [rng.choice(FOODS)]
        if rng.random() < 0.3:
            more["dislikes"] = {rng.choice(FOODS): rng.choice((0, 1))}
        if rng.random() < 0.2:
            more["wants"] = {rng.choice(FOODS): 1}
        clients.append(client(name, **more))
    keys: dict[str, Any] = {"waste_weight": rng.choice((0, 0.5, 1))}
    if rng.random() < 0.3:
        keys["visit_cost"] = "0.50"
    if rng.random() < 0.3:
        keys["budget"] = str(rng.randint(6, 30))
    if rng.random() < 0.3:
        keys["stock"] = [{"food": rng.choice(FOODS), "amount": rng.randint(50, 400), "unit": "g"}]
    if rng.random() < 0.3:
        keys["most_dishes_per_meal"] = 2
    return scenario(
        days=2,
        meals=["lunch", "dinner"][: rng.choice((1, 2))],
        cook_days=[{"day": 1}, {"day": 2}][: rng.choice((1, 2))],
        clients=clients,
        **keys,
    )
