"""Read decisions out of solver values; whole numbers are rounded to what they stand for."""

from __future__ import annotations

from collections.abc import Mapping

from planopt.model.kitchen import KitchenModel
from planopt.problem.decisions import Decisions
from planopt.solve.highs.matrix import Floats

_NOTHING = 1e-9


def kitchen_decisions(
    kitchen: KitchenModel,
    column: Mapping[str, int],
    values: Floats,
    servings: dict[tuple[int, int], float],
) -> Decisions:
    """Return decisions with batches and packs read from `values` by variable name."""
    problem = kitchen.problem
    batches = {}
    for n, unit in enumerate(kitchen.units):
        amount = float(values[column[unit.name]])
        step = problem.dishes[problem.cookings[n].dish].batch_step
        amount = amount if step is None else round(amount) * step
        if amount > _NOTHING:
            batches[n] = amount
    packs = {}
    for key, pack in kitchen.packs.items():
        count = float(values[column[pack.name]])
        count = float(round(count)) if pack.cat == "Integer" else count
        if count > _NOTHING:
            packs[key] = count
    return Decisions(batches=batches, servings=servings, packs=packs)
