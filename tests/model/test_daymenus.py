"""Menus of a day: the table's cheapest menus against a plain enumeration of compliant days."""

from __future__ import annotations

from itertools import product
from math import inf
from time import process_time

import numpy as np
import pytest

from model.everymenu import all_menus, complies, price_of
from model.small import catalog, client, food, pack, random_kitchen, recipe, scenario
from planopt.model import daymenus
from planopt.model.daymenus import (
    DayMenu,
    Floats,
    MenuTable,
    portion_sizes,
    split_meals,
    supports_menus,
)
from planopt.problem.build import Problem, build_problem


def _prices(problem: Problem, group: int, seed: int) -> list[Floats]:
    """Return random prices; some are alike, so that ties occur."""
    rng = np.random.default_rng(seed)
    slots = problem.groups[group].slots[0]
    shapes = [(2, len(problem.slots[i].options)) for i in slots]
    return [np.round(rng.normal(0, 2, shape), 1) for shape in shapes]


def _dishes(problem: Problem, menu: DayMenu) -> tuple[tuple[int, float], ...]:
    """Return dish and servings of each meal: what is left when cook days are not told apart."""
    slots = problem.groups[menu.group].slots[0]
    return tuple(
        (problem.slots[i].options[j].dish, servings)
        for i, (j, servings) in zip(slots, menu.choice, strict=True)
    )


def _ranked(problem: Problem, group: int, prices: list[Floats]) -> list[float]:
    """Return the prices of all compliant days, each from its cheapest cook days, in order."""
    best: dict[tuple[tuple[int, float], ...], float] = {}
    for menu in all_menus(problem, group):
        key = _dishes(problem, menu)
        best[key] = min(best.get(key, inf), price_of(menu, prices))
    return sorted(best.values())


