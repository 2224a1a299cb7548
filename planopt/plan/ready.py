"""Ready portions as a plan tells of them: how many there are, and how many are eaten."""

from __future__ import annotations

from datetime import timedelta
from fractions import Fraction

from planopt.catalog.dishtext import dish_name
from planopt.catalog.quantities import Quantities
from planopt.catalog.records import Catalog
from planopt.plan.lines import batch_lines
from planopt.plan.records import ReadyBatch
from planopt.problem.build import Problem
from planopt.problem.decisions import Decisions
from planopt.problem.ready import cook_day_of, last_day, servings_ready, version_at
from planopt.scenario.records import Scenario
from planopt.units import exact


def ready_batches(
    problem: Problem, catalog: Catalog, scenario: Scenario, decisions: Decisions
) -> tuple[ReadyBatch, ...]:
    """Return a row for each entry of ready portions, in their order."""
    eaten: dict[int, Fraction] = {}
    for (i, j), servings in decisions.servings.items():
        ready = problem.dishes[problem.slots[i].options[j].dish].ready
        if ready is not None:
            eaten[ready] = eaten.get(ready, Fraction(0)) + exact(servings)
    quantities = Quantities(catalog)
    rows = []
    for index, entry in enumerate(scenario.ready_portions):
        dish = version_at(catalog, scenario, entry)
        servings = servings_ready(entry, dish)
        batches = servings / dish.yield_servings
        taken = eaten.get(index, Fraction(0))
        freezer = dish.freezer_days
        rows.append(
            ReadyBatch(
                cook_day=cook_day_of(scenario, entry),
                cook_date=entry.cooked_on,
                recipe_id=dish.recipe_id,
                recipe_name=dish_name(catalog.recipes[dish.recipe_id], dish.version, catalog),
                version=dish.version,
                batches=batches,
                servings=servings,
                servings_eaten=float(taken),
                servings_left=float(max(Fraction(0), exact(servings) - taken)),
                use_by_fridge=entry.cooked_on + timedelta(days=dish.fridge_days),
                use_by_freezer=entry.cooked_on + timedelta(days=freezer) if freezer else None,
                lines=batch_lines(dish, catalog, quantities, batches),
                kept=entry.kept,
                keeps_until=last_day(catalog, scenario, entry, dish),
                price=entry.price,
                clients=entry.clients,
            )
        )
    return tuple(rows)
