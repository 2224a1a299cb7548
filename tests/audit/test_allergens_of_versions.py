"""What is in each version of a recipe, told by planner and audit apart, against a table by hand."""

from __future__ import annotations

from itertools import permutations

import pytest

from model.small import catalog, client, food, pack, recipe, scenario
from planopt.audit.conversions import Conversions
from planopt.audit.dishes import make_dish
from planopt.audit.handling import check_allergens
from planopt.problem.build import build_problem
from planopt.problem.offering import may_eat
from planopt.scenario.records import Client

# A line as written, with two alternatives; an optional line; an optional one with an alternative.
LINES = [
    {"food": "milk", "amount": 100, "unit": "g",
     "alternatives": [{"food": "soy", "ratio": 1.5}, {"food": "rice"}]},
    {"food": "sesame", "amount": 10, "unit": "g", "optional": True},
    {"food": "egg", "amount": 50, "unit": "g", "optional": True,
     "alternatives": [{"food": "fish"}]},
]  # fmt: skip
HELD = {
    "milk": ["milk"], "soy": ["soy"], "rice": [], "sesame": ["sesame"], "egg": ["egg"],
    "fish": ["fish"],
}  # fmt: skip
CATALOG = catalog(
    [food(food_id, allergens=held) for food_id, held in HELD.items()],
    [pack(food_id, 100, "1.00") for food_id in HELD],
    [recipe("bowl", {}, lines=LINES, meals=["lunch"])],
)
# Every version, and the allergens in it: read off the lines above, one by one.
VERSIONS = {
    "base": {"milk", "sesame", "egg"},
    "2=fish": {"milk", "sesame", "fish"},
    "2-": {"milk", "sesame"},
    "1-": {"milk", "egg"},
    "1-+2=fish": {"milk", "fish"},
    "1-+2-": {"milk"},
    "0=soy": {"soy", "sesame", "egg"},
    "0=soy+2=fish": {"soy", "sesame", "fish"},
    "0=soy+2-": {"soy", "sesame"},
    "0=soy+1-": {"soy", "egg"},
    "0=soy+1-+2=fish": {"soy", "fish"},
    "0=soy+1-+2-": {"soy"},
    "0=rice": {"sesame", "egg"},
    "0=rice+2=fish": {"sesame", "fish"},
    "0=rice+2-": {"sesame"},
    "0=rice+1-": {"egg"},
    "0=rice+1-+2=fish": {"fish"},
    "0=rice+1-+2-": set(),
}
# Each allergen alone, and every two of them in both orders: the second counts as the first.
# More than a recipe has at hand unless they are asked for.
ALL = [("bowl", version) for version in VERSIONS]
EXCLUDED = [(one,) for one in sorted({a for held in HELD.values() for a in held})]
EXCLUDED += list(permutations([one for (one,) in EXCLUDED], 2))


def test_the_planner_knows_what_is_in_each_version() -> None:
    """Alternatives bring theirs, optional lines too, and what is left out brings nothing."""
    problem = build_problem(CATALOG, scenario(), ALL)
    assert {dish.version: set(dish.allergens) for dish in problem.dishes} == VERSIONS


@pytest.mark.parametrize("version", VERSIONS)
def test_the_audit_knows_what_is_in_each_version(version: str) -> None:
    """By its own reading of the version's name."""
    dish = make_dish(CATALOG, Conversions(CATALOG), CATALOG.recipes["bowl"], version)
    assert dish is not None
    assert dish.allergens == VERSIONS[version]


def test_every_allergen_of_a_client_counts_for_the_planner() -> None:
    """A client may eat exactly the versions that have none of them."""
    problem = build_problem(CATALOG, scenario(), ALL)
    for excluded in EXCLUDED:
        person = Client.model_validate(client(allergens=excluded))
        allowed = {dish.version for dish in problem.dishes if may_eat(person, dish)}
        assert allowed == {v for v, held in VERSIONS.items() if not held & set(excluded)}, excluded


def test_every_allergen_of_a_client_counts_for_the_audit() -> None:
    """A finding for each allergen that is in the version, wherever it stands in the list."""
    conversions = Conversions(CATALOG)
    for version, held in VERSIONS.items():
        dish = make_dish(CATALOG, conversions, CATALOG.recipes["bowl"], version)
        assert dish is not None
        for excluded in EXCLUDED:
            found = list(check_allergens(CATALOG, dish, excluded, "here"))
            told = {(finding.rule, finding.expected) for finding in found}
            assert told == {("allergen", f"no {one}") for one in held & set(excluded)}


def test_every_excluded_food_counts() -> None:
    """The second food of a list bars a version as the first does."""
    problem = build_problem(CATALOG, scenario(), ALL)
    for excluded in permutations(HELD, 2):
        person = Client.model_validate(client(excluded_foods=excluded))
        for dish in problem.dishes:
            assert may_eat(person, dish) == (not set(dish.grams) & set(excluded))
