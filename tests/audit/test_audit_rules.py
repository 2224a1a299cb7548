"""Each rule of the audit is broken once, by the plan or by a stricter kitchen."""

from __future__ import annotations

import copy
import re
from pathlib import Path as FilePath
from typing import Any

import pytest

import planopt.audit
from audit.handmade import CATALOG, SCENARIO, catalog, scenario
from audit.handmade_plan import PLAN
from planopt.audit import Finding, audit_plan
from planopt.catalog.records import Catalog
from planopt.plan.records import Plan
from planopt.scenario.records import Scenario

Path = tuple[str | int, ...]
Edit = tuple[str, Path, object]
ADA: Path = ("clients", 0)
BEN: Path = ("clients", 1)


def put(data: Any, path: Path, value: object) -> None:
    """Set a value in nested data; appends where the last step is one past a list's end."""
    for step in path[:-1]:
        data = data[step]
    if isinstance(data, list) and path[-1] == len(data):
        data.append(value)
    else:
        data[path[-1]] = value


def findings(
    plan: list[tuple[Path, object]] | None = None,
    kitchen: list[tuple[Path, object]] | None = None,
    foods: list[tuple[Path, object]] | None = None,
) -> list[Finding]:
    """Audit the handmade plan after edits of plan, scenario and catalogs."""
    documents = [copy.deepcopy(data) for data in (PLAN, SCENARIO, CATALOG)]
    for data, edits in zip(documents, (plan, kitchen, foods), strict=True):
        for path, value in edits or []:
            put(data, path, value)
    records = (Plan.model_validate(documents[0]), Scenario.model_validate(documents[1]))
    return audit_plan(records[0], Catalog.model_validate(documents[2]), records[1])


def rules(found: list[Finding]) -> set[str]:
    """Return the names of the rules broken."""
    return {finding.rule for finding in found}


