"""A whole run carried to the next week: a stock file for each kitchen, taken by one line."""

from __future__ import annotations

from pathlib import Path

import pytest
import yaml
from typer.testing import CliRunner

from inprocess import in_this_process
from kitchens import tiny_client, write_kitchen
from planopt import cli
from planopt.carry import carried_stock
from planopt.catalog.load import load_catalog
from planopt.faults import BadInput, ExitCode
from planopt.plan.file import read_plan
from planopt.runs import run as run_module
from planopt.runs.carry import carry_run, write_stocks
from planopt.runs.run import plan_weeks
from planopt.scenario.households.parties import load_kitchens
from planopt.solve.settings import SolveSettings

SETTINGS = SolveSettings(threads=1, gap=0.2, time_limit_s=30)


@pytest.fixture
def run(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> Path:
    """Return a run of two households, one of whom cannot be planned, beside a third."""
    monkeypatch.setattr(run_module, "run_in_processes", in_this_process)
    monkeypatch.chdir(tmp_path)
    never = {"protein_g": {"min": 500}}
    clients = [
        tiny_client(id=name, name=name.title(), **keys)
        for name, keys in (("ana", {}), ("ben", {}), ("ian", {"windows_per_day": never}))
    ]
    path = write_kitchen(tmp_path, clients=clients, kitchen="separate")
    plan_weeks(path, tmp_path / "weeks", SETTINGS)
    return tmp_path / "weeks"


def test_each_planned_kitchen_carries_what_its_plan_leaves(run: Path) -> None:
    """The files are those of `carry` for each plan; a kitchen without a plan has none."""
    catalog = load_catalog(run.parent / "catalogs")
    _, stocks = carry_run(run)
    assert set(stocks) == {"ana", "ben"}
    for name, stock in stocks.items():
        assert stock.stock
        assert stock == carried_stock(read_plan(run / "plans" / name), catalog)


def test_the_next_week_takes_them_by_one_line(run: Path) -> None:
    """The command writes the folder, the next scenario names it, and each kitchen has its own."""
    result = CliRunner().invoke(cli.app, ["carry", str(run)])
    assert result.exit_code == 0, result.output
    folder = run.parent / "carried-2026-12-03"
    assert sorted(path.name for path in folder.iterdir()) == ["ana.yaml", "ben.yaml"]
    assert "stock_folder:" in result.output
    path = run.parent / "scenario.yaml"
    data = yaml.safe_load(path.read_text(encoding="utf-8"))
    data |= {"start_date": "2026-12-03", "stock_folder": folder.name}
    path.write_text(yaml.safe_dump(data), encoding="utf-8")
    _, stocks = carry_run(run)
    for part in load_kitchens(path).parts:
        assert part.scenario is not None
        if part.kitchen_id in stocks:
            assert part.scenario.stock == stocks[part.kitchen_id].stock
    before = {name: read_plan(run / "plans" / name) for name in stocks}
    plan_weeks(path, run.parent / "next", SETTINGS)
    for name, plan in before.items():
        after = read_plan(run.parent / "next" / "plans" / name)
        assert any(use.supply.startswith("stock") and use.used_g for use in after.food_uses)
        assert after.solution.grocery_cost <= plan.solution.grocery_cost


def test_only_a_folder_of_ours_is_replaced(run: Path) -> None:
    """Notes in it are kept, a kitchen no longer planned goes, and a foreign folder is refused."""
    _, stocks = carry_run(run)
    folder = run.parent / "carried"
    write_stocks(stocks, folder)
    (folder / "note.txt").write_text("mine", encoding="utf-8")
    write_stocks({"ana": stocks["ana"]}, folder)
    assert sorted(path.name for path in folder.iterdir()) == ["ana.yaml", "note.txt"]
    (folder / "ana.yaml").unlink()
    with pytest.raises(BadInput) as caught:
        write_stocks(stocks, folder)
    assert [fault.code for fault in caught.value.faults] == ["carry_folder_taken"]
    assert [path.name for path in folder.iterdir()] == ["note.txt"]


def test_a_plan_that_is_gone_is_told(run: Path) -> None:
    """What cannot be read of a run is a fault, and nothing is written."""
    (run / "plans" / "ana" / "plan.json").write_text("{}", encoding="utf-8")
    result = CliRunner().invoke(cli.app, ["carry", str(run), "--out", "here"])
    assert result.exit_code == ExitCode.BAD_INPUT
    assert "plan.json" in result.output
    assert not (run.parent / "here").exists()
