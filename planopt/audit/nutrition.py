"""What each client gets over a day and over the plan: windows, repeats and variety."""

from __future__ import annotations

from collections import defaultdict
from collections.abc import Iterator, Mapping
from fractions import Fraction

from planopt.audit.books import Books
from planopt.audit.findings import Finding, above, below, exact, show
from planopt.audit.weekorder import meals_counted
from planopt.plan.records import Portion
from planopt.scenario.records import Client, Window

_GROUP_MEAL_G = Fraction(25)
# Meals as (day, meal), by what is in them.
Meals = dict[str, set[tuple[int, str]]]


def check_nutrition(books: Books) -> Iterator[Finding]:
    """Check the windows and the counts of every client."""
    for client in books.scenario.clients:
        rows = [row for row in books.plan.portions if row.client_id == client.client_id]
        yield from _check_days(books, client, rows)
        yield from _check_week(books, client, rows)
        yield from _check_recipe_counts(books, client, rows)
        yield from _check_food_counts(books, client, rows)
        yield from _check_group_counts(books, client, rows)
        yield from _check_food_group_counts(books, client, rows)


def _totals(books: Books, rows: list[Portion]) -> dict[str, Fraction]:
    """Return nutrients and grams of food groups, from the dishes and never from the plan."""
    totals: dict[str, Fraction] = dict.fromkeys(books.catalog.nutrients, Fraction(0))
    for food in books.catalog.foods.values():
        totals |= {f"{group}_g": Fraction(0) for group in food.groups if f"{group}_g" not in totals}
    for row in rows:
        dish = books.dish(row.recipe_id, row.version)
        for name in totals if dish is not None else ():
            assert dish is not None
            totals[name] += (dish.amount(name) or Fraction(0)) * exact(row.servings)
    return totals


def _check_window(
    rule: str, where: str, window: Window, share: Fraction, total: Fraction | None
) -> Iterator[Finding]:
    if total is None:
        yield Finding("unknown-id", where, "a nutrient of the catalog", "another")
        return
    if window.min is not None and below(total, exact(window.min) * share):
        least = f"at least {show(exact(window.min) * share)}"
        yield Finding(rule, where, least, show(total))
    if window.max is not None and above(total, exact(window.max) * share):
        most = f"at most {show(exact(window.max) * share)}"
        yield Finding(rule, where, most, show(total))


def _check_days(books: Books, client: Client, rows: list[Portion]) -> Iterator[Finding]:
    eaten = client.meals if client.meals is not None else books.scenario.meals
    usual = [meal for meal in books.scenario.meals if meal in eaten]
    for day in range(1, books.scenario.days + 1):
        here = books.scenario.meals_of(client, day)
        if not here:
            continue
        share = Fraction(len(here), len(usual))
        totals = _totals(books, [row for row in rows if row.day == day])
        own = client.windows_on_days.get(day, {})
        asked = {**client.windows_per_day, **books.kind_of_day(client, day), **own}
        for nutrient, window in asked.items():
            where = f"{client.client_id} day {day} {nutrient}"
            scale = Fraction(1) if nutrient in own else share
            yield from _check_window("day-window", where, window, scale, totals.get(nutrient))


def _check_week(books: Books, client: Client, rows: list[Portion]) -> Iterator[Finding]:
    totals = _totals(books, rows)
    for nutrient, window in client.windows_per_week.items():
        where = f"{client.client_id} whole plan {nutrient}"
        total = totals.get(nutrient)
        yield from _check_window("week-window", where, window, Fraction(1), total)


def _check_recipe_counts(books: Books, client: Client, rows: list[Portion]) -> Iterator[Finding]:
    meals: dict[str, set[tuple[int, str]]] = defaultdict(set)
    servings: dict[str, Fraction] = defaultdict(Fraction)
    for row in rows:
        meals[row.recipe_id].add((row.day, row.meal))
        servings[row.recipe_id] += exact(row.servings)
    for recipe_id, eaten_at in meals.items():
        count = meals_counted(books, client, eaten_at)
        if client.most_repeats is not None and count > client.most_repeats:
            where = f"{client.client_id} {recipe_id}"
            most = f"at most {client.most_repeats} meals"
            yield Finding("repeats", where, most, str(count))
    if len(meals) < client.least_different_recipes:
        least = f"at least {client.least_different_recipes} recipes"
        yield Finding("variety", client.client_id, least, str(len(meals)))
    for recipe_id, window in client.recipe_servings.items():
        total = servings.get(recipe_id, Fraction(0))
        most_servings = None if window.max is None else exact(window.max)
        too_many = most_servings is not None and above(total, most_servings)
        if too_many or below(total, exact(window.min)):
            bounds = f"{show(window.min)} to {show(window.max)} servings"
            where = f"{client.client_id} {recipe_id}"
            yield Finding("recipe-servings", where, bounds, show(total))


def _check_group_counts(books: Books, client: Client, rows: list[Portion]) -> Iterator[Finding]:
    meals: Meals = defaultdict(set)
    for row in rows:
        recipe = books.catalog.recipes.get(row.recipe_id)
        for group in recipe.groups if recipe is not None else ():
            meals[group].add((row.day, row.meal))
    yield from _check_most("most-meals-of", client, client.most_meals_of, meals)
    yield from _check_least("least-meals-of", client, client.least_meals_of, meals)


def _check_food_group_counts(
    books: Books, client: Client, rows: list[Portion]
) -> Iterator[Finding]:
    """Check meals with a food group: those with a dish of which a serving has 25 g of it."""
    meals: Meals = defaultdict(set)
    for row in rows:
        dish = books.dish(row.recipe_id, row.version)
        for group, grams in dish.food_groups_g.items() if dish is not None else ():
            if not below(grams, _GROUP_MEAL_G):
                meals[group].add((row.day, row.meal))
    yield from _check_most("most-meals-with", client, client.most_meals_with, meals)
    yield from _check_least("least-meals-with", client, client.least_meals_with, meals)


def _check_food_counts(books: Books, client: Client, rows: list[Portion]) -> Iterator[Finding]:
    meals: Meals = defaultdict(set)
    for row in rows:
        dish = books.dish(row.recipe_id, row.version)
        for food in dish.foods if dish is not None else ():
            meals[food].add((row.day, row.meal))
    yield from _check_most("dislikes", client, client.dislikes, meals)
    yield from _check_least("wants", client, client.wants, meals)


def _check_most(
    rule: str, client: Client, asked: Mapping[str, int], meals: Meals
) -> Iterator[Finding]:
    for what, most in asked.items():
        count = len(meals.get(what, ()))
        if count > most:
            yield Finding(rule, f"{client.client_id} {what}", f"at most {most} meals", str(count))


def _check_least(
    rule: str, client: Client, asked: Mapping[str, int], meals: Meals
) -> Iterator[Finding]:
    for what, least in asked.items():
        count = len(meals.get(what, ()))
        if count < least:
            yield Finding(rule, f"{client.client_id} {what}", f"at least {least} meals", str(count))