ROW_FISH = {**PLAN["portions"][3]}
# Ada has 1280 kcal on day 1; on day 2 a window of that very day is the one that holds.
LEAN_FIRST_DAY = {
    "day_patterns": {"lean": {"energy_kcal": {"min": 1200, "max": 1279}}},
    "pattern_days": {"lean": [1]},
}
KINDS_OF_DAYS = {
    "day_patterns": {
        "full": {"energy_kcal": {"min": 1280, "max": 1280}},
        "lean": {"energy_kcal": {"max": 1260.8}, "protein_g": {"max": 1}},
    },
    "pattern_days": {"full": [1, 3], "lean": [2]},
}
# Each stricter scenario breaks one rule alone; the plan stays as it is.
KITCHENS: list[tuple[str, Path, object]] = [
    ("repeats", (*ADA, "most_repeats"), 2),
    ("variety", (*ADA, "least_different_recipes"), 4),
    ("most-different", (*ADA, "most_different_recipes"), 2),
    ("most-recipes", ("most_recipes",), 2),
    ("days-between", ("days_between",), 1),
    ("days-between", (*ADA, "days_between"), 1),
    ("days-between", (*ADA, "days_between_of"), {"soup": 2}),
    ("same-dish", ("same_dish",), [{"meals": ["dinner"], "clients": ["ada"], "across": "days"}]),
    ("same-dish", ("same_dish",), [{"meals": ["dinner"], "across": "clients"}]),
    ("same-dish", ("same_dish",), [{"meals": ["dinner"], "across": "both"}]),
    ("same-dish", ("same_dish",), [{"meals": ["dinner"], "days": [3], "as_meal": "breakfast"}]),
    ("dislikes", (*ADA, "dislikes"), {"lentils": 1}),
    ("dislikes", (*ADA, "dislikes"), {"haddock": 0}),
    ("wants", (*ADA, "wants"), {"oats": 4}),
    ("wants", (*ADA, "wants"), {"cod": 1}),
    ("most-meals-of", (*ADA, "most_meals_of"), {"legumes": 1}),
    ("least-meals-of", (*ADA, "least_meals_of"), {"legumes": 3}),
    ("least-meals-of", (*BEN, "least_meals_of"), {"fish": 1}),
    ("most-meals-with", (*ADA, "most_meals_with"), {"legumes": 1}),
    ("least-meals-with", (*ADA, "least_meals_with"), {"seafood": 2}),
    ("least-meals-with", (*ADA, "least_meals_with"), {"herbs": 1}),
    ("day-window", (*ADA, "windows_per_day", "legumes_g"), {"min": 1}),
    ("week-window", (*BEN, "windows_per_week"), {"legumes_g": {"max": 299}}),
    ("meal-window", (*ADA, "windows_per_meal"), {"dinner": {"legumes_g": {"max": 99}}}),
    ("unknown-id", (*ADA, "windows_per_day", "nobody_g"), {"min": 0}),
    ("recipe-servings", (*ADA, "recipe_servings"), {"soup": {"max": 1.5}}),
    ("recipe-servings", (*ADA, "recipe_servings"), {"pots": {"min": 4.5}}),
    ("recipe-servings", (*BEN, "recipe_servings"), {"fish": {"min": 0.5}}),
    ("portion-size", (*ADA, "portions"), {"step": 1, "smallest": 1, "largest": 2}),
    ("portion-size", (*ADA, "portions"), {"step": 0.5, "smallest": 1.5, "largest": 2}),
    ("portion-size", (*ADA, "portions"), {"step": 0.5, "smallest": 1, "largest": 1.5}),
    ("portion-size", (*ADA, "portions"), {"step": "any", "smallest": 1, "largest": 1.5}),
    ("portion-size", (*ADA, "portions"), {"step": "any", "smallest": 1.5, "largest": 2}),
    ("allergen", (*ADA, "allergens"), ["fish"]),
    ("excluded-food", (*ADA, "excluded_foods"), ["parsley"]),
    ("excluded-recipe", (*BEN, "excluded_recipes"), ["soup"]),
    ("meal-not-asked", (*ADA, "away"), {"days": [3]}),
    ("meal-not-asked", (*BEN, "away"), {"days": [3], "meals": {1: ["dinner"], 2: ["breakfast"]}}),
    ("meal-unfed", (*BEN, "away"), {"days": [3]}),
    ("day-window", (*ADA, "windows_per_day", "energy_kcal"), {"min": 1261}),
    ("day-window", (*ADA, "windows_per_day", "energy_kcal"), {"max": 1279}),
    ("day-window", (*ADA, "windows_on_days"), {}),
    ("day-window", (*BEN, "windows_per_day", "energy_kcal"), {"min": 1200, "max": 1450}),
    ("day-window", (*BEN, "windows_on_days"), {2: {"energy_kcal": {"min": 1100}}}),
    ("day-window", ("clients", 0), {**SCENARIO["clients"][0], **LEAN_FIRST_DAY}),
    ("energy-floor", (*BEN, "day_patterns"), {"rest": {"energy_kcal": {"min": 799}}}),
    ("cautions", (*ADA, "day_patterns"), {"rest": {"iron_mg": {"min": 0}}}),
    ("week-window", (*ADA, "windows_per_week", "energy_kcal"), {"min": 3821}),
    ("week-window", (*BEN, "windows_per_week"), {"energy_kcal": {"max": 1980}}),
    ("energy-floor", (*ADA, "windows_on_days", 2), {"energy_kcal": {"min": 799, "max": 1400}}),
    ("cautions", (*ADA, "windows_per_day", "energy_kcal"), {"min": 1199.5, "max": 1300}),
    ("cautions", (*ADA, "windows_per_week", "iron_mg"), {"min": 0}),
    ("unknown-id", (*ADA, "windows_per_day", "fibre_g"), {"min": 0}),
    ("unknown-id", (*ADA, "windows_per_meal"), {"dinner": {"fibre_g": {"min": 1}}}),
    ("meal-window", ("meal_defaults",), "on"),
    ("meal-window", ("plate_g",), {"max": 100}),
    ("meal-window", ("windows_per_meal",), {"dinner": {"energy_kcal": {"max": "10%"}}}),
    ("meal-window", (*ADA, "plate_g"), {"min": 900}),
    ("meal-window", (*ADA, "windows_per_meal"), {"breakfast": {"protein_g": {"min": 90}}}),
    (
        "meal-window",
        (*ADA, "windows_per_meal_on_days"),
        {1: {"dinner": {"energy_kcal": {"min": "99%"}}}},
    ),
    ("hands-on-minutes", ("cook_days", 0, "hands_on_minutes"), 57.9),
    ("oven-minutes", ("cook_days", 1, "oven_minutes"), 24.9),
    ("hob-minutes", ("cook_days", 0, "hob_minutes"), 44.9),
    ("most-recipes", ("cook_days", 0, "most_recipes"), 1),
    ("not-ready", ("cook_days", 1, "ready_for"), "next_day"),
    ("not-ready", ("cook_days", 1, "ready_for"), "supper"),
    ("cook-day", ("cook_days", 1, "day"), 1),
    ("shop-day", ("shop_days",), [-1, 1]),
    ("kept-too-long", ("use_freezer",), False),
    ("portion-storage", ("keeping_rule",), "longest"),
    ("recipe-allowed", ("recipes",), {"exclude": ["fish"]}),
    ("recipe-allowed", ("recipes",), {"include": ["soup", "pots"]}),
    ("pack-allowed", ("sellers",), ["market"]),
    ("pack-allowed", ("currency",), "EUR"),
    ("visit-cost", ("visit_cost",), "1.51"),
    ("work-cost", ("work_prices",), {"cook_hour": "6"}),
    ("work-cost", ("work_prices",), {"box": "0.05"}),
    ("budget", ("budget",), "19.70"),
    ("waste-weight", ("waste_weight",), 0.51),
    ("objective", ("waste_weight",), 0.7),
    ("leftover", ("carry_days",), 1),
    ("waste-cost", ("carry_days",), 1),
    ("supply-usable", ("stock", 1, "use_by"), "2026-02-28"),
    ("supply-overused", ("stock", 0, "amount"), "89"),
    ("supply-row", ("stock", 3), {"food": "oats", "amount": 1, "unit": "g"}),
    ("conversion", ("stock", 3), {"food": "oats", "amount": 1, "unit": "each"}),
    ("conversion", ("stock", 3), {"food": "nothing_known", "amount": 1, "unit": "g"}),
    ("head", ("name",), "Another week"),
    ("head", ("days",), 2),
    ("meal-unfed", ("days",), 4),
]
CATALOGS: list[tuple[str, Path, object]] = [
    ("nutrient-note", ("reference_intakes", 0, "amount"), 100),
    ("nutrient-guard", ("reference_intakes", 0, "amount"), 100),
    ("batch-limit", ("recipes", "soup", "batch", "most_per_cook_day"), 1),
    ("batch-step", ("recipes", "soup", "batch", "step"), "whole"),
    ("smallest-portion", ("recipes", "soup", "smallest_portion"), 2),
    ("wrong-meal", ("recipes", "fish", "meals"), ["breakfast"]),
    ("kept-too-long", ("recipes", "pots", "keeps", "fridge_days"), 2),
    ("kept-too-long", ("storage_limits", "stews", "freezer_months_shortest"), 0.05),
    ("kept-too-long", ("foods", "lentils", "safety_group"), "fish"),
    ("kept-too-long", ("safety_groups", "milk", "kinds"), ["stews"]),
    ("unknown-id", ("foods", "lentils", "safety_group"), "pulses"),
    ("raw-not-heated", ("recipes", "fish", "steps"), []),
    ("raw-not-heated", ("recipes", "fish", "steps", 0, "until_internal_c"), 62),
    ("raw-not-heated", ("safe_temperatures", "fish", "internal_c"), 63.3),
    ("raw-not-heated", ("foods", "yogurt", "safe_temperature"), "fish"),
    ("allergen-unknown", ("foods", "lentils", "allergens"), ["not_known"]),
    ("allergen-unknown", ("foods", "oats", "allergens"), ["milk", "not_known"]),
    ("over-eaten", ("recipes", "pots", "yield_servings"), 1.5),
    ("batch-lines", ("recipes", "soup", "lines", 0, "amount"), 3),
    ("supply-balance", ("recipes", "soup", "lines", 0, "amount"), 3),
    ("portion-nutrients", ("foods", "rice", "nutrients", "protein_g"), 8),
    ("supply-usable", ("foods", "yogurt", "keeps_days"), 0),
    ("pack-allowed", ("foods", "rice", "storage"), "tap"),
    ("price", ("packs", "rice_500", "price"), "1.01"),
    ("grocery-cost", ("packs", "rice_500", "price"), "1.01"),
    ("waste-cost", ("packs", "cod_400", "price"), "6.02"),
    ("purchase-facts", ("foods", "carrot", "edible_share"), 0.9),
    ("conversion", ("yields",), []),
    ("conversion", ("packs", "rice_500", "unit"), "each"),
    ("conversion", ("recipes", "pots", "lines", 0, "unit"), "slice"),
    ("unknown-version", ("recipes", "soup", "lines", 4, "optional"), False),
    ("unknown-id", ("recipes", "pots", "keeps", "kind"), "nothing_listed"),
]
SOLUTION = "solution"
PLANS: list[tuple[str, Path, object]] = [
    ("portion-groups", ("portions", 1, "food_groups_g"), {"legumes": 99, "herbs": 5, "fresh": 5}),
    ("bound", (SOLUTION, "best_bound"), "25.48"),
    ("bound", (SOLUTION, "best_bound"), "25.401"),
    ("gap", (SOLUTION, "proven_gap"), 0.0027),
    ("status", (SOLUTION, "gap_asked"), 0.0019),
    ("missed-cost", (SOLUTION, "missed_cost"), "0.01"),
    ("work-cost", (SOLUTION, "work_cost"), "0.01"),
    ("taste-cost", (SOLUTION, "taste_cost"), "0.01"),
    ("pack-count", ("purchases", 0, "count"), 1.5),
    ("pack-count", ("purchases", 0, "count"), 0),
    ("pack-count", ("purchases", 1, "count"), -3),
    ("pack-allowed", ("purchases", 0, "pack_id"), "lentils_abroad"),
    ("unknown-id", ("purchases", 0, "pack_id"), "nothing_sold"),
    ("unknown-id", ("portions", 0, "client_id"), "nobody"),
    ("unknown-id", ("portions", 0, "recipe_id"), "nothing_cooked"),
    ("unknown-id", ("batches", 0, "recipe_id"), "nothing_cooked"),
    ("unknown-version", ("portions", 0, "version"), "1-"),
    ("unknown-version", ("batches", 3, "version"), "0=rice"),
    ("unknown-version", ("batches", 1, "version"), "4-+4-"),
    ("batch-step", ("batches", 2, "batches"), 2.5),
    ("batch-step", ("batches", 2, "batches"), -3),
    ("batch-facts", ("batches", 0, "use_by_freezer"), None),
    ("batch-servings", ("batches", 0, "servings_left"), 1),
    ("over-eaten", ("portions", 1, "servings"), 1.5),
    ("over-eaten", ("portions", 1, "version"), "0-"),
    ("portion-facts", ("portions", 0, "date"), "2026-03-03"),
    ("portion-size", ("portions", 0, "servings"), -1.5),
    ("not-ready", ("portions", 1, "cook_day"), 2),
    ("meal-not-asked", ("portions", 8, "day"), 3),
    ("meal-not-asked", ("portions", 8, "day"), 10**6),
    ("meal-not-asked", ("portions", 8, "meal"), "supper"),
    ("duplicate-row", ("portions", 9), PLAN["portions"][0]),
    ("duplicate-row", ("batches", 4), PLAN["batches"][0]),
    ("duplicate-row", ("purchases", 7), PLAN["purchases"][0]),
    ("duplicate-row", ("food_uses", 10), PLAN["food_uses"][0]),
    ("too-many-dishes", ("portions", 9), {**ROW_FISH, "day": 3, "date": "2026-03-04"}),
    ("mixed-cook-days", ("portions", 9), {**PLAN["portions"][0], "cook_day": 2}),
    ("once-a-day", ("portions", 9), {**ROW_FISH, "meal": "breakfast"}),
    ("supply-use", ("food_uses", 0, "used_g"), {0: 601, 2: -1}),
    ("supply-usable", ("food_uses", 8, "used_g"), {0: 360}),
    ("cook-day", ("food_uses", 0, "used_g"), {0: 500, 1: 100}),
    ("supply-overused", ("food_uses", 3, "used_g"), {0: 1001}),
    ("supply-balance", ("food_uses", 0, "used_g"), {0: 599}),
    ("supply-row", ("food_uses", 0, "supply"), "shop day 2"),
    ("leftover", ("food_uses", 5, "fate"), "carried"),
    ("leftover", ("food_uses", 0, "left_value"), "1.61"),
    ("cautions", ("cautions",), []),
    ("cautions", ("cautions", 7), "Ben eats little."),
    ("record", (SOLUTION, "objective"), "1E+40"),
]


