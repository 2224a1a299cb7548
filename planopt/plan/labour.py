"""What the cook's work on a week costs, and what is no favourite, with exact fractions."""

from __future__ import annotations

from fractions import Fraction

from planopt.problem.build import Problem
from planopt.problem.decisions import Decisions
from planopt.problem.past import seen_recipes
from planopt.scenario.records import Scenario


def exact_work(scenario: Scenario, problem: Problem, decisions: Decisions) -> Fraction:
    """Return the price of hands-on time, washing-up and boxes, in units of the currency."""
    prices = scenario.work_prices
    minutes = Fraction(0)
    for n, count in decisions.batches.items():
        dish = problem.dishes[problem.cookings[n].dish]
        if dish.ready is not None:
            continue
        further = max(Fraction(0), Fraction(repr(count)) - 1)
        minutes += Fraction(str(dish.hands_on)) + Fraction(str(dish.hands_on_extra)) * further
        minutes += Fraction(str(prices.washing_up_minutes))
    boxes = sum(
        problem.dishes[problem.slots[i].options[j].dish].boxes for i, j in decisions.servings
    )
    return Fraction(prices.cook_hour) * minutes / 60 + Fraction(prices.box) * boxes


def exact_taste(scenario: Scenario, problem: Problem, decisions: Decisions) -> Fraction:
    """Return by how much the ratings of portions are below their clients' best ones, in sum."""
    total = Fraction(0)
    for i, j in decisions.servings:
        slot = problem.slots[i]
        ratings = scenario.clients[slot.client].ratings
        best = max((Fraction(0), *map(Fraction, ratings.values())))
        recipe_id = problem.dishes[slot.options[j].dish].recipe_id
        total += best - Fraction(ratings.get(recipe_id, 0))
    return total


def exact_seen(scenario: Scenario, problem: Problem, decisions: Decisions) -> Fraction:
    """Return the price of portions of dishes that were seen before, in units of the currency."""
    known = seen_recipes(scenario)
    seen = sum(
        problem.dishes[problem.slots[i].options[j].dish].recipe_id in known
        for i, j in decisions.servings
    )
    return Fraction(scenario.seen_price) * seen
