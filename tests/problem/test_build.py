"""What the problem holds: who may eat what and when, windows by day, and groups of like days."""

from __future__ import annotations

from datetime import timedelta
from fractions import Fraction
from math import floor, inf
from typing import Any

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from model.small import catalog, client, food, limit, pack, random_kitchen, recipe, scenario
from planopt.catalog.quantities import Quantities
from planopt.catalog.records import Catalog, Food, SafetyGroup
from planopt.problem.build import Option, Problem, build_problem
from planopt.problem.dishes import dishes_of, keeping_days
from planopt.problem.restricted import restrict
from planopt.scenario.windows import day_windows

RICE = [food("rice", kcal=100, protein=5)]
RICE_PACKS = [pack("rice", 100, "1.00")]


def _keeps(fridge: int, months: float = 0.0) -> dict[str, Any]:
    return {"kind": "dishes", "fridge_days": fridge, "freezer_months": months, "serve": "either"}


def _pot(keeps: dict[str, Any], kind: dict[str, Any] | None = None, **more: Any) -> Catalog:
    """Return a catalog with one dish of rice."""
    pot = recipe("pot", {"rice": 100}, keeps=keeps, **more)
    return catalog(RICE, RICE_PACKS, [pot], [kind or limit(fridge=9, months=12)])


def _reached(problem: Problem) -> dict[int, list[tuple[int, str]]]:
    """Return, for each cook day number, the days and meals that can take the dish."""
    found: dict[int, list[tuple[int, str]]] = {cook.day: [] for cook in problem.cook_days}
    for slot in problem.slots:
        for option in slot.options:
            found[problem.cook_days[option.cook].day].append((slot.day, slot.meal))
    return found


def _days(table: Catalog, **keys: Any) -> dict[int, list[int]]:
    problem = build_problem(table, scenario(**{"days": 6, **keys}))
    return {cook: [day for day, _ in meals] for cook, meals in _reached(problem).items()}


# ------------------------------------------------------------------ keeping


def test_the_stricter_of_recipe_and_kind_limits_the_fridge() -> None:
    """Days after cooking count: with 2 days a dish of day 1 lasts to day 3."""
    assert _days(_pot(_keeps(2))) == {1: [1, 2, 3]}
    assert _days(_pot(_keeps(5), limit(fridge=1))) == {1: [1, 2]}
    assert _days(_pot(_keeps(0))) == {1: [1]}


def _grouped(own: dict[str, Any], **kinds: list[str]) -> Catalog:
    """Return a catalog with one dish of foods named after their groups, and three kinds."""
    foods = [food(name, safety_group=name) for name in kinds]
    dish = recipe("pot", {}, keeps=own, lines=[
        {"food": name, "amount": 100, "unit": "g", "optional": name == "garnish"} for name in kinds
    ])  # fmt: skip
    limits = [limit(fridge=9, months=12), limit("fish", fridge=2, months=3), limit("egg", fridge=1)]
    table = catalog(foods, [pack(name, 100, "1.00") for name in kinds], [dish], limits)
    groups = {
        name: SafetyGroup.model_validate(
            {"group": name, "covers": name, "kinds": listed, "source": "test"}
        )
        for name, listed in kinds.items()
    }
    return table.model_copy(update={"safety_groups": groups})


def test_the_foods_of_a_version_limit_how_long_it_keeps() -> None:
    """The first kind of each group counts unless the recipe's own is one of them."""
    own = _keeps(8, 10)

    def days(**kinds: list[str]) -> list[tuple[str, int, int]]:
        table = _grouped(own, **kinds)
        found = dishes_of(table.recipes["pot"], table, scenario(), Quantities(table))
        return [(dish.version, dish.fridge_days, dish.freezer_days) for dish in found]

    assert days(rice=["dishes"]) == [("base", 8, 300)]
    assert days(rice=["dishes"], cod=["fish"]) == [("base", 2, 90)]
    assert days(cod=["fish"], egg=["egg", "fish"]) == [("base", 1, 0)]
    assert days(egg=["egg", "dishes"]) == [("base", 8, 300)]
    assert days(rice=["dishes"], garnish=["fish"]) == [("base", 2, 90), ("1-", 8, 300)]