@pytest.mark.parametrize(("rule", "path", "value"), KITCHENS)
def test_a_stricter_scenario_breaks_the_rule(rule: str, path: Path, value: object) -> None:
    """The same plan under one changed entry of the scenario gives the rule's finding."""
    assert rule in rules(findings(kitchen=[(path, value)]))


@pytest.mark.parametrize(("rule", "path", "value"), CATALOGS)
def test_a_changed_catalog_breaks_the_rule(rule: str, path: Path, value: object) -> None:
    """The same plan under one changed entry of the catalogs gives the rule's finding."""
    assert rule in rules(findings(foods=[(path, value)]))


@pytest.mark.parametrize(("rule", "path", "value"), PLANS)
def test_a_changed_plan_breaks_the_rule(rule: str, path: Path, value: object) -> None:
    """One changed decision or statement of the plan gives the rule's finding."""
    assert rule in rules(findings(plan=[(path, value)]))


# limits set exactly at what the plan reaches
EXACT_LIMITS: list[tuple[Path, object]] = [
    ((*ADA, "most_different_recipes"), 3),
    (("most_recipes",), 3),
    ((*ADA, "days_between_of"), {"soup": 1}),
    (("same_dish",), [{"meals": ["breakfast"], "clients": ["ada"], "across": "both"}]),
    (("same_dish",), [{"meals": ["dinner"], "days": [1], "across": "clients"}]),
    (("same_dish",), [{"meals": ["dinner"], "days": [3], "as_meal": "dinner", "days_before": 2}]),
    (("budget",), "19.71"),
    (("cook_days", 0, "hands_on_minutes"), 58),
    (("cook_days", 0, "hob_minutes"), 45),
    (("cook_days", 1, "oven_minutes"), 25),
    ((*ADA, "windows_per_day", "energy_kcal"), {"min": 1260.8, "max": 1280}),
    ((*ADA, "windows_per_week", "energy_kcal"), {"min": 3820.8, "max": 3820.8}),
    ((*ADA, "recipe_servings"), {"soup": {"min": 2, "max": 2}}),
    ((*BEN, "windows_on_days"), {2: {"protein_g": {"min": 37.95, "max": 37.95}}}),
    ((*BEN, "windows_per_day", "energy_kcal"), {"min": 1150, "max": 1450.5}),
    ((*ADA, "windows_per_day", "energy_kcal"), {"min": 1200, "max": 1300}),
    ((*ADA, "wants"), {"oats": 3, "haddock": 1}),
    ((*ADA, "most_meals_of"), {"legumes": 2, "nobody_has": 0}),
    ((*ADA, "least_meals_of"), {"legumes": 2, "fish": 1}),
    (ADA, {**SCENARIO["clients"][0], **KINDS_OF_DAYS}),
    ((*ADA, "most_meals_with"), {"legumes": 2, "herbs": 0}),
    ((*ADA, "least_meals_with"), {"legumes": 2, "seafood": 1}),
    ((*ADA, "windows_per_week"), {"herbs_g": {"max": 10}, "legumes_g": {"min": 200}}),
    ((*BEN, "windows_per_meal"), {"dinner": {"legumes_g": {"min": 150, "max": 150}}}),
    (("cook_days", 1, "ready_for"), "dinner"),
    (("cook_days", 1, "ready_for"), "breakfast"),
    (("cook_days", 1, "ready_for"), None),
    (("carry_days",), 2),
    (("sellers",), ["farm", "market"]),
    (("recipes",), {"include": ["fish", "pots", "soup"]}),
    (("stock", 1, "use_by"), "2026-03-01"),
]


