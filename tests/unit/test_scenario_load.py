"""Loading of scenarios and kitchens."""

from __future__ import annotations

import dataclasses
import hashlib
from pathlib import Path
from typing import Any

import pytest

from kitchens import edited, tiny_client, write_catalog, write_kitchen
from planopt.catalog.load import catalog_sha256
from planopt.faults import BadInput
from planopt.scenario.reading.load import load_kitchen, load_scenario, scenario_sha256


def test_the_tiny_kitchen_loads(tmp_path: Path) -> None:
    """A kitchen has its records, its paths and the hashes of its files, and is frozen."""
    path = write_kitchen(tmp_path)
    kitchen = load_kitchen(path)
    assert kitchen.scenario.clients[0].client_id == "ana"
    assert kitchen.scenario_path == path
    assert kitchen.catalog_folder == tmp_path / "catalogs"
    assert kitchen.catalog_sha256 == catalog_sha256(tmp_path / "catalogs")
    assert kitchen.scenario_sha256 == hashlib.sha256(path.read_bytes()).hexdigest()
    with pytest.raises(dataclasses.FrozenInstanceError):
        kitchen.scenario_path = Path("x")  # type: ignore[misc]


def test_relative_paths_stay_relative_and_short(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    """The catalog is named as the user would name it, without a detour through `..`."""
    monkeypatch.chdir(tmp_path)
    write_catalog(Path("catalogs"))
    path = write_kitchen(Path("weeks"), catalog="../catalogs")
    assert load_kitchen(path).catalog_folder == Path("catalogs")


def test_behind_a_symbolic_link_the_path_stays_true(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    """A folder reached by a link is not shortened to another folder of the same name."""
    monkeypatch.chdir(tmp_path)
    write_catalog(Path("real/catalogs"))
    write_kitchen(Path("real/weeks"), catalog="../catalogs")
    write_catalog(Path("catalogs"), {"foods.csv": ""})
    Path("weeks").symlink_to("real/weeks")
    kitchen = load_kitchen(Path("weeks/scenario.yaml"))
    assert kitchen.catalog_folder.resolve() == (tmp_path / "real" / "catalogs").resolve()


def test_a_scenario_loads_without_its_catalog(tmp_path: Path) -> None:
    """Structure alone is checked when the scenario is loaded by itself."""
    path = write_kitchen(tmp_path, catalog="nowhere")
    assert load_scenario(path).catalog == "nowhere"
    assert len(scenario_sha256(path)) == 64


def test_a_bad_scenario_raises_all_structural_faults(tmp_path: Path) -> None:
    """Structural faults come together."""
    path = write_kitchen(tmp_path, days=0, budget="much", cook_days=None)
    with pytest.raises(BadInput) as caught:
        load_scenario(path)
    assert sorted(fault.code for fault in caught.value.faults) == [
        "missing_field",
        "not_a_number",
        "out_of_range",
    ]


def test_faults_of_scenario_and_catalog_come_together(tmp_path: Path) -> None:
    """A fault of the catalog does not hide those of the scenario, nor the other way round."""
    path = write_kitchen(
        tmp_path,
        files=edited("packs.csv", "1.90,USD", "1.90,usd"),
        clients=[tiny_client(wants={"eg": 1}, allergens=["mlik"])],
    )
    with pytest.raises(BadInput) as caught:
        load_kitchen(path)
    assert sorted(fault.code for fault in caught.value.faults) == [
        "bad_form",
        "unknown_allergen",
        "unknown_food",
    ]


def test_a_structural_fault_of_the_scenario_does_not_hide_the_catalog(tmp_path: Path) -> None:
    """The catalog is read even when the scenario cannot be."""
    path = write_kitchen(tmp_path, files=edited("packs.csv", "1,kg", "0,kg"), days="seven")
    with pytest.raises(BadInput) as caught:
        load_kitchen(path)
    assert [fault.code for fault in caught.value.faults] == ["out_of_range", "not_a_number"]


def test_a_missing_scenario_is_a_fault(tmp_path: Path) -> None:
    """A wrong path ends in one fault."""
    with pytest.raises(BadInput) as caught:
        load_kitchen(tmp_path / "none.yaml")
    assert [fault.code for fault in caught.value.faults] == ["file_missing"]


@pytest.mark.parametrize("name", [["catalogs"], 7, None])
def test_a_catalog_that_is_no_text_is_a_fault_of_the_field(tmp_path: Path, name: object) -> None:
    """A folder name must be text; left out, it is the usual folder, which is not there."""
    path = write_kitchen(tmp_path, catalog=name)
    with pytest.raises(BadInput) as caught:
        load_kitchen(path)
    assert [fault.code for fault in caught.value.faults] == [
        "catalog_missing" if name is None else "not_text"
    ]


@pytest.mark.parametrize(
    "keys",
    [
        {"appliances": {"ovens": 0}},
        {"appliances": {"oven_batches": 0}},
        {"appliances": {"oven_change_minutes": -1}},
        {"appliances": {"hob_rings": 0}},
        {"appliances": {"clean_down_minutes": 0}},
        {"cook_days": [{"day": 1, "cooks": 0}]},
    ],
    ids=str,
)
def test_a_kitchen_without_hands_or_heat_is_refused(tmp_path: Path, keys: dict[str, Any]) -> None:
    """Less than one of anything that a timetable books is a fault of its field."""
    with pytest.raises(BadInput) as caught:
        load_scenario(write_kitchen(tmp_path, **keys))
    assert [fault.code for fault in caught.value.faults] == ["out_of_range"]