def test_what_keeps_no_day_in_the_fridge_is_not_frozen() -> None:
    """It would have to thaw there for a day."""
    assert _days(_pot(_keeps(0, 6))) == {1: [1]}
    assert _days(_pot(_keeps(1, 6))) == {1: [1, 2, 3, 4, 5, 6]}


def test_the_keeping_rule_picks_the_shortest_or_longest_published_limit() -> None:
    """The recipe's own limit holds under both rules."""
    kind = limit(fridge=1, fridge_days_longest=3)
    assert _days(_pot(_keeps(9), kind)) == {1: [1, 2]}
    assert _days(_pot(_keeps(9), kind), keeping_rule="longest") == {1: [1, 2, 3, 4]}
    assert _days(_pot(_keeps(2), kind), keeping_rule="longest") == {1: [1, 2, 3]}


def test_the_freezer_takes_over_after_the_fridge() -> None:
    """A tenth of a month is 3 days; the freezer adds them only where it is used and allowed."""
    frozen = _keeps(1, 0.1)
    assert _days(_pot(frozen)) == {1: [1, 2, 3, 4]}
    assert _days(_pot(frozen), use_freezer=False) == {1: [1, 2]}
    assert _days(_pot(frozen, limit(months=0))) == {1: [1, 2]}
    kind = limit(months=0, freezer_months_longest=0.07)  # 2.1 days
    assert _days(_pot(frozen, kind), keeping_rule="longest") == {1: [1, 2, 3]}


@settings(max_examples=200, deadline=None, derandomize=True)
@given(st.integers(1, 240), st.integers(1, 240))
def test_months_in_the_freezer_are_whole_days_of_thirtieths(own: int, kind: int) -> None:
    """Tenths of months become days exactly: floor of 30 times the decimal number, not the float."""
    table = _pot(_keeps(1, own / 10), limit(months=kind / 10))
    days = keeping_days(table.recipes["pot"], table, scenario(), ["rice"])
    assert days == (1, floor(30 * Fraction(min(own, kind), 10)))


def test_food_is_eaten_on_its_cook_day_or_later_never_before() -> None:
    """Two cook days each serve their own later days; the eve serves day 1."""
    cooks = [{"day": 0}, {"day": 3}]
    assert _days(_pot(_keeps(1)), cook_days=cooks) == {0: [1], 3: [3, 4]}


@pytest.mark.parametrize(
    ("ready_for", "on_the_day"),
    [
        (None, ["breakfast", "lunch", "dinner"]),
        ("breakfast", ["breakfast", "lunch", "dinner"]),
        ("lunch", ["lunch", "dinner"]),
        ("dinner", ["dinner"]),
        ("next_day", []),
    ],
)
def test_on_its_cook_day_food_is_ready_from_a_meal_on(
    ready_for: str | None, on_the_day: list[str]
) -> None:
    """The meal named and those after it in the day's order; all meals of the next day."""
    meals = ["breakfast", "lunch", "dinner"]
    cooks = [{"day": 1, "ready_for": ready_for}]
    week = scenario(days=2, meals=meals, cook_days=cooks)
    problem = build_problem(_pot(_keeps(1), meals=meals), week)
    reached = _reached(problem)[1]
    assert [meal for day, meal in reached if day == 1] == on_the_day
    assert [meal for day, meal in reached if day == 2] == meals


# ------------------------------------------------------------------ who eats what


def _eaten(table: Catalog, **more: Any) -> list[str]:
    """Return the dishes that a client may eat, as recipe and version."""
    problem = build_problem(table, scenario(clients=[client(**more)]))
    return sorted({" ".join(problem.dishes[o.dish].key) for s in problem.slots for o in s.options})


def _choices() -> Catalog:
    foods = [food("rice"), food("milk", allergens=["milk"]), food("beans"), food("salt")]
    lines = [
        {"food": "milk", "amount": 100, "unit": "g", "alternatives": [{"food": "beans"}]},
        {"food": "salt", "amount": 5, "unit": "g", "optional": True},
    ]
    recipes = [recipe("pap", {}, lines=lines), recipe("pot", {"rice": 100})]
    return catalog(foods, [pack(row["food_id"], 100, "1.00") for row in foods], recipes)


