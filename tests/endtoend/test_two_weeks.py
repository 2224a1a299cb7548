"""Two weeks in a row: what the first one leaves over makes the second one cheaper."""

from __future__ import annotations

from datetime import date, timedelta
from decimal import Decimal
from pathlib import Path

import pytest
from typer.testing import CliRunner

from kitchens import tiny_client, write_kitchen
from planopt import cli
from planopt.faults import ExitCode
from planopt.plan.file import read_plan
from planopt.plan.records import Plan

FIRST = date(2026, 11, 30)
DAYS = 2


def _run(*words: str) -> str:
    result = CliRunner().invoke(cli.app, list(words))
    assert result.exit_code == ExitCode.OK, result.output
    return result.output


def _planned(scenario: str, folder: str) -> Plan:
    """Plan a scenario to the proven optimum by the command line, and return the plan written."""
    options = ("--gap", "0", "--threads", "1", "--time-limit", "600", "--quiet")
    _run("plan", scenario, "--out", folder, *options)
    plan = read_plan(Path(folder))
    # A bound is rounded down, and what is counted half up: a cent may lie between.
    assert plan.solution.status == "optimal"
    assert plan.solution.objective - plan.solution.best_bound <= Decimal("0.01")
    return plan


def test_two_weeks_in_a_row_cost_less_than_two_by_themselves(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    """Both weeks are proven optimal, so the saving is that of carrying; both pass the audit."""
    monkeypatch.chdir(tmp_path)
    second = FIRST + timedelta(days=DAYS)
    again = {"days": DAYS, "start_date": second.isoformat()}
    write_kitchen(Path("first"), days=DAYS)
    write_kitchen(Path("alone"), **again)
    write_kitchen(Path("second"), **again, stock_files=["../carried.yaml"])
    first = _planned("first/scenario.yaml", "first-plan")
    alone = _planned("alone/scenario.yaml", "alone-plan")
    told = _run("carry", "first-plan", "--out", "carried.yaml")
    carried = [use for use in first.food_uses if use.fate == "carried"]
    assert f"{len(carried)} leftovers written to carried.yaml." in told
    follows = _planned("second/scenario.yaml", "second-plan")
    assert follows.solution.objective < alone.solution.objective
    saved = alone.solution.grocery_cost - follows.solution.grocery_cost
    assert saved >= Decimal("1.00")
    # What is used of the carried food was left over, gram by gram.
    left = {use.food_id: use.left_g for use in carried}
    taken = {use.food_id: use for use in follows.food_uses if use.supply.startswith("stock")}
    assert taken.keys() == left.keys()
    for food_id, use in taken.items():
        assert left[food_id] - 0.001 <= use.available_g <= left[food_id] + 1e-6
        assert sum(use.used_g.values()) <= left[food_id] + 1e-6
    assert any(sum(use.used_g.values()) > 0 for use in taken.values())
    for folder in ("first-plan", "second-plan"):
        assert "The audit agrees" in _run("audit", folder)


def test_the_usual_file_is_written_here(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    """Without --out the file is named by the first date after the plan."""
    monkeypatch.chdir(tmp_path)
    write_kitchen(Path("first"), days=1, clients=[tiny_client(windows_per_day=None)])
    _planned("first/scenario.yaml", "first-plan")
    _run("carry", "first-plan")
    text = Path("carried-2026-12-01.yaml").read_text(encoding="utf-8")
    assert text.startswith("# Leftovers of a plan")


def test_a_changed_stock_file_is_found_by_the_audit(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    """A plan that used more than the file now holds does not pass."""
    monkeypatch.chdir(tmp_path)
    Path("left.yaml").write_text(
        "stock: [{food: rice_white_long, amount: 900, unit: g}]\n", encoding="utf-8"
    )
    write_kitchen(Path("week"), days=1, stock_files=["../left.yaml"])
    _planned("week/scenario.yaml", "week-plan")
    assert "The audit agrees" in _run("audit", "week-plan")
    Path("left.yaml").write_text(
        "stock: [{food: rice_white_long, amount: 5, unit: g}]\n", encoding="utf-8"
    )
    result = CliRunner().invoke(cli.app, ["audit", "week-plan"])
    assert result.exit_code == ExitCode.AUDIT_FAILED
    assert "rice_white_long" in result.output
