"""What a week is: small random weeks with each rule, against every week there is."""

from __future__ import annotations

from dataclasses import replace
from decimal import Decimal
from fractions import Fraction
from functools import lru_cache
from pathlib import Path
from typing import Any

import pytest

from planopt.faults import NoCompliantWeek
from planopt.model.daymenus import supports_totals
from planopt.pipeline import make_plan
from planopt.problem.build import build_problem
from planopt.problem.decisions import cost_of
from planopt.scenario.reading.load import load_kitchen
from planopt.solve.bounding.relaxations import proofs_of, weekly_arrays
from planopt.solve.highs.daymodel import search_plain
from planopt.solve.highs.solver import solve_matrix
from planopt.solve.settings import SolveSettings
from published.bruteforce import brute_force
from published.facts import Facts
from published.randomweeks import Week, random_week, write_week

EXACT = SolveSettings(gap=0.0)
# By name: keys of the scenario, and keys of each client.
RULES: dict[str, tuple[dict[str, Any], dict[str, Any]]] = {
    "days between": ({"days_between": 1}, {}),
    "days between, but for one": ({"days_between": 1, "days_between_of": {"dish_1": 0}}, {}),
    "days between of one": ({}, {"days_between_of": {"dish_0": 1, "dish_1": 3}}),
    "same lunch": ({"same_dish": [{"meals": ["lunch"], "across": "days"}], "days_between": 1}, {}),
    "leftovers": ({"same_dish": [{"meals": ["lunch"], "as_meal": "dinner"}]}, {"most_repeats": 1}),
    "together": ({"same_dish": [{"meals": ["dinner"], "across": "clients"}]}, {}),
    "together, one dish": (
        {"same_dish": [{"meals": ["lunch"], "days": [1, 2], "across": "both"}]}, {},
    ),
    "few recipes cooked": ({"most_recipes": 2}, {}),
    "few recipes eaten": ({}, {"most_different_recipes": 2, "least_different_recipes": 0}),
    "ratings": ({"most_dishes_per_meal": 1}, {"ratings": {"dish_0": 1.5, "dish_1": -0.75}}),
}  # fmt: skip


def with_rule(seed: int, name: str) -> Week:
    """Return the week of a seed with a rule."""
    week = random_week(seed)
    kitchen, own = RULES[name]
    clients = [{**client, **own} for client in week.scenario["clients"]]
    return replace(week, scenario={**week.scenario, **kitchen, "clients": clients})


@lru_cache
def cents_of(seed: int, name: str) -> Fraction | None:
    """Return the least objective of a seed's week with a rule in cents, None if there is none."""
    return brute_force(Facts(with_rule(seed, name)))


CASES = {
    "days between": (0, 40),
    "days between, but for one": (0, 9, 35),
    "days between of one": (37,),
    "same lunch": (0, 40, 44),
    "leftovers": (29, 40, 44),
    "together": (1, 21),
    "together, one dish": (1,),
    "few recipes cooked": (9, 42),
    "few recipes eaten": (9, 42),
    "ratings": (34, 38, 44),
}


@pytest.mark.parametrize(("name", "seed"), [(n, s) for n, seeds in CASES.items() for s in seeds])
def test_rules_of_the_week_agree_with_enumeration(tmp_path: Path, name: str, seed: int) -> None:
    """The audited plan, and the model day by day, cost what the cheapest of all weeks does."""
    cents = cents_of(seed, name)
    kitchen = load_kitchen(write_week(tmp_path, with_rule(seed, name)))
    problem = build_problem(kitchen.catalog, kitchen.scenario)
    plain = search_plain(problem, EXACT)
    if cents is None:
        assert plain.infeasible
        with pytest.raises(NoCompliantWeek):
            make_plan(kitchen, EXACT, explain_s=0.0)
    else:
        assert plain.decisions is not None
        assert cost_of(problem, plain.decisions).objective == pytest.approx(float(cents) / 100)
        assert plain.bound == pytest.approx(float(cents) / 100, abs=1e-6)
        solution = make_plan(kitchen, EXACT, explain_s=0.0).solution
        assert solution.status == "optimal"
        assert solution.objective == Decimal((cents + Fraction(1, 2)).__floor__()) / 100


@pytest.mark.parametrize("name", CASES)
def test_relaxations_never_say_more_than_the_best_week(tmp_path: Path, name: str) -> None:
    """What is proved of totals over days stays a lower limit of the cheapest week in order."""
    for seed in CASES[name]:
        cents = cents_of(seed, name)
        kitchen = load_kitchen(write_week(tmp_path / str(seed), with_rule(seed, name)))
        problem = build_problem(kitchen.catalog, kitchen.scenario)
        if cents is not None and supports_totals(problem):
            for proof in proofs_of(problem, weekly_arrays(problem)):
                outcome = solve_matrix(proof.matrix, EXACT)
                assert not outcome.infeasible
                assert outcome.bound <= float(cents) / 100 + 1e-6


FREE = {0: 703, 9: Fraction("1729.1405"), 29: Fraction("1500.2125"), 34: 2623, 37: 1775}


def test_rules_of_the_week_matter() -> None:
    """Each rule but eating together, which is cheap, changes the cost of the first week tried."""
    for name, (seed, *_) in CASES.items():
        if not name.startswith("together"):
            cents = cents_of(seed, name)
            assert cents is None or abs(cents - FREE[seed]) > 1, name
