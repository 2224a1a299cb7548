"""Safety mutants: each takes away one safety check or makes one document unsafe, and is caught.

Three kinds. A planner with one check gone plans a small week in which the unsafe dish is the
cheapest, and the audit, which shares no code with it, must refuse the plan. A sound plan is audited
after one edit of plan, scenario or catalog that makes it unsafe. A catalog or scenario with one
unsafe entry is read, and must be refused.
"""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass, field
from pathlib import Path
from typing import Any

import pytest

from audit.test_audit_rules import ADA, BEN, findings, rules
from kitchens import edited, tiny_client, write_kitchen
from model.small import (
    EXACT,
    SOURCE,
    catalog,
    client,
    facts,
    food,
    limit,
    pack,
    recipe,
    scenario,
)
from planopt.audit import audit_plan
from planopt.catalog.records import Catalog, SafeTemperature, SafetyGroup
from planopt.faults import BadInput
from planopt.plan.extract import extract_plan
from planopt.problem import dishes, offering, reach
from planopt.problem.build import build_problem
from planopt.scenario.reading.load import load_kitchen
from planopt.solve.highs.daymodel import search_plain

# ------------------------------------------------------------------ planners with a check gone

FOODS = [
    food("rice", protein=10.0),
    food("milk", allergens=["milk"]),
    food("sauce", allergens=["not_known"]),
    food("broth", allergens=["milk", "not_known"]),
    food("cod", safety_group="fish"),
    food("beans"),
]
# Rice is dear, so that an unsafe dish is cooked wherever the planner lets it be.
PACKS = [pack("rice", 100, "9.00")] + [
    pack(row["food_id"], 100, "0.10") for row in FOODS if row["food_id"] != "rice"
]
SAFE = recipe("pot", {"rice": 100}, keeps={"kind": "dishes", "fridge_days": 9, "serve": "cold"})
LIMITS = [limit(fridge=9, months=6), limit("fish_dish", fridge=1, months=0.1)]
OPTION = {"food": "milk", "amount": 50, "unit": "g", "optional": True}
CHOICE = {"food": "beans", "amount": 100, "unit": "g", "alternatives": [{"food": "milk"}]}
BEANS = {"food": "beans", "amount": 100, "unit": "g"}
LASTING = {"kind": "dishes", "fridge_days": 9, "freezer_months": 6, "serve": "cold"}
HEATED = [{"do": "Bake it through.", "until_internal_c": 63}]


def kitchen(unsafe: dict[str, Any]) -> Catalog:
    """Return the rice pot and one dish that some check must keep from a client."""
    table = catalog(FOODS, PACKS, [SAFE, unsafe], LIMITS)
    group = SafetyGroup.model_validate(
        {"group": "fish", "covers": "fish", "temperature_class": "fish", "kinds": ["fish_dish"],
         "source": "test"}
    )  # fmt: skip
    heat = SafeTemperature.model_validate(
        {"class": "fish", "covers": "fish", "internal_c": 62.8, "internal_f": 145,
         "rest_minutes": 0, "source": "test"}
    )  # fmt: skip
    return table.model_copy(
        update={"safety_groups": {"fish": group}, "safe_temperatures": {"fish": heat}}
    )


def plan_rules(unsafe: dict[str, Any], person: dict[str, Any], week: dict[str, Any]) -> set[str]:
    """Plan the cheapest week and return the rules that the audit finds broken."""
    table = kitchen(unsafe)
    asked = scenario(clients=[client(**person)], **week)
    problem = build_problem(table, asked)
    decisions = search_plain(problem, EXACT).decisions
    assert decisions is not None
    plan = extract_plan(problem, table, asked, decisions, facts(), SOURCE)
    return {finding.rule for finding in audit_plan(plan, table, asked)} - {"bound", "gap"}


@dataclass(frozen=True)
class Planner:
    """A check taken away, the dish that it kept away, and the audit's rule that catches it."""

    name: str
    rule: str
    break_it: Callable[[pytest.MonkeyPatch], None]
    unsafe: dict[str, Any]
    person: dict[str, Any] = field(default_factory=dict)
    week: dict[str, Any] = field(default_factory=dict)


def _patch(owner: Any, name: str, value: Any) -> Callable[[pytest.MonkeyPatch], None]:
    return lambda patch: patch.setattr(owner, name, value)


