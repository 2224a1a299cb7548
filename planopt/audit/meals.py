"""Portions: who may eat what and when, how it was kept, and the rules on meals."""

from __future__ import annotations

from collections import defaultdict
from collections.abc import Iterator
from fractions import Fraction

from planopt.audit.books import Books, later
from planopt.audit.dishes import Dish
from planopt.audit.findings import (
    Finding,
    above,
    below,
    exact,
    is_multiple,
    same_amount,
    show,
    unequal,
)
from planopt.audit.handling import check_allergens
from planopt.audit.ready import check_ready_portion
from planopt.plan.records import Portion
from planopt.scenario.records import Client


def check_meals(books: Books) -> Iterator[Finding]:
    """Check every portion, and every meal of every client."""
    batches = {(row.recipe_id, row.version, row.cook_day) for row in books.plan.batches}
    for portion in books.plan.portions:
        yield from _check_portion(books, portion)
        source = (portion.recipe_id, portion.version, portion.cook_day)
        if source not in batches and source not in books.ready:
            yield Finding("over-eaten", _name(portion), "a batch that it comes from", "none")
    for client in books.scenario.clients:
        for day in range(1, books.scenario.days + 1):
            for meal in books.scenario.meals_of(client, day):
                yield from _check_meal(books, client, day, meal)
            yield from _check_once_a_day(books, client, day)


def _name(row: Portion) -> str:
    return (
        f"portion of {row.client_id} day {row.day} {row.meal}:"
        f" {row.recipe_id} {row.version} from cook day {row.cook_day}"
    )


def _check_portion(books: Books, row: Portion) -> Iterator[Finding]:
    where = _name(row)
    yield from unequal("portion-facts", f"{where}, date", books.date_of(row.day), row.date)
    ready = books.ready.get((row.recipe_id, row.version, row.cook_day))
    if ready is None and row.cook_day not in books.cook_days:
        yield Finding("cook-day", where, "a cook day of the scenario", show(row.cook_day))
    if exact(row.servings) <= 0:
        yield Finding("portion-size", where, "more than 0 servings", show(row.servings))
    client = books.clients.get(row.client_id)
    if client is None:
        yield Finding("unknown-id", where, "a client of the scenario", row.client_id)
    else:
        yield from _check_asked_for(books, client, row)
    recipe = books.catalog.recipes.get(row.recipe_id)
    if recipe is None:
        yield Finding("unknown-id", where, "a recipe of the catalog", row.recipe_id)
        return
    if row.meal not in recipe.meals:
        yield Finding("wrong-meal", where, f"one of {', '.join(recipe.meals)}", row.meal)
    if ready is None and not books.recipe_allowed(row.recipe_id):
        yield Finding("recipe-allowed", where, "a recipe the scenario allows", row.recipe_id)
    dish = books.dish(row.recipe_id, row.version)
    if dish is None:
        yield Finding("unknown-version", where, "a version of this recipe", row.version)
        return
    if ready is None:
        yield from _check_stored(books, dish, row)
    else:
        yield from check_ready_portion(books, ready, dish, row)
    yield from unequal("portion-facts", f"{where}, recipe_name", dish.name, row.recipe_name)
    yield from _check_nutrients(dish, row)
    yield from _check_food_groups(dish, row)
    if client is not None:
        yield from _check_permitted(books, client, dish, where)


def _check_asked_for(books: Books, client: Client, row: Portion) -> Iterator[Finding]:
    in_plan = 1 <= row.day <= books.scenario.days
    if not in_plan or row.meal not in books.scenario.meals_of(client, row.day):
        yield Finding("meal-not-asked", _name(row), "a meal eaten from this kitchen", "another")
    step = client.portions.step
    if step != "any" and not is_multiple(exact(row.servings), exact(step)):
        yield Finding("portion-size", _name(row), f"steps of {show(step)}", show(row.servings))


def _check_permitted(books: Books, client: Client, dish: Dish, where: str) -> Iterator[Finding]:
    yield from check_allergens(books.catalog, dish, client.allergens, where)
    for food in sorted(dish.foods & set(client.excluded_foods)):
        yield Finding("excluded-food", where, f"no {food}", "a dish that has it")
    if dish.recipe.recipe_id in client.excluded_recipes:
        yield Finding("excluded-recipe", where, "not this recipe", dish.recipe.recipe_id)