def test_versions_of_a_dish_are_all_choices_of_its_lines() -> None:
    """Alternatives and optional lines multiply; `base` is the recipe as written."""
    versions = ["pap 0=beans", "pap 0=beans+1-", "pap 1-", "pap base", "pot base"]
    assert _eaten(_choices()) == versions


def test_allergens_and_exclusions_go_by_the_version() -> None:
    """A version without the food remains; excluded recipes go in every version."""
    assert _eaten(_choices(), allergens=["milk"]) == ["pap 0=beans", "pap 0=beans+1-", "pot base"]
    assert _eaten(_choices(), excluded_foods=["salt"]) == ["pap 0=beans+1-", "pap 1-", "pot base"]
    assert _eaten(_choices(), excluded_recipes=["pap"]) == ["pot base"]


@pytest.mark.parametrize("held", [["not_known"], ["egg", "not_known"]], ids=["all", "some"])
def test_unknown_allergens_bar_a_dish_from_everybody_with_an_exclusion(held: list[str]) -> None:
    """Whichever allergen is excluded; a client without exclusions may have the dish."""
    foods = [food("rice"), food("sauce", allergens=held), food("beans")]
    lines = [
        {"food": "sauce", "amount": 100, "unit": "g", "alternatives": [{"food": "beans"}]},
        {"food": "rice", "amount": 100, "unit": "g"},
    ]
    packs = [pack(row["food_id"], 100, "1.00") for row in foods]
    table = catalog(foods, packs, [recipe("pap", {}, lines=lines)])
    assert _eaten(table) == ["pap 0=beans", "pap base"]
    for excluded in (["milk"], ["fish"], ["fish", "milk"]):
        assert _eaten(table, allergens=excluded) == ["pap 0=beans"]
    optional = [{**lines[0], "alternatives": [], "optional": True}, lines[1]]
    table = catalog(foods, packs, [recipe("pap", {}, lines=optional)])
    assert _eaten(table, allergens=["milk"]) == ["pap 0-"]


def test_a_food_that_says_nothing_of_allergens_has_any() -> None:
    """A record without the field is unknown, never free; `none` is free."""
    row = {key: value for key, value in food("sauce").items() if key != "allergens"}
    assert Food.model_validate(row).barred_by(["milk", "egg"]) == ("milk", "egg")
    assert Food.model_validate({**row, "allergens": ["none"]}).barred_by(["milk"]) == ()
    assert not Food.model_validate(row).allergens_known


def test_recipes_are_those_included_less_those_excluded() -> None:
    """The scenario's choice holds for everybody."""
    for choice, expected in (
        ({"include": ["pot"]}, ["pot"]),
        ({"exclude": ["pot"]}, ["pap"]),
        ({}, ["pap", "pot"]),
    ):
        problem = build_problem(_choices(), scenario(recipes=choice))
        assert list(problem.recipe_ids) == expected


def test_a_dish_needs_a_supply_of_each_food_on_its_cook_day() -> None:
    """Without a food that is sold in time there is no cooking; food in stock makes one."""
    pot = recipe("pot", {"rice": 100})
    unsold = catalog(RICE, [pack("rice", 100, "1.00", currency="EUR")], [pot])
    assert build_problem(unsold, scenario()).cookings == ()
    stock = [{"food": "rice", "amount": 100, "unit": "g"}]
    assert build_problem(unsold, scenario(stock=stock)).cookings == (Option(0, 0),)
    keys: dict[str, Any] = {"days": 3, "cook_days": [{"day": 1}, {"day": 3}], "shop_days": [2]}
    late = build_problem(catalog(RICE, RICE_PACKS, [pot]), scenario(**keys))
    assert late.cookings == (Option(0, 1),)


def test_tap_water_is_neither_bought_nor_on_the_books() -> None:
    """Water needs no supply, has no value, and still weighs in the dish."""
    foods = [*RICE, food("water", kcal=0, protein=0, storage="tap")]
    table = catalog(foods, RICE_PACKS, [recipe("pot", {"rice": 100, "water": 300})])
    problem = build_problem(table, scenario())
    assert problem.foods == ("rice",)
    assert problem.dishes[0].grams == {"rice": 100.0, "water": 300.0}
    assert {supply.food_id for supply in problem.supplies} == {"rice"}


