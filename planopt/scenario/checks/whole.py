"""Checks of a scenario against itself and against its catalog.

Each check is a plain function of one `Checking`. When the catalog itself is at fault, ids are
still checked as far as they are known; what needs whole recipes or packs is left out.
"""

from __future__ import annotations

from collections.abc import Iterator, Mapping
from decimal import Decimal

from planopt.catalog.nearwords import nearest_served
from planopt.catalog.records import Catalog
from planopt.faults import Fault, nearest
from planopt.scenario.checks.byhand import BY_HAND_CHECKS
from planopt.scenario.checks.diet import may_eat, never_eaten
from planopt.scenario.checks.floors import energy_floor_held
from planopt.scenario.checks.guards import nutrient_guards
from planopt.scenario.checks.meals import MEAL_CHECKS
from planopt.scenario.checks.numbers import NUMBER_CHECKS
from planopt.scenario.checks.pastplans import PAST_CHECKS
from planopt.scenario.checks.patterns import PATTERN_CHECKS
from planopt.scenario.checks.prices import PRICE_CHECKS
from planopt.scenario.checks.ready import READY_CHECKS
from planopt.scenario.checks.stock import STOCK_CHECKS
from planopt.scenario.checks.subject import Check, Checking, Locate, Path
from planopt.scenario.checks.weekrules import WEEK_CHECKS
from planopt.scenario.records import Client, Scenario, ServingWindow, Window
from planopt.units import minor_digits, to_minor

YEARS = (1900, 2200)


def check_scenario(
    scenario: Scenario,
    catalog: Catalog,
    locate: Locate,
    known: Mapping[str, frozenset[str] | None] | None = None,
    complete: bool = True,
    checks: tuple[Check, ...] | None = None,
) -> list[Fault]:
    """Return all faults of a scenario; `locate` finds the place of a path in its file.

    `checks` are by default all of them; `STOCK_CHECKS` are those that look at stock alone.
    """
    checks = CHECKS if checks is None else checks
    if known is None:
        known = {table: frozenset(getattr(catalog, table)) for table in REFERRED}
    checking = Checking(scenario, catalog, locate, known, complete)
    return sorted({fault for check in checks for fault in check(checking)})


REFERRED = ("nutrients", "allergens", "foods", "recipes", "sellers")


def unknown_ids(c: Checking) -> Iterator[Fault]:
    """Every id of the catalog that the scenario names must exist."""
    for index, seller in enumerate(c.scenario.sellers or ()):
        yield from c.unknown("sellers", ("sellers", index), seller)
    for index, recipe in enumerate(c.scenario.recipes.include):
        yield from c.unknown("recipes", ("recipes", "include", index), recipe)
    for index, recipe in enumerate(c.scenario.recipes.exclude):
        yield from c.unknown("recipes", ("recipes", "exclude", index), recipe)
    for path, client in c.clients():
        for index, allergen in enumerate(client.allergens):
            yield from c.unknown("allergens", (*path, "allergens", index), allergen)
        for index, food in enumerate(client.excluded_foods):
            yield from c.unknown("foods", (*path, "excluded_foods", index), food)
        for index, recipe in enumerate(client.excluded_recipes):
            yield from c.unknown("recipes", (*path, "excluded_recipes", index), recipe)
        for food in client.dislikes:
            yield from c.unknown("foods", (*path, "dislikes", food), food)
        for food in client.wants:
            yield from c.unknown("foods", (*path, "wants", food), food)
        for recipe in client.recipe_servings:
            yield from c.unknown("recipes", (*path, "recipe_servings", recipe), recipe)
        for window_path, _ in _windows(path, client):
            yield from c.unknown_amount(window_path, str(window_path[-1]))


def _windows(path: Path, client: Client) -> Iterator[tuple[Path, Window]]:
    for nutrient, window in client.windows_per_day.items():
        yield (*path, "windows_per_day", nutrient), window
    for name, windows in client.day_patterns.items():
        for nutrient, window in windows.items():
            yield (*path, "day_patterns", name, nutrient), window
    for day, windows in client.windows_on_days.items():
        for nutrient, window in windows.items():
            yield (*path, "windows_on_days", day, nutrient), window
    for nutrient, window in client.windows_per_week.items():
        yield (*path, "windows_per_week", nutrient), window


def unknown_meals(c: Checking) -> Iterator[Fault]:
    """Meals are those of the scenario, each listed once."""
    meals = c.scenario.meals
    named: list[tuple[Path, str]] = []
    for index, meal in enumerate(meals):
        if meal in meals[:index]:
            yield c.fault(
                ("meals", index),
                meal,
                "the meal is listed twice",
                "remove one of the two",
                "duplicate_meal",
            )
    for index, cook in enumerate(c.scenario.cook_days):
        if cook.ready_for not in (None, "next_day"):
            named.append((("cook_days", index, "ready_for"), str(cook.ready_for)))
    for path, client in c.clients():
        named += [((*path, "meals", index), meal) for index, meal in enumerate(client.meals or ())]
        named += [
            ((*path, "away", "meals", day, index), meal)
            for day, skipped in client.away.meals.items()
            for index, meal in enumerate(skipped)
        ]
    for meal_path, meal in named:
        if meal not in meals:
            yield c.fault(
                meal_path,
                meal,
                "the scenario has no such meal",
                nearest(meal, meals),
                "unknown_meal",
            )


