"""Batches: what they hold, how many there may be, and the limits of a cook day."""

from __future__ import annotations

from collections import Counter, defaultdict
from collections.abc import Callable, Iterator
from fractions import Fraction

from planopt.audit.books import Books, later
from planopt.audit.dishes import Dish
from planopt.audit.findings import (
    Finding,
    above,
    exact,
    is_multiple,
    same_amount,
    same_grams,
    show,
    unequal,
)
from planopt.plan.records import Batch

STEPS = {"whole": Fraction(1), "half": Fraction(1, 2)}


def check_kitchen(books: Books) -> Iterator[Finding]:
    """Check every batch, and every cook day as a whole."""
    for batch in books.plan.batches:
        yield from _check_batch(books, batch)
    yield from _check_batch_limits(books)
    for day in books.cook_days:
        yield from _check_cook_day(books, day)


def _name(batch: Batch) -> str:
    return f"batch of {batch.recipe_id} {batch.version} on cook day {batch.cook_day}"


def _check_batch(books: Books, batch: Batch) -> Iterator[Finding]:
    where = _name(batch)
    if batch.cook_day not in books.cook_days:
        days = ", ".join(map(str, sorted(books.cook_days)))
        yield Finding("cook-day", where, f"a cook day of the scenario ({days})", "another day")
    cooked_on = books.date_of(batch.cook_day)
    yield from unequal("batch-facts", f"{where}, cook_date", cooked_on, batch.cook_date)
    recipe = books.catalog.recipes.get(batch.recipe_id)
    if recipe is None:
        yield Finding("unknown-id", where, "a recipe of the catalog", batch.recipe_id)
        return
    yield from unequal("batch-facts", f"{where}, recipe_name", recipe.name, batch.recipe_name)
    if not books.recipe_allowed(batch.recipe_id):
        yield Finding("recipe-allowed", where, "a recipe the scenario allows", batch.recipe_id)
    count = exact(batch.batches)
    step = STEPS.get(recipe.batch.step)
    if count <= 0 or (step is not None and not is_multiple(count, step)):
        wanted = f"more than 0, in steps: {recipe.batch.step}"
        yield Finding("batch-step", where, wanted, show(batch.batches))
    yield from _check_keeping(books, batch)
    yield from _check_servings(books, batch, count * exact(recipe.yield_servings))
    dish = books.dish(batch.recipe_id, batch.version)
    if dish is None:
        yield Finding("unknown-version", where, "a version of this recipe", batch.version)
        return
    yield from _check_lines(batch, dish)


def _check_keeping(books: Books, batch: Batch) -> Iterator[Finding]:
    where = _name(batch)
    recipe = books.catalog.recipes[batch.recipe_id]
    keeping = books.keeping(recipe)
    if keeping is None:
        yield Finding("unknown-id", where, "a kind in the storage limits", recipe.keeps.kind)
        return
    fridge_days, freezer_days = keeping
    cooked_on = books.date_of(batch.cook_day)
    fridge = later(cooked_on, fridge_days)
    freezer = None if freezer_days is None else later(cooked_on, freezer_days)
    yield from unequal("batch-facts", f"{where}, use_by_fridge", fridge, batch.use_by_fridge)
    yield from unequal("batch-facts", f"{where}, use_by_freezer", freezer, batch.use_by_freezer)


def _check_servings(books: Books, batch: Batch, cooked: Fraction) -> Iterator[Finding]:
    where = _name(batch)
    key = (batch.recipe_id, batch.version, batch.cook_day)
    eaten = books.eaten_of_batch.get(key, Fraction(0))
    stated = (
        ("servings", cooked, batch.servings),
        ("servings_eaten", eaten, batch.servings_eaten),
        ("servings_left", cooked - eaten, batch.servings_left),
    )
    for field, expected, found in stated:
        if not same_amount(expected, exact(found)):
            yield Finding("batch-servings", f"{where}, {field}", show(expected), show(found))
    if above(eaten, cooked):
        yield Finding("over-eaten", where, f"at most {show(cooked)} servings eaten", show(eaten))


