"""Versions at hand: of a recipe with very many versions, those worth planning with.

A recipe with thirty optional lines has a billion versions. Plans are made of a few: for whoever may
eat different things, the cheapest, the fullest, the leanest, and those that give most of each
nutrient with a window for their cost. A price for every food and nutrient decides line by line, so
none is sought among all. The others are left out of plans and never out of the bound: the outline
of the recipe stands for every version there (`problem.build`).
"""

from __future__ import annotations

from collections.abc import Callable, Iterable, Iterator, Mapping, Sequence
from dataclasses import dataclass
from math import ceil

from planopt.catalog.records import GROUP_UNIT, NOT_KNOWN, Catalog, Recipe
from planopt.problem.dishes import Dish, LineOption, count_versions, dish_of, keeping_days
from planopt.problem.people import Eater
from planopt.scenario.records import Client, Scenario

Lines = tuple[tuple[LineOption, ...], ...]
Version = tuple[LineOption, ...]
Cost = Callable[[LineOption], float]

_ALL_UP_TO, _MOST_AT_HAND, _LEAST_AT_HAND, _MOST_TASTES = 16, 12, 4, 48
_MANY_DISHES, _FEW_VERSIONS = 600, 4
_AT_HAND_TOGETHER = 160
_SHARES = (1.0, 0.5, 0.25, 0.75)


def most_versions(recipes: Iterable[Recipe]) -> int:
    """Return up to how many versions a recipe has all of them at hand, with these recipes."""
    counts = [count_versions(recipe) for recipe in recipes]
    together = sum(min(count, _ALL_UP_TO) for count in counts)
    return _ALL_UP_TO if together <= _MANY_DISHES else _FEW_VERSIONS


