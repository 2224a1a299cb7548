"""What the groceries cost, shared out: to portions eaten, servings not eaten, and food left."""

from __future__ import annotations

from collections import defaultdict
from decimal import Decimal
from fractions import Fraction

import pandas as pd

from planopt.plan.records import Batch, Plan
from planopt.plan.split import by_weights
from planopt.units import exact, from_minor, to_minor

# Where a share of the groceries goes.
EATEN, NOT_EATEN, CARRIED, WASTED = "eaten", "not eaten", "carried", "wasted"

Key = tuple[str, str, int]


def batch_key(batch: Batch) -> Key:
    """Return what tells the batches of a plan apart: recipe, version, cook day."""
    return (batch.recipe_id, batch.version, batch.cook_day)


def _paid(plan: Plan) -> dict[tuple[str, str], Fraction]:
    """Return the money paid for each supply, by food and supply name. Stock is paid already."""
    paid: dict[tuple[str, str], Fraction] = defaultdict(Fraction)
    for p in plan.purchases:
        paid[p.food_id, f"shop day {p.shop_day}"] += Fraction(p.price)
    return paid


def _food_money(plan: Plan) -> tuple[dict[tuple[str, int], Fraction], list[Fraction]]:
    """Return money by food and cook day, and what is left in each food use's supply."""
    paid = _paid(plan)
    cooked: dict[tuple[str, int], Fraction] = defaultdict(Fraction)
    left = []
    for use in plan.food_uses:
        money = paid.get((use.food_id, use.supply), Fraction(0))
        used = {day: exact(grams) for day, grams in use.used_g.items()}
        left_g = exact(use.left_g) if use.fate != "nothing left" else Fraction(0)
        total_g = sum(used.values(), left_g)
        for day, grams in used.items():
            cooked[use.food_id, day] += money * grams / total_g if total_g else 0
        left.append(money * left_g / total_g if total_g else Fraction(0))
    return cooked, left


def _batch_money(plan: Plan, cooked: dict[tuple[str, int], Fraction]) -> dict[Key, Fraction]:
    """Return the money in each batch: a food's money of a cook day, by grams."""
    grams: dict[tuple[str, int], Fraction] = defaultdict(Fraction)
    for batch in plan.batches:
        for line in batch.lines:
            grams[line.food_id, batch.cook_day] += exact(line.grams)
    money: dict[Key, Fraction] = {}
    for batch in plan.batches:
        total = Fraction(0)
        for line in batch.lines:
            key = (line.food_id, batch.cook_day)
            if grams[key]:
                total += cooked.get(key, Fraction(0)) * exact(line.grams) / grams[key]
        money[batch_key(batch)] = total
    return money


def cost_shares(plan: Plan) -> pd.DataFrame:
    """Return the groceries shared out: a row per portion, batch with servings left, and food left.

    A purchase goes by edible grams to what was cooked from it and to what is left of it; a batch
    goes by servings to who eats it. Food on hand costs nothing this week. Shares are rounded by
    largest remainder over all rows, so that they sum to the plan's grocery cost to the last unit.
    """
    cooked, left = _food_money(plan)
    money = _batch_money(plan, cooked)
    served = {batch_key(b): exact(b.servings) for b in plan.batches}
    rows: list[tuple[object, ...]] = []
    weights: list[Fraction] = []
    for p in plan.portions:
        key = (p.recipe_id, p.version, p.cook_day)
        weights.append(money.get(key, Fraction(0)) * exact(p.servings) / served.get(key, 1))
        rows.append((EATEN, p.client_id, p.day, p.meal, *key, ""))
    for batch in plan.batches:
        if batch.servings_left > 0:
            key = batch_key(batch)
            weights.append(money[key] * exact(batch.servings_left) / served[key])
            rows.append((NOT_EATEN, "", 0, "", *key, ""))
    for use, weight in zip(plan.food_uses, left, strict=True):
        if use.fate != "nothing left" and weight:
            weights.append(weight)
            rows.append((CARRIED if use.fate == "carried" else WASTED, "", 0, "", "", "", 0,
                         use.food_id))  # fmt: skip
    total = to_minor(plan.solution.grocery_cost, plan.currency)
    parts = by_weights(total, weights) if weights else []
    shares = [from_minor(part, plan.currency) for part in parts]
    frame = pd.DataFrame(
        [(*row, share) for row, share in zip(rows, shares, strict=True)],
        columns=["goes_to", "client_id", "day", "meal", "recipe_id", "version", "cook_day",
                 "food_id", "cost"],
        dtype=object,
    )  # fmt: skip
    return frame.astype({"day": "int64", "cook_day": "int64"})


def total(costs: pd.Series) -> Decimal:
    """Return the sum of exact money."""
    return sum(costs, Decimal(0))
