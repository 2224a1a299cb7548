"""Published diet problems as kitchens of our own: one recipe of 100 g for each food.

Dollars are the price of 100 g, nutrients are per 100 g, so servings are packages (or dollars). The
files are written to a folder and read back through the ordinary loader.
"""

from __future__ import annotations

import csv
import io
from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass
from pathlib import Path
from typing import Any

import yaml

DATA = Path(__file__).parent / "data"
ENDLESS = 100.0

Limits = Mapping[str, tuple[float | None, float | None]]


@dataclass(frozen=True)
class DietFood:
    """A food of a diet problem: price and nutrients of one package, and bounds on packages."""

    food_id: str
    price: str
    nutrients: Mapping[str, str]
    least: float = 0.0
    most: float | None = None


def rows_of(name: str) -> list[dict[str, str]]:
    """Return the rows of one data file."""
    with (DATA / name).open(encoding="utf-8", newline="") as file:
        return list(csv.DictReader(file))


def table(header: Sequence[str], rows: Iterable[Sequence[object]]) -> str:
    """Return a CSV table as text."""
    text = io.StringIO()
    writer = csv.writer(text, lineterminator="\n")
    writer.writerow(header)
    writer.writerows(rows)
    return text.getvalue()


def write_diet_kitchen(
    folder: Path, foods: Sequence[DietFood], limits: Limits, *, whole: bool
) -> Path:
    """Write the kitchen of a diet problem and return its scenario file; `whole` = integer."""
    nutrients = list(foods[0].nutrients)
    files = {
        "nutrients.csv": table(
            ["nutrient_id", "name", "unit", "decimals"],
            [[nutrient, nutrient, "published unit", 1] for nutrient in nutrients],
        ),
        "allergens.csv": "allergen_id,name,us_number,eu_number,note\n",
        "foods.csv": table(
            [
                "food_id",
                "name",
                "sr28_ndb_no",
                "sr28_description",
                *nutrients,
                "state",
                "edible_share",
                "density_g_per_ml",
                "allergens",
                "aisle",
                "storage",
                "keeps_days",
                "opened_keeps_days",
                "safe_temperature",
                "safety_group",
            ],
            [
                [
                    food.food_id,
                    food.food_id,
                    "",
                    "published diet problem",
                    *food.nutrients.values(),
                    "ready",
                    1,
                    "",
                    "none",
                    "shelf",
                    "shelf",
                    "",
                    "",
                    "",
                    "none",
                ]
                for food in foods
            ],
        ),
        "measures.csv": "food_id,unit,state,grams,source\n",
        "yields.csv": "food_id,state,grams_per_g,source\n",
        "sellers.csv": "seller_id,name,note\nstore,Store,Invented\n",
        "packs.csv": table(
            [
                "pack_id",
                "food_id",
                "seller_id",
                "sold",
                "size",
                "unit",
                "price",
                "currency",
                "price_date",
            ],
            [
                [
                    f"{food.food_id}_pack",
                    food.food_id,
                    "store",
                    "pack" if whole else "any",
                    100,
                    "g",
                    food.price,
                    "USD",
                    "2026-11-20",
                ]
                for food in foods
            ],
        ),
        "storage_limits.csv": (
            "kind,covers,fridge_days_shortest,fridge_days_longest,freezer_months_shortest,"
            "freezer_months_longest,source\n"
            'dry_snack,Dry food,14,28,0,0,"common practice, no source"\n'
        ),
        "safe_temperatures.csv": "class,covers,internal_c,internal_f,rest_minutes,source\n",
        "safety_groups.csv": "group,covers,temperature_class,kinds,source\n",
    }
    for food in foods:
        files[f"recipes/{food.food_id}_dish.yaml"] = yaml.safe_dump(_recipe(food, whole=whole))
    for name, text in files.items():
        path = folder / "catalogs" / name
        path.parent.mkdir(parents=True, exist_ok=True)
        path.write_text(text, encoding="utf-8", newline="")
    scenario = folder / "scenario.yaml"
    scenario.write_text(
        yaml.safe_dump(_scenario(foods, limits, whole=whole)), encoding="utf-8", newline=""
    )
    return scenario


def _recipe(food: DietFood, *, whole: bool) -> dict[str, Any]:
    return {
        "name": food.food_id,
        "meals": ["meal"],
        "yield_servings": 1,
        "batch": {"step": "whole" if whole else "any", "most_per_cook_day": ENDLESS},
        "minutes": {"hands_on": 0, "hands_on_per_extra_batch": 0},
        "keeps": {"kind": "dry_snack", "fridge_days": 14, "serve": "cold"},
        "lines": [{"food": food.food_id, "amount": 100, "unit": "g"}],
    }


def _scenario(foods: Sequence[DietFood], limits: Limits, *, whole: bool) -> dict[str, Any]:
    windows = {
        nutrient: {
            side: value for side, value in (("min", low), ("max", high)) if value is not None
        }
        for nutrient, (low, high) in limits.items()
    }
    servings = {
        f"{food.food_id}_dish": {"min": food.least}
        | ({} if food.most is None else {"max": food.most})
        for food in foods
    }
    return {
        "name": "Published diet problem",
        "catalog": "catalogs",
        "start_date": "2026-11-30",
        "days": 1,
        "meals": ["meal"],
        "most_dishes_per_meal": "any",
        "cook_days": [{"day": 1}],
        "clients": [
            {
                "id": "eater",
                "name": "Eater",
                "windows_per_day": windows,
                "recipe_servings": servings,
                "portions": {
                    "step": 1 if whole else "any",
                    "smallest": 0,
                    "largest": ENDLESS,
                },
                "most_repeats": None,
                # The published problems tell energy in their own units, or not at all.
                "medically_supervised": True,
            }
        ],
    }