def room_at_hand(recipes: int) -> int:
    """Return how many versions are at hand of each of so many recipes that have more."""
    return max(_LEAST_AT_HAND, min(_MOST_AT_HAND, _AT_HAND_TOGETHER // max(1, recipes)))


def forbidden(client: Client | Eater, option: LineOption) -> bool:
    """Tell whether a client must not eat what a line may be."""
    if option.food_id is None:
        return False
    unknown = NOT_KNOWN in option.allergens
    return option.food_id in client.excluded_foods or any(
        unknown or allergen in option.allergens for allergen in client.allergens
    )


def unserved_with(client: Client, option: LineOption) -> bool:
    """Tell whether no meal of a client may have what a line may be: forbidden, or disliked so."""
    return forbidden(client, option) or client.dislikes.get(option.food_id or "") == 0


def version_named(lines: Lines, version: str) -> Version | None:
    """Return the version that a plan calls so; None if the recipe has none of this name."""
    words = set() if version == "base" else set(version.split("+"))
    chosen = tuple(
        next((one for one in options if one.word in words), options[0]) for options in lines
    )
    return chosen if {one.word for one in chosen if one.word} == words else None


@dataclass(frozen=True)
class FoodAtHand:
    """What the choice of versions looks at beside clients: prices, and what is there each day.

    `minor_per_g` is the least price of a food, 0 where it is only on hand; `usable` are the foods
    that each cook day may use.
    """

    minor_per_g: Mapping[str, float]
    usable: tuple[frozenset[str], ...]


def versions_at_hand(
    recipe: Recipe,
    catalog: Catalog,
    scenario: Scenario,
    lines: Lines,
    larder: FoodAtHand,
    most: int,
    wanted: Iterable[str] = (),
) -> list[Dish]:
    """Return versions of a recipe worth planning with, those called `wanted` first.

    Whoever may eat a version at all has one here, unless tastes are very many.
    """
    found: dict[Version, None] = {}
    for name in wanted:
        version = version_named(lines, name)
        if version is not None:
            found[version] = None
    tastes = _tastes(recipe, scenario, lines, larder.usable)
    most = max(most, min(len(tastes), _MOST_TASTES)) + len(found)
    rows = [_promising(recipe, catalog, scenario, taste, larder) for taste in tastes]
    while rows and len(found) < most:
        left = []
        for row in rows:
            version = next(row, None)
            if version is not None:
                left.append(row)
                if len(found) < most:
                    found[version] = None
        rows = left
    return [dish_of(recipe, catalog, scenario, version) for version in found]


@dataclass(frozen=True)
class _Taste:
    """The options that some clients may eat and some cook day may use, and nutrients that count."""

    lines: Lines
    needed: tuple[str, ...]
    limited: tuple[str, ...]


def _tastes(
    recipe: Recipe, scenario: Scenario, lines: Lines, usable: tuple[frozenset[str], ...]
) -> list[_Taste]:
    """Return what is to be served: to all at once, then to each who may eat something else."""
    shapes: dict[Lines, tuple[set[str], set[str]]] = {}

    def add(eaters: Sequence[Client], shape: Lines) -> None:
        if all(shape):
            needed, limited = shapes.setdefault(shape, (set(), set()))
            for client in eaters:
                _note_windows(client, needed, limited)

    known: dict[object, Lines] = {}
    alike: dict[Lines, list[Client]] = {}
    clients = [c for c in scenario.clients if recipe.recipe_id not in c.excluded_recipes]
    for client in clients:
        never = frozenset(food_id for food_id, most in client.dislikes.items() if most == 0)
        key = (frozenset(client.allergens), frozenset(client.excluded_foods), never)
        if key not in known:
            known[key] = _eaten_by(lines, client)
        alike.setdefault(known[key], []).append(client)
    common = lines
    for shape in alike:
        common = tuple(
            tuple(one for one in options if one in kept)
            for options, kept in zip(common, shape, strict=True)
        )
    groups = sorted(alike.items(), key=lambda item: -len(item[1]))
    for shape, eaters in [(common, clients), *groups]:
        wanted = sorted({food_id for client in eaters for food_id in client.wants})
        disliked = {food_id for client in eaters for food_id in client.dislikes}
        for there in dict.fromkeys(usable):
            ready = _there(shape, there)
            add(eaters, ready)
            add(eaters, _without(ready, disliked))
            for food_id in wanted:
                add(eaters, _with_food(ready, food_id))
    return [
        _Taste(shape, tuple(sorted(needed)), tuple(sorted(limited)))
        for shape, (needed, limited) in shapes.items()
    ]


def _note_windows(client: Client, needed: set[str], limited: set[str]) -> None:
    """Add the nutrients of which a client has a least and a most amount."""
    tables = [client.windows_per_day, client.windows_per_week, *client.windows_on_days.values()]
    for windows in (*tables, *client.day_patterns.values()):
        for nutrient_id, window in windows.items():
            if window.min:
                needed.add(nutrient_id)
            if window.max is not None:
                limited.add(nutrient_id)
    needed.update(group + GROUP_UNIT for group in client.least_meals_with)
    limited.update(group + GROUP_UNIT for group in client.most_meals_with)


def _eaten_by(lines: Lines, client: Client) -> Lines:
    return tuple(
        tuple(one for one in options if not unserved_with(client, one)) for options in lines
    )


def _there(lines: Lines, usable: frozenset[str]) -> Lines:
    return tuple(
        tuple(one for one in options if one.food_id is None or one.food_id in usable)
        for options in lines
    )


def _without(lines: Lines, foods: set[str]) -> Lines:
    return tuple(tuple(one for one in options if one.food_id not in foods) for options in lines)


def _with_food(lines: Lines, food_id: str) -> Lines:
    """Return the lines with a food wherever one of them may have it."""
    return tuple(
        tuple(one for one in options if one.food_id == food_id) or options for options in lines
    )


def _promising(
    recipe: Recipe, catalog: Catalog, scenario: Scenario, taste: _Taste, larder: FoodAtHand
) -> Iterator[Version]:
    """Yield versions for a taste, the most useful first."""
    lines = taste.lines

    def cost(one: LineOption) -> float:
        return 0.0 if one.food_id is None else one.grams * larder.minor_per_g.get(one.food_id, 0.0)

    def keeps(one: LineOption) -> tuple[int, int]:
        foods = [] if one.food_id is None else [one.food_id]
        return keeping_days(recipe, catalog, scenario, foods)

    def full(one: LineOption) -> tuple[bool, float]:
        return (one.food_id is None, cost(one))

    def lean(one: LineOption) -> tuple[bool, float]:
        return (one.food_id is not None, cost(one))

    cheapest = tuple(min(options, key=cost) for options in lines)
    yield cheapest
    yield tuple(options[0] for options in lines)
    yield tuple(min(options, key=lean) for options in lines)
    yield tuple(max(options, key=lambda one: (keeps(one), -cost(one))) for options in lines)
    for share in _SHARES:
        for nutrient_id in taste.needed:
            yield _rich(lines, cheapest, nutrient_id, cost, share)
    for nutrient_id in taste.limited:
        yield _poor(lines, nutrient_id, cost)
    yield tuple(min(options, key=full) for options in lines)


def _poor(lines: Lines, nutrient_id: str, cost: Cost) -> Version:
    """Return the cheapest of the versions with least of a nutrient."""
    return tuple(
        min(options, key=lambda one: (one.nutrients[nutrient_id], cost(one))) for options in lines
    )


def _rich(lines: Lines, cheapest: Version, nutrient_id: str, cost: Cost, share: float) -> Version:
    """Return the cheapest version but for a share of its lines: those that add most for least."""
    better: list[tuple[float, int, LineOption]] = []
    for index, (options, now) in enumerate(zip(lines, cheapest, strict=True)):
        best = max(options, key=lambda one: (one.nutrients[nutrient_id], -cost(one)))
        gain = best.nutrients[nutrient_id] - now.nutrients[nutrient_id]
        if gain > 0:
            better.append(((cost(best) - cost(now)) / gain, index, best))
    chosen = list(cheapest)
    better.sort(key=lambda row: row[:2])
    for _, index, best in better[: ceil(share * len(better))]:
        chosen[index] = best
    return tuple(chosen)
