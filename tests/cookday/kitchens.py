"""Cook days for the tests: recipes that are only minutes, and plans that cook them."""

from __future__ import annotations

from collections.abc import Sequence
from datetime import date, timedelta
from decimal import Decimal
from typing import Any

from planopt.catalog.records import Catalog, Recipe
from planopt.cookday.records import CookDaySchedule
from planopt.cookday.schedule import schedule_cook_days
from planopt.plan.records import Batch, BatchLine, Plan
from planopt.scenario.records import Scenario
from report_samples import sample_catalog, sample_plan

START = date(2027, 1, 4)


def recipe(name: str, hands_on: float, **more: Any) -> Recipe:
    """Return a recipe of so many hands-on minutes.

    `more` may give `extra`, `unattended`, `hob` (ring-minutes) and `oven` (degrees, minutes).
    """
    equipment: dict[str, Any] = {"hob_minutes": more.get("hob", 0)}
    if "oven" in more:
        equipment["oven"] = dict(zip(("temperature_c", "minutes"), more["oven"], strict=True))
    return Recipe.model_validate(
        {
            "recipe_id": name,
            "name": name.capitalize(),
            "meals": ["dinner"],
            "yield_servings": 4,
            "batch": {"step": "any", "most_per_cook_day": 9},
            "minutes": {
                "hands_on": hands_on,
                "hands_on_per_extra_batch": more.get("extra", 0),
                "unattended": more.get("unattended", 0),
            },
            "equipment": equipment,
            "keeps": {"kind": "cooked_fish", "fridge_days": 3, "serve": "either"},
            "lines": [{"food": "potato", "amount": 300, "unit": "g"}],
        }
    )


def kitchen(
    dishes: Sequence[tuple[Recipe, float]],
    cook_day: dict[str, Any] | None = None,
    **appliances: Any,
) -> tuple[Plan, Catalog, Scenario]:
    """Return a plan that cooks these recipes, so many batches of each, all on day 1."""
    scenario = Scenario.model_validate(
        {
            "name": "One cook day",
            "start_date": START,
            "days": 1,
            "meals": ["dinner"],
            "cook_days": [{"day": 1, **(cook_day or {})}],
            "appliances": appliances,
            "clients": [{"id": "ana", "name": "Ana"}],
        }
    )
    batches = tuple(
        Batch(
            cook_day=1,
            cook_date=START,
            recipe_id=one.recipe_id,
            recipe_name=one.name,
            version="base",
            batches=count,
            servings=4 * count,
            servings_eaten=0,
            servings_left=4 * count,
            use_by_fridge=START + timedelta(days=3),
            use_by_freezer=None,
            lines=(
                BatchLine(
                    line=0, food_id="potato", grams=300 * count, part="main", chosen="as written"
                ),
            ),
        )
        for one, count in dishes
    )
    catalog = sample_catalog().model_copy(
        update={"recipes": {one.recipe_id: one for one, _ in dishes}}
    )
    plan = sample_plan().model_copy(
        update={"batches": batches, "portions": (), "start_date": START, "days": 1}
    )
    assert plan.solution.objective > Decimal(0)
    return plan, catalog, scenario


def schedule(
    dishes: Sequence[tuple[Recipe, float]],
    cook_day: dict[str, Any] | None = None,
    **appliances: Any,
) -> CookDaySchedule:
    """Return the timetable of one cook day."""
    (found,) = schedule_cook_days(*kitchen(dishes, cook_day, **appliances))
    return found
