"""What is settled by hand, as a problem has it: options of plates, standing packs and batches."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, field
from typing import TYPE_CHECKING

from planopt.problem.dishes import OUTLINE, Dish
from planopt.problem.ready import all_cook_times
from planopt.scenario.byhand import PlateRule as PlateRule
from planopt.scenario.records import Client, Scenario

if TYPE_CHECKING:
    from planopt.problem.build import Problem

Found = tuple[tuple[int, int], ...]


@dataclass(frozen=True)
class Done:
    """What is bought and cooked already, by what the scenario calls it.

    `packs`: (pack, shop day) -> count; `batches` and `lost` servings: (recipe, version, cook day).
    `shops` and `cooks` are the days that are over: nothing else is bought or cooked on them, and
    nothing else is bought at all of foods `sold_out`.
    """

    packs: dict[tuple[str, int], float] = field(default_factory=dict)
    batches: dict[tuple[str, str, int], float] = field(default_factory=dict)
    lost: dict[tuple[str, str, int], float] = field(default_factory=dict)
    shops: frozenset[int] = frozenset()
    cooks: frozenset[int] = frozenset()
    sold_out: frozenset[str] = frozenset()

    def __bool__(self) -> bool:
        """Tell whether anything is done or over."""
        return bool(self.packs or self.batches or self.shops or self.cooks or self.sold_out)


NOTHING_DONE = Done()


def done_of(scenario: Scenario) -> Done:
    """Return what a scenario says is bought, cooked and over."""
    hand = scenario.by_hand
    return Done(
        packs={(row.pack, row.day): row.count for row in hand.bought},
        batches={(row.recipe, row.version, row.day): row.batches for row in hand.cooked},
        lost={(row.recipe, row.version, row.day): row.lost for row in hand.cooked if row.lost},
        shops=frozenset(day for day in scenario.shopping_days() if hand.is_over(day)),
        cooks=frozenset(cook.day for cook in scenario.cook_days if hand.is_over(cook.day)),
        sold_out=frozenset(hand.sold_out),
    )


def versions_by_hand(scenario: Scenario) -> list[tuple[str, str]]:
    """Return the versions of recipes that are named by hand, which a problem needs at hand."""
    hand = scenario.by_hand
    named = {(rule.put, rule.version) for rule in hand.plates if rule.put and rule.version}
    named |= {(row.recipe, row.version) for row in hand.cooked}
    return sorted((str(recipe), str(version)) for recipe, version in named)


def puts_on(scenario: Scenario, c: int, day: int, meal: str) -> tuple[PlateRule, ...]:
    """Return the dishes put on a plate of the client of that position."""
    return scenario.by_hand.puts_on(scenario.clients[c].client_id, day, meal)


def is_put(rule: PlateRule, dish: Dish, cook_day: int) -> bool:
    """Tell whether a dish of a cook day is what a rule puts there; an outline has every version."""
    return (
        rule.put == dish.recipe_id
        and (rule.version in (None, dish.version) or dish.version == OUTLINE)
        and rule.cook_day in (None, cook_day)
    )


def allowed_by_hand(
    scenario: Scenario, client: Client, day: int, meal: str, dishes: Sequence[Dish], found: Found
) -> Found:
    """Return those of a plate's (dish, cook position) that are left by what is settled by hand."""
    hand = scenario.by_hand
    puts = hand.puts_on(client.client_id, day, meal)
    off = hand.kept_off(client.client_id, day, meal)
    over = hand.from_day is not None
    if not (puts or off or over):
        return found
    cooked = {(row.recipe, row.version, row.day) for row in hand.cooked}
    cook_days = all_cook_times(scenario)
    kept = []
    plain = {
        dishes[i].recipe_id for i, _ in found if _as_written(dishes[i]) and not dishes[i].loose
    }
    for i, k in found:
        dish, cook_day = dishes[i], cook_days[k].day
        # Who asks for a dish has it as the recipe says, unless its foods bar it.
        named = any(rule.version for rule in puts if rule.put == dish.recipe_id)
        if puts and not named and dish.recipe_id in plain and not _as_written(dish):
            continue
        if dish.recipe_id in off:
            continue
        if puts and not any(is_put(rule, dish, cook_day) for rule in puts):
            continue
        made = (dish.recipe_id, dish.version, cook_day) in cooked or dish.version == OUTLINE
        if hand.is_over(cook_day) and not made and dish.ready is None:
            continue
        kept.append((i, k))
    return tuple(kept)


def _as_written(dish: Dish) -> bool:
    """Tell whether a dish has no alternative in place of a food that its recipe says first."""
    return "=" not in dish.version


def cooked_by_hand(scenario: Scenario, dishes: Sequence[Dish]) -> Found:
    """Return the (dish, cook position) that are cooked already, whether eaten or not."""
    cooked = {(row.recipe, row.version, row.day) for row in scenario.by_hand.cooked}
    if not cooked:
        return ()
    return tuple(
        (i, k)
        for i, dish in enumerate(dishes)
        if dish.ready is None
        for k, cook in enumerate(scenario.cook_days)
        if (*dish.key, cook.day) in cooked
    )


def settled_servings(puts: Sequence[PlateRule]) -> tuple[float | None, ...]:
    """Return the servings that puts settle, None where they leave them open."""
    return tuple(rule.servings for rule in puts)


def standing_batches(problem: Problem) -> dict[int, float]:
    """Return the batches of each cooking that are cooked already."""
    if not problem.done.batches:
        return {}
    found = {}
    for n, cooking in enumerate(problem.cookings):
        key = (*problem.dishes[cooking.dish].key, problem.cook_days[cooking.cook].day)
        if key in problem.done.batches:
            found[n] = problem.done.batches[key]
    return found


def lost_servings(problem: Problem, n: int) -> float:
    """Return the servings of a cooking that nobody can eat."""
    if not problem.done.lost:
        return 0.0
    cooking = problem.cookings[n]
    key = (*problem.dishes[cooking.dish].key, problem.cook_days[cooking.cook].day)
    return problem.done.lost.get(key, 0.0)


def standing_packs(problem: Problem, s: int, o: int) -> tuple[float, float | None]:
    """Return the least and the most packs of an offer of a supply; None = no most."""
    supply = problem.supplies[s]
    if supply.shop_day is None or not problem.done:
        return 0.0, None
    pack = problem.offers[supply.food_id][o].pack_id
    count = problem.done.packs.get((pack, supply.shop_day), 0.0)
    over = supply.shop_day in problem.done.shops or supply.food_id in problem.done.sold_out
    return count, count if over else None
