"""What clients had before: small random weeks with past plans, against enumeration."""

from __future__ import annotations

import random
from dataclasses import replace
from fractions import Fraction
from functools import lru_cache
from pathlib import Path

import pytest

from planopt.problem.build import build_problem
from planopt.problem.decisions import cost_of
from planopt.scenario.reading.load import load_kitchen
from planopt.solve.engine.search import search
from planopt.solve.highs.daymodel import search_plain
from planopt.solve.settings import SolveSettings
from published.bruteforce import brute_force
from published.facts import Facts
from published.randomweeks import Week, random_week, write_week

EXACT = SolveSettings(gap=0.0, threads=1)
SEEDS = (0, 9, 14, 18, 25, 29, 34, 40)


def after(seed: int) -> Week:
    """Return the week of a seed whose clients had some of its dishes a day or two before."""
    week, rng = random_week(seed), random.Random(7000 + seed)
    clients = [
        {
            **client,
            "eaten_before": {
                recipe: rng.choice(("2026-11-28", "2026-11-29"))
                for recipe in rng.sample(sorted(week.recipes), 2)
            },
        }
        for client in week.scenario["clients"]
    ]
    clients[0] |= rng.choice(({}, {"not_again_days": 1}))
    more = {"clients": clients, "seen_price": rng.choice(("0.40", "1.50"))}
    if rng.random() < 0.7:
        more["not_again_days"] = rng.choice((1, 2))
    return replace(week, scenario={**week.scenario, **more})


@lru_cache
def least(seed: int, *, later: bool) -> Fraction | None:
    """Return the least objective of a week in cents, None if no week complies."""
    return brute_force(Facts(after(seed) if later else random_week(seed)))


@pytest.mark.parametrize("seed", SEEDS)
def test_weeks_after_others_agree_with_enumeration(tmp_path: Path, seed: int) -> None:
    """The search and the model day by day find the enumerated cost, or none where there is none."""
    cents = least(seed, later=True)
    kitchen = load_kitchen(write_week(tmp_path, after(seed)))
    problem = build_problem(kitchen.catalog, kitchen.scenario)
    for result in (search(problem, EXACT), search_plain(problem, EXACT)):
        assert (result.decisions is None) == (cents is None) == result.infeasible
        if cents is not None and result.decisions is not None:
            cost = cost_of(problem, result.decisions).objective
            assert cost == pytest.approx(float(cents) / 100, abs=1e-6)
            assert result.bound == pytest.approx(cost, abs=1e-6)


def test_what_was_before_matters() -> None:
    """Some weeks cost more than by the price alone, and some kitchens have no week left."""
    pairs = [(least(seed, later=False), least(seed, later=True)) for seed in SEEDS]
    assert all(a is not None for a, _ in pairs)
    assert any(a is not None and b is not None and b > a for a, b in pairs)
    assert any(b is None for _, b in pairs)
