"""Random kitchens over the demo catalog: every documented option on or off, by a seed.

Clients, limits and pantries are invented; foods, packs and recipes are the demo's.
"""

from __future__ import annotations

from random import Random
from typing import Any

from benchmarks.pantry import CATALOGS

MEALS = ("breakfast", "lunch", "dinner", "snack")
_ALLERGENS = (
    "milk", "egg", "fish", "tree_nuts", "peanut", "wheat", "gluten_cereals", "soy", "sesame",
)  # fmt: skip
_SHELF = (
    ("salt", 500), ("black_pepper", 50), ("olive_oil", 400), ("canola_oil", 400),
    ("rice_white_long", 900), ("honey", 250), ("cumin_ground", 40), ("oats_rolled", 500),
    ("pasta", 500), ("lentils_red_dry", 400), ("carrot", 500), ("onion", 700),
)  # fmt: skip
_DISLIKED = ("mushrooms", "tofu_firm", "salmon", "onion", "egg", "rice_white_long", "oats_rolled")
_SELLERS = ("market_hall", "corner_grocer", "dry_store")


def random_demo(seed: int, recipe_ids: tuple[str, ...]) -> dict[str, Any]:
    """Return the scenario of a seed as data."""
    rng = Random(f"kitchen {seed}")
    days = rng.randint(1, 7)
    chosen = rng.sample(MEALS, rng.randint(1, 4))
    meals = [meal for meal in MEALS if meal in chosen]
    keys: dict[str, Any] = {
        "name": f"Random kitchen {seed}",
        "catalog": CATALOGS.as_posix(),
        "currency": "USD",
        "start_date": "2026-11-30",
        "days": days,
        "meals": meals,
        "meal_defaults": "off",
        "cook_days": _cook_days(rng, days, meals),
    }
    maybe: list[tuple[float, str, Any]] = [
        (0.2, "most_dishes_per_meal", rng.choice([2, 2, 3, "any"])),
        (0.25, "visit_cost", rng.choice(["0.75", "2.00", "5.00"])),
        (0.25, "waste_weight", rng.choice([0, 0.5, 2])),
        (0.25, "carry_days", rng.choice([0, 2, 14])),
        (0.3, "keeping_rule", "longest"),
        (0.2, "use_freezer", False),
        (0.15, "sellers", rng.sample(_SELLERS, 2)),
        (0.2, "budget", f"{rng.uniform(5, 14) * days * len(meals) / 2:.2f}"),
    ]
    keys |= {name: value for chance, name, value in maybe if rng.random() < chance}
    if rng.random() < 0.25:
        first = min(cook["day"] for cook in keys["cook_days"])
        keys["shop_days"] = sorted({first, rng.randint(first, days)})
    if rng.random() < 0.25:
        some = rng.sample(recipe_ids, rng.randint(len(recipe_ids) // 3, len(recipe_ids) - 5))
        keys["recipes"] = {rng.choice(["include", "exclude"]): some[: len(recipe_ids) // 2]}
    if rng.random() < 0.5:
        keys["stock"] = [
            {"food": food, "amount": round(grams * rng.uniform(0.3, 1.5)), "unit": "g"}
            | ({"use_by": f"2026-12-{rng.randint(1, 28):02d}"} if rng.random() < 0.3 else {})
            for food, grams in rng.sample(_SHELF, rng.randint(1, len(_SHELF)))
        ]
    keys["clients"] = [
        _client(rng, f"client_{n}", keys, recipe_ids) for n in range(rng.choice([1, 1, 2, 3, 4]))
    ]
    return keys


def _cook_days(rng: Random, days: int, meals: list[str]) -> list[dict[str, Any]]:
    first = rng.choice([0, 0, 0, 1])
    numbers = {first} | ({rng.randint(first + 1, days)} if days > max(2, first) else set())
    if days > 5 and rng.random() < 0.3:
        numbers.add(rng.randint(2, days))
    found = []
    for day in sorted(numbers):
        cook: dict[str, Any] = {"day": day}
        # What is cooked on the first day has to be ready for its meals.
        if day > 1 and rng.random() < 0.4:
            cook["ready_for"] = rng.choice(["next_day", meals[-1]])
        if rng.random() < 0.3:
            cook["hands_on_minutes"] = rng.randrange(90, 420, 30)
        if rng.random() < 0.2:
            cook["oven_minutes"] = rng.randrange(60, 420, 30)
        if rng.random() < 0.2:
            cook["hob_minutes"] = rng.randrange(90, 420, 30)
        if rng.random() < 0.3:
            cook["most_recipes"] = rng.randint(3, 14)
        found.append(cook)
    return found


def _client(
    rng: Random, client_id: str, keys: dict[str, Any], recipe_ids: tuple[str, ...]
) -> dict[str, Any]:
    meals, days = keys["meals"], keys["days"]
    # About a third of a day's energy for each main meal, less for a snack.
    share = sum(0.1 if meal == "snack" else 0.3 for meal in meals)
    energy = max(900.0, rng.uniform(1500, 2900) * share)
    windows: dict[str, Any] = {
        "energy_kcal": {"min": round(energy * 0.9), "max": round(energy * rng.uniform(1.05, 1.3))}
    }
    if rng.random() < 0.7:
        windows["protein_g"] = {"min": round(energy * rng.uniform(0.02, 0.055))}
    if rng.random() < 0.25:
        windows["fat_g"] = {"max": round(energy * rng.uniform(0.036, 0.05))}
    if rng.random() < 0.2:
        windows["fibre_g"] = {"min": round(energy * rng.uniform(0.006, 0.012))}
    client: dict[str, Any] = {
        "id": client_id,
        "name": client_id.replace("_", " ").title(),
        "windows_per_day": windows,
    }
    step = rng.choice([0.5, 0.5, 0.5, 0.25, 1, "any"])
    small, large = rng.choice([(0.5, 2), (0.5, 3), (1, 3)])
    if rng.random() < 0.4 or share < 0.5:
        if share < 0.5:
            large = 4
        small = small if step != 1 else 1
        client["portions"] = {"step": step, "smallest": small, "largest": large}
    options: list[tuple[float, str, Any]] = [
        (0.4, "allergens", rng.sample(_ALLERGENS, rng.randint(1, 3))),
        (0.2, "excluded_foods", rng.sample(_DISLIKED, 2)),
        (0.15, "excluded_recipes", rng.sample(recipe_ids, 5)),
        (0.2, "dislikes", {rng.choice(_DISLIKED): rng.randint(0, 2)}),
        (0.1, "wants", {rng.choice(_DISLIKED): 1}),
        (0.3, "most_repeats", rng.choice([2, 3, 5, None])),
        (0.25, "least_different_recipes", min(rng.randint(2, 8), days * len(meals))),
        (0.2, "windows_per_week", {"sodium_mg": {"max": round(energy * 1.5 * days)}}),
        (0.1, "recipe_servings", {rng.choice(recipe_ids): {"max": 2}}),
    ]
    client |= {name: value for chance, name, value in options if rng.random() < chance}
    if days > 2 and len(meals) > 1 and rng.random() < 0.2:
        client["away"] = {"meals": {rng.randint(1, days): [rng.choice(meals)]}}
    if days > 2 and rng.random() < 0.15:
        day = rng.randint(1, days)
        client["windows_on_days"] = {
            day: {"energy_kcal": {"min": round(energy), "max": round(energy * 1.4)}}
        }
    if rng.random() < 0.15:
        # The floor holds where no window asks for energy.
        del windows["energy_kcal"]["min"]
    if len(meals) > 2 and rng.random() < 0.15:
        client["meals"] = meals[:-1]
    return client
