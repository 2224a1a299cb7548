"""Scaled quantities in kitchen units, and the times of a cooking."""

from __future__ import annotations

from fractions import Fraction

from planopt.catalog.records import Catalog, Line, Recipe
from planopt.plan.records import Batch, BatchLine
from planopt.report.words import number
from planopt.units import GRAMS_PER_UNIT, PIECE_UNITS, SPOONS_PER_CUP

_PIECES = {"each": "piece", "slice": "slice", "clove": "clove"}
_TSP_PER = {unit: 48 // count for unit, count in SPOONS_PER_CUP.items()}
# A spoon or cup can be read to these parts; smaller ones are guesswork at the worktop.
_PARTS = (1, 2, 4, 3, 8)


def mixed_number(value: float) -> str | None:
    """Return a number as whole and simple fraction, or None when it is not near one."""
    for part in _PARTS:
        scaled = value * part
        if round(scaled) > 0 and abs(scaled - round(scaled)) < 0.02 * part / 8:
            whole, rest = divmod(round(scaled), part)
            if rest == 0:
                return str(whole)
            fraction = str(Fraction(rest, part))
            return f"{whole} {fraction}" if whole else fraction
    return None


def spoons_text(tsp: float) -> str:
    """Return a volume in the largest of cup, tbsp and tsp that reads as a simple fraction."""
    for unit in ("cup", "tbsp"):
        amount = tsp / _TSP_PER[unit]
        text = mixed_number(amount)
        if text is not None and amount >= (0.25 if unit == "cup" else 1):
            return f"{text} {unit}"
    if tsp < 3:
        return f"{mixed_number(tsp) or number(tsp, 2)} tsp"
    if tsp < 12:
        return f"{number(tsp / 3, 1)} tbsp"
    return f"{number(tsp / 48, 2)} cup"


def _amount_text(amount: float, unit: str) -> str:
    if unit in SPOONS_PER_CUP:
        return spoons_text(amount * _TSP_PER[unit])
    if unit in PIECE_UNITS:
        text = mixed_number(amount) or number(amount, 2)
        return f"{text} {_PIECES[unit]}{'s' if amount > 1 else ''}"
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


def kitchen_amount(catalog: Catalog, recipe: Recipe, used: BatchLine, batches: float) -> str:
    """Return a line's amount for all its batches in kitchen units; empty when grams say it all."""
    if not 0 <= used.line < len(recipe.lines):
        return ""
    line = recipe.lines[used.line]
    if used.chosen == "alternative":
        text = _alternative_text(catalog, line, used)
        state = None
    else:
        text = _amount_text(float(line.amount) * batches, line.unit)
        food = catalog.foods.get(line.food)
        state = line.state if food is None or line.state != food.state else None
    if line.unit == "g" and state is None:
        return ""
    return f"{text} {state}" if state else text


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