@pytest.mark.parametrize(("path", "value"), EXACT_LIMITS)
def test_a_limit_that_is_just_met_is_no_finding(path: Path, value: object) -> None:
    """Every limit includes its own value."""
    assert findings(kitchen=[(path, value)]) == []


def test_a_supervised_client_may_be_given_less_than_800_kcal() -> None:
    """Medical supervision lifts the energy floor, and the caution that names the client stays."""
    window = ((*BEN, "windows_per_day", "energy_kcal"), {"min": 600, "max": 1500})
    assert rules(findings(kitchen=[window])) == {"energy-floor"}
    supervised = ((*BEN, "medically_supervised"), True)
    assert findings(kitchen=[window, supervised]) == []
    silent: list[tuple[Path, object]] = [(("cautions", 7), "Bento boxes: below 1,200 kcal.")]
    assert rules(findings(plan=silent, kitchen=[window, supervised])) == {"cautions"}


def test_a_caution_of_the_scenario_is_repeated_and_stands_for_no_other() -> None:
    """To the letter, with the name; and what it says of 1200 kcal is not the program's caution."""
    own: tuple[Path, object] = ((*BEN, "cautions"), ["Ask before 1200 kcal."])
    assert rules(findings(kitchen=[own])) == {"cautions"}
    repeated: list[tuple[Path, object]] = [(("cautions", 8), "Ben: Ask before 1200 kcal.")]
    assert findings(plan=repeated, kitchen=[own]) == []
    instead: list[tuple[Path, object]] = [(("cautions", 7), "Ben: Ask before 1200 kcal.")]
    window = ((*BEN, "windows_per_day", "energy_kcal"), {"min": 1100, "max": 1500})
    found = findings(plan=instead, kitchen=[own, window])
    assert rules(found) == {"cautions"}
    assert any("a caution naming Ben" in finding.expected for finding in found)