def _check_lines(batch: Batch, dish: Dish) -> Iterator[Finding]:
    where = _name(batch)
    expected = {item.line: item for item in dish.items}
    rows = Counter(line.line for line in batch.lines)
    for index in sorted(expected.keys() | rows.keys()):
        wanted = int(index in expected)
        if rows[index] != wanted:
            place = f"{where}, line {index}"
            yield Finding("batch-lines", place, f"{wanted} rows", f"{rows[index]} rows")
    for item in dish.items:
        if item.grams is None:
            place = f"{where}, line {item.line}"
            yield Finding("conversion", place, "grams from the catalog", "no way to convert")
    for line in batch.lines:
        item_of_line = expected.get(line.line)
        if item_of_line is None:
            continue
        place = f"{where}, line {line.line}"
        yield from unequal("batch-lines", f"{place}, food", item_of_line.food_id, line.food_id)
        yield from unequal("batch-lines", f"{place}, part", item_of_line.part, line.part)
        yield from unequal("batch-lines", f"{place}, chosen", item_of_line.chosen, line.chosen)
        grams = (item_of_line.grams or Fraction(0)) * exact(batch.batches)
        if not same_grams(grams, exact(line.grams)):
            yield Finding("batch-lines", f"{place}, grams", show(grams), show(line.grams))


def _check_batch_limits(books: Books) -> Iterator[Finding]:
    """Check the most batches of a recipe on a cook day, all its versions together."""
    made: dict[tuple[int, str], Fraction] = defaultdict(Fraction)
    for batch in books.plan.batches:
        made[batch.cook_day, batch.recipe_id] += exact(batch.batches)
    for (day, recipe_id), count in made.items():
        recipe = books.catalog.recipes.get(recipe_id)
        if recipe is not None and above(count, exact(recipe.batch.most_per_cook_day)):
            most = f"at most {show(recipe.batch.most_per_cook_day)} batches"
            yield Finding("batch-limit", f"{recipe_id} on cook day {day}", most, show(count))


def _hands_on(dish: Dish, count: Fraction) -> Fraction:
    if count <= 0:
        return Fraction(0)
    minutes = dish.recipe.minutes
    extra = max(Fraction(0), count - 1)
    return exact(minutes.hands_on) + exact(minutes.hands_on_per_extra_batch) * extra


def _oven(dish: Dish, count: Fraction) -> Fraction:
    oven = dish.recipe.equipment.oven
    return Fraction(0) if oven is None else exact(oven.minutes) * count


def _hob(dish: Dish, count: Fraction) -> Fraction:
    return exact(dish.recipe.equipment.hob_minutes) * count


def _check_cook_day(books: Books, day: int) -> Iterator[Finding]:
    limits = books.cook_days[day]
    counts: dict[tuple[str, str], Fraction] = defaultdict(Fraction)
    for batch in books.plan.batches:
        if batch.cook_day == day:
            counts[batch.recipe_id, batch.version] += exact(batch.batches)
    where = f"cook day {day}"
    checks: tuple[tuple[str, float | None, Callable[[Dish, Fraction], Fraction]], ...] = (
        ("hands-on-minutes", limits.hands_on_minutes, _hands_on),
        ("oven-minutes", limits.oven_minutes, _oven),
        ("hob-minutes", limits.hob_minutes, _hob),
    )
    dishes = [(books.dish(*key), count) for key, count in counts.items()]
    for rule, most, minutes in checks:
        total = sum((minutes(dish, count) for dish, count in dishes if dish), Fraction(0))
        if most is not None and above(total, exact(most)):
            yield Finding(rule, where, f"at most {show(most)} minutes", show(total))
    recipes = {recipe_id for recipe_id, _ in counts}
    if limits.most_recipes is not None and len(recipes) > limits.most_recipes:
        most_text = f"at most {limits.most_recipes} recipes"
        yield Finding("most-recipes", where, most_text, str(len(recipes)))
