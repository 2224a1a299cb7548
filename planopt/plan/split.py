"""Who pays what of a kitchen's bill: each food by the grams eaten, to the cent.

The bill is what the tills charge and the visits after the first. The price of each food is divided
among the clients in proportion to the grams of it that they eat, whatever is left over or wasted
of it included; food that nobody eats, and visits, go by the sums so found. What follows from this:

- the shares add up to the bill exactly, in whole minor units;
- nobody pays for a food they do not eat, and who eats nothing pays nothing;
- clients who eat alike pay alike, within one minor unit for groceries and one for visits;
- food from stock is free for whoever eats it, and makes the rest of that food cheaper for all.

It does not promise that nobody pays more than alone: packs are shared with those who happen to eat
from them. `by_weights` with the costs of planning alone as weights does promise that whenever
sharing saves, and needs a plan for each client.
"""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from fractions import Fraction

from planopt.plan.records import Plan
from planopt.units import exact, to_minor


@dataclass(frozen=True)
class Share:
    """What one client pays, in minor units of the plan's currency."""

    client_id: str
    groceries_minor: int
    visits_minor: int

    @property
    def total_minor(self) -> int:
        """Return groceries and visits together."""
        return self.groceries_minor + self.visits_minor


def by_weights(total_minor: int, weights: Sequence[Fraction]) -> list[int]:
    """Divide a whole number of minor units in proportion to weights, by largest remainders.

    Each part is its exact quota rounded down or up, so the parts add up to the total; equal
    remainders are served in the order given. Weights that are all 0 count as equal.

    Raises:
        ValueError: the total or a weight is negative, or there is nobody to divide among.
    """
    if total_minor < 0 or any(weight < 0 for weight in weights) or not weights:
        raise ValueError("a division needs a total, weights that are not negative, and takers")
    whole = sum(weights, Fraction(0))
    if not whole:
        weights, whole = [Fraction(1)] * len(weights), Fraction(len(weights))
    quotas = [total_minor * weight / whole for weight in weights]
    parts = [int(quota) for quota in quotas]
    order = sorted(range(len(parts)), key=lambda n: (parts[n] - quotas[n], n))
    for n in order[: total_minor - sum(parts)]:
        parts[n] += 1
    return parts


def split_bill(plan: Plan, client_ids: Sequence[str]) -> list[Share]:
    """Return the share of each client, in the order given; they add up to the bill exactly."""
    spent = _spent(plan)
    eaten = eaten_g(plan)
    weights = dict.fromkeys(client_ids, Fraction(0))
    for food_id, price in spent.items():
        grams = eaten.get(food_id, {})
        total = sum(grams.values(), Fraction(0))
        for client_id, amount in grams.items():
            if client_id in weights:
                weights[client_id] += price * amount / total
    known = [weights[client_id] for client_id in client_ids]
    groceries = by_weights(to_minor(plan.solution.grocery_cost, plan.currency), known)
    visits = by_weights(to_minor(plan.solution.visit_cost, plan.currency), known)
    return [
        Share(client_id, food, visit)
        for client_id, food, visit in zip(client_ids, groceries, visits, strict=True)
    ]


def _spent(plan: Plan) -> dict[str, Fraction]:
    """Return what each food costs in minor units."""
    spent: dict[str, Fraction] = {}
    for purchase in plan.purchases:
        spent[purchase.food_id] = spent.get(purchase.food_id, Fraction(0)) + Fraction(
            to_minor(purchase.price, plan.currency)
        )
    return spent


def split_portions(plan: Plan, shares: Sequence[Share]) -> list[int]:
    """Return each portion's part of its client's groceries, in the order of the plan's portions.

    By the same rule as the bill, so that the portions of a client add up to that client's share.
    Portions of clients without a share count for nothing.
    """
    spent = _spent(plan)
    totals = {food_id: sum(by.values(), Fraction(0)) for food_id, by in eaten_g(plan).items()}
    batches = {(b.recipe_id, b.version, b.cook_day): b for b in plan.batches}
    weights = []
    for portion in plan.portions:
        batch = batches.get((portion.recipe_id, portion.version, portion.cook_day))
        weight = Fraction(0)
        if batch is not None and batch.servings:
            part = exact(portion.servings) / exact(batch.servings)
            for line in batch.lines:
                if totals[line.food_id]:
                    grams = exact(line.grams) * part
                    weight += spent.get(line.food_id, Fraction(0)) * grams / totals[line.food_id]
        weights.append(weight)
    parts = [0] * len(weights)
    for share in shares:
        mine = [n for n, p in enumerate(plan.portions) if p.client_id == share.client_id]
        if mine:
            found = by_weights(share.groceries_minor, [weights[n] for n in mine])
            for n, part_minor in zip(mine, found, strict=True):
                parts[n] = part_minor
    return parts


def eaten_g(plan: Plan) -> Mapping[str, Mapping[str, Fraction]]:
    """Return the edible grams that each client eats of each food: food -> client -> grams.

    Portions of no batch, which the audit refuses, count for nothing.
    """
    batches = {(b.recipe_id, b.version, b.cook_day): b for b in plan.batches}
    eaten: dict[str, dict[str, Fraction]] = {}
    for portion in plan.portions:
        batch = batches.get((portion.recipe_id, portion.version, portion.cook_day))
        if batch is None or not batch.servings:
            continue
        share = exact(portion.servings) / exact(batch.servings)
        for line in batch.lines:
            of_food = eaten.setdefault(line.food_id, {})
            grams = exact(line.grams) * share
            if grams:
                of_food[portion.client_id] = of_food.get(portion.client_id, Fraction(0)) + grams
    return eaten