def test_an_unknown_nutrient_under_a_window_needs_a_caution() -> None:
    """Iron is unknown for every food, so a window on it must be admitted to be uncertain."""
    window: list[tuple[Path, object]] = [((*ADA, "windows_per_week", "iron_mg"), {"max": 100})]
    assert rules(findings(kitchen=window)) == {"cautions"}
    caution: list[tuple[Path, object]] = [(("cautions", 8), "Iron is not known for every food.")]
    assert findings(plan=caution, kitchen=window) == []


def test_an_unknown_nutrient_nobody_can_be_served_needs_no_caution() -> None:
    """A food that no client with the window may eat leaves the window certain."""
    window: list[tuple[Path, object]] = [((*BEN, "windows_per_week"), {"protein_g": {"max": 90}})]
    ada: list[tuple[Path, object]] = [
        ((*ADA, "windows_per_day", "protein_g"), {}),
        ((*ADA, "windows_on_days"), {}),
    ]
    for food, cautioned in (("cod", False), ("rice", False), ("water", True)):
        unknown: list[tuple[Path, object]] = [(("foods", food, "nutrients", "protein_g"), None)]
        found = rules(findings(kitchen=window + ada, foods=unknown))
        assert ("cautions" in found) == cautioned, food


def test_a_portion_of_an_alternative_is_judged_by_what_is_in_it() -> None:
    """Cod is not in the version with haddock, so excluding it bars nothing."""
    excluded: list[tuple[Path, object]] = [((*ADA, "excluded_foods"), ["cod"])]
    assert findings(kitchen=excluded) == []
    barred: list[tuple[Path, object]] = [((*ADA, "excluded_foods"), ["haddock"])]
    assert rules(findings(kitchen=barred)) == {"excluded-food"}


