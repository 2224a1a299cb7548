"""Scaled quantities in kitchen units, and the times of a cooking."""

from __future__ import annotations

from planopt.catalog.records import Catalog, Food, Line, Recipe
from planopt.plan.records import Batch, BatchLine
from planopt.report.words.locale import units_shown
from planopt.report.words.plain import number
from planopt.report.words.spoons import (
    TSP_PER,
    metric_volume,
    mixed_number,
    spoons_text,
    us_mass,
    us_volume,
)
from planopt.units import GRAMS_PER_UNIT, ML_PER_UNIT, PIECE_UNITS

_PIECES = {"each": "piece", "slice": "slice", "clove": "clove"}


def _amount_text(amount: float, unit: str) -> str:
    """Return an amount in the units shown."""
    units = units_shown()
    if unit in PIECE_UNITS:
        text = mixed_number(amount) or number(amount, 2)
        return f"{text} {_PIECES[unit]}{'s' if amount > 1 else ''}"
    if unit in ML_PER_UNIT and units != "recipe":
        ml = amount * float(ML_PER_UNIT[unit])
        return metric_volume(ml) if units == "metric" else us_volume(ml)
    if unit in GRAMS_PER_UNIT and units != "recipe":
        grams = amount * float(GRAMS_PER_UNIT[unit])
        return us_mass(grams) if units == "us" else f"{number(grams)} g"
    if unit in TSP_PER:
        return spoons_text(amount * TSP_PER[unit])
    return f"{number(amount, 2)} {unit}"


def _alternative_text(catalog: Catalog, line: Line, used: BatchLine) -> str:
    """Express an alternative's grams in the unit of the line it replaces, if it has one."""
    if line.unit in GRAMS_PER_UNIT:
        return _amount_text(used.grams / float(GRAMS_PER_UNIT[line.unit]), line.unit)
    food = catalog.foods.get(used.food_id)
    for measure in catalog.measures:
        same_unit = measure.food_id == used.food_id and measure.unit == line.unit
        if same_unit and food is not None and measure.state in (None, food.state):
            return _amount_text(used.grams / measure.grams, line.unit)
    return ""


def _poured(food: Food | None, line: Line) -> bool:
    """Whether US kitchens would measure a weighed food by volume: its density is known."""
    return (
        units_shown() == "us"
        and line.unit in GRAMS_PER_UNIT
        and food is not None
        and food.density_g_per_ml is not None
    )


def kitchen_amount(catalog: Catalog, recipe: Recipe, used: BatchLine, batches: float) -> str:
    """Return a line's amount for all its batches in kitchen units; empty when grams say it all.

    In US units a food with a known density is poured into cups and spoons, any other weighed food
    is in pounds and ounces.
    """
    if not 0 <= used.line < len(recipe.lines):
        return ""
    line = recipe.lines[used.line]
    food = catalog.foods.get(used.food_id)
    state = None
    if used.chosen == "alternative":
        text = _alternative_text(catalog, line, used)
    else:
        text = _amount_text(float(line.amount) * batches, line.unit)
        state = line.state if food is None or line.state != food.state else None
    if state is None and _poured(food, line):
        assert food is not None
        assert food.density_g_per_ml is not None
        return us_volume(used.grams / food.density_g_per_ml)
    if state is not None:
        return f"{text} {state}"
    weighed = {"recipe": ("g",), "metric": tuple(GRAMS_PER_UNIT), "us": ()}[units_shown()]
    return "" if line.unit in weighed else text


def hands_on_minutes(recipe: Recipe, batches: float) -> float:
    """Return hands-on minutes of one dish on one cook day."""
    extra = max(0.0, batches - 1)
    return recipe.minutes.hands_on + recipe.minutes.hands_on_per_extra_batch * extra


def oven_minutes(recipe: Recipe, batches: float) -> float:
    """Return oven minutes of one dish on one cook day."""
    return recipe.equipment.oven.minutes * batches if recipe.equipment.oven else 0.0


def hob_minutes(recipe: Recipe, batches: float) -> float:
    """Return ring-minutes of one dish on one cook day."""
    return recipe.equipment.hob_minutes * batches


def cooking_order(catalog: Catalog, batches: list[Batch]) -> list[Batch]:
    """Return a day's batches, those that look after themselves longest first."""

    def key(batch: Batch) -> tuple[float, str, str]:
        recipe = catalog.recipes.get(batch.recipe_id)
        alone = recipe.minutes.unattended if recipe else 0.0
        return (-alone, batch.recipe_name, batch.version)

    return sorted(batches, key=key)
