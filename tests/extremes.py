"""Kitchens whose numbers are as odd as their ranges allow, one or several at a time.

A base kitchen writes every number that a person can write into scenario, recipes, tables and stock
file; each is a `Spot`, and `put` writes another number there.
"""

from __future__ import annotations

import copy
import csv
import io
from collections.abc import Iterator, Mapping
from dataclasses import dataclass
from decimal import Decimal
from pathlib import Path
from typing import Annotated, Any, Literal, Union, get_args, get_origin

import yaml
from pydantic import BaseModel

from kitchens import CATALOG, tiny_catalog_files, tiny_client, tiny_scenario, write_catalog
from planopt.catalog.records import (
    Food,
    Measure,
    Nutrient,
    Pack,
    Recipe,
    SafeTemperature,
    StorageLimit,
    YieldFactor,
)
from planopt.faults import NoCompliantWeek, NoPlanInTime
from planopt.pipeline import make_plan
from planopt.ranges import Range
from planopt.report.files.folder import plan_contents
from planopt.scenario.households.paths import check_paths
from planopt.scenario.reading.load import load_kitchen
from planopt.scenario.records import Scenario, StockFile
from planopt.solve.settings import SolveSettings

SCENARIO, STOCK = "scenario.yaml", "more.yaml"
Step = str | int
FEW_DAYS = 3


@dataclass(frozen=True)
class Spot:
    """A number of the base kitchen: the file, the path in it, and its range."""

    file: str
    path: tuple[Step, ...]
    range: Range
    whole: bool

    @property
    def name(self) -> str:
        """Return the spot in words."""
        return f"{self.file}:{'.'.join(map(str, self.path))}"

    def values(self) -> list[Any]:
        """Return numbers that the range holds: both ends, and some between."""
        least, most = float(self.range.least), float(self.range.most)
        between = [least + (most - least) * share for share in (1e-6, 0.001, 0.03, 0.5)]
        found = [least, most, *between, 1e-6, 0.37, 1.0, 7.0]
        if self.whole:
            found = [float(round(value)) for value in found]
        kept = [value for value in found if self.range.holds(value)]
        return [int(value) if value == int(value) else value for value in dict.fromkeys(kept)]

    def beyond(self) -> list[Any]:
        """Return numbers that the range does not hold."""
        span = max(1.0, abs(float(self.range.most)))
        found = [float(self.range.most) + span, float(self.range.least) - span]
        return [int(value) if value == int(value) else value for value in found]