def test_tap_water_in_stock_is_as_free_as_from_the_tap() -> None:
    """A stock entry of tap water does not make water scarce."""
    foods = [*RICE, food("water", kcal=0, protein=0, storage="tap")]
    table = catalog(foods, RICE_PACKS, [recipe("pot", {"rice": 100, "water": 300})])
    stock = [{"food": "water", "amount": 100, "unit": "g"}]
    assert build_problem(table, scenario(stock=stock)).foods == ("rice",)


def test_stock_that_no_dish_uses_is_on_the_books() -> None:
    """Its loss counts as waste even when nothing can be cooked from it."""
    foods = [*RICE, food("milk")]
    table = catalog(foods, RICE_PACKS, [recipe("pot", {"rice": 100})])
    stock = [{"food": "milk", "amount": 100, "unit": "g"}]
    assert build_problem(table, scenario(stock=stock)).foods == ("milk", "rice")


def test_numbers_of_a_dish() -> None:
    """Grams are for a batch, nutrients for a serving, and the same food on two lines adds up."""
    lines = [
        {"food": "rice", "amount": 100, "unit": "g"},
        {"food": "rice", "amount": 50, "unit": "g", "optional": True},
        {
            "food": "beans", "amount": 80, "unit": "g",
            "alternatives": [{"food": "rice", "ratio": 1.5}],
        },
    ]  # fmt: skip
    foods = [*RICE, food("beans", kcal=300, protein=20)]
    table = catalog(foods, RICE_PACKS, [recipe("pot", {}, lines=lines, yield_servings=4)])
    rows = dishes_of(table.recipes["pot"], table, scenario(), Quantities(table))
    dishes = {dish.version: dish for dish in rows}
    assert list(dishes) == ["base", "2=rice", "1-", "1-+2=rice"]
    assert dishes["base"].grams == {"rice": 150.0, "beans": 80.0}
    assert dishes["1-+2=rice"].grams == {"rice": 220.0}
    assert dishes["base"].nutrients["energy_kcal"] == pytest.approx((150 + 240) / 4)


# ------------------------------------------------------------------ windows


ENERGY = {"energy_kcal": {"min": 1200, "max": 1600}, "protein_g": {"min": 60}}


def _windows(day: int, **more: Any) -> dict[str, tuple[float, float]]:
    meals = ["breakfast", "lunch", "dinner", "snack"]
    week = scenario(days=3, meals=meals, clients=[client(windows_per_day=ENERGY, **more)])
    return day_windows(week, week.clients[0], day)


def test_windows_are_scaled_by_the_share_of_meals_eaten_here() -> None:
    """Three of four meals here: three quarters of each side; an open side stays open."""
    away = {"meals": {2: ["dinner"]}}
    assert _windows(1, away=away) == {"energy_kcal": (1200, 1600), "protein_g": (60, inf)}
    assert _windows(2, away=away) == {"energy_kcal": (900, 1200), "protein_g": (45, inf)}


def test_windows_of_a_very_day_are_taken_as_written() -> None:
    """Nutrient by nutrient they replace the usual ones, and are not scaled on a day partly away."""
    more: dict[str, Any] = {
        "away": {"meals": {2: ["dinner"]}},
        "windows_on_days": {2: {"energy_kcal": {"min": 1000}}},
    }
    assert _windows(2, **more) == {"energy_kcal": (1000, inf), "protein_g": (45, inf)}
    assert _windows(3, **more) == {"energy_kcal": (1200, 1600), "protein_g": (60, inf)}


def test_the_share_is_of_the_clients_own_meals() -> None:
    """Who eats lunch and dinner here has the whole window; with lunch away, half of it."""
    meals, away = ["lunch", "dinner"], {"meals": {2: ["lunch", "snack"]}}
    assert _windows(1, meals=meals, away=away)["energy_kcal"] == (1200, 1600)
    assert _windows(2, meals=meals, away=away)["energy_kcal"] == (600, 800)


@pytest.mark.parametrize(("low", "least"), [(0, 800), (500, 800), (900, 900)])
def test_a_low_window_does_not_take_the_energy_floor_away(low: float, least: float) -> None:
    """Without supervision the higher of window and floor holds, whoever let the window in."""
    windows = {"energy_kcal": {"min": low}} if low else {}
    who = client(windows_per_day=windows, medically_supervised=False)
    week = scenario(meals=["lunch"], clients=[who])
    assert day_windows(week, week.clients[0], 1)["energy_kcal"][0] == least


