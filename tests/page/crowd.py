"""A plan for many clients, put together without a search: right in its sums, not in its windows."""

from __future__ import annotations

from collections import defaultdict
from datetime import date, timedelta
from decimal import Decimal
from math import ceil
from pathlib import Path

from planopt.catalog.load import load_catalog
from planopt.catalog.quantities import Quantities
from planopt.catalog.records import Catalog, Recipe
from planopt.plan.records import Batch, BatchLine, FoodUse, Plan, Portion, Purchase, Solution
from planopt.scenario.records import Client, CookDay, Scenario, Window

CATALOG = Path(__file__).resolve().parents[2] / "catalogs"
START = date(2027, 1, 4)
DAYS = 7
COOK_DAYS = (0, 3)


def _grams(catalog: Catalog, recipe: Recipe) -> list[tuple[str, float, str]]:
    quantities = Quantities(catalog)
    return [
        (line.food, quantities.line_grams(line.food, line.amount, line.unit, line.state), line.part)
        for line in recipe.lines
    ]


def _nutrients(catalog: Catalog, recipe: Recipe) -> dict[str, float]:
    grams = _grams(catalog, recipe)
    return {
        nutrient_id: sum(
            g / 100 * (catalog.foods[food].nutrients[nutrient_id] or 0.0) for food, g, _ in grams
        )
        / recipe.yield_servings
        for nutrient_id in catalog.nutrients
    }


def crowd_scenario(clients: int) -> Scenario:
    """Return a scenario with so many clients, each with windows of energy and macronutrients."""
    windows = {
        "energy_kcal": Window(min=1500, max=2500),
        "protein_g": Window(min=70),
        "fat_g": Window(max=110),
        "carbohydrate_g": Window(min=100, max=400),
    }
    return Scenario(
        name=f"A week for {clients} clients",
        note="Made for a test; clients and prices are invented.",
        start_date=START,
        days=DAYS,
        meal_defaults="off",
        cook_days=tuple(CookDay(day=day, cooks=6) for day in COOK_DAYS),
        clients=tuple(
            Client(id=f"client_{n:03}", name=f"Client {n:03} of the crowd", windows_per_day=windows)
            for n in range(1, clients + 1)
        ),
    )


def _portions(catalog: Catalog, scenario: Scenario, recipes: int) -> list[Portion]:
    by_meal = {
        meal: [r for r in catalog.recipes.values() if meal in r.meals][: max(1, recipes // 4)]
        for meal in scenario.meals
    }
    nutrients = {r.recipe_id: _nutrients(catalog, r) for chosen in by_meal.values() for r in chosen}
    rows = []
    for n, client in enumerate(scenario.clients):
        for day in range(1, DAYS + 1):
            cook_day = COOK_DAYS[0] if day <= COOK_DAYS[1] else COOK_DAYS[1]
            for meal in scenario.meals:
                recipe = by_meal[meal][(n + day) % len(by_meal[meal])]
                servings = 1.0 + 0.5 * (n % 2)
                rows.append(
                    Portion(
                        client_id=client.client_id, day=day, date=scenario.date_of(day), meal=meal,
                        recipe_id=recipe.recipe_id, recipe_name=recipe.name, version="base",
                        cook_day=cook_day, servings=servings, stored="fridge",
                        nutrients={
                            k: v * servings for k, v in nutrients[recipe.recipe_id].items()
                        },
                    )
                )  # fmt: skip
    return rows


def _batches(catalog: Catalog, scenario: Scenario, portions: list[Portion]) -> list[Batch]:
    eaten: dict[tuple[int, str], float] = defaultdict(float)
    for portion in portions:
        eaten[portion.cook_day, portion.recipe_id] += portion.servings
    rows = []
    for (cook_day, recipe_id), servings in sorted(eaten.items()):
        recipe = catalog.recipes[recipe_id]
        count = ceil(2 * servings / recipe.yield_servings) / 2
        cook_date = scenario.date_of(cook_day)
        rows.append(
            Batch(
                cook_day=cook_day, cook_date=cook_date, recipe_id=recipe_id,
                recipe_name=recipe.name, version="base", batches=count,
                servings=count * recipe.yield_servings, servings_eaten=servings,
                servings_left=count * recipe.yield_servings - servings,
                use_by_fridge=cook_date + timedelta(days=4), use_by_freezer=None,
                lines=tuple(
                    BatchLine(line=n, food_id=food, grams=g * count, part=part,
                              chosen="as written")
                    for n, (food, g, part) in enumerate(_grams(catalog, recipe))
                ),
            )
        )  # fmt: skip
    return rows


def _bought(
    catalog: Catalog, scenario: Scenario, batches: list[Batch]
) -> tuple[list[Purchase], list[FoodUse]]:
    need: dict[tuple[str, int], float] = defaultdict(float)
    for batch in batches:
        for line in batch.lines:
            need[line.food_id, batch.cook_day] += line.grams
    packs = {pack.food_id: pack for pack in catalog.packs.values()}
    quantities = Quantities(catalog)
    purchases, uses = [], []
    for (food_id, day), grams in sorted(need.items()):
        pack = packs.get(food_id)
        if pack is None:
            continue
        edible = quantities.pack_edible_g(pack)
        count = ceil(grams / edible)
        left = count * edible - grams
        purchases.append(
            Purchase(
                shop_day=day, shop_date=scenario.date_of(day), seller_id=pack.seller_id,
                pack_id=pack.pack_id, food_id=food_id, food_name=catalog.foods[food_id].name,
                sold=pack.sold, count=count, size=pack.size, unit=pack.unit,
                price_each=pack.price, price=pack.price * count, edible_g=count * edible,
            )
        )  # fmt: skip
        uses.append(
            FoodUse(
                food_id=food_id, food_name=catalog.foods[food_id].name, supply=f"shop day {day}",
                available_g=count * edible, used_g={day: grams}, left_g=left,
                usable_until=None, fate="carried" if left > 1e-6 else "nothing left",
                left_value=Decimal("0.10"),
            )
        )  # fmt: skip
    return purchases, uses


def crowd_plan(clients: int, recipes: int = 24) -> tuple[Plan, Catalog, Scenario]:
    """Return a week of four meals a day for so many clients, with its catalog and scenario."""
    catalog, scenario = load_catalog(CATALOG), crowd_scenario(clients)
    portions = _portions(catalog, scenario, recipes)
    batches = _batches(catalog, scenario, portions)
    purchases, uses = _bought(catalog, scenario, batches)
    grocery = sum((p.price for p in purchases), Decimal(0))
    plan = Plan(
        planopt_version="0.1.0", scenario_name=scenario.name, scenario_file="crowd.yaml",
        scenario_sha256="0" * 64, catalog_folder="catalogs", catalog_sha256="1" * 64,
        currency="USD", start_date=START, days=DAYS,
        solution=Solution(
            status="time_limit", grocery_cost=grocery, visit_cost=Decimal("0.00"),
            waste_cost=Decimal("0.00"), waste_weight=1.0, objective=grocery,
            best_bound=Decimal("0.00"), proven_gap=1.0, gap_asked=0.02, solve_seconds=0.0,
            build_seconds=0.0, solver="none", solver_status="none", bound_composition="none",
            settings={},
        ),
        purchases=tuple(purchases), batches=tuple(batches), portions=tuple(portions),
        food_uses=tuple(uses), cautions=("Storage: keep it cold.",),
    )  # fmt: skip
    return plan, catalog, scenario
