"""Checks of what is settled by hand: it names what there is, and can be served and cooked."""

from __future__ import annotations

from collections.abc import Iterator

from planopt.catalog.records import Recipe
from planopt.faults import Fault, nearest
from planopt.scenario.byhand import BoughtPacks, CookedBatches, PlateRule
from planopt.scenario.checks.diet import may_eat
from planopt.scenario.checks.subject import Check, Checking, Path, listed_twice
from planopt.scenario.records import Client

_EPS = 1e-9
_STEPS = {"whole": 1.0, "half": 0.5}


def plates_by_hand(c: Checking) -> Iterator[Fault]:
    """Every rule of plates names what there is, and covers plates that can have its dish."""
    for index, rule in enumerate(c.scenario.by_hand.plates):
        path: Path = ("by_hand", "plates", index)
        found = list(_names(c, path, rule))
        yield from found
        if not found and c.complete:
            yield from _plates(c, path, rule)
    if c.scenario.by_hand.plates:
        yield from _crowded(c)


def _names(c: Checking, path: Path, rule: PlateRule) -> Iterator[Fault]:
    if (rule.put is None) == (rule.without is None):
        yield c.fault(
            path,
            rule.put or "",
            "a rule either puts a recipe on plates or keeps one off",
            "write one of put and without",
            "put_or_without",
        )
    side = "put" if rule.put is not None else "without"
    if rule.recipe:
        yield from c.unknown("recipes", (*path, side), rule.recipe)
    for name in ("version", "cook_day", "servings"):
        if rule.put is None and getattr(rule, name) is not None:
            yield c.fault(
                (*path, name),
                getattr(rule, name),
                f"{name} belongs to a dish that is put on a plate",
                f"remove {name}, or write put in place of without",
                "put_or_without",
            )
    clients = [client.client_id for client in c.scenario.clients]
    if rule.client is not None and rule.client not in clients:
        yield _unknown(c, (*path, "client"), rule.client, clients, "client")
    if rule.meal is not None and rule.meal not in c.scenario.meals:
        yield _unknown(c, (*path, "meal"), rule.meal, list(c.scenario.meals), "meal")
    if rule.day is not None and rule.day > c.scenario.days:
        yield _beyond(c, (*path, "day"), rule.day)
    if rule.cook_day is not None:
        yield from _cook_day(c, (*path, "cook_day"), rule.cook_day)


def _unknown(c: Checking, path: Path, word: str, known: list[str], what: str) -> Fault:
    why = f"the scenario has no such {what}"
    return c.fault(path, word, why, nearest(word, known), f"unknown_{what}")


def _beyond(c: Checking, path: Path, day: int) -> Fault:
    return c.fault(
        path,
        day,
        f"the plan ends with day {c.scenario.days}",
        f"write a day up to {c.scenario.days}, or plan more days",
        "day_beyond_plan",
    )


def _cook_day(c: Checking, path: Path, day: int) -> Iterator[Fault]:
    cooking = sorted(
        {cook.day for cook in c.scenario.cook_days}
        | {c.scenario.day_number(one.cooked_on) for one in c.scenario.ready_portions}
    )
    if day not in cooking:
        yield c.fault(
            path,
            day,
            "nothing is cooked on this day",
            f"use one of: {', '.join(map(str, cooking))}",
            "unknown_cook_day",
        )


def _covered(c: Checking, rule: PlateRule) -> list[tuple[Client, int, str]]:
    """Return the plates that a rule covers; of no meal named, those that the recipe is for."""
    recipe = c.catalog.recipes.get(rule.recipe)
    return [
        (client, day, meal)
        for client in c.scenario.clients
        for day in range(1, c.scenario.days + 1)
        for meal in c.scenario.meals_of(client, day)
        if rule.covers(client.client_id, day, meal)
        and (rule.meal is not None or recipe is None or meal in recipe.meals)
    ]


def _plates(c: Checking, path: Path, rule: PlateRule) -> Iterator[Fault]:
    recipe = c.catalog.recipes[rule.recipe]
    plates = _covered(c, rule)
    if not plates:
        yield c.fault(
            path,
            rule.recipe,
            "no plate of the plan is meant: nobody eats such a meal from this kitchen then",
            "correct client, day or meal, or remove the rule",
            "no_plate_meant",
        )
    if rule.put is None:
        return
    if rule.meal is None:
        yield c.fault(
            path,
            rule.put,
            "a dish is put on one meal of a day, and no meal is named",
            f"add meal: with one of: {', '.join(recipe.meals)}",
            "put_without_meal",
        )
        return
    if rule.meal not in recipe.meals:
        yield c.fault(
            (*path, "meal"),
            rule.meal,
            f"{rule.put} is for {', '.join(recipe.meals)}",
            f"put it on such a meal, or add {rule.meal} to the meals of the recipe",
            "put_at_wrong_meal",
        )
    choice = c.scenario.recipes
    if rule.put in choice.exclude or (choice.include and rule.put not in choice.include):
        yield c.fault(
            (*path, "put"),
            rule.put,
            "recipes of this scenario leaves it out",
            "let recipes have it, or put another one",
            "put_left_out",
        )
    yield from _too_soon(c, path, rule, plates)
    eaters = {client.client_id: client for client, _, _ in plates}
    for who in sorted(eaters):
        yield from _eater(c, path, rule, recipe, eaters[who])