def test_meals_of_any_number_of_dishes_may_be_empty_or_repeat() -> None:
    """`any` lifts the least and the most dishes of a meal, and the once-a-day rule."""
    loose: list[tuple[Path, object]] = [
        (("most_dishes_per_meal",), "any"),
        ((*BEN, "away"), {"meals": {2: ["breakfast"]}}),
        ((*BEN, "windows_per_day"), {}),
        ((*BEN, "medically_supervised"), True),
    ]
    # On day 3 Ben eats nothing here; only under supervision may that be, and it has to be said.
    told: list[tuple[Path, object]] = [(("cautions", 8), "Ben: 0 kcal on day 3, below 1,200.")]
    assert findings(plan=told, kitchen=loose) == []
    twice: list[tuple[Path, object]] = [(("portions", 9), {**ROW_FISH, "meal": "breakfast"})]
    assert not {"once-a-day", "too-many-dishes"} & rules(findings(plan=twice, kitchen=loose))


def test_the_largest_portion_of_any_number_of_dishes_counts_all_cook_days() -> None:
    """With `any` one dish may come from two cook days, and its servings are still one portion."""
    half = {**PLAN["portions"][3], "servings": 1}
    whole: list[tuple[Path, object]] = [
        (("portions", 3), half),
        (("portions", 9), {**half, "cook_day": 0}),
    ]
    loose: list[tuple[Path, object]] = [(("most_dishes_per_meal",), "any")]
    assert "mixed-cook-days" in rules(findings(plan=whole))
    assert not {"mixed-cook-days", "portion-size"} & rules(findings(plan=whole, kitchen=loose))
    more: list[tuple[Path, object]] = [*whole, (("portions", 9, "servings"), 1.5)]
    assert "portion-size" in rules(findings(plan=more, kitchen=loose))


