"""Stock files that a scenario names: read, checked, hashed, and part of the scenario."""

from __future__ import annotations

import hashlib
import os
from decimal import Decimal
from pathlib import Path

import pytest

from kitchens import edited, write_kitchen
from planopt.faults import BadInput
from planopt.scenario.households.paths import check_paths
from planopt.scenario.reading.load import load_kitchen, load_scenario, scenario_sha256
from planopt.scenario.records import Stock

EGGS = "note: From last week\nstock:\n  - {food: egg, amount: 3, unit: each, use_by: 2026-12-20}\n"
RICE = "stock:\n  - {food: rice_white_long, amount: 250, unit: g}\n"
OWN = {"food": "onion", "amount": 100, "unit": "g"}


def _write(folder: Path, **files: str) -> None:
    for name, text in files.items():
        path = folder / f"{name}.yaml"
        path.parent.mkdir(parents=True, exist_ok=True)
        path.write_text(text, encoding="utf-8")


def test_the_scenarios_own_stock_comes_first(tmp_path: Path) -> None:
    """Then that of its files as they are named; plans count the entries in this order."""
    path = write_kitchen(tmp_path / "k", stock=[OWN], stock_files=["../rice.yaml", "eggs.yaml"])
    _write(tmp_path, rice=RICE)
    _write(tmp_path / "k", eggs=EGGS)
    for scenario in (load_kitchen(path).scenario, load_scenario(path)):
        assert [(entry.food, entry.amount) for entry in scenario.stock] == [
            ("onion", 100),
            ("rice_white_long", 250),
            ("egg", 3),
        ]
        assert scenario.stock_files == ("../rice.yaml", "eggs.yaml")
    assert load_scenario(path).stock[1] == Stock(
        food="rice_white_long", amount=Decimal(250), unit="g"
    )


def test_the_hash_covers_the_stock_files(tmp_path: Path) -> None:
    """Other stock is another scenario; without stock files the hash is that of the file alone."""
    path = write_kitchen(tmp_path, stock_files=["rice.yaml"])
    _write(tmp_path, rice=RICE)
    before = load_kitchen(path).scenario_sha256
    _write(tmp_path, rice=RICE.replace("250", "251"))
    after = load_kitchen(path).scenario_sha256
    assert len({before, after, scenario_sha256(path)}) == 3
    hashes = [hashlib.sha256(p.read_bytes()).hexdigest() for p in (path, tmp_path / "rice.yaml")]
    assert after == hashlib.sha256("".join(f"{one}\n" for one in hashes).encode()).hexdigest()


def _faults(path: Path) -> list[str]:
    with pytest.raises(BadInput) as caught:
        load_kitchen(path)
    return [fault.text() for fault in caught.value.faults]


def test_faults_of_stock_files_name_their_file_and_line(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    """Structure, unknown foods and units are told all at once, each where it stands."""
    monkeypatch.chdir(tmp_path)
    path = write_kitchen(
        Path("k"), stock=[{**OWN, "food": "onoin"}], stock_files=["a.yaml", "b.yaml"]
    )
    _write(
        Path("k"),
        a="stock:\n  - {food: egg, amount: 0, unit: g}\n  - {fod: egg, amount: 1, unit: g}\n",
        b="stock:\n  - {food: eg, amount: 1, unit: g}\n\n  - {food: onion, amount: 1, unit: cup}\n",
    )
    found = _faults(path)
    assert [text.split("\n")[0] for text in found] == [
        "k/a.yaml:2: stock[0].amount: '0' [out_of_range]",
        "k/a.yaml:3: stock[1].fod: 'fod' [unknown_field]",
        "k/a.yaml:3: stock[1].food: '' [missing_field]",
        "k/b.yaml:2: stock[0].food: 'eg' [unknown_food]",
        "k/b.yaml:4: stock[1].unit: 'cup' [unit_unknown]",
        f"k/scenario.yaml:{_line(path, 'onoin')}: stock[0].food: 'onoin' [unknown_food]",
    ]


def _line(path: Path, word: str) -> int:
    lines = path.read_text(encoding="utf-8").splitlines()
    return next(n for n, line in enumerate(lines, start=1) if word in line)


@pytest.mark.parametrize("name", ["", "n" * 300, "a/" * 3000])
def test_names_that_no_file_can_have_are_missing_files(tmp_path: Path, name: str) -> None:
    """No name of a stock file ends in a traceback."""
    path = write_kitchen(tmp_path, stock_files=[name])
    with pytest.raises(BadInput) as caught:
        load_scenario(path)
    assert [fault.code for fault in caught.value.faults] == ["stock_file_missing"]


def test_a_stock_file_that_is_no_stock_file(tmp_path: Path) -> None:
    """A folder, an empty file and another kind of file are faults of that file."""
    path = write_kitchen(tmp_path, stock_files=["catalogs", "empty.yaml", "scenario.yaml"])
    _write(tmp_path, empty="")
    with pytest.raises(BadInput) as caught:
        load_kitchen(path)
    codes = {(os.path.basename(fault.file), fault.code) for fault in caught.value.faults}
    assert codes >= {
        ("catalogs", "not_a_file"),
        ("empty.yaml", "empty_file"),
        ("scenario.yaml", "unknown_field"),
    }


def test_the_check_of_a_tree_knows_stock_files(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    """In a folder, or named alone, a stock file is read as one and not as a scenario."""
    monkeypatch.chdir(tmp_path)
    write_kitchen(Path("k"), stock_files=["eggs.yaml"])
    _write(Path("k"), eggs=EGGS, spare=RICE)
    assert check_paths([Path("k"), Path("k/spare.yaml")]) == []
    _write(Path("k"), spare=RICE.replace("250", "none"))
    for place in ("k", "k/spare.yaml"):
        assert [fault.code for fault in check_paths([Path(place)])] == ["not_a_number"]


def test_a_fault_of_the_catalog_does_not_hide_that_of_a_stock_file(tmp_path: Path) -> None:
    """All files are read whatever is wrong with the others."""
    path = write_kitchen(
        tmp_path, files=edited("packs.csv", "1,kg", "0,kg"), stock_files=["rice.yaml"]
    )
    _write(tmp_path, rice=RICE.replace("rice_white_long", "rise"))
    with pytest.raises(BadInput) as caught:
        load_kitchen(path)
    assert [fault.code for fault in caught.value.faults] == ["out_of_range", "unknown_food"]
