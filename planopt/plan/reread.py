"""Read a plan back as decisions of a problem, its own or another: whatever of it still fits."""

from __future__ import annotations

from planopt.plan.records import Plan, Portion
from planopt.problem.build import Option, Problem
from planopt.problem.decisions import Decisions
from planopt.problem.portions import span_of

_EPS = 1e-9


def versions_in(*plans: Plan | None) -> list[tuple[str, str]]:
    """Return the versions of recipes that plans cook; a problem needs them to know a plan."""
    batches = [batch for plan in plans if plan is not None for batch in plan.batches]
    return sorted({(batch.recipe_id, batch.version) for batch in batches})


def decisions_of(plan: Plan, problem: Problem) -> Decisions:
    """Return the batches, portions and packs of a plan that the problem knows.

    A portion fits where the same client eats the same meal on the same day and may still take that
    version of the recipe from that cook day, in that size where the meal has windows. Nothing else
    is checked: the week need not comply.
    """
    known = {
        (*problem.dishes[cooking.dish].key, problem.cook_days[cooking.cook].day): cooking
        for cooking in problem.cookings
    }
    client = {found.client_id: c for c, found in enumerate(problem.clients)}

    place = {cooking: n for n, cooking in enumerate(problem.cookings)}
    batches = {}
    for batch in plan.batches:
        cooking = known.get((batch.recipe_id, batch.version, batch.cook_day))
        if cooking is not None:
            batches[place[cooking]] = batch.batches
    for row in plan.ready:
        cooking = known.get((row.recipe_id, row.version, row.cook_day))
        if cooking is not None and row.servings_eaten > 0:
            batches[place[cooking]] = row.batches * row.servings_eaten / row.servings
    slot = {(found.client, found.day, found.meal): i for i, found in enumerate(problem.slots)}
    servings = {}
    for portion in plan.portions:
        i = slot.get((client.get(portion.client_id, -1), portion.day, portion.meal))
        taken = known.get((portion.recipe_id, portion.version, portion.cook_day))
        if i is None or taken is None or taken not in problem.slots[i].options:
            continue
        if _sized(problem, i, taken, portion):
            servings[i, problem.slots[i].options.index(taken)] = portion.servings
    packs = {}
    supply = {(found.food_id, found.shop_day): s for s, found in enumerate(problem.supplies)}
    for bought in plan.purchases:
        s = supply.get((bought.food_id, bought.shop_day))
        for o, offer in enumerate(problem.offers.get(bought.food_id, ())):
            if s is not None and offer.pack_id == bought.pack_id:
                packs[s, o] = bought.count
    return Decisions(batches=batches, servings=servings, packs=packs)


def _sized(problem: Problem, i: int, taken: Option, portion: Portion) -> bool:
    """Tell whether a portion that is all of a meal is no smaller and no larger than it may be."""
    slot = problem.slots[i]
    if problem.most_dishes_per_meal != 1:
        return True
    portions = problem.clients[slot.client].portions
    low, high = span_of(portions, problem.dishes[taken.dish], slot.windows)
    return not slot.windows or low - _EPS <= portion.servings <= high + _EPS


def whole_decisions(plan: Plan, problem: Problem) -> Decisions | None:
    """Return a plan's decisions if every batch, portion and pack of it fits the problem."""
    found = decisions_of(plan, problem)
    fits = (
        len(found.batches) == len(plan.batches) + sum(row.servings_eaten > 0 for row in plan.ready)
        and len(found.servings) == len(plan.portions)
        and len(found.packs) == len(plan.purchases)
        and {i for i, _ in found.servings} == set(range(len(problem.slots)))
    )
    return found if fits else None
