"""Limits that protect people, and the cautions that a plan must carry."""

from __future__ import annotations

import re
from collections.abc import Iterator
from fractions import Fraction
from math import ceil, floor

from planopt.audit.books import Books
from planopt.audit.findings import Finding, below, exact, show
from planopt.audit.handling import UNKNOWN
from planopt.catalog.records import Line
from planopt.scenario.records import Client, Window

ENERGY = "energy_kcal"
SUPERVISED_BELOW_KCAL = 800
CAUTION_BELOW_KCAL = 1200
# words of which no honest wording of the standing caution can do without one
STANDING_TOPICS = {
    "how long food keeps": ("storage", "fridge", "freezer"),
    "reheating to 74 C": ("74",),
    "cooling within two hours": ("cool", "chill"),
    "local rules for a food business": ("business", "local rule", "local law"),
    "groups who need licensed care": ("pregnan",),
    "no medical advice": ("medical",),
    "allergens and labels": ("label",),
}


def check_safety(books: Books) -> Iterator[Finding]:
    """Check the energy limits and the cautions."""
    cautions = books.plan.cautions
    if not any(text.strip() for text in cautions):
        yield Finding("cautions", "cautions", "the standing cautions", "none")
    for topic, words in STANDING_TOPICS.items():
        if not any(word in text.casefold() for text in cautions for word in words):
            yield Finding("cautions", "cautions", f"a standing caution on {topic}", "none")
    for client in books.scenario.clients:
        yield from _check_energy(books, client)
        for own in client.cautions:
            if f"{client.name}: {own}" not in cautions:
                wanted = f"the caution that the scenario has for {client.name}: {own}"
                yield Finding("cautions", "cautions", wanted, "none")
    for nutrient in _unknown_nutrients(books):
        known = books.catalog.nutrients.get(nutrient)
        names = [nutrient] if known is None else [nutrient, known.name]
        if not any(_names(text, name) for text in cautions for name in names):
            wanted = f"a caution that some foods' {nutrient} is unknown"
            yield Finding("cautions", "cautions", wanted, "none")


def _names(text: str, name: str) -> bool:
    """Tell whether a text has the name as a word of its own."""
    pattern = rf"(?<!\w){re.escape(name.casefold())}(?!\w)"
    return re.search(pattern, text.casefold()) is not None


def _floors_of_days(books: Books, client: Client) -> dict[int, Fraction]:
    """Return the share of a full day's meals that a client has here, for the days with any."""
    shares = {}
    for day in range(1, books.scenario.days + 1):
        if day in client.away.days:
            continue
        elsewhere = set(client.away.meals.get(day, ()))
        own = set(books.scenario.meals if client.meals is None else client.meals)
        here = [meal for meal in books.scenario.meals if meal in own - elsewhere]
        if here:
            shares[day] = Fraction(len(here), len(books.scenario.meals))
    return shares


def _window_limits(books: Books, client: Client) -> Iterator[tuple[Window, Fraction]]:
    """Yield the energy windows of single days, each with the share of a day that it is for."""
    shares = _floors_of_days(books, client)
    own = set(books.scenario.meals if client.meals is None else client.meals)
    usual = Fraction(sum(meal in own for meal in books.scenario.meals), len(books.scenario.meals))
    for windows in (client.windows_per_day, *client.day_patterns.values()):
        if ENERGY in windows:
            yield windows[ENERGY], usual
    for day, windows in client.windows_on_days.items():
        if ENERGY in windows and day in shares:
            yield windows[ENERGY], shares[day]


def _check_energy(books: Books, client: Client) -> Iterator[Finding]:
    windows = list(_window_limits(books, client))
    if not client.medically_supervised:
        for window, share in windows:
            for value in (window.min, window.max):
                if value is not None and below(exact(value), SUPERVISED_BELOW_KCAL * share):
                    wanted = (
                        f"no day window below {SUPERVISED_BELOW_KCAL} kcal without medical "
                        "supervision"
                    )
                    yield Finding("energy-floor", client.client_id, wanted, show(value))
        yield from _check_floor(books, client)
    about = _about_low_energy(books, client)
    if not about and any(
        window.min is not None and exact(window.min) < CAUTION_BELOW_KCAL * share
        for window, share in windows
    ):
        wanted = f"a caution naming {client.name} and {CAUTION_BELOW_KCAL} kcal"
        yield Finding("cautions", "cautions", wanted, "none")
    lean = _lean_figures(books, client)
    if lean and not any(figure in _digits(text) for text in about for figure in lean):
        wanted = (
            f"a caution naming {client.name}, {CAUTION_BELOW_KCAL} kcal and the leanest day's "
            f"{min(lean)} kcal"
        )
        yield Finding("cautions", "cautions", wanted, "none")