@pytest.mark.parametrize("seed", range(40))
def test_cheapest_agrees_with_enumeration(seed: int, monkeypatch: pytest.MonkeyPatch) -> None:
    """Prices, order and number are those of the enumeration, for few, many and one below a cut."""
    if seed % 2:  # look through a large table in pieces, as with thousands of halves
        monkeypatch.setattr(daymenus, "_CELLS_AT_ONCE", 1)
        monkeypatch.setattr(daymenus, "_CORNER", 1 + seed % 3)
    problem = random_kitchen(seed).problem
    for group in range(len(problem.groups)):
        table = MenuTable(problem, group)
        prices = _prices(problem, group, seed)
        ranked = _ranked(problem, group, prices)
        middle = ranked[len(ranked) // 2] if ranked else 0.0
        for most, cutoff in ((1, inf), (5, inf), (10_000, inf), (10_000, middle), (3, middle)):
            found = table.cheapest(prices, most, cutoff)
            expected = [price for price in ranked if price < cutoff - 1e-9][:most]
            got = [price for price, _ in found if price < cutoff - 1e-9]
            assert got == pytest.approx(expected, abs=1e-9)
            for price, menu in found:
                assert menu.group == group
                assert price == pytest.approx(price_of(menu, prices), abs=1e-9)
                assert complies(problem, menu)
            assert len({_dishes(problem, menu) for _, menu in found}) == len(found)


@pytest.mark.parametrize("seed", range(0, 40, 2))
def test_prices_may_differ_by_portion_size(seed: int) -> None:
    """With a price of its own for each option and size, the cheapest day is the enumeration's."""
    problem = random_kitchen(seed).problem
    rng = np.random.default_rng(seed)
    for group, row in enumerate(problem.groups):
        sizes = portion_sizes(problem, row.client)
        shapes = [(len(problem.slots[i].options), len(sizes)) for i in row.slots[0]]
        prices = [rng.normal(0, 2, shape) for shape in shapes]
        expected = min(
            (
                sum(
                    float(price[j, sizes.index(servings)])
                    for price, (j, servings) in zip(prices, menu.choice, strict=True)
                )
                for menu in all_menus(problem, group)
            ),
            default=None,
        )
        found = MenuTable(problem, group).cheapest_by_size(prices, 1, inf)
        got = found[0][0] if found else None
        assert got == (None if expected is None else pytest.approx(expected))


@pytest.mark.parametrize("seed", range(0, 40, 2))
def test_a_choice_narrowed_to_some_dishes_is_searched_exactly(seed: int) -> None:
    """Among some of the dishes the cheapest days are those of the enumeration without the rest."""
    problem = random_kitchen(seed).problem
    rng = np.random.default_rng(seed)
    for group, row in enumerate(problem.groups):
        table = MenuTable(problem, group)
        sizes = portion_sizes(problem, row.client)
        prices = [
            rng.normal(0, 2, (len(problem.slots[i].options), len(sizes))) for i in row.slots[0]
        ]
        among = [rng.random(len(meal.dishes)) < 0.6 for meal in table.meals]
        allowed = [
            {j for options, kept in zip(meal.options, keep, strict=True) if kept for j in options}
            for meal, keep in zip(table.meals, among, strict=True)
        ]
        best: dict[tuple[tuple[int, float], ...], float] = {}
        for menu in all_menus(problem, group):
            if all(j in ok for (j, _), ok in zip(menu.choice, allowed, strict=True)):
                key = tuple(
                    (problem.slots[i].options[j].dish, servings)
                    for i, (j, servings) in zip(row.slots[0], menu.choice, strict=True)
                )
                price = sum(
                    float(p[j, sizes.index(servings)])
                    for p, (j, servings) in zip(prices, menu.choice, strict=True)
                )
                best[key] = min(price, best.get(key, inf))
        found = table.cheapest_by_size(prices, 7, inf, among)
        assert [price for price, _ in found] == pytest.approx(sorted(best.values())[:7])


@pytest.mark.parametrize("seed", range(40))
def test_a_tightened_table_has_the_same_menus(seed: int) -> None:
    """What is dropped for two windows is part of no menu; without any, no day is possible."""
    problem = random_kitchen(seed).problem
    for group in range(len(problem.groups)):
        table = MenuTable(problem, group)
        prices = _prices(problem, group, seed)
        before = table.cheapest(prices, 10**6, inf)
        table.tighten()
        assert table.cheapest(prices, 10**6, inf) == before
        assert MenuTable(problem, group).possible() == bool(before)


def test_tightening_sees_two_windows_at_once(monkeypatch: pytest.MonkeyPatch) -> None:
    """Each window is met by some day, no day meets both, and no half is left.

    The pruning by one window at a time is left out, as it ends so small a table too.
    """
    monkeypatch.setattr(MenuTable, "_prune", lambda _: None)
    windows = {"energy_kcal": {"max": 350}, "protein_g": {"min": 22}}
    for one in windows:
        assert MenuTable(_problem({one: windows[one]}), 0).possible()
    table = MenuTable(_problem(windows), 0)
    assert not table.empty
    table.tighten()
    assert table.empty
    assert not table.possible()


def test_the_drawn_groups_are_worth_a_search() -> None:
    """The test above is not idle: many groups have dozens of menus, and some have none."""
    sizes = []
    for seed in range(40):
        problem = random_kitchen(seed).problem
        sizes += [len(all_menus(problem, g)) for g in range(len(problem.groups))]
    assert sum(size > 30 for size in sizes) > 30
    assert 0 in sizes


def _problem(windows: dict[str, dict[str, float]], meals: int = 2, **more: object) -> Problem:
    """Return a day of one to three meals; rice, beans and oats dishes of 100, 200, 300 kcal."""
    names = ["lunch", "dinner", "supper"][:meals]
    foods = [
        food("rice", kcal=100, protein=10),
        food("beans", kcal=200, protein=5),
        food("oats", kcal=300, protein=20),
    ]
    packs = [pack(row["food_id"], 100, "1.00") for row in foods]
    recipes = [
        recipe(f"{row['food_id']}_pot", {row["food_id"]: 100}, yield_servings=1, meals=names)
        for row in foods
    ]
    eater = client(windows_per_day=windows, medically_supervised=True, **more)
    return build_problem(catalog(foods, packs, recipes), scenario(meals=names, clients=[eater]))


def test_a_recipe_is_never_eaten_twice_on_a_day() -> None:
    """With three meals and three recipes, the cheapest recipe still fills only one meal."""
    table = MenuTable(_problem({}, meals=3), 0)
    menus = table.cheapest(table.no_prices(), 100, inf)
    assert len(menus) == 6
    assert all(len({j for j, _ in menu.choice}) == 3 for _, menu in menus)


def test_a_window_that_only_one_pair_meets_leaves_that_pair() -> None:
    """500 kcal are beans and oats, in either order of the meals."""
    table = MenuTable(_problem({"energy_kcal": {"min": 500, "max": 500}}), 0)
    menus = table.cheapest(table.no_prices(), 100, inf)
    assert sorted(sorted(j for j, _ in menu.choice) for _, menu in menus) == [[0, 1], [0, 1]]


def test_an_impossible_window_leaves_nothing() -> None:
    """No pair gives 700 kcal: no menu at any price, and the table says that it is empty."""
    table = MenuTable(_problem({"energy_kcal": {"min": 700}}), 0)
    assert table.cheapest(table.no_prices(), 5, inf) == []
    assert table.empty


def test_a_meal_without_dishes_leaves_nothing() -> None:
    """A meal that no recipe may fill makes the whole day impossible, not an error."""
    foods = [food("rice")]
    problem = build_problem(
        catalog(foods, [pack("rice", 100, "1.00")], [recipe("pot", {"rice": 50}, meals=["lunch"])]),
        scenario(meals=["lunch", "dinner"]),
    )
    table = MenuTable(problem, 0)
    assert table.empty
    assert table.cheapest(table.no_prices(), 5, inf) == []


def test_more_meals_than_recipes_leave_nothing() -> None:
    """Three meals with two recipes would need one of them twice."""
    problem = _problem({}, meals=3, excluded_recipes=["oats_pot"])
    table = MenuTable(problem, 0)
    assert table.cheapest(table.no_prices(), 5, inf) == []


def test_the_cutoff_is_strict() -> None:
    """A menu that costs exactly the cutoff is not below it."""
    table = MenuTable(_problem({}, meals=1), 0)
    prices = [np.array([[1.0, 2.0, 4.0], [0.0, 0.0, 0.0]])]
    assert [price for price, _ in table.cheapest(prices, 9, 2.0)] == [1.0]
    assert [price for price, _ in table.cheapest(prices, 9, 1.0)] == []


def test_prices_count_by_serving_and_by_meal() -> None:
    """The total is servings x price a serving + price a meal, at each portion size."""
    sizes = {"step": 0.5, "smallest": 1, "largest": 2}
    table = MenuTable(_problem({}, meals=1, portions=sizes, excluded_recipes=["oats_pot"]), 0)
    prices = [np.array([[3.0, 1.0], [0.0, 4.5]])]
    found = [(price, menu.choice[0]) for price, menu in table.cheapest(prices, 9, inf)]
    assert found == [
        (3.0, (0, 1.0)), (4.5, (0, 1.5)), (5.5, (1, 1.0)),
        (6.0, (0, 2.0)), (6.0, (1, 1.5)), (6.5, (1, 2.0)),
    ]  # fmt: skip


def test_portion_sizes_are_the_steps_between_smallest_and_largest() -> None:
    """Steps of a quarter from a half to one; none of zero; and no sizes for any amount."""
    quarter = _problem({}, portions={"step": 0.25, "smallest": 0.5, "largest": 1})
    assert portion_sizes(quarter, 0) == [0.5, 0.75, 1.0]
    from_nothing = _problem({}, portions={"step": 0.5, "smallest": 0, "largest": 1})
    assert portion_sizes(from_nothing, 0) == [0.5, 1.0]
    any_amount = _problem({}, portions={"step": "any", "smallest": 0, "largest": 1})
    assert portion_sizes(any_amount, 0) == []


def test_menus_stand_for_one_dish_a_meal_in_steps_only() -> None:
    """Several dishes a meal or any amount of a dish are left to the day-by-day model."""
    assert supports_menus(_problem({}))
    assert not supports_menus(_problem({}, portions={"step": "any", "smallest": 0, "largest": 1}))
    for most in (2, "any"):
        drawn = random_kitchen(1)
        several = drawn.scenario.model_copy(update={"most_dishes_per_meal": most})
        assert not supports_menus(build_problem(drawn.catalog, several))


@pytest.mark.parametrize("counts", [[7], [5, 5], [9, 2, 3], [4, 4, 4, 4], [30, 1, 2, 8]])
def test_meals_are_split_as_evenly_as_can_be(counts: list[int]) -> None:
    """Every meal is in one half, and no other split has a smaller larger half."""
    first, second = split_meals(counts)
    assert sorted((*first, *second)) == list(range(len(counts)))

    def larger(mask: tuple[bool, ...]) -> float:
        pairs = list(zip(counts, mask, strict=True))
        halves = ([count for count, m in pairs if m is side] for side in (True, False))
        return max(float(np.prod(half)) for half in halves)

    chosen = tuple(m in first for m in range(len(counts)))
    assert larger(chosen) == min(map(larger, product([True, False], repeat=len(counts))))


def test_eighteen_meals_a_day_are_split_at_once() -> None:
    """Two to the power of eighteen splits are not tried; the halves are even all the same."""
    first, second = split_meals([5] * 18)
    assert sorted((*first, *second)) == list(range(18))
    assert len(first) == len(second) == 9
    began = process_time()
    split_meals([7, 6, 5, 4, 3, 2] * 5)
    assert process_time() - began < 0.5