def base_files() -> dict[str, Any]:
    """Return the base kitchen: data of YAML files, rows of tables, by relative name."""
    client = tiny_client(
        windows_per_week={"sodium_mg": {"min": 0, "max": 9000}},
        windows_on_days={2: {"energy_kcal": {"min": 1500, "max": 2200}}},
        day_patterns={"rest": {"energy_kcal": {"min": 1400, "max": 2100}}},
        pattern_days={"rest": [1]},
        dislikes={"onion": 9},
        wants={"egg": 1},
        most_meals_of={"rice": 9},
        least_meals_of={"eggs": 1},
        most_meals_with={"grains": 9},
        least_meals_with={"eggs": 1},
        recipe_servings={"lentil_soup": {"min": 0, "max": 20}},
        portions={"step": 0.5, "smallest": 0.5, "largest": 2},
        most_repeats=4,
        not_again_days=3,
        least_different_recipes=1,
        most_different_recipes=9,
        days_between=0,
        days_between_of={"egg_rice": 0},
        ratings={"egg_rice": 1},
        age_years=40,
        windows_per_meal_on_days={2: {"snack": {"sodium_mg": {"min": 0, "max": 4000}}}},
        away={"days": [3]},
    )
    cook = {"day": 0, "hands_on_minutes": 600, "oven_minutes": 600, "hob_minutes": 600,
            "most_recipes": 8, "cooks": 2}  # fmt: skip
    scenario = tiny_scenario(
        clients=[client],
        days=FEW_DAYS,
        most_dishes_per_meal=1,
        cook_days=[cook, {"day": 2}],
        shop_days=[0, 2],
        by_hand={
            "plates": [
                {"put": "egg_rice", "day": 2, "meal": "dinner", "servings": 1.0, "cook_day": 0}
            ],
            "bought": [{"pack": "onions_loose", "count": 1, "day": 2}],
            "cooked": [{"recipe": "lentil_soup", "batches": 1, "day": 0, "lost": 1}],
            "from_day": 0,
        },
        visit_cost=1,
        days_between=0,
        days_between_of={"lentil_soup": 0},
        same_dish=[{"meals": ["breakfast"], "as_meal": "breakfast", "days_before": 1, "days": [2]}],
        most_recipes=9,
        budget=200,
        windows_per_meal={"dinner": {"fat_g": {"min": 0, "max": 400}}},
        plate_g={"min": 0, "max": 2000},
        work_prices={"cook_hour": 18, "washing_up_minutes": 5, "box": 1},
        not_again_days=3,
        seen_price=1,
        ready_portions=[
            {
                "recipe": "lentil_soup",
                "servings": 2,
                "price": 1,
                "cooked_on": "2026-11-20",
                "use_by": "2026-12-20",
            },
            {
                "recipe": "lentil_soup",
                "grams": 500,
                "cooked_on": "2026-11-21",
                "use_by": "2026-12-20",
            },
        ],
        waste_weight=1,
        carry_days=7,
        appliances={
            "ovens": 1,
            "oven_batches": 2,
            "oven_change_minutes": 10,
            "hob_rings": 4,
            "clean_down_minutes": 5,
        },
        label_sheet={
            "page": {"width_mm": 210, "height_mm": 297},
            "columns": 2,
            "rows": 5,
            "label_width_mm": 94,
            "label_height_mm": 50,
            "left_mm": 5,
            "top_mm": 5,
            "gap_across_mm": 4,
            "gap_down_mm": 3,
            "skip": 1,
        },
        stock=[{"food": "oats_rolled", "amount": 300, "unit": "g"}],
        stock_files=[STOCK],
        variants=[
            {
                "name": "odd",
                "budget": 150,
                "prices": [{"food": "egg", "percent": 10}],
                "windows": [
                    {"client": "ana", "nutrient": "protein_g", "min_by": 1},
                    {"client": "ana", "nutrient": "energy_kcal", "min": 1500, "day": 1},
                ],
                "stock": [{"food": "onion", "amount": 2, "unit": "each"}],
            },
            {
                "name": "more",
                "prices": [{"seller": "corner", "amount": 1}],
                "cook_days_out": [2],
                "work_prices": {"cook_hour": 20, "washing_up_minutes": 4, "box": 2},
                "windows": [
                    {"client": "ana", "nutrient": "energy_kcal", "max_by": 50, "max": None}
                ],
            },
        ],
    )
    files: dict[str, Any] = {
        SCENARIO: scenario,
        STOCK: {"note": "", "stock": [{"food": "rice_white_long", "amount": 200, "unit": "g"}]},
    }
    for name, text in tiny_catalog_files().items():
        if name.endswith(".yaml"):
            files[name] = yaml.safe_load(text)
        else:
            files[name] = list(csv.DictReader(io.StringIO(text)))
    for food in files["foods.csv"]:
        food["groups"] = {"egg": "eggs", "oats_rolled": "grains"}.get(food["food_id"], "")
    baked = files["recipes/egg_rice.yaml"]
    baked["groups"] = ["rice", "eggs"]
    baked["equipment"]["oven"] = {"temperature_c": 180, "minutes": 20}
    baked["smallest_portion"] = 0.5
    baked["equipment"]["blender_minutes"] = 0
    baked["lines"][2]["alternatives"] = [{"food": "lentils_red_dry", "ratio": 0.5}]
    for limit in files["storage_limits.csv"]:
        limit["thawed_days"] = "1"
    return files


def write(folder: Path, files: Mapping[str, Any]) -> Path:
    """Write a kitchen's files into a folder and return its scenario file."""
    texts: dict[str, str | None] = {}
    for name, data in files.items():
        if name.endswith(".csv"):
            out = io.StringIO()
            writer = csv.DictWriter(out, list(data[0]), lineterminator="\n")
            writer.writeheader()
            writer.writerows(data)
            texts[name] = out.getvalue()
        elif name not in (SCENARIO, STOCK):
            texts[name] = yaml.safe_dump(data, sort_keys=False)
    write_catalog(folder / CATALOG, texts)
    for name in (SCENARIO, STOCK):
        (folder / name).write_text(yaml.safe_dump(files[name], sort_keys=False), encoding="utf-8")
    return folder / SCENARIO


def numbers_in(model: type[BaseModel]) -> Iterator[tuple[str, type, Range | None]]:
    """Yield every number of a record, of its parts too: its name, type, and range if it has one."""
    for name, info in model.model_fields.items():
        for kind, within in _numbers(info.annotation, info.metadata):
            yield f"{model.__name__}.{name}", kind, within
        for part in _records(info.annotation):
            yield from numbers_in(part)