def _day_energy(books: Books, client: Client) -> dict[int, Fraction | None]:
    """Return the energy of each day that a client eats, None where the catalog has none."""
    found: dict[int, Fraction | None] = {}
    for day in _floors_of_days(books, client):
        total = Fraction(0)
        for row in books.plan.portions:
            if row.client_id == client.client_id and row.day == day:
                dish = books.dish(row.recipe_id, row.version)
                if dish is not None:
                    total += dish.nutrients_per_serving.get(ENERGY, Fraction(0)) * exact(
                        row.servings
                    )
        found[day] = total if ENERGY in books.catalog.nutrients else None
    return found


def _check_floor(books: Books, client: Client) -> Iterator[Finding]:
    shares = _floors_of_days(books, client)
    for day, kcal in _day_energy(books, client).items():
        least = SUPERVISED_BELOW_KCAL * shares[day]
        if kcal is None or below(kcal, least):
            where = f"{client.client_id} day {day}"
            wanted = f"at least {show(least)} kcal without medical supervision"
            yield Finding("energy-floor", where, wanted, show(kcal))


def _lean_figures(books: Books, client: Client) -> set[str]:
    """Return the ways to write the whole kcal of the leanest day, if it is below the soft line."""
    shares = _floors_of_days(books, client)
    full = {
        day: kcal / shares[day]
        for day, kcal in _day_energy(books, client).items()
        if kcal is not None
    }
    least = min(full.values(), default=None)
    if least is None or not below(least, Fraction(CAUTION_BELOW_KCAL)):
        return set()
    return {
        str(side(full[day] * shares[day]))
        for day in full
        if not below(least, full[day])
        for side in (floor, ceil)
    }


def _digits(text: str) -> set[str]:
    """Return the numbers in a text, without what groups their digits."""
    return set(re.findall(r"[0-9]+", re.sub(r"(?<=[0-9])[\s,.](?=[0-9]{3})", "", text)))


def _about_low_energy(books: Books, client: Client) -> list[str]:
    level, people = str(CAUTION_BELOW_KCAL), (client.name, client.client_id)
    # What the scenario itself says of a client takes no caution's place.
    written = {f"{one.name}: {own}" for one in books.scenario.clients for own in one.cautions}
    return [
        text
        for text in books.plan.cautions
        if text not in written
        and level in re.sub(r"[\s,.]", "", text)
        and any(_names(text, who) for who in people)
    ]


def _unknown_nutrients(books: Books) -> list[str]:
    """Return nutrients with a window that some food which may be eaten has no value for."""
    unknown = set()
    for client in books.scenario.clients:
        tables = [client.windows_per_day, client.windows_per_week]
        tables += [*client.windows_on_days.values(), *client.day_patterns.values()]
        windows = [item for table in tables for item in table.items()]
        asked = {name for name, one in windows if one.min is not None or one.max is not None}
        # Grams of a food group are always known.
        asked &= set(books.catalog.nutrients)
        foods = [books.catalog.foods[food] for food in _possible_foods(books, client)]
        for food in foods:
            unknown |= {name for name in asked if food.nutrients.get(name) is None}
    return sorted(unknown)


def _possible_foods(books: Books, client: Client) -> set[str]:
    """Return the foods of every version that this client may be given."""
    possible: set[str] = set()
    asked = client.meals if client.meals is not None else books.scenario.meals
    for recipe in books.catalog.recipes.values():
        barred = recipe.recipe_id in client.excluded_recipes
        served = set(recipe.meals) & set(asked) & set(books.scenario.meals)
        if barred or not served or not books.recipe_allowed(recipe.recipe_id):
            continue
        choices = [(line, _fit_foods(books, client, line)) for line in recipe.lines]
        if all(fit or line.optional for line, fit in choices):
            possible |= {food for _, fit in choices for food in fit}
    return possible


def _fit_foods(books: Books, client: Client, line: Line) -> set[str]:
    offered = {line.food, *(alternative.food for alternative in line.alternatives)}
    fit = set()
    for food_id in offered & books.catalog.foods.keys():
        held = books.catalog.foods[food_id].allergens
        clear = not client.allergens or not ({UNKNOWN, *client.allergens} & set(held))
        if clear and food_id not in client.excluded_foods and _to_be_had(books, food_id):
            fit.add(food_id)
    return fit


def _to_be_had(books: Books, food_id: str) -> bool:
    """Tell whether a food comes from the tap, is on hand, or is sold by a seller in use."""
    scenario = books.scenario
    return (
        books.catalog.foods[food_id].storage == "tap"
        or any(entry.food == food_id for entry in scenario.stock)
        or any(
            pack.currency == scenario.currency
            and (scenario.sellers is None or pack.seller_id in scenario.sellers)
            for pack in books.packs_of.get(food_id, ())
        )
    )
