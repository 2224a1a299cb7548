"""Costs, waste, the budget, and the claims about the objective and its bound."""

from __future__ import annotations

from collections.abc import Iterator
from decimal import Decimal
from fractions import Fraction

from planopt.audit.books import Books
from planopt.audit.dishes import Dish
from planopt.audit.findings import MILLIONTH, Finding, exact, rounded_minor, show, unequal
from planopt.audit.past import seen_minor
from planopt.audit.ready import ready_minor
from planopt.audit.references import missed_minor
from planopt.audit.supplies import left_of, spoils, supplies_of


def check_money(books: Books) -> Iterator[Finding]:
    """Recompute every sum of money from packs, leftovers and uneaten servings."""
    stated = books.plan.solution
    scenario = books.scenario
    grocery = _grocery_minor(books)
    visits = _visit_minor(books)
    waste = _waste_minor(books)
    yield from _check_sum(books, "grocery-cost", grocery, stated.grocery_cost)
    yield from _check_sum(books, "visit-cost", visits, stated.visit_cost)
    yield from _check_sum(books, "waste-cost", waste, stated.waste_cost)
    missed = sum((missed_minor(books, client) for client in scenario.clients), Fraction(0))
    yield from _check_sum(books, "missed-cost", missed, stated.missed_cost)
    taste = _taste_minor(books)
    yield from _check_sum(books, "taste-cost", taste, stated.taste_cost)
    work = _work_minor(books)
    yield from _check_sum(books, "work-cost", work, stated.work_cost)
    ready = ready_minor(books)
    yield from _check_sum(books, "ready-cost", ready, stated.ready_cost)
    seen = seen_minor(books)
    yield from _check_sum(books, "seen-cost", seen, stated.seen_cost)
    weight = exact(scenario.waste_weight)
    yield from unequal("waste-weight", "solution", weight, exact(stated.waste_weight))
    # the groceries count as the tills charge them, the waste before it is rounded
    objective = rounded_minor(grocery)[-1] + visits + weight * waste + missed + work
    objective += taste + ready + seen
    yield from _check_sum(books, "objective", objective, stated.objective)
    if scenario.budget is not None:
        budget = exact(scenario.budget) * books.minor_per_unit
        if rounded_minor(grocery)[-1] > budget:
            most = f"at most {show(scenario.budget)}"
            yield Finding("budget", "groceries", most, show(grocery / books.minor_per_unit))
    yield from _check_bound(books)


def _check_sum(books: Books, rule: str, minor: Fraction, stated: Decimal) -> Iterator[Finding]:
    if exact(stated) * books.minor_per_unit not in rounded_minor(minor):
        yield Finding(rule, "solution", show(minor / books.minor_per_unit), show(stated))


def _grocery_minor(books: Books) -> Fraction:
    total = Fraction(0)
    for row in books.plan.purchases:
        pack = books.catalog.packs.get(row.pack_id)
        if pack is not None:
            total += exact(pack.price) * exact(row.count) * books.minor_per_unit
    return total


def _visit_minor(books: Books) -> Fraction:
    visits = set()
    for row in books.plan.purchases:
        pack = books.catalog.packs.get(row.pack_id)
        visits.add((row.seller_id if pack is None else pack.seller_id, row.shop_day))
    paid = max(0, len(visits) - 1)
    return exact(books.scenario.visit_cost) * paid * books.minor_per_unit


def _work_minor(books: Books) -> Fraction:
    """Return the price of the minutes that cooking takes, of washing-up and of boxes."""
    prices = books.scenario.work_prices
    minutes, boxes = Fraction(0), 0
    for batch in books.plan.batches:
        recipe = books.catalog.recipes.get(batch.recipe_id)
        if recipe is not None:
            beyond = max(Fraction(0), exact(batch.batches) - 1)
            minutes += exact(recipe.minutes.hands_on) + exact(prices.washing_up_minutes)
            minutes += beyond * exact(recipe.minutes.hands_on_per_extra_batch)
    for portion in books.plan.portions:
        if (portion.recipe_id, portion.version, portion.cook_day) in books.ready:
            continue  # it is in its box already
        dish = books.dish(portion.recipe_id, portion.version)
        boxes += 0 if dish is None else _boxes(dish)
    hours = exact(prices.cook_hour) * minutes / 60
    return (hours + exact(prices.box) * boxes) * books.minor_per_unit


def _taste_minor(books: Books) -> Fraction:
    """Return what portions count for that somebody likes less than another, by their ratings."""
    total = Fraction(0)
    for row in books.plan.portions:
        client = books.clients.get(row.client_id)
        ratings = {} if client is None else client.ratings
        given = [exact(rating) for rating in ratings.values()]
        mine = exact(ratings[row.recipe_id]) if row.recipe_id in ratings else Fraction(0)
        total += max([Fraction(0), *given]) - mine
    return total * books.minor_per_unit


def _boxes(dish: Dish) -> int:
    """Return the boxes of a portion: what is named apart one each, the main part if it is warmed.

    All that remains shares one.
    """
    parts = {item.part for item in dish.items}
    alone = parts & set(dish.recipe.parts_apart)
    if dish.recipe.keeps.serve in ("reheated", "either") and "main" in parts:
        alone.add("main")
    return len(alone) + (1 if parts - alone else 0)


def _waste_minor(books: Books) -> Fraction:
    """Return the value of leftovers that spoil and of servings nobody eats, unrounded."""
    total = Fraction(0)
    supplies = supplies_of(books)
    for row in books.plan.food_uses:
        supply = supplies.get((row.food_id, row.supply))
        if supply is not None and spoils(books, supply):
            total += left_of(supply, row) * books.value_per_gram(row.food_id)
    for batch in books.plan.batches:
        dish = books.dish(batch.recipe_id, batch.version)
        if dish is None:
            continue
        made = exact(batch.batches) * exact(dish.recipe.yield_servings)
        eaten = books.eaten_of_batch.get((batch.recipe_id, batch.version, batch.cook_day))
        uneaten = max(Fraction(0), made - (eaten or Fraction(0)))
        for item in dish.items:
            per_serving = (item.grams or Fraction(0)) / exact(dish.recipe.yield_servings)
            total += uneaten * per_serving * books.value_per_gram(item.food_id)
    return total


def _check_bound(books: Books) -> Iterator[Finding]:
    """Check what follows from the bound; the bound itself cannot be proven again here."""
    stated = books.plan.solution
    objective, bound = exact(stated.objective), exact(stated.best_bound)
    gap = exact(stated.proven_gap)
    if bound > objective:
        most = f"at most the objective {show(stated.objective)}"
        yield Finding("bound", "solution", most, show(stated.best_bound))
    if (bound * books.minor_per_unit).denominator != 1:
        yield Finding("bound", "solution", "whole minor units", show(stated.best_bound))
    expected = (objective - bound) / objective if objective else Fraction(0)
    if abs(expected - gap) > MILLIONTH:
        yield Finding("gap", "solution", show(expected), show(stated.proven_gap))
    # the bound is rounded down and the objective half up, so a proven gap may show more
    unit = Fraction(2, books.minor_per_unit) / objective if objective else Fraction(0)
    if stated.status == "optimal" and gap > exact(stated.gap_asked) + unit + Fraction(1, 10**9):
        most = f"a gap of at most {show(stated.gap_asked)} for `optimal`"
        yield Finding("status", "solution", most, show(stated.proven_gap))
