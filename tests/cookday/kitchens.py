"""Cook days for the tests: recipes that are only minutes, and plans that cook them."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from datetime import date, timedelta
from decimal import Decimal
from typing import Any

from planopt.catalog.records import Catalog, Food, Recipe
from planopt.cookday.records import CookDaySchedule
from planopt.cookday.schedule import schedule_cook_days
from planopt.plan.records import Batch, BatchLine, Plan, Portion
from planopt.scenario.records import Scenario
from report_samples import sample_catalog, sample_plan

START = date(2027, 1, 4)

# Food -> class of raw animal food, allergens.
FOODS: dict[str, tuple[str | None, tuple[str, ...]]] = {
    "chicken": ("poultry", ()),
    "salmon": ("fish", ("fish",)),
    "sardines": (None, ("fish",)),
    "cheese": (None, ("milk",)),
    "potato": (None, ()),
}
# Client -> allergens excluded.
EXCLUDED: dict[str, tuple[str, ...]] = {
    "ana": (),
    "ida": ("fish",),
    "kit": ("milk",),
    "uma": ("fish", "milk"),
}


def _food(food_id: str) -> Food:
    kind, allergens = FOODS[food_id]
    return (
        sample_catalog()
        .foods["potato"]
        .model_copy(
            update={
                "food_id": food_id,
                "name": food_id.capitalize(),
                "state": "raw" if kind or food_id == "potato" else "ready",
                "safe_temperature": kind,
                "allergens": allergens,
            }
        )
    )


def recipe(name: str, hands_on: float, **more: Any) -> Recipe:
    """Return a recipe of so many hands-on minutes.

    `more` may give `extra`, `unattended`, `hob` (ring-minutes) and `oven` (degrees, minutes);
    `foods` and `apart` (food ids), `serve`, and `covered`.
    """
    equipment: dict[str, Any] = {"hob_minutes": more.get("hob", 0)}
    if "oven" in more:
        equipment["oven"] = dict(zip(("temperature_c", "minutes"), more["oven"], strict=True))
        equipment["oven"]["covered"] = more.get("covered", False)
    parts = [("main", food) for food in more.get("foods", ["potato"])]
    parts += [("topping", food) for food in more.get("apart", [])]
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
            "keeps": {
                "kind": "cooked_fish",
                "fridge_days": 3,
                "serve": more.get("serve", "either"),
            },
            "lines": [
                {"food": food, "amount": 300, "unit": "g", "part": part} for part, food in parts
            ],
        }
    )


def kitchen(
    dishes: Sequence[tuple[Recipe, float]],
    cook_day: dict[str, Any] | None = None,
    eaters: Mapping[str, Sequence[str]] | None = None,
    **appliances: Any,
) -> tuple[Plan, Catalog, Scenario]:
    """Return a plan that cooks these recipes, so many batches of each, all on day 1.

    `eaters` are the clients (of `EXCLUDED`) who eat a dish; nobody by default.
    """
    scenario = Scenario.model_validate(
        {
            "name": "One cook day",
            "start_date": START,
            "days": 1,
            "meals": ["dinner"],
            "cook_days": [{"day": 1, **(cook_day or {})}],
            "appliances": appliances,
            "clients": [
                {"id": client, "name": client.capitalize(), "allergens": allergens}
                for client, allergens in EXCLUDED.items()
            ],
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
            lines=tuple(
                BatchLine(
                    line=n,
                    food_id=line.food,
                    grams=300 * count,
                    part=line.part,
                    chosen="as written",
                )
                for n, line in enumerate(one.lines)
            ),
        )
        for one, count in dishes
    )
    catalog = sample_catalog().model_copy(
        update={
            "recipes": {one.recipe_id: one for one, _ in dishes},
            "foods": {food_id: _food(food_id) for food_id in FOODS},
        }
    )
    portions = tuple(
        Portion(
            client_id=client,
            day=1,
            date=START,
            meal="dinner",
            recipe_id=one.recipe_id,
            recipe_name=one.name,
            version="base",
            cook_day=1,
            servings=1,
            stored="fridge",
            nutrients={},
        )
        for one, _ in dishes
        for client in (eaters or {}).get(one.recipe_id, ())
    )
    plan = sample_plan().model_copy(
        update={"batches": batches, "portions": portions, "start_date": START, "days": 1}
    )
    assert plan.solution.objective > Decimal(0)
    return plan, catalog, scenario


def schedule(
    dishes: Sequence[tuple[Recipe, float]],
    cook_day: dict[str, Any] | None = None,
    eaters: Mapping[str, Sequence[str]] | None = None,
    **appliances: Any,
) -> CookDaySchedule:
    """Return the timetable of one cook day."""
    (found,) = schedule_cook_days(*kitchen(dishes, cook_day, eaters, **appliances))
    return found