def test_a_claim_of_optimal_may_lack_two_minor_units() -> None:
    """The bound is rounded down and the objective half up, so a claim has that slack."""
    gap = PLAN[SOLUTION]["proven_gap"]
    slack = 2 / 2547
    for asked, broken in ((gap, False), (gap - 0.99 * slack, False), (gap - 1.01 * slack, True)):
        claim: list[tuple[Path, object]] = [((SOLUTION, "gap_asked"), asked)]
        assert ("status" in rules(findings(plan=claim))) == broken


def test_a_currency_without_cents_rounds_to_whole_units() -> None:
    """The minor unit follows the currency: 1,971 yen, and waste of 551.125 yen is 551."""
    packs = {
        name: {**pack, "currency": "JPY", "price": str(int(float(pack["price"]) * 100 + 0.5))}
        for name, pack in CATALOG["packs"].items()
        if pack["currency"] == "USD"
    }
    money: dict[Path, object] = {("currency",): "JPY"}
    for field in ("grocery_cost", "visit_cost", "waste_cost", "objective", "best_bound"):
        money[SOLUTION, field] = PLAN[SOLUTION][field].replace(".", "")
    for index, row in enumerate(PLAN["purchases"]):
        for field in ("price", "price_each"):
            money["purchases", index, field] = row[field].replace(".", "")
    for index, row in enumerate(PLAN["food_uses"]):
        money["food_uses", index, "left_value"] = row["left_value"].replace(".", "")
    kitchen: list[tuple[Path, object]] = [
        (("currency",), "JPY"),
        (("visit_cost",), "150"),
        (("budget",), "2000"),
    ]
    foods: list[tuple[Path, object]] = [(("packs",), packs)]
    assert findings(list(money.items()), kitchen, foods) == []