def _numbers(annotation: Any, metadata: Any) -> Iterator[tuple[type, Range | None]]:
    """Yield the types of the numbers of a field, keys of maps too, each with its range."""
    if get_origin(annotation) is Annotated:
        inner, *more = get_args(annotation)
        yield from _numbers(inner, [*more, *metadata])
    elif annotation in (int, float, Decimal):
        yield annotation, next((one for one in metadata if isinstance(one, Range)), None)
    elif get_origin(annotation) is not Literal:
        plain = isinstance(get_origin(annotation), type) and get_origin(annotation) is not Union
        holds = plain and issubclass(get_origin(annotation), (tuple, list, dict))
        for part in get_args(annotation):
            # A range before a list or a map is none of its entries'.
            yield from _numbers(part, () if holds else metadata)


def _records(annotation: Any) -> Iterator[type[BaseModel]]:
    if isinstance(annotation, type) and issubclass(annotation, BaseModel):
        yield annotation
    for part in get_args(annotation):
        yield from _records(part)


def spots(files: Mapping[str, Any]) -> Iterator[Spot]:
    """Yield every number of a kitchen's files."""
    for name, data in files.items():
        if not name.endswith(".csv"):
            model = {SCENARIO: Scenario, STOCK: StockFile}.get(name, Recipe)
            yield from _spots(name, (), model, (), data)
            continue
        for row, cells in enumerate(data):
            columns = {info.alias or key: info for key, info in _TABLES.get(name, {}).items()}
            for column, text in cells.items():
                info = columns.get(column) or (
                    columns["nutrients"] if name == "foods.csv" else None
                )
                if text and info is not None:
                    yield from _spots(name, (row, column), info.annotation, info.metadata, text)


_TABLES: dict[str, Any] = {
    f"{name}.csv": model.model_fields
    for name, model in {
        "nutrients": Nutrient, "foods": Food, "measures": Measure, "yields": YieldFactor,
        "packs": Pack, "storage_limits": StorageLimit, "safe_temperatures": SafeTemperature,
    }.items()
}  # fmt: skip


def _spots(
    file: str, path: tuple[Step, ...], annotation: Any, metadata: Any, data: Any
) -> Iterator[Spot]:
    if isinstance(data, (list, dict)):
        for part in _records(annotation) if isinstance(data, dict) else ():
            fields = {info.alias or name: info for name, info in part.model_fields.items()}
            if set(data) <= set(fields):
                for key, value in data.items():
                    info = fields[key]
                    yield from _spots(file, (*path, key), info.annotation, info.metadata, value)
                return
        entries = data.items() if isinstance(data, dict) else enumerate(data)
        item = _item(annotation, dict if isinstance(data, dict) else tuple)
        for key, value in entries:
            yield from _spots(file, (*path, key), item, (), value)
        return
    if isinstance(data, bool):
        return
    for kind, within in _numbers(annotation, metadata):
        try:
            Decimal(str(data))
        except ArithmeticError:
            continue
        assert within is not None
        yield Spot(file, path, within, kind is int)
        return


def _item(annotation: Any, kind: type) -> Any:
    """Return what the entries of the list or map within an annotation are."""
    if get_origin(annotation) is kind:
        return get_args(annotation)[1 if kind is dict else 0]
    found = [_item(part, kind) for part in get_args(annotation)]
    return next((one for one in found if one is not None), None)


def put(files: Mapping[str, Any], spot: Spot, value: Any) -> dict[str, Any]:
    """Return the files with a number in the place of another."""
    changed = copy.deepcopy(dict(files))
    here = changed[spot.file]
    for step in spot.path[:-1]:
        here = here[step]
    here[spot.path[-1]] = str(value) if spot.file.endswith(".csv") else value
    return changed


def ended(folder: Path, files: Mapping[str, Any], seconds: float = 1.0) -> str:
    """Return how a kitchen ends that `check` sees and then, if it has no fault, `plan`.

    Anything but a plan, a proof that there is none, or no plan in time is raised.
    """
    path = write(folder, files)
    if check_paths([path]):
        return "refused by check"
    kitchen = load_kitchen(path)
    # Any plan will do: a wide gap ends the search early.
    settings = SolveSettings(time_limit_s=seconds, threads=1, gap=0.9)
    try:
        plan = make_plan(kitchen, settings, explain_s=0)
    except NoCompliantWeek:
        return "proven impossible"
    except NoPlanInTime:
        return "without a plan in time"
    plan_contents(plan, kitchen.catalog, kitchen.scenario)
    return "planned"
