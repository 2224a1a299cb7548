"""Grams from amounts, by the audit's own reading of the measures, densities and yields."""

from __future__ import annotations

from decimal import Decimal
from fractions import Fraction

from planopt.audit.findings import exact
from planopt.catalog.records import Catalog, Food, Line
from planopt.units import GRAMS_PER_UNIT, ML_PER_UNIT, SPOONS_PER_CUP


class Conversions:
    """Every answer is None where the catalog cannot tell, which the caller must report."""

    def __init__(self, catalog: Catalog) -> None:
        self._foods = catalog.foods
        self._measures: dict[tuple[str, str, str], Fraction] = {}
        for row in catalog.measures:
            food = catalog.foods.get(row.food_id)
            if food is not None:
                key = (row.food_id, row.unit, row.state or food.state)
                self._measures.setdefault(key, exact(row.grams))
        self._yields = {(row.food_id, row.state): exact(row.grams_per_g) for row in catalog.yields}

    def line_grams(self, line: Line) -> Fraction | None:
        """Return the catalog grams of a recipe line as written, for one batch."""
        food = self._foods.get(line.food)
        if food is None:
            return None
        state = line.state or food.state
        grams = self._mass(food, exact(line.amount), line.unit, state)
        if grams is None or state == food.state:
            return grams
        factor = self._yields.get((food.food_id, state))
        return None if factor is None else grams / factor

    def edible_grams(self, food_id: str, amount: Decimal, unit: str) -> Fraction | None:
        """Return the edible grams in an amount as purchased, of a pack or a stock entry."""
        food = self._foods.get(food_id)
        if food is None:
            return None
        measured = self._measured(food, unit, food.state)
        if measured is not None:
            return exact(amount) * measured  # a measure's grams are edible already
        whole = self._mass(food, exact(amount), unit, food.state)
        return None if whole is None else whole * exact(food.edible_share)

    def _mass(self, food: Food, amount: Fraction, unit: str, state: str) -> Fraction | None:
        """Return the grams of `amount` in `state`, before any yield or edible share."""
        if unit in GRAMS_PER_UNIT:
            return amount * GRAMS_PER_UNIT[unit]
        measured = self._measured(food, unit, state)
        if measured is not None:
            return amount * measured
        if unit not in ML_PER_UNIT or food.density_g_per_ml is None:
            return None
        if unit in SPOONS_PER_CUP and state != food.state:
            return None  # a density is that of the food as bought, not of a heap of it cooked
        return amount * ML_PER_UNIT[unit] * exact(food.density_g_per_ml)

    def _measured(self, food: Food, unit: str, state: str) -> Fraction | None:
        """Return the grams of one unit by the measures, spoons and cups standing in for others."""
        direct = self._measures.get((food.food_id, unit, state))
        if direct is not None or unit not in SPOONS_PER_CUP:
            return direct
        for other, per_cup in SPOONS_PER_CUP.items():
            grams = self._measures.get((food.food_id, other, state))
            if grams is not None:
                return grams * per_cup / SPOONS_PER_CUP[unit]
        return None