def _too_soon(
    c: Checking, path: Path, rule: PlateRule, plates: list[tuple[Client, int, str]]
) -> Iterator[Fault]:
    for client, day, _ in plates:
        days = c.scenario.not_again_of(client)
        last = client.eaten_before.get(str(rule.put))
        if days is not None and last and (c.scenario.date_of(day) - last).days <= days:
            yield c.fault(
                (*path, "put"),
                rule.put,
                f"{client.client_id} had it on {last}, and gets nothing again within {days} days",
                "put it later, lower not_again_days, or put another recipe",
                "put_too_soon",
            )
            return


def _eater(
    c: Checking, path: Path, rule: PlateRule, recipe: Recipe, client: Client
) -> Iterator[Fault]:
    who = client.client_id
    if not may_eat(c.catalog, client, recipe):
        yield c.fault(
            (*path, "put"),
            rule.put,
            f"every version of it has something that {who} must not eat",
            "name the clients who may eat it, one rule each, or put another recipe",
            "put_excluded",
        )
    portions = client.portions
    if rule.servings is None:
        return
    steps = 0.0 if portions.step == "any" else rule.servings / portions.step
    low, high = portions.smallest - _EPS, portions.largest + _EPS
    if not low <= rule.servings <= high or abs(steps - round(steps)) > 1e-6:
        step = "" if portions.step == "any" else f" in steps of {portions.step:g}"
        yield c.fault(
            (*path, "servings"),
            f"{rule.servings:g}",
            f"{who} has {portions.smallest:g} to {portions.largest:g} servings{step}",
            "write such an amount, or change the portions of the client",
            "put_portion",
        )


def _crowded(c: Checking) -> Iterator[Fault]:
    """No plate has more dishes put than a meal may have, and none that is kept off it."""
    hand, most = c.scenario.by_hand, c.scenario.most_dishes_per_meal
    for client in c.scenario.clients:
        for day in range(1, c.scenario.days + 1):
            for meal in c.scenario.meals_of(client, day):
                puts = hand.puts_on(client.client_id, day, meal)
                recipes = {str(rule.put) for rule in puts}
                off = hand.kept_off(client.client_id, day, meal)
                where = f"{client.client_id}, day {day}, {meal}"
                if most != "any" and len(recipes) > most:
                    yield c.fault(
                        ("by_hand", "plates"),
                        where,
                        f"{len(recipes)} dishes are put there: {', '.join(sorted(recipes))}",
                        f"a meal has at most {most}: remove the others",
                        "plate_crowded",
                    )
                if recipes & off:
                    yield c.fault(
                        ("by_hand", "plates"),
                        where,
                        f"{min(recipes & off)} is both put there and kept off",
                        "remove one of the two rules",
                        "plate_crowded",
                    )


def done_by_hand(c: Checking) -> Iterator[Fault]:
    """What is bought and cooked already is sold and cooked in this kitchen, on days it has."""
    hand = c.scenario.by_hand
    if hand.from_day is not None and hand.from_day > c.scenario.days:
        yield _beyond(c, ("by_hand", "from_day"), hand.from_day)
    seen: set[tuple[object, ...]] = set()
    for index, row in enumerate(hand.bought):
        path: Path = ("by_hand", "bought", index)
        yield from listed_twice(c, path, seen, (row.pack, row.day))
        yield from _bought(c, path, row)
    for index, batch in enumerate(hand.cooked):
        path = ("by_hand", "cooked", index)
        yield from listed_twice(c, path, seen, (batch.recipe, batch.version, batch.day))
        yield from c.unknown("recipes", (*path, "recipe"), batch.recipe)
        yield from _cook_day(c, (*path, "day"), batch.day)
        if batch.recipe in c.catalog.recipes:
            yield from _cooked(c, path, batch, c.catalog.recipes[batch.recipe])


def _bought(c: Checking, path: Path, row: BoughtPacks) -> Iterator[Fault]:
    days = c.scenario.shopping_days()
    if row.day not in days:
        yield c.fault(
            (*path, "day"),
            row.day,
            "nothing is bought on this day",
            f"use one of: {', '.join(map(str, days))}",
            "unknown_shop_day",
        )
    if not c.complete:
        return
    sellers = c.scenario.sellers
    sold = {
        pack.pack_id: pack
        for pack in c.catalog.packs.values()
        if pack.currency == c.scenario.currency and (sellers is None or pack.seller_id in sellers)
    }
    if row.pack not in sold:
        yield c.fault(
            (*path, "pack"),
            row.pack,
            "no seller of the scenario has such a pack",
            nearest(row.pack, sold),
            "unknown_pack",
        )
    elif sold[row.pack].sold != "any" and row.count != round(row.count):
        yield c.fault(
            (*path, "count"),
            f"{row.count:g}",
            "this food is sold in whole packs",
            "write a whole number",
            "not_a_whole_number",
        )


def _cooked(c: Checking, path: Path, batch: CookedBatches, recipe: Recipe) -> Iterator[Fault]:
    step = _STEPS.get(recipe.batch.step)
    if step is not None and abs(batch.batches / step - round(batch.batches / step)) > 1e-6:
        yield c.fault(
            (*path, "batches"),
            f"{batch.batches:g}",
            f"{batch.recipe} is cooked in steps of {step:g} of a batch",
            "write such an amount; what was lost of it goes into lost",
            "batch_step_missed",
        )
    made = batch.batches * recipe.yield_servings
    if batch.lost > made + _EPS:
        yield c.fault(
            (*path, "lost"),
            f"{batch.lost:g}",
            f"there were {made:g} servings",
            "write at most as many",
            "out_of_range",
        )


BY_HAND_CHECKS: tuple[Check, ...] = (plates_by_hand, done_by_hand)