def _first_only(dish: dishes.Dish, excluded: tuple[str, ...]) -> tuple[str, ...]:
    return tuple(a for a in tuple(excluded)[:1] if a in dish.allergens)


def _known_only(dish: dishes.Dish, excluded: tuple[str, ...]) -> tuple[str, ...]:
    return tuple(a for a in excluded if a in dish.allergens)


def _named_only(dish: dishes.Dish, excluded: tuple[str, ...]) -> tuple[str, ...]:
    known = _known_only(dish, excluded)
    return known if len(dish.allergens) > 1 else ()


def _of_version(keep: Callable[[str], bool]) -> Callable[[pytest.MonkeyPatch], None]:
    """Forget the allergens of versions, as if only some lines of a recipe were read."""
    honest = dishes.Dish.barred_by

    def barred(dish: dishes.Dish, excluded: tuple[str, ...]) -> tuple[str, ...]:
        return honest(dish, excluded) if keep(dish.version) else ()

    return _patch(dishes.Dish, "barred_by", barred)


def _label_alone(*_: Any) -> tuple[str, ...]:
    return ("dishes",)


_keeping = dishes.keeping_days


def _a_day_longer(*args: Any) -> tuple[int, int]:
    fridge, freezer = _keeping(*args)
    return fridge + 1, freezer


def _always_frozen(recipe: Any, table: Any, week: Any, foods: Any) -> tuple[int, int]:
    return _keeping(recipe, table, week.model_copy(update={"use_freezer": True}), foods)


def _longest(recipe: Any, table: Any, week: Any, foods: Any) -> tuple[int, int]:
    return _keeping(recipe, table, week.model_copy(update={"keeping_rule": "longest"}), foods)


def may_eat(**left_out: Any) -> Callable[[pytest.MonkeyPatch], None]:
    """Forget some of what a client must not eat."""
    honest = offering.may_eat

    def may_eat(person: Any, dish: dishes.Dish) -> bool:
        return honest(person.model_copy(update=left_out), dish)

    return _patch(offering, "may_eat", may_eat)


MILK: dict[str, Any] = {"allergens": ["milk"]}
BEAN_POT = recipe("bean", {"beans": 100}, keeps=LASTING)
MILK_POT = recipe("milky", {"milk": 100})
FISH_BAKE = recipe("bake", {"cod": 100}, keeps=LASTING, steps=HEATED)
PLANNERS = (
    Planner("no allergen is barred", "allergen", may_eat(allergens=()), MILK_POT, MILK),
    Planner("only the first allergen of a client", "allergen",
            _patch(dishes.Dish, "barred_by", _first_only), MILK_POT,
            {"allergens": ["egg", "milk"]}),
    Planner("allergens of alternatives", "allergen", _of_version(lambda v: "=" not in v),
            recipe("choice", {}, lines=[{**CHOICE, "food": "rice"}]), MILK),
    Planner("allergens of optional lines", "allergen", _of_version(lambda v: v != "base"),
            recipe("option", {}, lines=[BEANS, OPTION]),
            # 100 g of beans give two servings of 2.5 g each; the milk makes them 3.75 g
            {**MILK, "windows_per_day": {"protein_g": {"min": 3}}}),
    Planner("unknown allergens pass", "allergen-unknown",
            _patch(dishes.Dish, "barred_by", _known_only), recipe("mystery", {"sauce": 100}), MILK),
    Planner("unknown allergens pass beside known ones", "allergen-unknown",
            _patch(dishes.Dish, "barred_by", _named_only), recipe("mystery", {"broth": 100}),
            {"allergens": ["egg"]}),
    Planner("excluded foods", "excluded-food", may_eat(excluded_foods=()), BEAN_POT,
            {"excluded_foods": ["beans"]}),
    Planner("excluded recipes", "excluded-recipe", may_eat(excluded_recipes=()), BEAN_POT,
            {"excluded_recipes": ["bean"]}),
    Planner("the label alone says how long fish keeps", "kept-too-long",
            _patch(dishes, "binding_kinds", _label_alone), FISH_BAKE, week={"days": 6}),
    Planner("a day longer than it keeps", "kept-too-long",
            _patch(dishes, "keeping_days", _a_day_longer), FISH_BAKE,
            week={"days": 3, "use_freezer": False}),
    Planner("frozen where nothing is frozen", "kept-too-long",
            _patch(dishes, "keeping_days", _always_frozen), FISH_BAKE,
            week={"days": 4, "use_freezer": False}),
    # Beans take too long for the eve, so that they are cooked on the day on which nothing is ready.
    Planner("eaten before it is ready", "not-ready", _patch(reach, "reaches", lambda *_: True),
            recipe("bean", {"beans": 100},
                   minutes={"hands_on": 20, "hands_on_per_extra_batch": 20}),
            week={"cook_days": [{"day": 0, "hands_on_minutes": 15},
                                {"day": 1, "ready_for": "next_day"}]}),
)  # fmt: skip


