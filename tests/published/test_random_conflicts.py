"""Small random weeks without a plan: the clash and its repairs against exhaustive enumeration.

`bruteforce` tries every menu, batch and pack with arithmetic of its own, so it alone decides here
which limits clash, which are needed for it, and which value is the last that suffices.
"""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import replace
from functools import lru_cache
from pathlib import Path
from tempfile import TemporaryDirectory

import pytest

from planopt.problem.limits import Limit, limits_of
from planopt.scenario.reading.load import Kitchen, load_kitchen
from planopt.solve.settings import SolveSettings
from planopt.whynot.explain import Explanation, explain
from planopt.whynot.rules import Rule, limits_in
from published.bruteforce import brute_force
from published.facts import Facts
from published.randomweeks import random_week, write_week
from published.weeklimits import week_with
from slow import few

# Seeds without a plan, of every shape and with many kinds of limits in their clashes.
SEEDS = (5, 8, 19, 31, 36, 41)
COUNTED = SolveSettings(gap=0.0, work_limit=100_000)


@lru_cache
def kitchen_of(seed: int) -> Kitchen:
    """Return the kitchen of a seed, read through the ordinary loader."""
    with TemporaryDirectory() as folder:
        return load_kitchen(write_week(Path(folder), random_week(seed)))


@lru_cache
def explained(seed: int) -> Explanation:
    """Return the explanation of a seed's week; work is counted, so that it repeats."""
    kitchen = kitchen_of(seed)
    return explain(kitchen.catalog, kitchen.scenario, COUNTED)


def exists(seed: int, limits: Iterable[Limit]) -> bool:
    """Tell by enumeration whether a week exists that keeps these limits."""
    return brute_force(Facts(week_with(random_week(seed), limits))) is not None


def narrowed(rules: Iterable[Rule], days: tuple[int, ...]) -> list[Rule]:
    """Return rules with windows of every day on the clashing days only, if days clash alone."""
    return [rule.on_days(days) if rule.daily and days else rule for rule in rules]


@pytest.mark.parametrize("seed", few(SEEDS, 2))
def test_the_clash_is_one_and_each_of_it_is_needed(seed: int) -> None:
    """By enumeration no week keeps the rules of the clash, and without any one some week does."""
    conflict = explained(seed).conflict
    assert conflict is not None
    assert conflict.minimal
    rules = narrowed(conflict.rules, conflict.days)
    assert not exists(seed, limits_in(rules))
    for rule in rules:
        assert exists(seed, limits_in(other for other in rules if other is not rule)), rule.key


@pytest.mark.parametrize("seed", few(SEEDS, 2))
def test_what_restores_a_week_is_what_enumeration_says(seed: int) -> None:
    """Leaving out one rule of the clash gives the whole scenario a week, or does not."""
    found = explained(seed)
    assert found.conflict is not None
    limits = frozenset(limits_of(kitchen_of(seed).scenario))
    by_enumeration = {
        rule.key for rule in found.conflict.rules if exists(seed, limits - set(rule.limits))
    }
    assert {rule.key for rule in found.restores} == by_enumeration


@pytest.mark.parametrize("seed", few(SEEDS, 2))
def test_each_repair_suffices_and_the_least_ones_are_least(seed: int) -> None:
    """By enumeration a week exists with each repair, and none with one step less of a least one."""
    found = explained(seed)
    limits = limits_of(kitchen_of(seed).scenario)
    for repair in found.repairs:
        if any(move.rule is None for move in repair.moves):
            continue
        moved = list(limits)
        for move in repair.moves:
            assert move.rule is not None
            moved = [_moved(limit, move.rule, move.days, move.after) for limit in moved]
        assert exists(seed, moved)
        if repair.least:
            (move,) = repair.moves
            assert move.rule is not None
            digits = 1.0 if move.rule.key.what == "energy_kcal" else 0.1
            step = {"window": digits, "budget": 0.01}.get(move.rule.key.kind, 1.0)
            less = move.after + step if move.rule.limits[0].from_below else move.after - step
            assert not exists(seed, [_moved(limit, move.rule, move.days, less) for limit in limits])


def _moved(limit: Limit, rule: Rule, days: tuple[int, ...], value: float) -> Limit:
    if limit not in rule.limits or (days and limit.key.day not in days):
        return limit
    return replace(limit, value=value * limit.value / rule.value)


@pytest.mark.slow
def test_single_repairs_are_offered_wherever_one_exists() -> None:
    """Every rule that may give and restores a week is repaired, unless a floor forbids it."""
    seen = 0
    for seed in SEEDS:
        found = explained(seed)
        repaired = {
            repair.moves[0].rule.key
            for repair in found.repairs
            if len(repair.moves) == 1 and repair.moves[0].rule is not None
        }
        for rule in found.restores:
            if rule.relaxable and not (rule.key.what == "energy_kcal" and rule.key.side == "min"):
                assert rule.key in repaired, (seed, rule.key)
                seen += 1
    assert seen >= 8


@pytest.mark.slow
def test_exclusions_are_named_and_never_offered() -> None:
    """A clash of these weeks needs `no milk`; no repair of any week touches it."""
    named = [rule for seed in SEEDS for rule in _rules(seed) if rule.key.kind == "allergen"]
    assert len(named) == 1
    moved = [move for seed in SEEDS for repair in explained(seed).repairs for move in repair.moves]
    assert all(move.rule is None or move.rule.relaxable for move in moved)


def _rules(seed: int) -> tuple[Rule, ...]:
    conflict = explained(seed).conflict
    return () if conflict is None else conflict.rules
