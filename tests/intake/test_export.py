"""Our recipes as schema.org Recipe, and back."""

from __future__ import annotations

import csv
import json
import re
import shutil
from pathlib import Path
from typing import Any

import pytest
from typer.testing import CliRunner

from kitchens import write_catalog
from planopt.catalog.dishtext import CookedVersion, dish_name, steps_of
from planopt.catalog.load import load_catalog
from planopt.catalog.quantities import Quantities
from planopt.catalog.records import Catalog
from planopt.cli import app
from planopt.intake.exports import export_recipes
from planopt.intake.imports import import_recipes
from planopt.intake.settling import ANSWERS_FILE

ROOT = Path(__file__).resolve().parents[2]
# What schema.org has no property for is answered by suggestion, or plainly where there is none.
ANSWERS = "ask,recipe,about,answer\n" + "".join(
    f"{ask},*,*,{answer}\n"
    for ask, answer in {
        "keeps": "suggested", "oven": "none", "hob": "0", "heat": "suggested",
    }.items()
)  # fmt: skip


@pytest.fixture(scope="module")
def exported(tmp_path_factory: pytest.TempPathFactory) -> Path:
    """Return the folder with all demo recipes."""
    folder = tmp_path_factory.mktemp("exported")
    export_recipes(ROOT, folder)
    return folder


def test_a_recipe_to_the_letter(tmp_path: Path) -> None:
    """The porridge of the tiny kitchen; its nutrition is worked out here from the tables."""
    kitchen = write_catalog(tmp_path / "kitchen")
    (path,) = export_recipes(kitchen, tmp_path / "out", ["oat_porridge"])
    node = json.loads(path.read_text(encoding="utf-8"))
    recipe = load_catalog(kitchen).recipes["oat_porridge"]
    assert (path.name, node["@context"], node["@type"]) == (
        "oat_porridge.jsonld", "https://schema.org", "Recipe",
    )  # fmt: skip
    assert node["recipeIngredient"] == [
        "1.5 cups rolled oats",
        "400 ml whole milk",
        "200 ml tap water (optional)",
    ]
    assert node["recipeYield"] == f"{recipe.yield_servings:g} servings"
    foods = {row["food_id"]: row for row in _rows(kitchen / "foods.csv")}
    grams = {"oats_rolled": 121.5, "milk_whole": 412.0, "water": 200.0}
    for nutrient, (name, unit, digits) in {
        "energy_kcal": ("calories", "kcal", 0), "protein_g": ("proteinContent", "g", 1),
        "fat_g": ("fatContent", "g", 1), "carbohydrate_g": ("carbohydrateContent", "g", 1),
        "fibre_g": ("fiberContent", "g", 1), "sodium_mg": ("sodiumContent", "mg", 0),
    }.items():  # fmt: skip
        total = sum(g / 100 * float(foods[food][nutrient]) for food, g in grams.items())
        number, told = node["nutrition"][name].split()
        assert told == unit
        assert float(number) == pytest.approx(total / recipe.yield_servings, abs=0.51 * 10**-digits)


def test_what_a_food_does_not_tell_is_left_out(tmp_path: Path) -> None:
    """No nutrient is declared too low for want of a figure."""
    kitchen = write_catalog(tmp_path / "kitchen")
    table = kitchen / "foods.csv"
    table.write_text(
        table.read_text(encoding="utf-8").replace(",67.70,10.1,6,", ",67.70,,6,"), encoding="utf-8"
    )
    (path,) = export_recipes(kitchen, tmp_path / "out", ["oat_porridge"])
    nutrition = json.loads(path.read_text(encoding="utf-8"))["nutrition"]
    assert "fiberContent" not in nutrition
    assert "carbohydrateContent" in nutrition


