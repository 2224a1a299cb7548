"""Rules over the whole plan: penalties are 0 exactly where a plan breaks none of them."""

from __future__ import annotations

from random import Random

import numpy as np
import pytest

from model.small import catalog, client, food, pack, recipe, scenario
from planopt.problem.build import Problem, build_problem
from planopt.solve.heuristics.rules import WeekRules

FOODS = ("beans", "rice", "fish")


def _problem(**rules: object) -> Problem:
    recipes = [
        recipe("stew", {"beans": 100, "rice": 50}),
        recipe("pilaf", {"rice": 100}),
        recipe("soup", {"fish": 100}, groups=["light"]),
    ]
    packs = [pack(food_id, 500, "1.00") for food_id in FOODS]
    who = client(**rules)
    return build_problem(
        catalog([food(name) for name in FOODS], packs, recipes),
        scenario(days=3, clients=[who]),
    )


def _menus(problem: Problem, rng: Random, count: int) -> list[list[tuple[int, float]]]:
    cookings = range(len(problem.cookings))
    return [
        [(rng.choice(cookings), rng.choice((0.5, 1.0))) for _ in range(2)] for _ in range(count)
    ]


def _broken(
    problem: Problem, rules: dict[str, object], menus: list[list[tuple[int, float]]]
) -> bool:
    """Tell by counting, without a sum kept, whether a whole week of menus breaks a rule."""
    who = scenario(clients=[client(**rules)]).clients[0]
    meals = [(problem.dishes[problem.cookings[n].dish], s) for menu in menus for n, s in menu]
    times = {r: sum(dish.recipe_id == r for dish, _ in meals) for r in problem.recipe_ids}
    with_food = {f: sum(f in dish.grams for dish, _ in meals) for f in FOODS}
    if who.most_repeats is not None and max(times.values()) > who.most_repeats:
        return True
    if sum(count > 0 for count in times.values()) < who.least_different_recipes:
        return True
    if any(with_food[f] > most for f, most in who.dislikes.items()):
        return True
    if any(with_food[f] < least for f, least in who.wants.items()):
        return True
    light = times["soup"]
    if light > who.most_meals_of.get("light", light) or light < who.least_meals_of.get("light", 0):
        return True
    for recipe_id, window in who.recipe_servings.items():
        eaten = sum(s for dish, s in meals if dish.recipe_id == recipe_id)
        if eaten < window.min or (window.max is not None and eaten > window.max):
            return True
    for nutrient_id, week in who.windows_per_week.items():
        amount = sum(s * dish.nutrients[nutrient_id] for dish, s in meals)
        if (week.min or 0) > amount or (week.max is not None and amount > week.max):
            return True
    return False


RULES: dict[str, dict[str, object]] = {
    "repeats": {"most_repeats": 2},
    "variety": {"least_different_recipes": 3},
    "dislikes": {"dislikes": {"rice": 2}},
    "wants": {"wants": {"fish": 2}},
    "most of a group": {"most_meals_of": {"light": 1}},
    "least of a group": {"least_meals_of": {"light": 3}},
    "servings": {"recipe_servings": {"soup": {"min": 1, "max": 2}}},
    "week": {"windows_per_week": {"energy_kcal": {"min": 300, "max": 420}}},
}


@pytest.mark.parametrize("name", RULES)
def test_a_week_is_penalised_exactly_when_it_breaks_the_rule(name: str) -> None:
    """Of 200 weeks drawn by chance some keep the rule and some break it, and both are told."""
    problem = _problem(**RULES[name])
    rules = WeekRules(problem, 0)
    told = set()
    for seed in range(200):
        menus = _menus(problem, Random(seed), 3)
        state = np.sum([rules.vector(menu) for menu in menus], axis=0)
        broken = _broken(problem, RULES[name], menus)
        assert (rules.penalty(state[None, :], 1.0)[0] > 1e-9) == broken
        told.add(broken)
    assert told == {True, False}


def test_what_a_whole_week_needs_is_not_asked_of_half_of_it() -> None:
    """Variety and wants are judged once every day is planned."""
    problem = _problem(least_different_recipes=3, wants={"fish": 2})
    rules = WeekRules(problem, 0)
    empty = np.zeros((1, rules.per_meal.shape[1]))
    assert rules.penalty(empty, 0.5)[0] == 0
    assert rules.penalty(empty, 1.0)[0] > 0


def test_prices_steer_away_from_what_is_used_up_and_towards_what_is_wanted() -> None:
    """A recipe at its most repeats costs more a meal, a dish with a wanted food less."""
    problem = _problem(most_repeats=1, wants={"fish": 1})
    rules = WeekRules(problem, 0)
    stew = next(
        n for n, c in enumerate(problem.cookings) if problem.dishes[c.dish].recipe_id == "stew"
    )
    price = rules.prices(rules.vector([(stew, 1.0)]), 2)
    by_recipe = {problem.dishes[c.dish].recipe_id: price[n] for n, c in enumerate(problem.cookings)}
    assert by_recipe["stew"] > 0 == by_recipe["pilaf"] > by_recipe["soup"]


def test_the_pull_is_towards_what_the_plan_still_lacks_or_away_from_its_most() -> None:
    """Three days with at least 600 kcal: behind after a lean day, on course after a full one.

    A serving of stew has 75 kcal, so a price a serving of -15 x (250 / 200 - 1) x 75 x 3 / 600.
    """
    problem = _problem(windows_per_week={"energy_kcal": {"min": 600}})
    rules = WeekRules(problem, 0)
    energy = np.array([problem.dishes[c.dish].nutrients["energy_kcal"] for c in problem.cookings])
    state = np.zeros(rules.per_meal.shape[1])
    assert not rules.pull(state, 3, 3).any()
    state[-1] = 100.0
    assert rules.pull(state, 2, 3) == pytest.approx(-15.0 * 0.25 * energy * 3 / 600)
    state[-1] = 200.0
    assert rules.pull(state, 2, 3) == pytest.approx(0.0)
    most = WeekRules(_problem(windows_per_week={"energy_kcal": {"max": 600}}), 0)
    state[-1] = 300.0
    assert rules.pull(state, 0, 3) == pytest.approx(0.0)
    assert most.pull(state, 2, 3) == pytest.approx(15.0 * 0.25 * energy * 3 / 600)