def test_the_edits_of_this_file_start_from_a_plan_without_findings() -> None:
    """What the other tests find is due to their edits."""
    assert audit_plan(Plan.model_validate(PLAN), catalog(), scenario()) == findings() == []


def test_every_rule_of_the_audit_has_a_test() -> None:
    """The rules named in the audit's code are the rules broken in this file."""
    folder = FilePath(planopt.audit.__file__).parent
    # Rules on timetables are in tests/cookday, on dominance and on what is by hand in files here.
    elsewhere = {folder / "timetable.py", folder / "contact.py", folder / "dominance.py",
                 folder / "byhand.py", folder / "ready.py", folder / "past.py"}  # fmt: skip
    paths = sorted(set(folder.glob("*.py")) - elsewhere)
    text = "\n".join(path.read_text(encoding="utf-8") for path in paths)
    named = set(re.findall(r"(?:Finding|unequal|_check_(?:sum|window|most|least))\(\s*(?:books, )?"
                           r'"([a-z0-9-]+)"', text))  # fmt: skip
    named |= {"hands-on-minutes", "oven-minutes", "hob-minutes"}
    named -= {"ready-cost", "seen-cost"}  # in test_ready.py and test_past_plans.py
    assert named == {rule for rule, _, _ in (*KITCHENS, *CATALOGS, *PLANS)}


# Texts with placeholders: the names of the plan then follow the versions.
NAMED: list[tuple[Path, object]] = [
    (("recipes", "fish", "name"), "{fish} and rice"),
    (("recipes", "fish", "lines", 0, "key"), "fish"),
    (("recipes", "fish", "lines", 0, "alternatives", 0, "called"), "haddock"),
    (("recipes", "soup", "name"), "Lentil soup[ with {green}]"),
    (("recipes", "soup", "lines", 4, "key"), "green"),
    (("recipes", "soup", "lines", 4, "called"), "parsley"),
]
_NAMES = {"0=haddock": "Haddock and rice", "base": "Lentil soup with parsley", "4-": "Lentil soup"}
RENAMED: list[tuple[Path, object]] = [
    ((table, place, "recipe_name"), _NAMES[row["version"]])
    for table in ("batches", "portions")
    for place, row in enumerate(PLAN[table])
    if row["recipe_id"] in ("fish", "soup")
]


def test_a_name_that_follows_its_version_passes() -> None:
    """Every batch and portion is called by what is in it."""
    assert len(RENAMED) > 6
    assert findings(plan=RENAMED, foods=NAMED) == []


@pytest.mark.parametrize("place", range(len(RENAMED)))
@pytest.mark.parametrize(
    "lie", ["Cod and rice", "Lentil soup with parsley", "Lentil soup", "{fish}"]
)
def test_a_name_of_a_food_that_is_not_in_the_dish_is_found(place: int, lie: str) -> None:
    """A row that names another food, or leaves a placeholder open, is a finding with both names."""
    path, name = RENAMED[place]
    if lie == name:
        lie = "Lentil soup with ham"
    found = findings(plan=[*RENAMED, (path, lie)], foods=NAMED)
    rule = "batch-facts" if path[0] == "batches" else "portion-facts"
    assert rules(found) == {rule}
    assert any(one.expected == name and one.found == lie for one in found)
