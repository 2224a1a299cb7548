"""Checking of whatever the user names on the command line."""

from __future__ import annotations

from pathlib import Path

import pytest

from kitchens import edited, tiny_catalog_files, write_kitchen
from planopt.scenario.households.paths import check_paths, check_paths_and_warn

WARM = edited("recipes/egg_rice.yaml", "until_internal_c: 72", "until_internal_c: 50")


@pytest.fixture
def kitchen(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> Path:
    """Return the folder of a kitchen with one unsafe recipe."""
    monkeypatch.chdir(tmp_path)
    write_kitchen(Path("k"), files=WARM)
    return Path("k")


@pytest.mark.parametrize(
    "name",
    [
        "",
        "scenario.yaml",
        "catalogs",
        "catalogs/foods.csv",
        "catalogs/recipes/egg_rice.yaml",
        "catalogs/recipes",
    ],
)
def test_the_fault_is_found_from_everywhere(kitchen: Path, name: str) -> None:
    """A tree, a scenario, a catalog, a table and a recipe all lead to the same single fault."""
    found = check_paths([kitchen / name])
    assert [(fault.file, fault.code) for fault in found] == [
        ("k/catalogs/recipes/egg_rice.yaml", "internal_temperature_low")
    ]


def test_a_sound_recipe_is_not_blamed_for_its_neighbours(kitchen: Path) -> None:
    """Checking one recipe tells only of that recipe."""
    assert check_paths([kitchen / "catalogs/recipes/lentil_soup.yaml"]) == []


def test_several_paths_tell_each_fault_once(kitchen: Path) -> None:
    """Paths may overlap."""
    assert len(check_paths([kitchen, kitchen / "catalogs", kitchen / "scenario.yaml"])) == 1


def test_a_recipe_outside_a_catalog_is_checked_by_itself(tmp_path: Path) -> None:
    """A recipe that lies alone is checked for its form."""
    path = tmp_path / "egg_rice.yaml"
    path.write_text(tiny_catalog_files()["recipes/egg_rice.yaml"], encoding="utf-8")
    assert check_paths([path]) == []
    path.write_text("name: Eggs\nyield_servings: 2\nlines: []\n", encoding="utf-8")
    assert {fault.field for fault in check_paths([path])} == {"keeps", "lines", "meals", "minutes"}


def test_a_scenario_with_a_misspelt_key_is_still_a_scenario(tmp_path: Path) -> None:
    """A scenario whose `clients` is misspelt is not taken for a recipe."""
    path = write_kitchen(tmp_path, clients=None, cients=[])
    assert sorted(fault.code for fault in check_paths([path])) == [
        "missing_field",
        "unknown_field",
    ]


def test_other_yaml_files_of_a_tree_are_left_alone(tmp_path: Path) -> None:
    """Hidden folders and files of other programs are no part of a kitchen."""
    write_kitchen(tmp_path / "k")
    (tmp_path / "tools.yaml").write_text("jobs: []\n", encoding="utf-8")
    (tmp_path / ".hidden").mkdir()
    (tmp_path / ".hidden" / "x.yaml").write_text("clients: [\n", encoding="utf-8")
    assert check_paths([tmp_path]) == []


def test_broken_yaml_in_a_tree_is_told(tmp_path: Path) -> None:
    """A file that cannot be read may have been meant as a scenario."""
    write_kitchen(tmp_path)
    (tmp_path / "week2.yaml").write_text("clients: [\n", encoding="utf-8")
    assert [fault.code for fault in check_paths([tmp_path])] == ["yaml_syntax"]


@pytest.mark.parametrize("name", ["none.yaml", "none"])
def test_a_path_that_is_not_there(tmp_path: Path, name: str) -> None:
    """A missing file or folder is a fault."""
    assert [fault.code for fault in check_paths([tmp_path / name])] == ["file_missing"]


def test_warnings_come_beside_the_faults(tmp_path: Path) -> None:
    """Warnings of the catalogs met are given apart from the faults."""
    path = write_kitchen(tmp_path, files=edited("foods.csv", ",40,1.10", ",400,1.10"))
    faults, warnings = check_paths_and_warn([path])
    assert faults == []
    assert [warning.code for warning in warnings] == ["energy_implausible"]
