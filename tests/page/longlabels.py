"""The sample plan with names, allergens and places that fill a label."""

from __future__ import annotations

from planopt.catalog.records import Allergen, Catalog
from planopt.plan.records import Plan
from planopt.scenario.labelsheet import LabelSheet
from planopt.scenario.records import Scenario
from report_samples import sample_catalog, sample_plan, sample_scenario

# Longer than any name of the shipped recipes and clients.
DISH = "Mustard pork loin chops with braised cabbage, apple, roast potatoes and parsley"
CLIENT = "Tomas Alexander (strength training, no milk)"
# The fourteen groups of Regulation (EU) No 1169/2011, Annex II.
ALLERGENS = (
    "Cereals with gluten", "Crustaceans", "Egg", "Fish", "Peanut", "Soy", "Milk", "Tree nuts",
    "Celery", "Mustard", "Sesame", "Sulphites", "Lupin", "Molluscs",
)  # fmt: skip


def long_labels(sheet: LabelSheet) -> tuple[Plan, Catalog, Scenario]:
    """Return a plan whose every label is as full as one may fairly expect."""
    plan, catalog, scenario = sample_plan(), sample_catalog(), sample_scenario()
    ids = {name.lower().replace(" ", "_"): name for name in ALLERGENS}
    catalog = catalog.model_copy(
        update={
            "allergens": {key: Allergen(allergen_id=key, name=name) for key, name in ids.items()},
            "foods": {
                key: food.model_copy(
                    update={"allergens": (*ids, *(["not_known"] if key == "potato" else ()))}
                )
                for key, food in catalog.foods.items()
            },
        }
    )
    clients = tuple(c.model_copy(update={"name": CLIENT}) for c in scenario.clients)
    plan = plan.model_copy(
        update={
            name: tuple(row.model_copy(update={"recipe_name": DISH}) for row in getattr(plan, name))
            for name in ("batches", "portions")
        }
    )
    return plan, catalog, scenario.model_copy(update={"clients": clients, "label_sheet": sheet})
