"""Checks of what a week is to be: days between dishes, meals that share a dish, and ratings."""

from __future__ import annotations

from collections.abc import Iterator

from planopt.faults import Fault, nearest
from planopt.scenario.checks.subject import Check, Checking, Path
from planopt.scenario.samedish import SameDish, joined, tied_by


def recipes_of_week(c: Checking) -> Iterator[Fault]:
    """Days between and ratings name recipes, and recipes are no fewer than more of them."""
    named: list[tuple[Path, str]] = [
        (("days_between_of", recipe), recipe) for recipe in c.scenario.days_between_of
    ]
    for path, client in c.clients():
        for name in ("days_between_of", "ratings"):
            named += [((*path, name, recipe), recipe) for recipe in getattr(client, name)]
        yield from _liked(c, path, client.ratings)
        least, most = client.least_different_recipes, client.most_different_recipes
        if most is not None and least > most:
            yield c.fault(
                (*path, "least_different_recipes"),
                least,
                f"most_different_recipes allows at most {most}",
                "correct one of the two",
                "range_reversed",
            )
    for recipe_path, recipe in named:
        yield from c.unknown("recipes", recipe_path, recipe)


def _liked(c: Checking, path: Path, ratings: object) -> Iterator[Fault]:
    if c.scenario.most_dishes_per_meal == 1 or not isinstance(ratings, dict):
        return
    for recipe, rating in ratings.items():
        if rating > 0:
            yield c.fault(
                (*path, "ratings", recipe),
                rating,
                "where a meal may have several dishes, each that is liked less is dearer, and "
                "none is cheaper",
                "rate what is liked less below 0 instead",
                "rating_above_zero",
            )


def meals_that_share(c: Checking) -> Iterator[Fault]:
    """Every entry names what there is, says how, ties something, and nothing within a day."""
    named_well = True
    for index, row in enumerate(c.scenario.same_dish):
        path: Path = ("same_dish", index)
        found = list(_names(c, path, row)) + list(_how(c, path, row))
        named_well = named_well and not found
        yield from found
        alone = row.across == "clients" and not row.clients and len(c.scenario.clients) == 1
        if not found and not alone and not any(tied_by(c.scenario, row)):
            yield c.fault(
                path,
                ", ".join(row.meals),
                "it ties nothing: there are no two such meals that are eaten from this kitchen",
                "correct meals, days or clients, or remove the entry",
                "same_dish_of_one",
            )
    if named_well and c.scenario.most_dishes_per_meal != "any":
        yield from _within_a_day(c)


def _names(c: Checking, path: Path, row: SameDish) -> Iterator[Fault]:
    meals: list[tuple[Path, str]] = [((*path, "meals", n), m) for n, m in enumerate(row.meals)]
    if row.as_meal is not None:
        meals.append(((*path, "as_meal"), row.as_meal))
    clients = [client.client_id for client in c.scenario.clients]
    for what, found, known in (
        ("meal", meals, list(c.scenario.meals)),
        ("client", [((*path, "clients", n), who) for n, who in enumerate(row.clients)], clients),
    ):
        for place, word in found:
            if word not in known:
                why = f"the scenario has no such {what}"
                yield c.fault(place, word, why, nearest(word, known), f"unknown_{what}")
    for n, day in enumerate(row.days):
        if day > c.scenario.days:
            yield c.fault(
                (*path, "days", n),
                day,
                f"the plan ends with day {c.scenario.days}",
                f"write a day up to {c.scenario.days}, or plan more days",
                "day_beyond_plan",
            )


def _how(c: Checking, path: Path, row: SameDish) -> Iterator[Fault]:
    if (row.across is None) == (row.as_meal is None):
        yield c.fault(
            path,
            ", ".join(row.meals),
            "meals share a dish across days or clients, or have that of an earlier meal",
            "write one of across and as_meal",
            "same_dish_how",
        )
    elif row.as_meal is None and row.days_before is not None:
        yield c.fault(
            (*path, "days_before"),
            row.days_before,
            "days_before belongs to as_meal",
            "remove days_before, or write as_meal in place of across",
            "same_dish_how",
        )


def _within_a_day(c: Checking) -> Iterator[Fault]:
    sets = [plates for row in c.scenario.same_dish for plates in tied_by(c.scenario, row)]
    told: set[str] = set()
    for plates in joined(sets):
        days: dict[tuple[str, int], str] = {}
        for who, day, meal in plates:
            other = days.setdefault((who, day), meal)
            if other != meal and who not in told:
                told.add(who)
                yield c.fault(
                    ("same_dish",),
                    f"{who}, day {day}",
                    f"taken together, {other} and {meal} would be one dish, which comes once a day",
                    "leave out one of the entries that tie these meals, or some of its days",
                    "same_dish_same_day",
                )


WEEK_CHECKS: tuple[Check, ...] = (recipes_of_week, meals_that_share)