@pytest.mark.parametrize("mutant", PLANNERS, ids=lambda mutant: mutant.name)
def test_the_audit_catches_a_planner_with_a_check_gone(
    mutant: Planner, monkeypatch: pytest.MonkeyPatch
) -> None:
    """The honest planner's week is clean; the mutant's has the finding."""
    assert plan_rules(mutant.unsafe, mutant.person, mutant.week) == set()
    mutant.break_it(monkeypatch)
    assert mutant.rule in plan_rules(mutant.unsafe, mutant.person, mutant.week)


# ------------------------------------------------------------------ sound plans made unsafe

At = tuple[str | int, ...]
LENTILS: At = ("foods", "lentils")
FISH_STEP: At = ("recipes", "fish", "steps", 0, "until_internal_c")
AUDITED: tuple[tuple[str, str, str, At, Any], ...] = (
    # what it is, rule, document, place, value
    ("an allergen is found in a food", "allergen", "foods", (*LENTILS, "allergens"), ["fish"]),
    ("a second allergen of a client", "allergen", "kitchen", (*BEN, "allergens"), ["egg", "milk"]),
    ("an allergen in an alternative", "allergen", "kitchen", (*ADA, "allergens"), ["fish"]),
    ("an optional line is back", "excluded-food", "plan", ("portions", 7, "version"), "base"),
    ("allergens of a food are not known", "allergen-unknown", "foods",
     (*LENTILS, "allergens"), ["not_known"]),
    ("those of water are not known", "allergen-unknown", "foods",
     ("foods", "water", "allergens"), ["not_known"]),
    ("a portion goes to somebody else", "allergen", "plan", ("portions", 3, "client_id"), "ben"),
    ("the cooking step has no temperature", "raw-not-heated", "foods", FISH_STEP, None),
    ("the cooking step is too cool", "raw-not-heated", "foods", FISH_STEP, 58),
    ("the fish itself asks for more heat than its group", "raw-not-heated", "foods",
     ("foods", "haddock", "safe_temperature"), "hot"),
    ("raw fish is in a cold dish", "raw-not-heated", "foods", ("foods", "oats", "safety_group"),
     "fish"),
    ("a food keeps less long than its dish", "kept-too-long", "foods",
     (*LENTILS, "safety_group"), "fish"),
    ("the kind keeps less long", "kept-too-long", "foods",
     ("storage_limits", "dairy", "fridge_days_shortest"), 1),
    ("nothing may be frozen", "kept-too-long", "kitchen", ("use_freezer",), False),
    ("what thaws for a day keeps no day", "kept-too-long", "foods",
     ("recipes", "soup", "keeps", "fridge_days"), 0),
    ("the batch promises more days", "batch-facts", "plan", ("batches", 0, "use_by_fridge"),
     "2026-03-09"),
    ("a frozen portion has no day of thawing", "portion-storage", "plan",
     ("portions", 5, "thaw_on"), None),
    ("fewer than 800 kcal", "energy-floor", "kitchen",
     (*ADA, "windows_on_days", 2), {"energy_kcal": {"min": 799, "max": 1400}}),
    ("no caution on storage and labels", "cautions", "plan", ("cautions",), ["Enjoy."]),
)  # fmt: skip


@pytest.mark.parametrize(("rule", "document", "place", "value"),
                         [row[1:] for row in AUDITED], ids=[row[0] for row in AUDITED])  # fmt: skip
def test_the_audit_catches_an_unsafe_edit(rule: str, document: str, place: At, value: Any) -> None:
    """One edit of plan, scenario or catalog gives the finding; without it there is none."""
    assert findings() == []
    edits: list[tuple[At, object]] = [(place, value)]
    assert rule in rules(findings(**{document: edits}))


# ------------------------------------------------------------------ unsafe files