def _ready_same_day(books: Books, row: Portion) -> bool:
    """Tell whether food cooked that morning is ready for the meal."""
    cook = books.cook_days.get(row.cook_day)
    if cook is None or cook.ready_for is None:
        return True
    meals = books.scenario.meals
    if cook.ready_for not in meals or row.meal not in meals:
        return False  # `next_day` is no meal, so it lands here
    return meals.index(row.meal) >= meals.index(cook.ready_for)


def _check_stored(books: Books, dish: Dish, row: Portion) -> Iterator[Finding]:
    where = _name(row)
    age = row.day - row.cook_day
    keeping = books.keeping(dish)
    if keeping is None:
        kind = dish.recipe.keeps.kind
        yield Finding("unknown-id", where, "a kind in the storage limits", kind)
        return
    fridge_days, freezer_days = keeping
    if age < 0 or (age == 0 and not _ready_same_day(books, row)):
        yield Finding("not-ready", where, "eaten once it is ready", f"{age} days after cooking")
        return
    if age <= fridge_days:
        stored, thaw_on = "fridge", None
    elif freezer_days is not None and age <= freezer_days:
        stored, thaw_on = "freezer", later(books.date_of(row.day), -1)
    else:
        kept = f"at most {fridge_days} days in the fridge, {freezer_days or 0} in the freezer"
        yield Finding("kept-too-long", where, kept, f"{age} days")
        return
    yield from unequal("portion-storage", f"{where}, stored", stored, row.stored)
    yield from unequal("portion-storage", f"{where}, thaw_on", thaw_on, row.thaw_on)


def _check_nutrients(dish: Dish, row: Portion) -> Iterator[Finding]:
    where = _name(row)
    expected = dish.nutrients_per_serving
    if expected.keys() != row.nutrients.keys():
        names, found = ", ".join(sorted(expected)), ", ".join(sorted(row.nutrients))
        yield Finding("portion-nutrients", where, f"the nutrients {names}", found or "none")
    for nutrient, per_serving in expected.items():
        amount = per_serving * exact(row.servings)
        found_amount = exact(row.nutrients.get(nutrient, 0.0))
        if not same_amount(amount, found_amount):
            place = f"{where}, {nutrient}"
            yield Finding("portion-nutrients", place, show(amount), show(found_amount))


def _check_food_groups(dish: Dish, row: Portion) -> Iterator[Finding]:
    for group in sorted(dish.food_groups_g.keys() | row.food_groups_g.keys()):
        amount = dish.food_groups_g.get(group, Fraction(0)) * exact(row.servings)
        told = exact(row.food_groups_g.get(group, 0.0))
        if not same_amount(amount, told):
            yield Finding("portion-groups", f"{_name(row)}, {group}", show(amount), show(told))


def _check_meal(books: Books, client: Client, day: int, meal: str) -> Iterator[Finding]:
    where = f"{client.client_id} day {day} {meal}"
    servings: dict[tuple[str, str], Fraction] = defaultdict(Fraction)
    cooked_on: dict[tuple[str, str], set[int]] = defaultdict(set)
    for row in books.portions_of.get((client.client_id, day, meal), []):
        servings[row.recipe_id, row.version] += exact(row.servings)
        cooked_on[row.recipe_id, row.version].add(row.cook_day)
    most = books.scenario.most_dishes_per_meal
    for (recipe_id, version), days in cooked_on.items():
        if most != "any" and len(days) > 1:
            found = f"cook days {', '.join(map(str, sorted(days)))}"
            yield Finding("mixed-cook-days", f"{where} {recipe_id} {version}", "one", found)
    if most != "any" and not servings:
        yield Finding("meal-unfed", where, "at least 1 dish", "none")
    if most != "any" and len(servings) > most:
        yield Finding("too-many-dishes", where, f"at most {most}", str(len(servings)))
    largest = exact(client.portions.largest)
    smallest = exact(client.portions.smallest)
    for (recipe_id, version), total in servings.items():
        if below(total, smallest) or above(total, largest):
            bounds = f"{show(smallest)} to {show(largest)} servings"
            yield Finding("portion-size", f"{where} {recipe_id} {version}", bounds, show(total))


def _check_once_a_day(books: Books, client: Client, day: int) -> Iterator[Finding]:
    if books.scenario.most_dishes_per_meal == "any":
        return
    meals: dict[str, set[str]] = defaultdict(set)
    for row in books.plan.portions:
        if row.client_id == client.client_id and row.day == day:
            meals[row.recipe_id].add(row.meal)
    for recipe_id, eaten_at in meals.items():
        if len(eaten_at) > 1:
            where = f"{client.client_id} day {day} {recipe_id}"
            yield Finding("once-a-day", where, "one meal a day", ", ".join(sorted(eaten_at)))
