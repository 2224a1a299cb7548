"""Limits that protect people, and the cautions that a plan must carry."""

from __future__ import annotations

import re
from collections.abc import Iterator

from planopt.audit.books import Books
from planopt.audit.findings import Finding, show
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


def _energy_windows(books: Books, client: Client) -> list[Window]:
    tables = [client.windows_per_day]
    tables += [
        windows for day, windows in client.windows_on_days.items() if day <= books.scenario.days
    ]
    return [windows[ENERGY] for windows in tables if ENERGY in windows]


def _check_energy(books: Books, client: Client) -> Iterator[Finding]:
    windows = _energy_windows(books, client)
    floors = [window.min for window in windows if window.min is not None]
    limits = floors + [window.max for window in windows if window.max is not None]
    lowest = min(limits, default=None)
    if lowest is not None and lowest < SUPERVISED_BELOW_KCAL and not client.medically_supervised:
        wanted = f"no day window below {SUPERVISED_BELOW_KCAL} kcal without medical supervision"
        yield Finding("energy-floor", client.client_id, wanted, show(lowest))
    if any(least < CAUTION_BELOW_KCAL for least in floors):
        level = str(CAUTION_BELOW_KCAL)
        about = [text for text in books.plan.cautions if level in re.sub(r"[\s,.]", "", text)]
        people = (client.name, client.client_id)
        if not any(_names(text, person) for text in about for person in people):
            wanted = f"a caution naming {client.name} and {level} kcal"
            yield Finding("cautions", "cautions", wanted, "none")


def _unknown_nutrients(books: Books) -> list[str]:
    """Return nutrients with a window whose amount some food that may be eaten does not tell."""
    unknown = set()
    for client in books.scenario.clients:
        tables = [client.windows_per_day, client.windows_per_week]
        tables += client.windows_on_days.values()
        windows = [item for table in tables for item in table.items()]
        asked = {name for name, one in windows if one.min is not None or one.max is not None}
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
            pack.food_id == food_id
            and pack.currency == scenario.currency
            and (scenario.sellers is None or pack.seller_id in scenario.sellers)
            for pack in books.catalog.packs.values()
        )
    )