def reversed_windows(c: Checking) -> Iterator[Fault]:
    """No window has its min above its max, and nothing is wanted more often than allowed."""
    for path, client in c.clients():
        pairs: list[tuple[Path, Window | ServingWindow]] = [*_windows(path, client)]
        pairs += [
            ((*path, "recipe_servings", recipe), window)
            for recipe, window in client.recipe_servings.items()
        ]
        for window_path, window in pairs:
            if window.min is not None and window.max is not None and window.min > window.max:
                yield c.fault(
                    (*window_path, "min"),
                    f"{window.min:g}",
                    f"min is above max, {window.max:g}",
                    "swap or correct the two",
                    "range_reversed",
                )
        for least_name, most_name in (
            ("wants", "dislikes"),
            ("least_meals_of", "most_meals_of"),
            ("least_meals_with", "most_meals_with"),
        ):
            allowed = getattr(client, most_name)
            for what, least in getattr(client, least_name).items():
                if what in allowed and least > allowed[what]:
                    yield c.fault(
                        (*path, least_name, what),
                        least,
                        f"{most_name} allows {what} in at most {allowed[what]} meals",
                        "correct one of the two",
                        "range_reversed",
                    )


def meals_of_groups(c: Checking) -> Iterator[Fault]:
    """A group is one that a recipe of the catalog has."""
    known = {group for recipe in c.catalog.recipes.values() for group in recipe.groups}
    for path, client in c.clients():
        for name in ("most_meals_of", "least_meals_of"):
            for group in getattr(client, name) if c.complete else ():
                if group not in known:
                    yield c.fault(
                        (*path, name, group),
                        group,
                        "no recipe of the catalog has this group",
                        nearest(group, known) if known else f"write `groups: [{group}]` in recipes",
                        "unknown_recipe_group",
                    )


def meals_with_food_groups(c: Checking) -> Iterator[Fault]:
    """A food group is one that a food of the catalog is in."""
    known = c.catalog.food_groups
    for path, client in c.clients():
        for name in ("most_meals_with", "least_meals_with"):
            for group in getattr(client, name) if c.complete else ():
                if group not in known:
                    yield c.fault(
                        (*path, name, group),
                        group,
                        "no food of the catalog is in this group",
                        nearest(group, known) if known else "fill `groups` in foods.csv",
                        "unknown_food_group",
                    )


def duplicate_clients(c: Checking) -> Iterator[Fault]:
    """Client ids are unique."""
    seen: set[str] = set()
    for path, client in c.clients():
        if client.client_id in seen:
            yield c.fault(
                (*path, "id"),
                client.client_id,
                "another client has this id already",
                "give this client another id",
                "duplicate_id",
            )
        seen.add(client.client_id)


def days_of_plan(c: Checking) -> Iterator[Fault]:
    """Day numbers lie within the plan, and the calendar can hold it."""
    last = c.scenario.days
    if not YEARS[0] <= c.scenario.start_date.year <= YEARS[1]:
        yield c.fault(
            ("start_date",),
            c.scenario.start_date,
            f"the year must be from {YEARS[0]} to {YEARS[1]}",
            "correct the date",
            "out_of_range",
        )
    days: list[tuple[Path, int]] = []
    for index, shop in enumerate(c.scenario.shop_days or ()):
        days.append((("shop_days", index), shop))
    for path, client in c.clients():
        days += [((*path, "away", "days", i), day) for i, day in enumerate(client.away.days)]
        days += [((*path, "away", "meals", day), day) for day in client.away.meals]
        days += [((*path, "windows_on_days", day), day) for day in client.windows_on_days]
        days += [
            ((*path, "pattern_days", name, i), day)
            for name, named in client.pattern_days.items()
            for i, day in enumerate(named)
        ]
    cooking = [cook.day for cook in c.scenario.cook_days]
    if min(cooking) > last:
        yield c.fault(
            ("cook_days",),
            ", ".join(str(day) for day in cooking),
            f"every cook day is after day {last}, the last of the plan",
            "cook on an earlier day, or plan more days",
            "cook_days_after_plan",
        )
    else:
        days += [(("cook_days", i, "day"), day) for i, day in enumerate(cooking)]
    for day_path, day in days:
        if day > last:
            yield c.fault(
                day_path,
                day,
                f"the plan ends with day {last}",
                f"write a day up to {last}, or plan more days",
                "day_beyond_plan",
            )


