"""The sample kitchen with one name in the place of every name that a user may write."""

from __future__ import annotations

from typing import Any

from planopt.catalog.records import Catalog
from planopt.plan.records import Plan
from planopt.scenario.records import Scenario
from report_samples import sample_catalog, sample_plan, sample_scenario


def _all(rows: tuple[Any, ...], **fields: object) -> tuple[Any, ...]:
    return tuple(row.model_copy(update=fields) for row in rows)


def renamed(name: str) -> tuple[Plan, Catalog, Scenario]:
    """Return plan, catalog and scenario in which everything that has a name has this one."""
    plan, catalog, scenario = sample_plan(), sample_catalog(), sample_scenario()
    plan = plan.model_copy(
        update={
            "scenario_name": name,
            "batches": _all(plan.batches, recipe_name=name),
            "portions": _all(plan.portions, recipe_name=name),
            "purchases": _all(plan.purchases, food_name=name),
            "food_uses": _all(plan.food_uses, food_name=name),
            "cautions": (name,),
        }
    )
    catalog = catalog.model_copy(
        update={
            "sellers": {
                key: seller.model_copy(update={"name": name})
                for key, seller in catalog.sellers.items()
            },
            "foods": {
                key: food.model_copy(update={"name": name, "aisle": name})
                for key, food in catalog.foods.items()
            },
            "recipes": {
                key: recipe.model_copy(update={"name": name, "steps": _all(recipe.steps, do=name)})
                for key, recipe in catalog.recipes.items()
            },
        }
    )
    clients = _all(scenario.clients, name=name)
    return plan, catalog, scenario.model_copy(update={"name": name, "clients": clients})
