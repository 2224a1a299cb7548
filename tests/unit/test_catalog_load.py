"""Loading of a catalog folder."""

from __future__ import annotations

import hashlib
from decimal import Decimal
from pathlib import Path

import pytest

from kitchens import edited, tiny_catalog_files, write_catalog
from planopt.catalog.load import catalog_sha256, load_catalog, read_catalog
from planopt.faults import BadInput


def codes(folder: Path) -> list[str]:
    """Return the fault codes of a catalog."""
    return [fault.code for fault in read_catalog(folder).faults]


def test_the_tiny_catalog_loads_in_id_order(tmp_path: Path) -> None:
    """All tables are there, each in id order, with exact prices and unknown cells as None."""
    catalog = load_catalog(write_catalog(tmp_path))
    assert list(catalog.foods) == sorted(catalog.foods)
    assert list(catalog.recipes) == ["boiled_eggs", "egg_rice", "lentil_soup", "oat_porridge"]
    assert [row.food_id for row in catalog.measures] == sorted(
        row.food_id for row in catalog.measures
    )
    assert catalog.packs["onions_loose"].price == Decimal("0.18")
    assert catalog.foods["egg"].allergens == ("egg",)
    assert catalog.foods["onion"].density_g_per_ml is None
    assert catalog.foods["milk_whole"].nutrients["protein_g"] == 3.15


def test_an_empty_nutrient_cell_is_unknown(tmp_path: Path) -> None:
    """Unknown is not zero."""
    files = edited("foods.csv", "9.34,1.7,4,", "9.34,,4,")
    assert load_catalog(write_catalog(tmp_path, files)).foods["onion"].nutrients["fibre_g"] is None


def test_allergens_are_separated_by_bars(tmp_path: Path) -> None:
    """Several allergens share a cell, and spaces around them do not matter."""
    files = edited("foods.csv", ",gluten_cereals,", ",wheat | gluten_cereals,")
    oats = load_catalog(write_catalog(tmp_path, files)).foods["oats_rolled"]
    assert oats.allergens == ("wheat", "gluten_cereals")


def test_faults_of_all_files_come_together(tmp_path: Path) -> None:
    """One reading tells the faults of tables, recipes and references."""
    files = {
        **edited("packs.csv", "eggs_6,egg,corner", "eggs_6,egg,cornr"),
        **edited("recipes/egg_rice.yaml", "yield_servings: 2", "yield_servings: two"),
        **edited("foods.csv", "raw,0.88", "raw,88"),
        "yields.csv": None,
    }
    with pytest.raises(BadInput) as caught:
        load_catalog(write_catalog(tmp_path, files))
    assert [(Path(fault.file).name, fault.code) for fault in caught.value.faults] == [
        ("foods.csv", "out_of_range"),
        ("packs.csv", "unknown_seller"),
        ("egg_rice.yaml", "not_a_number"),
        ("yields.csv", "file_missing"),
    ]


def test_a_faulty_row_is_still_known_by_its_id(tmp_path: Path) -> None:
    """References to a food whose row is at fault are not faults of their own."""
    files = edited("foods.csv", "raw,0.88", "raw,nothing")
    assert codes(write_catalog(tmp_path, files)) == ["not_a_number"]


@pytest.mark.parametrize("name", [n for n in tiny_catalog_files() if n.endswith(".csv")])
def test_a_missing_table_is_one_fault(tmp_path: Path, name: str) -> None:
    """A table that is not there causes no further faults in what refers to it."""
    assert codes(write_catalog(tmp_path, {name: None})) == ["file_missing"]


def test_a_missing_recipes_folder_is_a_fault(tmp_path: Path) -> None:
    """A catalog without recipes cannot feed anyone."""
    files = {name: None for name in tiny_catalog_files() if name.startswith("recipes/")}
    assert codes(write_catalog(tmp_path, files)) == ["file_missing"]


def test_a_missing_folder_is_a_fault(tmp_path: Path) -> None:
    """A catalog folder that does not exist is told as such."""
    assert codes(tmp_path / "none") == ["catalog_missing"]


def test_the_file_name_is_the_id_of_a_recipe(tmp_path: Path) -> None:
    """A file name that is no id is a fault, and so is an id inside the file."""
    text = tiny_catalog_files()["recipes/boiled_eggs.yaml"]
    files = {"recipes/Eggs Two.yaml": text, "recipes/eggs.yaml": text + "recipe_id: eggs\n"}
    faults = read_catalog(write_catalog(tmp_path, files)).faults
    assert [(fault.code, fault.mend) for fault in faults] == [
        ("bad_form", "rename the file to eggs_two.yaml"),
        ("unknown_field", "remove this line"),
    ]


def test_a_recipe_that_is_a_list_is_a_fault(tmp_path: Path) -> None:
    """A recipe file must hold named fields."""
    folder = write_catalog(tmp_path, {"recipes/boiled_eggs.yaml": "- egg\n"})
    assert codes(folder) == ["not_a_mapping"]


def test_the_hash_covers_names_and_bytes_of_the_catalog_only(tmp_path: Path) -> None:
    """The hash changes with any table or recipe, and not with a note beside them."""
    folder = write_catalog(tmp_path)
    before = catalog_sha256(folder)
    (folder / "notes.txt").write_text("hello", encoding="utf-8")
    assert catalog_sha256(folder) == before
    recipe = folder / "recipes" / "boiled_eggs.yaml"
    recipe.rename(folder / "recipes" / "eggs.yaml")
    renamed = catalog_sha256(folder)
    assert renamed != before
    table = folder / "sellers.csv"
    table.write_bytes(table.read_bytes() + b"\n")
    assert catalog_sha256(folder) not in (before, renamed)


def test_the_hash_is_sha256_of_names_lengths_and_bytes(tmp_path: Path) -> None:
    """The hash can be computed by hand from the sorted relative names."""
    digest = hashlib.sha256()
    for name, text in sorted(tiny_catalog_files().items()):
        digest.update(f"{name}\0{len(text.encode())}\0{text}".encode())
    assert catalog_sha256(write_catalog(tmp_path)) == digest.hexdigest()