def cooking_and_shopping(c: Checking) -> Iterator[Fault]:
    """Cook days differ, and something can be bought before the first of them."""
    cooking = [cook.day for cook in c.scenario.cook_days]
    for index, day in enumerate(cooking):
        if day in cooking[:index]:
            yield c.fault(
                ("cook_days", index, "day"),
                day,
                "this cook day is listed twice",
                "merge the two entries",
                "duplicate_day",
            )
    first_shop = c.scenario.shopping_days()[0]
    # With food in stock the first cook day may be fed from it alone.
    if first_shop > min(cooking) and not (
        c.scenario.stock or c.scenario.stock_files or c.scenario.stock_folder
    ):
        yield c.fault(
            ("shop_days",),
            ", ".join(str(day) for day in c.scenario.shopping_days()),
            f"the first cook day is day {min(cooking)}, before any shopping",
            f"add a shop day on day {min(cooking)} or earlier",
            "shop_after_cooking",
        )


def money(c: Checking) -> Iterator[Fault]:
    """Money has the decimals of the currency, and something is sold in it."""
    currency = c.scenario.currency
    amounts: list[tuple[tuple[str | int, ...], Decimal | None]] = [
        (("visit_cost",), c.scenario.visit_cost),
        (("budget",), c.scenario.budget),
        *(((*path, "nutrient_price"), client.nutrient_price) for path, client in c.clients()),
    ]
    for place, amount in amounts:
        try:
            if amount is not None:
                to_minor(amount, currency)
        except ValueError:
            yield c.fault(
                place,
                amount,
                f"{currency} has {minor_digits(currency)} decimals",
                "round the amount",
                "money_decimals",
            )
    sellers = c.scenario.sellers
    sold = [pack for pack in c.catalog.packs.values() if pack.currency == currency]
    if not c.complete:
        return
    if not sold:
        yield c.fault(
            ("currency",),
            currency,
            "no pack of the catalog has a price in this currency",
            nearest(currency, {pack.currency for pack in c.catalog.packs.values()}),
            "currency_without_packs",
        )
    elif sellers is not None and not any(pack.seller_id in sellers for pack in sold):
        yield c.fault(
            ("sellers",),
            ", ".join(sellers),
            f"none of these sellers has a pack in {currency}",
            nearest("", {pack.seller_id for pack in sold}),
            "currency_without_packs",
        )


def meals_with_recipes(c: Checking) -> Iterator[Fault]:
    """Every meal that a client eats has a recipe that this client may eat."""
    choice = c.scenario.recipes
    if not c.complete or set(choice.include) - set(c.catalog.recipes):
        return
    usable = [
        recipe
        for recipe in c.catalog.recipes.values()
        if (not choice.include or recipe.recipe_id in choice.include)
        and recipe.recipe_id not in choice.exclude
    ]
    known = [meal for recipe in c.catalog.recipes.values() for meal in recipe.meals]
    slips: set[str] = set()
    suited: dict[object, bool] = {}
    for path, client in c.clients():
        for place, meal in enumerate(c.scenario.meals):
            if not _eats(c, client, meal):
                continue
            meant = None if meal in known else nearest_served(meal, known)
            if meant is not None:
                if meal not in slips:
                    slips.add(meal)
                    why, mend = (
                        "no recipe of the catalog is for such a meal",
                        f"did you mean {meant!r}?",
                    )
                    yield c.fault(("meals", place), meal, why, mend, "unknown_meal")
                continue
            served = [recipe for recipe in usable if meal in recipe.meals]
            key = (meal, *never_eaten(client))
            if key not in suited:
                suited[key] = any(may_eat(c.catalog, client, recipe) for recipe in served)
            if not suited[key]:
                yield _without_recipe(c, path, client, meal, len(served))


def _eats(c: Checking, client: Client, meal: str) -> bool:
    return any(meal in c.scenario.meals_of(client, day) for day in range(1, c.scenario.days + 1))


def _without_recipe(c: Checking, path: Path, client: Client, meal: str, served: int) -> Fault:
    why = (
        f"none of the usable recipes for {meal} ({served}) suits the allergens and"
        f" exclusions of {client.client_id}"
        if served
        else f"no usable recipe is for {meal}"
    )
    return c.fault(
        path,
        f"{client.client_id}, {meal}",
        why,
        f"add a recipe for {meal} that suits, or leave {meal} out of this client's meals",
        "meal_without_recipe",
    )


def label_sheet(c: Checking) -> Iterator[Fault]:
    """Labels that do not fit on their page."""
    for field, value, why, mend in c.scenario.label_sheet.misfits():
        yield c.fault(("label_sheet", field), value, why, mend, "label_sheet_misfit")


CHECKS: tuple[Check, ...] = (
    unknown_ids,
    unknown_meals,
    reversed_windows,
    meals_of_groups,
    meals_with_food_groups,
    *PATTERN_CHECKS,
    duplicate_clients,
    days_of_plan,
    cooking_and_shopping,
    *STOCK_CHECKS,
    *NUMBER_CHECKS,
    *MEAL_CHECKS,
    *PRICE_CHECKS,
    energy_floor_held,
    nutrient_guards,
    money,
    meals_with_recipes,
    *BY_HAND_CHECKS,
    *WEEK_CHECKS,
    *READY_CHECKS,
    *PAST_CHECKS,
    label_sheet,
)
