"""What each meal must hold: windows of meals, grams of the plate, the smallest portions of recipes.

The usual sizes of meals are read here from their own table, so that a slip in one is seen in the
other.
"""

from __future__ import annotations

from collections.abc import Iterator
from fractions import Fraction

from planopt.audit.books import Books
from planopt.audit.findings import Finding, above, below, exact, show
from planopt.plan.records import Portion
from planopt.scenario.records import Client, MealWindow, PlateWindow

ENERGY, GRAMS = "energy_kcal", "plate_g"
# Common practice, no source: percent of the energy of a day of these four meals; grams.
_PERCENT = {
    "breakfast": (15, 35),
    "lunch": (25, 45),
    "dinner": (25, 45),
    "snack": (5, 20),
}
_OTHER = (5, 20)
_MOST_GRAMS = 800
_FLOOR_KCAL = 800

Bound = tuple[Fraction | None, Fraction | None]


def check_plates(books: Books) -> Iterator[Finding]:
    """Check what every meal that is eaten here holds."""
    for client in books.scenario.clients:
        for day in range(1, books.scenario.days + 1):
            meals = books.scenario.meals_of(client, day)
            for meal in meals:
                rows = books.portions_of.get((client.client_id, day, meal), [])
                yield from _check_smallest(books, client, rows)
                if rows or books.scenario.most_dishes_per_meal != "any":
                    yield from _check_meal(books, client, day, meal, meals, rows)


def _check_smallest(books: Books, client: Client, rows: list[Portion]) -> Iterator[Finding]:
    largest = exact(client.portions.largest)
    for row in rows:
        recipe = books.catalog.recipes.get(row.recipe_id)
        least = Fraction(0) if recipe is None else min(exact(recipe.smallest_portion), largest)
        if below(exact(row.servings), least):
            where = f"{row.client_id} day {row.day} {row.meal} {row.recipe_id}"
            wanted = f"at least {show(least)} servings of this recipe"
            yield Finding("smallest-portion", where, wanted, show(row.servings))


def _check_meal(
    books: Books,
    client: Client,
    day: int,
    meal: str,
    meals: tuple[str, ...],
    rows: list[Portion],
) -> Iterator[Finding]:
    for name, (least, most) in _bounds(books, client, day, meal, meals).items():
        total = _held(books, rows, name)
        where = f"{client.client_id} day {day} {meal} {name}"
        if total is None:
            yield Finding("unknown-id", where, "a nutrient of the catalog", "another")
            continue
        if least is not None and below(total, least):
            yield Finding("meal-window", where, f"at least {show(least)}", show(total))
        if most is not None and above(total, most):
            yield Finding("meal-window", where, f"at most {show(most)}", show(total))


def _held(books: Books, rows: list[Portion], name: str) -> Fraction | None:
    """Return how much the meal has of a nutrient, or grams of food before cooking."""
    groups = {f"{group}_g" for food in books.catalog.foods.values() for group in food.groups}
    if name != GRAMS and name not in books.catalog.nutrients and name not in groups:
        return None
    total = Fraction(0)
    for row in rows:
        dish = books.dish(row.recipe_id, row.version)
        if dish is None:
            continue
        if name == GRAMS:
            batch = sum((item.grams or Fraction(0) for item in dish.items), Fraction(0))
            each = batch / exact(dish.recipe.yield_servings)
        else:
            each = dish.amount(name) or Fraction(0)
        total += each * exact(row.servings)
    return total


def _bounds(
    books: Books, client: Client, day: int, meal: str, meals: tuple[str, ...]
) -> dict[str, Bound]:
    scenario = books.scenario
    found: dict[str, Bound] = {}
    if scenario.meal_defaults == "on" and meal in _PERCENT:
        # A meal of another name counts as a snack; middles add up to those of the four.
        middles = sum(sum(_PERCENT.get(name, _OTHER)) for name in meals)
        scale = Fraction(sum(sum(pair) for pair in _PERCENT.values()), middles)
        low, high = (scale * share / 100 for share in _PERCENT[meal])
        found[ENERGY] = _shares(books, client, day, ENERGY, (low, high))
        found[GRAMS] = (None, Fraction(_MOST_GRAMS))
    own = client.windows_per_meal_on_days.get(day, {})
    for plate, windows in (
        (scenario.plate_g, scenario.windows_per_meal),
        (client.plate_g, client.windows_per_meal),
        (None, own),
    ):
        if plate is not None:
            found[GRAMS] = _plate(plate)
        for name, window in windows.get(meal, {}).items():
            found[name] = _written(books, client, day, name, window)
    return found


def _plate(plate: PlateWindow) -> Bound:
    return (
        None if plate.min is None else exact(plate.min),
        None if plate.max is None else exact(plate.max),
    )


def _written(books: Books, client: Client, day: int, name: str, window: MealWindow) -> Bound:
    sides: list[Fraction | None] = []
    for place, side in enumerate((window.min, window.max)):
        if isinstance(side, str):
            share = Fraction(side.rstrip("%")) / 100
            sides.append(_shares(books, client, day, name, (share, share))[place])
        else:
            sides.append(None if side is None else exact(side))
    return sides[0], sides[1]


def _shares(
    books: Books, client: Client, day: int, name: str, shares: tuple[Fraction, Fraction]
) -> Bound:
    """Return a share of the day's least, and one of the day's most, None where it has no such."""
    scenario = books.scenario
    own = client.windows_on_days.get(day, {})
    kind = books.kind_of_day(client, day)
    window = own.get(name, kind.get(name, client.windows_per_day.get(name)))
    asked = scenario.meals if client.meals is None else client.meals
    usual = sum(meal in asked for meal in scenario.meals)
    here = len(scenario.meals_of(client, day))
    scale = Fraction(1) if name in own else Fraction(here, usual)
    least = None if window is None or window.min is None else exact(window.min) * scale
    most = None if window is None or window.max is None else exact(window.max) * scale
    if name == ENERGY and not client.medically_supervised:
        floor = Fraction(_FLOOR_KCAL * here, len(scenario.meals))
        least = floor if least is None else max(least, floor)
    return (
        None if least is None else least * shares[0],
        None if most is None else most * shares[1],
    )
