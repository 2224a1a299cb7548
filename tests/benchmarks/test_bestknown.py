"""The best-known plans are what they say: the audit accepts each, and it costs what is stored."""

from __future__ import annotations

from pathlib import Path

import pytest

from benchmarks import bestknown
from benchmarks.bestknown import STORE, Run, keep, kitchen, row_of, stored, week_of
from benchmarks.measure import findings
from planopt.problem.decisions import cost_of
from slow import few

NAMES = sorted(path.stem for path in STORE.glob("*.json"))


@pytest.mark.parametrize("name", few(NAMES, 4))
def test_a_best_known_plan_is_a_plan_at_its_cost(name: str) -> None:
    """Its portions are served with exact batches and packs; the bound is below."""
    known = stored(name)
    assert known is not None
    catalog, scenario, problem = kitchen(name)
    week = week_of(problem, known["portions"])
    assert week is not None
    assert findings(catalog, scenario, problem, week) == []
    assert cost_of(problem, week).objective == pytest.approx(known["objective"], abs=1e-3)
    assert known["bound"] <= known["objective"] + 1e-6


def test_only_what_is_cheaper_is_kept(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    """A plan is kept once; the same again, or a lower bound, changes nothing."""
    name = NAMES[0]
    known = stored(name)
    assert known is not None
    week = week_of(kitchen(name)[2], known["portions"])
    monkeypatch.setattr(bestknown, "STORE", tmp_path)
    assert keep(name, week, 1.0)
    assert not keep(name, week, 0.5)
    again = stored(name)
    assert again is not None
    assert again["portions"] == known["portions"]
    assert keep(name, None, 2.0)


def test_the_table_tells_how_far_plans_are_above_the_best() -> None:
    """Two runs of one kitchen: at the best known, and a tenth above it."""
    known = stored(NAMES[0])
    assert known is not None
    best = known["objective"]
    runs = [
        Run(NAMES[0], best, 0.9 * best, 1.0, 5.0, None),
        Run(NAMES[0], 1.1 * best, 0.88 * best, 2.0, 5.0, None),
        Run(NAMES[0], None, 0.0, None, 5.0, None),
    ]
    label, count, middle, worst, gap, worst_gap, *_ = row_of("one", runs)
    assert (label, count, middle, worst) == ("one", 3, "10.0", "100.0")
    assert (gap, worst_gap) == ("20.0", "100.0")