EGGS = "recipes/boiled_eggs.yaml"
BOILED = (
    "2, unit: each}\nsteps:\n"
    '  - {do: "Boil the eggs for eleven minutes until hard.", until_internal_c: 75}'
)
FILES: tuple[tuple[str, str, dict[str, str | None], dict[str, Any]], ...] = (
    ("raw eggs with an empty temperature cell", "internal_temperature_low",
     {**edited("foods.csv", "28,,egg,egg", "28,,,egg"),
      **edited(EGGS, ", until_internal_c: 75", "")}, {}),
    ("eggs weighed cooked", "internal_temperature_low",
     {**edited(EGGS, BOILED, "100, unit: g, state: cooked}\nsteps:\n  - {do: Boil them}"),
      **edited("yields.csv", "rice_white_long,", "egg,cooked,1,boiled\nrice_white_long,")}, {}),
    ("a row that asks for more heat than its group", "internal_temperature_low",
     edited("foods.csv", "28,,egg,egg", "28,,poultry,egg"), {}),
    ("a group that asks for more heat than the row", "internal_temperature_low",
     edited("safety_groups.csv", "Eggs,egg,", "Eggs,poultry,"), {}),
    ("a step a few degrees too cool", "internal_temperature_low",
     edited(EGGS, "until_internal_c: 75", "until_internal_c: 70.8"), {}),
    ("eggs as an alternative", "internal_temperature_low",
     edited("recipes/lentil_soup.yaml", "amount: 320, unit: g",
            "amount: 320, unit: g, alternatives: [{food: egg}]"), {}),
    ("Fahrenheit in place of Celsius", "out_of_range",
     edited(EGGS, "until_internal_c: 75", "until_internal_c: 165"), {}),
    ("no safety group", "empty_cell", edited("foods.csv", "28,,egg,egg", "28,,egg,"), {}),
    ("eggs in no group", "safety_group_hinted",
     edited("foods.csv", "28,,egg,egg", "28,,,none"), {}),
    ("raw eggs called ready", "state_not_raw",
     edited("foods.csv", "142,raw,0.88", "142,ready,0.88"), {}),
    ("a group without its class", "group_without_class",
     edited("safety_groups.csv", "Eggs,egg,", "Eggs,,"), {}),
    ("egg rice that keeps a week", "fridge_days_above_foods",
     edited("recipes/egg_rice.yaml", "fridge_days: 3", "fridge_days: 7"), {}),
    ("eggs boiled hard that freeze", "freezer_months_above_kind",
     edited(EGGS, "fridge_days: 5", "fridge_days: 5\n  freezer_months: 2"), {}),
    ("an allergen that the catalog has not", "unknown_allergen",
     edited("foods.csv", "1.03,milk", "1.03,dairy"), {}),
    ("none beside an allergen", "none_not_alone",
     edited("foods.csv", "1.03,milk", "1.03,milk|none"), {}),
    ("wheat without gluten", "wheat_without_gluten",
     edited("foods.csv", ",gluten_cereals,", ",wheat,"), {}),
    ("a misspelt exclusion", "unknown_allergen", {},
     {"clients": [tiny_client(allergens=["milc"])]}),
    ("nothing but unknown food for an allergic client", "meal_without_recipe",
     edited("foods.csv", ",gluten_cereals,grains", ",,grains"),
     {"clients": [tiny_client(allergens=["egg"], meals=["breakfast"])]}),
    ("fewer than 800 kcal", "energy_below_floor", {},
     {"clients": [tiny_client(windows_per_day={"energy_kcal": {"min": 700, "max": 790}})]}),
)  # fmt: skip


@pytest.mark.parametrize(("code", "files", "keys"), [row[1:] for row in FILES],
                         ids=[row[0] for row in FILES])  # fmt: skip
def test_reading_catches_an_unsafe_file(
    code: str, files: dict[str, str | None], keys: dict[str, Any], tmp_path: Path
) -> None:
    """The kitchen is refused with the fault's code."""
    with pytest.raises(BadInput) as caught:
        load_kitchen(write_kitchen(tmp_path, files=files, **keys))
    assert code in {fault.code for fault in caught.value.faults}


def test_there_are_at_least_thirty_mutants_with_names_of_their_own() -> None:
    """The count that the guide states."""
    names = [mutant.name for mutant in PLANNERS]
    for table in (AUDITED, FILES):
        names += [f"{row[0]} ({row[1]})" for row in table]
    assert len(set(names)) == len(names) >= 40