def test_every_file_keeps_to_the_standard(exported: Path) -> None:
    """Durations, energy and masses have the forms that schema.org gives for them."""
    files = sorted(exported.iterdir())
    assert len(files) == len(list((ROOT / "catalogs" / "recipes").glob("*.yaml")))
    for file in files:
        node = json.loads(file.read_text(encoding="utf-8"))
        for time in ("prepTime", "cookTime", "totalTime"):
            assert re.fullmatch(r"PT(\d+H)?(\d+(\.\d+)?M)?", node[time]), file
        nutrition = node["nutrition"]
        assert nutrition.pop("@type") == "NutritionInformation"
        assert nutrition.pop("servingSize") == "1 serving"
        assert re.fullmatch(r"\d+ kcal", nutrition.pop("calories"))
        assert all(re.fullmatch(r"\d+(\.\d+)? m?g", value) for value in nutrition.values()), file
        assert all(step["@type"] == "HowToStep" for step in node["recipeInstructions"])
        texts = [*node["recipeIngredient"], *(s["text"] for s in node["recipeInstructions"])]
        assert not any(set("{}[]") & set(text) for text in texts), file


def test_all_demo_recipes_come_back_the_same(exported: Path, tmp_path: Path) -> None:
    """Names, yields, times, meals, every gram of every food, steps and temperatures."""
    kitchen = tmp_path / "catalogs"
    shutil.copytree(ROOT / "catalogs", kitchen)
    before = load_catalog(kitchen)
    shutil.rmtree(kitchen / "recipes")
    (kitchen / ANSWERS_FILE).write_text(ANSWERS, encoding="utf-8")
    done = import_recipes([exported], kitchen)
    assert (done.faults, done.waiting, done.questions) == ([], [], [])
    after = load_catalog(kitchen)
    assert len(after.recipes) == len(before.recipes)
    by_name = {recipe.name: recipe_id for recipe_id, recipe in after.recipes.items()}
    for recipe_id, recipe in before.recipes.items():
        back = by_name[dish_name(recipe, "base", before)]
        assert _facts(before, recipe_id) == pytest.approx(_facts(after, back), rel=2e-3), recipe_id
        assert _words(before, recipe_id) == _words(after, back)


def _facts(catalog: Catalog, recipe_id: str) -> dict[str, float]:
    """Return grams by food, and the numbers of a recipe."""
    recipe, quantities = catalog.recipes[recipe_id], Quantities(catalog)
    facts = {
        "yield": recipe.yield_servings,
        "hands_on": recipe.minutes.hands_on,
        "unattended": recipe.minutes.unattended,
    }
    for line in recipe.lines:
        grams = quantities.line_grams(line.food, line.amount, line.unit, line.state)
        facts[line.food] = facts.get(line.food, 0.0) + grams
    return facts


def _words(catalog: Catalog, recipe_id: str) -> Any:
    """Return meals, and steps with their temperatures."""
    recipe = catalog.recipes[recipe_id]
    amounts = {
        index: f"{line.amount.normalize():f} {line.unit}" for index, line in enumerate(recipe.lines)
    }
    cooked = CookedVersion(recipe.yield_servings, 1, max(1, round(recipe.yield_servings)), amounts)
    return set(recipe.meals), [
        (step.do, step.until_internal_c) for step in steps_of(recipe, "base", catalog, cooked)
    ]


def _rows(path: Path) -> list[dict[str, str]]:
    with path.open(encoding="utf-8", newline="") as file:
        return list(csv.DictReader(file))


def test_the_command_line(tmp_path: Path) -> None:
    """Some recipes or all; one that is not there is a fault."""
    kitchen = write_catalog(tmp_path / "kitchen")
    out = tmp_path / "out"
    runner = CliRunner()
    command = ["export", "recipes", str(kitchen), "--out", str(out)]
    assert runner.invoke(app, command).output == f"4 recipes written to {out}.\n"
    wrong = runner.invoke(app, [*command, "--recipe", "oat_poridge"])
    assert wrong.exit_code == 3
    assert wrong.stderr == (
        f"{kitchen}: recipe: 'oat_poridge' [unknown_recipe]\n"
        "    why: the catalog has no such recipe\n"
        "    mend: did you mean 'oat_porridge'?\n"
    )
    (tmp_path / "file").write_text("", encoding="utf-8")
    blocked = runner.invoke(app, [*command[:-1], str(tmp_path / "file" / "x")])
    assert blocked.exit_code == 3
    assert "[folder_unwritable]" in blocked.stderr
