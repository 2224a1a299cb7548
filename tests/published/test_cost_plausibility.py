"""Prices against the USDA thrifty food plan, without a solve.

Source: USDA FNS Cost of Food Monthly Report, September 2025 (thrifty plan, adults 20-50). A band
of half to twice the figure is a judgement of this project, not a standard: below half there is
probably a bug in a unit or a price.
"""

from __future__ import annotations

from statistics import mean, median

from planopt.catalog.quantities import Quantities
from planopt.problem.dishes import Dish, dishes_of
from planopt.scenario.records import Scenario
from published.catalogtables import published_rows, shipped
from published.dietproblems import rows_of

KCAL_PER_DAY = 2000.0
SCENARIO = Scenario.model_validate(
    {
        "name": "Any",
        "start_date": "2026-11-30",
        "cook_days": [{"day": 1}],
        "clients": [{"id": "any", "name": "Any"}],
    }
)


def thrifty_usd_per_day(sex: str) -> float:
    """Return the thrifty plan's dollars a day of September 2025."""
    assert published_rows("food_plan_costs.csv", "month")
    return next(
        float(row["usd_week"]) / 7
        for row in rows_of("food_plan_costs.csv")
        if (row["month"], row["plan"], row["sex"]) == ("2025-09", "thrifty", sex)
    )


def usd_per_day() -> list[tuple[Dish, float]]:
    """Return each recipe with the cost of 2000 kcal of it at the cheapest prices."""
    catalog = shipped()
    quantities = Quantities(catalog)
    cheapest: dict[str, float] = {}
    for pack in catalog.packs.values():
        per_g = float(pack.price) / quantities.pack_edible_g(pack)
        cheapest[pack.food_id] = min(per_g, cheapest.get(pack.food_id, per_g))
    found = []
    for recipe in catalog.recipes.values():
        dish = dishes_of(recipe, catalog, SCENARIO, quantities)[0]
        batch = sum(grams * cheapest.get(food, 0.0) for food, grams in dish.grams.items())
        kcal = dish.nutrients["energy_kcal"] * dish.yield_servings
        found.append((dish, batch / kcal * KCAL_PER_DAY))
    return found


def test_a_days_energy_costs_about_a_thrifty_day() -> None:
    """USDA thrifty plan 2025-09, judged band: the median recipe costs half to twice a day of it."""
    middle = median(cost for _, cost in usd_per_day())
    assert 0.5 * thrifty_usd_per_day("female") <= middle <= 2 * thrifty_usd_per_day("male")


def test_the_cheapest_week_is_not_below_half_a_thrifty_one() -> None:
    """USDA thrifty plan 2025-09, judged band: the cheapest menu costs at least half a day of it."""
    # A client eats a recipe at most four times a week by default, so each meal needs two recipes.
    costs = usd_per_day()
    cheapest = []
    for meal in SCENARIO.meals:
        cheapest += sorted(cost for dish, cost in costs if meal in dish.meals)[:2]
    assert mean(cheapest) >= 0.5 * thrifty_usd_per_day("female")


def test_no_recipe_is_priced_out_of_reach() -> None:
    """USDA thrifty plan 2025-09, judged band: no recipe costs over four times a day, or a tenth."""
    day = thrifty_usd_per_day("female")
    for dish, cost in usd_per_day():
        assert 0.1 * day <= cost <= 4 * day, dish.recipe_id
