"""What a week is asked to be, from the scenario's data alone: shared dishes, days between."""

from __future__ import annotations

from collections import defaultdict
from collections.abc import Mapping, Sequence
from fractions import Fraction
from typing import Any

Plate = tuple[str, int, str]
# Recipes of each plate of one client.
Eaten = Mapping[Plate, frozenset[str]]


def _alike(row: Mapping[str, Any], a: Plate, b: Plate) -> bool:
    """Tell whether an entry makes two plates one dish; of `as_meal` b is the earlier one."""
    if not all(plate[0] in row.get("clients", (plate[0],)) for plate in (a, b)):
        return False
    if a[2] not in row["meals"] or a[1] not in row.get("days", (a[1],)):
        return False
    if "as_meal" in row:
        return b == (a[0], a[1] - row.get("days_before", 1), row["as_meal"])
    if b[2] != a[2] or b[1] not in row.get("days", (b[1],)):
        return False
    return {"days": a[0] == b[0], "clients": a[1] == b[1], "both": True}[row["across"]]


def tied_sets(scenario: Mapping[str, Any], plates: Sequence[Plate]) -> dict[Plate, int]:
    """Return a number for each plate; those that must have one dish share it."""
    number = {plate: n for n, plate in enumerate(plates)}
    for row in scenario.get("same_dish", ()):
        for a in plates:
            for b in plates:
                if a != b and _alike(row, a, b):
                    old, new = number[b], number[a]
                    number = {p: new if n == old else n for p, n in number.items()}
    return number


def order_kept(
    scenario: Mapping[str, Any], client: Mapping[str, Any], eaten: Eaten, sets: Any
) -> bool:
    """Tell whether one client's week keeps ties, days between, repeats and recipes at most."""
    counted: defaultdict[str, set[int]] = defaultdict(set)
    for a, mine in eaten.items():
        for recipe in mine:
            counted[recipe].add(sets[a])
        for b, other in eaten.items():
            if a != b and sets[a] == sets[b] and mine != other:
                return False
            for recipe in mine & other if sets[a] != sets[b] else ():
                if a[1] - b[1] in range(1, _between(scenario, client, recipe) + 1):
                    return False
    repeats, most = client["most_repeats"], client.get("most_different_recipes")
    if repeats is not None and any(len(meals) > repeats for meals in counted.values()):
        return False
    return most is None or len(counted) <= most


def _between(scenario: Mapping[str, Any], client: Mapping[str, Any], recipe: str) -> int:
    usual = client.get("days_between", scenario.get("days_between", 0))
    named = {**scenario.get("days_between_of", {}), **client.get("days_between_of", {})}
    return int(named.get(recipe, usual))


def liked_less(client: Mapping[str, Any], recipe: str) -> Fraction:
    """Return cents for a portion of a recipe that is no favourite."""
    ratings = {name: Fraction(str(value)) for name, value in client.get("ratings", {}).items()}
    return 100 * (max([Fraction(0), *ratings.values()]) - ratings.get(recipe, Fraction(0)))
