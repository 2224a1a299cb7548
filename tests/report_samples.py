"""A small kitchen and its plan, made by hand for the tests of reports and command line."""

from __future__ import annotations

from datetime import date
from decimal import Decimal

from planopt.catalog.records import (
    Alternative,
    BatchRule,
    Catalog,
    Equipment,
    Food,
    Keeps,
    Line,
    Measure,
    Minutes,
    Nutrient,
    Oven,
    Pack,
    Recipe,
    Seller,
    Step,
    StorageLimit,
)
from planopt.plan.records import (
    Batch,
    BatchLine,
    FoodUse,
    Plan,
    Portion,
    Purchase,
    Solution,
)
from planopt.scenario.records import Away, Client, CookDay, Scenario, Stock, Window

START = date(2027, 1, 4)
SUNDAY = date(2027, 1, 3)


def _food(food_id: str, name: str, aisle: str, kcal: float, **more: object) -> Food:
    nutrients = {"energy_kcal": kcal, "protein_g": 10.0, "fat_g": 2.0, "carbohydrate_g": 5.0}
    fields: dict[str, object] = {
        "state": "raw",
        "edible_share": 1.0,
        "storage": "fridge",
        "allergens": (),
        "safety_group": "none",
        **more,
    }
    return Food.model_validate(
        {"food_id": food_id, "name": name, "aisle": aisle, "nutrients": nutrients, **fields}
    )


def _pack(pack_id: str, food_id: str, seller: str, sold: str, size: str, price: str) -> Pack:
    return Pack.model_validate(
        {
            "pack_id": pack_id, "food_id": food_id, "seller_id": seller, "sold": sold,
            "size": size, "unit": "g", "price": price, "currency": "USD",
            "price_date": date(2026, 12, 1),
        }
    )  # fmt: skip


def sample_catalog() -> Catalog:
    """Return four foods, two sellers and two recipes."""
    fish = Recipe(
        recipe_id="fish_bake",
        name="Fish and potato bake",
        meals=("dinner",),
        yield_servings=4,
        batch=BatchRule(step="half", most_per_cook_day=3),
        minutes=Minutes(hands_on=20, hands_on_per_extra_batch=10, unattended=40),
        equipment=Equipment(hob_minutes=10, oven=Oven(temperature_c=200, minutes=30)),
        keeps=Keeps(kind="cooked_fish", fridge_days=3, freezer_months=2, serve="reheated"),
        lines=(
            Line(food="cod", amount=Decimal(600), unit="g",
                 alternatives=(Alternative(food="haddock"),)),
            Line(food="potato", amount=Decimal("1.5"), unit="cup"),
            Line(food="parsley", amount=Decimal(10), unit="g", optional=True, part="cold_topping"),
        ),
        steps=(
            Step(do="Boil the potatoes until a knife slides in."),
            Step(do="Bake the fish until it flakes.", until_internal_c=63),
        ),
    )  # fmt: skip
    mash = Recipe(
        recipe_id="mash",
        name="Plain mash",
        meals=("lunch", "dinner"),
        yield_servings=2,
        minutes=Minutes(hands_on=15, hands_on_per_extra_batch=5),
        keeps=Keeps(kind="cooked_fish", fridge_days=3, serve="cold"),
        lines=(Line(food="potato", amount=Decimal(400), unit="g"),),
        steps=(Step(do="Boil and crush the potatoes."),),
    )
    nutrients = {
        n.nutrient_id: n
        for n in (
            Nutrient(nutrient_id="energy_kcal", name="Energy", unit="kcal", decimals=0),
            Nutrient(nutrient_id="protein_g", name="Protein", unit="g", decimals=1),
            Nutrient(nutrient_id="fat_g", name="Fat", unit="g", decimals=1),
            Nutrient(nutrient_id="carbohydrate_g", name="Carbohydrate", unit="g", decimals=1),
        )
    }
    foods = (
        _food("cod", "Cod fillet", "meat_and_fish", 80),
        _food("haddock", "Haddock fillet", "meat_and_fish", 75),
        _food("potato", "Potato", "produce", 77, keeps_days=30),
        _food("parsley", "Parsley, fresh", "produce", 36, keeps_days=7),
    )
    packs = (
        _pack("haddock_500", "haddock", "quay", "pack", "500", "6.35"),
        _pack("potato_1000", "potato", "barrow", "pack", "1000", "1.20"),
        _pack("parsley_loose", "parsley", "barrow", "loose", "10", "0.15"),
    )
    return Catalog(
        nutrients=nutrients,
        allergens={},
        foods={food.food_id: food for food in foods},
        measures=(Measure(food_id="potato", unit="cup", grams=150, source="made up for tests"),),
        yields=(),
        sellers={
            "quay": Seller(seller_id="quay", name="Quayside stall"),
            "barrow": Seller(seller_id="barrow", name="Corner barrow"),
        },
        packs={pack.pack_id: pack for pack in packs},
        recipes={"fish_bake": fish, "mash": mash},
        storage_limits={
            "cooked_fish": StorageLimit(
                kind="cooked_fish", covers="fish", fridge_days_shortest=3, fridge_days_longest=4,
                freezer_months_shortest=2, freezer_months_longest=3, source="made up for tests",
            )
        },
        safe_temperatures={},
        safety_groups={},
    )  # fmt: skip


