"""The order of the week: shared dishes, days between, and recipes at most, from the plan alone."""

from __future__ import annotations

from collections import defaultdict
from collections.abc import Iterable, Iterator
from itertools import combinations

from planopt.audit.books import Books
from planopt.audit.findings import Finding
from planopt.scenario.records import Client

# Client, day, meal.
Plate = tuple[str, int, str]


def check_week(books: Books) -> Iterator[Finding]:
    """Check what the scenario asks of the order of meals, and of recipes at most."""
    served: defaultdict[Plate, set[str]] = defaultdict(set)
    for row in books.plan.portions:
        served[row.client_id, row.day, row.meal].add(row.recipe_id)
    for place in range(len(books.scenario.same_dish)):
        for first, second in tied_pairs(books, place):
            if served[first] != served[second]:
                where = f"{_name(first)} and {_name(second)}"
                found = " and ".join(", ".join(sorted(served[p])) for p in (first, second))
                yield Finding("same-dish", where, "one dish", found)
    for client in books.scenario.clients:
        yield from _check_apart(books, client, served)
        mine = {row.recipe_id for row in books.plan.portions if row.client_id == client.client_id}
        most = client.most_different_recipes
        if most is not None and len(mine) > most:
            yield Finding(
                "most-different", client.client_id, f"at most {most} recipes", str(len(mine))
            )
    cooked = {row.recipe_id for row in books.plan.batches}
    limit = books.scenario.most_recipes
    if limit is not None and len(cooked) > limit:
        yield Finding("most-recipes", "plan", f"at most {limit} recipes", str(len(cooked)))


def _name(plate: Plate) -> str:
    return f"{plate[0]} day {plate[1]} {plate[2]}"


def tied_pairs(books: Books, place: int) -> Iterator[tuple[Plate, Plate]]:
    """Yield pairs of plates that an entry ties, each plate with the first of its kind."""
    scenario = books.scenario
    entry = scenario.same_dish[place]
    firsts: dict[object, Plate] = {}
    for client in scenario.clients:
        who = client.client_id
        if entry.clients and who not in entry.clients:
            continue
        for day in range(1, scenario.days + 1):
            if entry.days and day not in entry.days:
                continue
            for meal in set(entry.meals) & set(scenario.meals_of(client, day)):
                plate = (who, day, meal)
                if entry.as_meal is not None:
                    before = day - (entry.days_before or 1)
                    if before >= 1 and entry.as_meal in scenario.meals_of(client, before):
                        yield (who, before, entry.as_meal), plate
                    continue
                kind = {"days": (who, meal), "clients": (day, meal)}.get(entry.across or "", meal)
                if kind in firsts:
                    yield firsts[kind], plate
                else:
                    firsts[kind] = plate


def tied_together(books: Books) -> dict[Plate, int]:
    """Return a number for each tied plate: plates that must share a dish have the same one."""
    number: dict[Plate, int] = {}
    for place in range(len(books.scenario.same_dish)):
        for first, second in tied_pairs(books, place):
            one = number.setdefault(first, len(number) + 1)
            other = number.setdefault(second, one)
            number = {plate: one if n == other else n for plate, n in number.items()}
    return number


def meals_counted(books: Books, client: Client, meals: Iterable[tuple[int, str]]) -> int:
    """Return how many meals of one dish count: those that are tied count once."""
    tied = tied_together(books) if books.scenario.same_dish else {}
    who = client.client_id
    return len({tied.get((who, *meal), meal) for meal in meals})


def _check_apart(books: Books, client: Client, served: dict[Plate, set[str]]) -> Iterator[Finding]:
    scenario, who = books.scenario, client.client_id
    usual = client.days_between if client.days_between is not None else scenario.days_between
    tied = tied_together(books)
    eaten: defaultdict[str, list[Plate]] = defaultdict(list)
    for plate, recipes in sorted(served.items()):
        for recipe_id in recipes if plate[0] == who else ():
            eaten[recipe_id].append(plate)
    for recipe_id, plates in sorted(eaten.items()):
        least = scenario.days_between_of.get(recipe_id, usual)
        least = client.days_between_of.get(recipe_id, least)
        for one, other in combinations(plates, 2):
            if one in tied and tied[one] == tied.get(other):
                continue
            between = abs(other[1] - one[1]) - 1
            if least and between < least:
                where = f"{_name(one)} and day {other[1]} {other[2]}: {recipe_id}"
                found = "the same day" if between < 0 else str(between)
                yield Finding("days-between", where, f"at least {least} days between", found)