def test_a_meal_named_twice_is_one_meal() -> None:
    """A client whose list repeats a meal eats it once, so nothing of the window is away."""
    assert _windows(1, meals=["lunch", "lunch"])["energy_kcal"] == (1200, 1600)


# ------------------------------------------------------------------ groups


def _groups(**more: Any) -> list[tuple[int, ...]]:
    """Return the groups of a week cooked on day 1 and, from its dinner on, on day 3."""
    keys: dict[str, Any] = {
        "days": 5, "meals": ["lunch", "dinner"],
        "cook_days": [{"day": 1}, {"day": 3, "ready_for": "dinner"}],
        "clients": [client(windows_per_day=ENERGY, **more)],
    }  # fmt: skip
    problem = build_problem(_pot(_keeps(2)), scenario(**keys))
    return sorted(group.days for group in problem.groups)


def test_days_with_the_same_choices_and_windows_are_one_group() -> None:
    """Days 1 and 2 live on the first cooking, 4 and 5 on the second; on day 3 dinner has both."""
    assert _groups() == [(1, 2), (3,), (4, 5)]


def test_other_windows_or_meals_part_a_group() -> None:
    """A window of its own day, a meal away or a day away takes a day out of its group."""
    own = {2: {"energy_kcal": {"max": 1700}}}
    assert _groups(windows_on_days=own) == [(1,), (2,), (3,), (4, 5)]
    assert _groups(away={"meals": {5: ["lunch"]}}) == [(1, 2), (3,), (4,), (5,)]
    assert _groups(away={"days": [2]}) == [(1,), (3,), (4, 5)]


@pytest.mark.parametrize("seed", range(30))
def test_groups_hold_each_eating_day_once_and_like_with_like(seed: int) -> None:
    """Within a group all days have the same meals, options and windows, and their own slots."""
    drawn = random_kitchen(seed)
    problem, week = drawn.problem, drawn.scenario
    told = []
    for group in problem.groups:
        first = [problem.slots[i] for i in group.slots[0]]
        for day, members in zip(group.days, group.slots, strict=True):
            slots = [problem.slots[i] for i in members]
            assert {(slot.client, slot.day) for slot in slots} == {(group.client, day)}
            assert [(s.meal, s.options) for s in slots] == [(s.meal, s.options) for s in first]
            assert day_windows(week, week.clients[group.client], day) == group.windows
            told.append((group.client, day))
    assert sorted(told) == sorted({(slot.client, slot.day) for slot in problem.slots})


@pytest.mark.parametrize("seed", range(30))
def test_the_problem_is_in_order_and_the_same_every_time(seed: int) -> None:
    """Built twice it is equal; positions refer to what exists; all dishes are eaten by somebody."""
    drawn = random_kitchen(seed)
    problem = drawn.problem
    assert problem == drawn.problem
    assert list(problem.foods) == sorted(problem.foods)
    assert [d.recipe_id for d in problem.dishes] == sorted(d.recipe_id for d in problem.dishes)
    options = {option for slot in problem.slots for option in slot.options}
    assert set(problem.cookings) == options
    assert {option.dish for option in options} == set(range(len(problem.dishes)))


# ------------------------------------------------------------------ smaller problems


def test_a_restricted_problem_keeps_days_and_drops_cookings() -> None:
    """Only the cookings named remain, among the options too; slots and groups stay in place."""
    problem = random_kitchen(3).problem
    kept = set(problem.cookings[::2])
    small = restrict(problem, kept)
    assert set(small.cookings) == kept
    assert {o for slot in small.slots for o in slot.options} <= kept
    assert [(s.client, s.day, s.meal) for s in small.slots] == [
        (s.client, s.day, s.meal) for s in problem.slots
    ]
    assert small.groups == problem.groups


def test_dates_follow_the_day_numbers() -> None:
    """Day 1 is the start date and day 0 its eve."""
    week = scenario(days=3)
    assert week.date_of(1) == week.start_date
    assert week.date_of(0) == week.start_date - timedelta(days=1)
