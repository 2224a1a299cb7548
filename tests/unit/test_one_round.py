"""`planopt check` tells the faults of all stages in one round, strictly if asked, and as data."""

from __future__ import annotations

import copy
import csv
import io
import json
from pathlib import Path

import pytest
import yaml
from typer.testing import CliRunner

from kitchens import tiny_catalog_files, tiny_client, write_kitchen
from planopt import cli
from planopt.catalog.load import load_catalog
from planopt.catalog.records import Recipe
from planopt.faults import ExitCode, Fault, nearest
from planopt.reading.soundest import soundest, without_echoes
from planopt.scenario.households.paths import check_paths

runner = CliRunner()
FILES = tiny_catalog_files()


def test_faults_of_every_stage_come_together(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    """A cell, a field of a recipe and one of the scenario each hide nothing of what comes after."""
    monkeypatch.chdir(tmp_path)
    files = {
        # Read: two cells. Checked: an unknown seller, and a size that nobody can weigh.
        "packs.csv": FILES["packs.csv"]
        .replace(
            "oats_500g,oats_rolled,corner,pack,500,g,1.60", "oats,oats_rolled,crner,pack,x,g,y"
        )
        .replace(
            "rice_1kg,rice_white_long,corner,pack,1,kg", "rice_1kg,rice_white_long,corner,pack,1,l"
        ),
        # Read: a word for a number. Checked: an unknown food, eggs that stay raw.
        "recipes/egg_rice.yaml": FILES["recipes/egg_rice.yaml"]
        .replace("yield_servings: 2", "yield_servings: two")
        .replace("food: onion", "food: onoin")
        .replace(", until_internal_c: 72", ""),
    }
    client = tiny_client(allergens=["milc"], portions={"step": "big"})
    path = write_kitchen(Path("k"), files=files, days="three", clients=[client], budget=-1)
    found = [(Path(f.file).name, f.field, f.code) for f in check_paths([path])]
    assert found == [
        ("packs.csv", "price", "not_a_number"),
        ("packs.csv", "seller_id", "unknown_seller"),
        ("packs.csv", "size", "not_a_number"),
        ("packs.csv", "unit", "unit_unknown"),
        ("egg_rice.yaml", "yield_servings", "not_a_number"),
        ("egg_rice.yaml", "lines[1].food", "internal_temperature_low"),
        ("egg_rice.yaml", "lines[2].food", "unknown_food"),
        ("scenario.yaml", "days", "not_a_number"),
        ("scenario.yaml", "clients[0].allergens[0]", "unknown_allergen"),
        ("scenario.yaml", "clients[0].portions.step", "not_a_number"),
        ("scenario.yaml", "budget", "out_of_range"),
    ]


def test_a_kitchen_with_faults_is_never_planned_with_what_was_left_of_it(tmp_path: Path) -> None:
    """The record that checks look at does not get out."""
    text = FILES["recipes/egg_rice.yaml"].replace("yield_servings: 2", "yield_servings: two")
    path = write_kitchen(tmp_path, files={"recipes/egg_rice.yaml": text})
    with pytest.raises(Exception, match="not_a_number"):
        load_catalog(path.parent / "catalogs")


def test_no_odd_cell_or_field_breaks_the_checks(tmp_path: Path) -> None:
    """Whatever stands in a cell of a table or a field of a scenario ends as faults."""
    path = write_kitchen(tmp_path / "k")
    catalog = tmp_path / "k" / "catalogs"
    odd = ("", "x", "-1", "1,5", "9" * 20)
    count = 0
    for name in ("foods.csv", "packs.csv", "safety_groups.csv", "storage_limits.csv"):
        rows = list(csv.reader(io.StringIO(FILES[name])))
        for column in range(len(rows[0])):
            cells = [list(row) for row in rows]
            cells[1][column] = odd[count % len(odd)]
            out = io.StringIO()
            csv.writer(out).writerows(cells)
            (catalog / name).write_text(out.getvalue(), encoding="utf-8")
            check_paths([path])
            count += 1
        (catalog / name).write_text(FILES[name], encoding="utf-8")
    scenario = yaml.safe_load(path.read_text(encoding="utf-8"))
    values = (None, "x", -1, [], {}, [None], True)
    for key in (*scenario, *scenario["clients"][0]):
        data = copy.deepcopy(scenario)
        owner = data if key in data else data["clients"][0]
        owner[key] = values[count % len(values)]
        path.write_text(yaml.safe_dump(data), encoding="utf-8")
        check_paths([path])
        count += 1
    assert count > 50


def test_what_is_left_of_faulty_data() -> None:
    """Optional fields go, needed ones become harmless, and what cannot be mended is None."""
    recipe, changed = soundest(Recipe, {"recipe_id": "x", "name": 5, "meals": ["lunch"]})
    assert recipe is None
    data = {
        "recipe_id": "x",
        "name": "X",
        "meals": ["lunch"],
        "yield_servings": -1,
        "minutes": {"hands_on": "long", "hands_on_per_extra_batch": 1},
        "keeps": {"kind": "soups", "fridge_days": 1.5, "serve": "warm"},
        "lines": [{"food": "egg", "amount": "some", "unit": "box", "part": 7, "extra": 1}],
        "nonsense": 1,
    }
    recipe, changed = soundest(Recipe, data)
    assert recipe is not None
    assert recipe.lines[0].food == "egg"
    assert {path[-1] for path in changed} == {
        "yield_servings", "hands_on", "fridge_days", "serve", "amount", "unit", "part", "extra",
        "nonsense",
    }  # fmt: skip
    fault = Fault("f", 1, "lines[0].unit", "g", "", "", "x")
    assert without_echoes([fault], "f", ["lines[0]"]) == []
    assert without_echoes([fault], "f", ["lines[1]"]) == [fault]
    assert without_echoes([fault], "f", ["lines[0]"], line=2) == [fault]


def test_strict_makes_warnings_fail_and_json_has_both(tmp_path: Path) -> None:
    """Exit code 3 with either; faults do not hide warnings."""
    extra = 'rice2,"rice, white",,own,365,7.13,0.66,79.95,1.3,5,raw,1,,none,grains,shelf,,,,none\n'
    path = write_kitchen(tmp_path / "a", files={"foods.csv": FILES["foods.csv"] + extra})
    result = runner.invoke(cli.app, ["check", str(path.parent)])
    assert result.exit_code == ExitCode.OK
    assert "warning, stops nothing: " in result.stderr
    result = runner.invoke(cli.app, ["check", str(path.parent), "--strict"])
    assert result.exit_code == ExitCode.BAD_INPUT
    assert "warning: " in result.stderr
    result = runner.invoke(cli.app, ["check", str(path.parent), "--strict", "--json"])
    assert result.exit_code == ExitCode.BAD_INPUT
    data = json.loads(result.stdout)
    assert (data["ok"], data["exit_code"], data["faults"]) == (False, 3, [])
    assert "food_twice" in [row["code"] for row in data["warnings"]]
    path = write_kitchen(
        tmp_path / "b", files={"foods.csv": FILES["foods.csv"] + extra}, days="three"
    )
    data = json.loads(runner.invoke(cli.app, ["check", str(path.parent), "--json"]).stdout)
    assert [row["code"] for row in data["faults"]] == ["not_a_number"]
    assert "food_twice" in [row["code"] for row in data["warnings"]]


def test_a_table_with_semicolons_may_have_decimal_commas(tmp_path: Path) -> None:
    """It gives the same catalog; in a table with commas they are one fault, not one a row."""
    plain = load_catalog(write_kitchen(tmp_path / "a").parent / "catalogs")
    rows = FILES["packs.csv"].replace(",", ";").replace(".", ",")
    path = write_kitchen(tmp_path / "b", files={"packs.csv": rows})
    assert load_catalog(path.parent / "catalogs") == plain
    points = write_kitchen(
        tmp_path / "c", files={"packs.csv": FILES["packs.csv"].replace(",", ";")}
    )
    assert load_catalog(points.parent / "catalogs") == plain
    lines = FILES["packs.csv"].splitlines()
    quoted = "\n".join([lines[0], *(_quoted(line) for line in lines[1:])]) + "\n"
    path = write_kitchen(tmp_path / "d", files={"packs.csv": quoted})
    (fault,) = check_paths([path])
    assert (fault.code, fault.line, fault.value) == ("decimal_comma", 2, "1,60")


def _quoted(line: str) -> str:
    cells = line.split(",")
    return ",".join(f'"{one.replace(".", ",")}"' if "." in one else one for one in cells)


@pytest.mark.parametrize(
    ("word", "hint"),
    [
        ("oats", "did you mean 'oats_rolled'?"),
        ("rolled_oats", "did you mean 'oats_rolled'?"),
        ("tomatoe", "did you mean 'tomato'?"),
        ("milk", "did you mean 'milk_whole'?"),
        ("chicken", "did you mean 'chicken_breast' or 'chicken_thigh'?"),
        ("chiken_brest", "did you mean 'chicken_breast'?"),
        ("greek yoghurt", "did you mean 'greek_yogurt_nonfat'?"),
        ("kale", "use one of: almond_milk, chicken_breast"),
        ("oat_milk", "use one of: "),
        ("xx", "use one of: "),
    ],
)
def test_near_words_make_sense(word: str, hint: str) -> None:
    """A slip of the pen or words in common; oats are not tomatoes, and kale is nothing here."""
    known = [
        "almond_milk", "chicken_breast", "chicken_thigh", "greek_yogurt_nonfat", "milk_whole",
        "oats_rolled", "tomato",
    ]  # fmt: skip
    assert nearest(word, known).startswith(hint)
