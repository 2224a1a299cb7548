"""A hundred recipes from pages to a plan: imported, settled by a file of answers, planned."""

from __future__ import annotations

import shutil
from pathlib import Path

import pytest
import yaml

from intake.hundred import RECIPES, write_hundred
from planopt.audit import audit_plan
from planopt.catalog.load import load_catalog
from planopt.catalog.quantities import Quantities
from planopt.intake.imports import import_recipes
from planopt.intake.settling import ANSWERS_FILE
from planopt.pipeline import load_kitchen, make_plan
from planopt.solve.settings import SolveSettings

ROOT = Path(__file__).resolve().parents[2]
ANSWERS = Path(__file__).parent / "data" / "hundred_answers.csv"
CLIENTS = [
    {
        "id": "ada",
        "name": "Ada",
        "windows_per_day": {"energy_kcal": {"min": 1700, "max": 2100}, "protein_g": {"min": 80}},
        "allergens": ["peanut"],
    },
    {
        "id": "bo",
        "name": "Bo",
        "windows_per_day": {"energy_kcal": {"min": 2300, "max": 2800}, "protein_g": {"min": 100}},
        "allergens": ["fish", "egg"],
    },
]


@pytest.mark.slow
def test_a_hundred_recipes_are_imported_settled_and_planned(tmp_path: Path) -> None:
    """Every gram is that of the truth; two clients have a plan that the audit agrees with."""
    pages, kitchen = tmp_path / "pages", tmp_path / "catalogs"
    pages.mkdir()
    shutil.copytree(ROOT / "catalogs", kitchen)
    shutil.rmtree(kitchen / "recipes")
    truths = write_hundred(pages, kitchen)
    assert len(truths) == RECIPES == 100
    first = import_recipes([pages], kitchen)
    assert (len(first.written), len(first.waiting), first.faults) == (0, 100, [])
    assert {one.ask for one in first.questions} == {
        "sentence", "food", "measure", "yield", "meals", "minutes", "heat", "keeps",
    }  # fmt: skip
    assert (kitchen / ANSWERS_FILE).is_file()

    shutil.copyfile(ANSWERS, kitchen / ANSWERS_FILE)
    done = import_recipes([pages], kitchen)
    assert (len(done.written), done.waiting, done.questions, done.faults) == (100, [], [], [])
    catalog = load_catalog(kitchen)
    quantities = Quantities(catalog)
    by_name = {recipe.name: recipe for recipe in catalog.recipes.values()}
    for truth in truths:
        recipe = by_name[truth.name]
        grams: dict[str, float] = {}
        for line in recipe.lines:
            amount = quantities.line_grams(line.food, line.amount, line.unit, line.state)
            grams[line.food] = grams.get(line.food, 0.0) + amount
        assert grams == pytest.approx(truth.grams, rel=0.01), truth.name
        assert (recipe.yield_servings, set(recipe.meals)) == (4, set(truth.meals)), truth.name
        assert recipe.minutes.hands_on == truth.prep_minutes
        assert recipe.minutes.unattended == truth.hob_minutes + truth.oven_minutes
        oven = recipe.equipment.oven
        assert (oven.minutes if oven else 0) == truth.oven_minutes
        assert recipe.equipment.hob_minutes == truth.hob_minutes

    scenario = {
        "name": "Two clients", "catalog": "catalogs", "start_date": "2026-11-30", "days": 3,
        "cook_days": [{"day": 0}], "clients": CLIENTS,
    }  # fmt: skip
    file = tmp_path / "two.yaml"
    file.write_text(yaml.safe_dump(scenario), encoding="utf-8")
    loaded = load_kitchen(file)
    # A gap this wide ends the search with its first plans; the time is for a machine that is busy.
    plan = make_plan(loaded, SolveSettings(time_limit_s=120, gap=0.6, threads=1))
    assert audit_plan(plan, loaded.catalog, loaded.scenario) == []
    eaten = {portion.recipe_id for portion in plan.portions}
    assert len(plan.portions) == 2 * 3 * 4
    assert eaten <= set(catalog.recipes)