def sample_scenario() -> Scenario:
    """Return two clients over two days; the second client eats lunch elsewhere on day 2."""
    energy = {"energy_kcal": Window(min=400, max=900)}
    return Scenario(
        name="Two days of fish",
        start_date=START,
        days=2,
        meals=("lunch", "dinner"),
        cook_days=(CookDay(day=0, hands_on_minutes=90), CookDay(day=1)),
        shop_days=(0,),
        visit_cost=Decimal("2.00"),
        stock=(Stock(food="parsley", amount=Decimal(20), unit="g", use_by=date(2027, 1, 5)),),
        clients=(
            Client(id="ana", name="Ana", windows_per_day=energy,
                   windows_per_week={"protein_g": Window(min=40)}),
            Client(id="ben", name="Ben", windows_per_day=energy, away=Away(meals={2: ("lunch",)})),
        ),
    )  # fmt: skip


def _portion(client: str, day: int, meal: str, recipe_id: str, servings: float) -> Portion:
    fish = recipe_id == "fish_bake"
    return Portion(
        client_id=client,
        day=day,
        date=date.fromordinal(START.toordinal() + day - 1),
        meal=meal,
        recipe_id=recipe_id,
        recipe_name="Fish and potato bake" if fish else "Plain mash",
        version="0=haddock" if fish else "base",
        cook_day=0,
        servings=servings,
        stored="freezer" if fish and day == 2 else "fridge",
        thaw_on=START if fish and day == 2 else None,
        nutrients={
            "energy_kcal": (160.0 if fish else 308.0) * servings,
            "protein_g": 20.0 * servings,
            "fat_g": 4.0 * servings,
            "carbohydrate_g": 10.0 * servings,
        },
    )


def sample_plan() -> Plan:
    """Return a plan of the sample kitchen that agrees with itself on money and servings."""
    return Plan(
        planopt_version="0.1.0",
        scenario_name="Two days of fish",
        scenario_file="two_days.yaml",
        scenario_sha256="0" * 64,
        catalog_folder="catalogs",
        catalog_sha256="1" * 64,
        currency="USD",
        start_date=START,
        days=2,
        solution=Solution(
            status="time_limit",
            grocery_cost=Decimal("15.10"),
            visit_cost=Decimal("2.00"),
            waste_cost=Decimal("0.45"),
            waste_weight=1.0,
            objective=Decimal("17.55"),
            best_bound=Decimal("16.80"),
            proven_gap=0.0428,
            gap_asked=0.02,
            solve_seconds=60.0,
            build_seconds=0.4,
            solver="HiGHS 1.0",
            solver_status="kTimeLimit",
            bound_composition="branch and bound",
            settings={"seed": 1, "threads": 2, "time_limit_s": 60.0},
        ),
        purchases=(
            Purchase(shop_day=0, shop_date=SUNDAY, seller_id="quay", pack_id="haddock_500",
                     food_id="haddock", food_name="Haddock fillet", sold="pack", count=2,
                     size=Decimal(500), unit="g", price_each=Decimal("6.35"),
                     price=Decimal("12.70"), edible_g=1000),
            Purchase(shop_day=0, shop_date=SUNDAY, seller_id="barrow", pack_id="potato_1000",
                     food_id="potato", food_name="Potato", sold="pack", count=2,
                     size=Decimal(1000), unit="g", price_each=Decimal("1.20"),
                     price=Decimal("2.40"), edible_g=2000),
        ),
        batches=(
            Batch(cook_day=0, cook_date=SUNDAY, recipe_id="fish_bake",
                  recipe_name="Fish and potato bake", version="0=haddock", batches=1.5,
                  servings=6, servings_eaten=5.5, servings_left=0.5,
                  use_by_fridge=date(2027, 1, 6), use_by_freezer=date(2027, 3, 4),
                  lines=(
                      BatchLine(line=0, food_id="haddock", grams=900, part="main",
                                chosen="alternative"),
                      BatchLine(line=1, food_id="potato", grams=337.5, part="main",
                                chosen="as written"),
                      BatchLine(line=2, food_id="parsley", grams=15, part="cold_topping",
                                chosen="optional"),
                  )),
            Batch(cook_day=0, cook_date=SUNDAY, recipe_id="mash", recipe_name="Plain mash",
                  version="base", batches=2, servings=4, servings_eaten=4, servings_left=0,
                  use_by_fridge=date(2027, 1, 6), use_by_freezer=None,
                  lines=(BatchLine(line=0, food_id="potato", grams=800, part="main",
                                   chosen="as written"),)),
        ),
        portions=(
            _portion("ana", 1, "lunch", "mash", 1),
            _portion("ana", 1, "dinner", "fish_bake", 1.5),
            _portion("ana", 2, "lunch", "mash", 1),
            _portion("ana", 2, "dinner", "fish_bake", 1),
            _portion("ben", 1, "lunch", "mash", 2),
            _portion("ben", 1, "dinner", "fish_bake", 1.5),
            _portion("ben", 2, "dinner", "fish_bake", 1.5),
        ),
        food_uses=(
            FoodUse(food_id="haddock", food_name="Haddock fillet", supply="shop day 0",
                    available_g=1000, used_g={0: 900}, left_g=100, usable_until=date(2027, 1, 4),
                    fate="wasted", left_value=Decimal("0.35")),
            FoodUse(food_id="potato", food_name="Potato", supply="shop day 0",
                    available_g=2000, used_g={0: 1137.5}, left_g=862.5,
                    usable_until=date(2027, 2, 2), fate="carried", left_value=Decimal("1.04")),
            FoodUse(food_id="parsley", food_name="Parsley, fresh", supply="stock 0",
                    available_g=20, used_g={0: 15}, left_g=5, usable_until=date(2027, 1, 5),
                    fate="wasted", left_value=Decimal("0.08")),
        ),
        cautions=("Check every label for allergens.",),
    )  # fmt: skip
