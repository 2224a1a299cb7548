"""Handles: an adjustment and an explanation that name nobody."""

from __future__ import annotations

from pathlib import Path

from typer.testing import CliRunner

from planopt import cli
from planopt.adjust.week import read_written

NAMES = ("Ana", "Ben")


def test_adjusting_by_handles_writes_no_name(plan_folder: Path, tmp_path: Path) -> None:
    """Neither the answer nor any file that is written has a client's name."""
    out = tmp_path / "adjusted"
    args = ["adjust", str(plan_folder), "--change", "keep day 1", "--handles", "--out", str(out)]
    result = CliRunner().invoke(cli.app, [*args, "--work-limit", "20000", "--quiet"])
    assert result.exit_code == 0, result.stdout
    texts = [result.stdout, *(p.read_text("utf-8") for p in out.rglob("*.csv"))]
    texts += [(out / name).read_text("utf-8") for name in ("plan.json", "report.md")]
    assert not [name for text in texts for name in NAMES if name in text]
    assert "ana" in texts[-1]


def test_an_explanation_by_handles_names_nobody(plan_folder: Path) -> None:
    """`show --explain` with --handles says the id; without it the name."""
    row = read_written(plan_folder).plan.portions[0]
    meal = f"{row.client_id} day {row.day} {row.meal}"
    named = CliRunner().invoke(cli.app, ["show", str(plan_folder), "--explain", meal])
    hidden = CliRunner().invoke(cli.app, ["show", str(plan_folder), "--explain", meal, "--handles"])
    assert named.exit_code == hidden.exit_code == 0
    assert any(name in named.stdout for name in NAMES)
    assert not any(name in hidden.stdout for name in NAMES)
    assert row.client_id in hidden.stdout
