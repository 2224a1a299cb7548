"""The audit accepts what is right, and only within its tolerances."""

from __future__ import annotations

import ast
import copy
from pathlib import Path
from typing import Any

import planopt.audit
from audit.handmade import CATALOG, SCENARIO, catalog, scenario
from audit.handmade_plan import PLAN, plan
from planopt.audit import audit_plan
from planopt.audit.conversions import Conversions
from planopt.audit.findings import Finding, rounded_minor
from planopt.catalog.records import Catalog, Line
from planopt.plan.records import Plan
from planopt.scenario.records import Scenario

ALLOWED_IMPORTS = (
    "planopt.audit",
    "planopt.catalog.records",
    "planopt.scenario.records",
    "planopt.scenario.byhand",
    "planopt.scenario.ready",
    "planopt.plan.records",
    "planopt.cookday.records",
    "planopt.units",
    "planopt.faults",
)


def test_the_handmade_plan_has_no_findings() -> None:
    """A plan reckoned by hand agrees with the audit in every number."""
    assert audit_plan(plan(), catalog(), scenario()) == []


def test_floating_point_noise_is_no_finding() -> None:
    """Masses, servings and nutrients may be off by what binary arithmetic leaves behind."""
    data = copy.deepcopy(PLAN)
    data["food_uses"][0]["used_g"][0] += 2e-5
    data["portions"][0]["servings"] += 1e-9
    data["portions"][0]["nutrients"]["energy_kcal"] -= 1e-7
    assert audit_plan(Plan.model_validate(data), catalog(), scenario()) == []


def test_a_plan_read_back_from_its_json_has_no_findings() -> None:
    """Nothing that the audit needs is lost in the plan's file."""
    text = plan().model_dump_json()
    assert audit_plan(Plan.model_validate_json(text), catalog(), scenario()) == []


def test_the_audit_imports_no_code_of_the_model() -> None:
    """An audit that shared code with the model would repeat the model's mistakes."""
    folder = Path(planopt.audit.__file__).parent
    for path in folder.glob("*.py"):
        for node in ast.walk(ast.parse(path.read_text(encoding="utf-8"))):
            names = [node.module or ""] if isinstance(node, ast.ImportFrom) else []
            names += [alias.name for alias in node.names] if isinstance(node, ast.Import) else []
            for name in names:
                if name.startswith("planopt"):
                    assert name.startswith(ALLOWED_IMPORTS), f"{path.name} imports {name}"


def test_a_finding_reads_as_one_line() -> None:
    """The text names rule, place, and both values."""
    finding = Finding("price", "purchase of oats", "3.00", "2.99")
    assert finding.text() == "[price] purchase of oats: expected 3.00, found 2.99"


def test_halves_round_up_and_near_halves_round_either_way() -> None:
    """Exact halves have one answer; within a millionth of a cent both are accepted."""
    values = CATALOG["packs"]["oats_1000"]["price"], "0.5", "2.5", "2.4999999", "2.4999"
    rounded = [rounded_minor(planopt.audit.findings.exact(float(value))) for value in values]
    assert rounded == [(3,), (1,), (3,), (2, 3), (2,)]


def _grams(**line: Any) -> float | None:
    grams = Conversions(catalog()).line_grams(Line.model_validate(line))
    return None if grams is None else float(grams)


def test_lines_convert_by_measures_densities_and_yields() -> None:
    """Each road from an amount to grams gives the number worked out by hand."""
    assert _grams(food="carrot", amount=3, unit="each") == 180
    assert _grams(food="oil", amount=2, unit="tsp") == 9  # 216 / 48 x 2
    assert _grams(food="oil", amount=10, unit="ml") == 9
    assert _grams(food="water", amount=1, unit="cup") == 236.5882365  # density only
    assert _grams(food="rice", amount=1, unit="tbsp", state="raw") == 11.5625  # 185 / 16
    assert _grams(food="rice", amount=8, unit="tbsp", state="cooked") == 32  # 160 / 2 / 2.5
    assert _grams(food="rice", amount=100, unit="g", state="cooked") == 40
    assert _grams(food="oats", amount=1, unit="lb") == 453.59237


def test_amounts_without_a_road_to_grams_have_none() -> None:
    """No measure, density or yield is made up."""
    assert _grams(food="oats", amount=1, unit="cup") is None
    assert _grams(food="oats", amount=1, unit="each") is None
    assert _grams(food="carrot", amount=1, unit="each", state="cooked") is None
    assert _grams(food="carrot", amount=1, unit="g", state="cooked") is None
    assert _grams(food="water", amount=1, unit="cup", state="cooked") is None
    assert _grams(food="nothing", amount=1, unit="g") is None


def test_any_amounts_may_be_bought_eaten_and_cooked_in_a_diet_problem() -> None:
    """With `any` for packs, portions, batches and meals, fractions are no findings.

    A serving is 100 g of the one food at 0.10 for 100 g; 3.33 servings cost 33.3 cents.
    """
    data = copy.deepcopy(CATALOG)
    data["recipes"] = {"bowl": {**data["recipes"]["pots"], "recipe_id": "bowl"}}
    data["recipes"]["bowl"]["batch"] = {"step": "any", "most_per_cook_day": 100}
    data["recipes"]["bowl"]["yield_servings"] = 1
    data["recipes"]["bowl"]["lines"] = [{"food": "oats", "amount": 100, "unit": "g"}]
    any_pack = {**data["packs"]["oats_1000"], "sold": "any", "size": "100", "unit": "g"}
    data["packs"] = {"oats_1000": {**any_pack, "price": "0.10"}}
    week = Scenario.model_validate(
        {
            **{key: SCENARIO[key] for key in ("name", "start_date")},
            "days": 1,
            "meal_defaults": "off",
            "most_dishes_per_meal": "any",
            "cook_days": [{"day": 1}],
            "clients": [{"id": "eve", "name": "Eve", "portions": {"step": "any", "largest": 9}}],
        }
    )
    answer = copy.deepcopy(PLAN)
    answer["days"] = 1
    money = {"grocery_cost": "0.33", "visit_cost": "0", "waste_cost": "0", "objective": "0.33"}
    answer["solution"] |= {**money, "best_bound": "0.33", "proven_gap": 0, "waste_weight": 1}
    purchase = {**answer["purchases"][3], "shop_day": 1, "shop_date": "2026-03-02"}
    purchase |= {"sold": "any", "count": 3.33, "size": "100", "unit": "g"}
    answer["purchases"] = [{**purchase, "price_each": "0.10", "price": "0.33", "edible_g": 333}]
    names = {"recipe_id": "bowl", "recipe_name": "Oat pots", "version": "base", "cook_day": 1}
    batch = {**answer["batches"][2], **names, "cook_date": "2026-03-02", "batches": 3.33}
    batch |= {"servings": 3.33, "servings_eaten": 3.33, "servings_left": 0}
    line = {**answer["batches"][2]["lines"][0], "grams": 333}
    answer["batches"] = [{**batch, "use_by_fridge": "2026-03-05", "lines": [line]}]
    portion = {**answer["portions"][0], **names, "client_id": "eve", "servings": 3.33}
    nutrients = {"energy_kcal": 1265.4, "protein_g": 43.29, "iron_mg": 0}
    answer["portions"] = [{**portion, "nutrients": nutrients}]
    use = {**answer["food_uses"][6], "supply": "shop day 1", "available_g": 333}
    use |= {"used_g": {1: 333}, "left_g": 0, "fate": "nothing left", "left_value": "0"}
    answer["food_uses"] = [use]
    assert audit_plan(Plan.model_validate(answer), Catalog.model_validate(data), week) == []
