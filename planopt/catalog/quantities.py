"""Grams of recipe lines, packs and stock: the one place of this arithmetic before solving.

All results are grams of edible food in the state the food table describes. The sums are exact
until the last step; the audit has its own arithmetic and does not use this module.
"""

from __future__ import annotations

from decimal import Decimal
from fractions import Fraction
from typing import Literal

from planopt.catalog.records import Catalog, Food, Pack
from planopt.units import GRAMS_PER_UNIT, ML_PER_UNIT, SPOONS_PER_CUP, exact


class UnitUnknown(Exception):
    """An amount cannot be turned into grams; `why` and `mend` are sentences for the user.

    `part` is the field of the amount to blame.
    """

    def __init__(self, why: str, mend: str, part: Literal["unit", "state"] = "unit") -> None:
        super().__init__(why)
        self.why = why
        self.mend = mend
        self.part = part


class Quantities:
    """Grams by the measures, yields and densities of one catalog."""

    def __init__(self, catalog: Catalog) -> None:
        self._foods = catalog.foods
        self._measures: dict[tuple[str, str, str], Fraction] = {}
        for measure in catalog.measures:
            food = catalog.foods.get(measure.food_id)
            if food is not None:
                key = (food.food_id, measure.state or food.state, measure.unit)
                self._measures[key] = exact(measure.grams)
        self._yields: dict[tuple[str, str], Fraction] = {
            (factor.food_id, factor.state): exact(factor.grams_per_g) for factor in catalog.yields
        }

    def line_grams(
        self, food_id: str, amount: Decimal | int | Fraction, unit: str, state: str | None = None
    ) -> float:
        """Return the grams of a recipe line, as grams of the catalog food.

        Raises:
            UnitUnknown: the catalog does not tell how heavy this amount is.
        """
        food = self._foods[food_id]
        wanted = state or food.state
        grams = Fraction(amount) * self._grams_per(food, unit, wanted, volume_share=Fraction(1))
        if wanted != food.state:
            factor = self._yields.get((food_id, wanted))
            if factor is None:
                raise UnitUnknown(
                    f"no yield tells how much {wanted} food a gram of {food_id} gives",
                    f"add the {wanted} yield of {food_id} to yields.csv, or leave the state out",
                    part="state",
                )
            grams /= factor
        return float(grams)

    def pack_edible_g(self, pack: Pack) -> float:
        """Return the edible grams in one pack (or one step of loose food).

        Raises:
            UnitUnknown: the catalog does not tell how heavy the pack is.
        """
        return self.stock_edible_g(pack.food_id, pack.size, pack.unit)

    def stock_edible_g(self, food_id: str, amount: Decimal | int | Fraction, unit: str) -> float:
        """Return the edible grams of food as purchased; household measures are edible already.

        Raises:
            UnitUnknown: the catalog does not tell how heavy this amount is.
        """
        food = self._foods[food_id]
        share = exact(food.edible_share)
        grams = self._grams_per(food, unit, food.state, volume_share=share)
        if unit in GRAMS_PER_UNIT:
            grams *= share
        return float(Fraction(amount) * grams)

    def _grams_per(self, food: Food, unit: str, state: str, volume_share: Fraction) -> Fraction:
        """Return grams in `state` of one unit; `volume_share` applies to volumes by density."""
        if unit in GRAMS_PER_UNIT:
            return GRAMS_PER_UNIT[unit]
        if unit in SPOONS_PER_CUP:
            spoon = self._spoon(food, unit, state)
            if spoon is not None:
                return spoon
        if unit in ML_PER_UNIT:
            # The density is that of the food as listed, so it says nothing of another state.
            if food.density_g_per_ml is not None and state == food.state:
                return ML_PER_UNIT[unit] * exact(food.density_g_per_ml) * volume_share
            raise self._no_volume(food, unit, state)
        piece = self._measures.get((food.food_id, state, unit))
        if piece is None:
            raise UnitUnknown(
                f"no measure tells the grams of {unit!r} of {food.food_id}{_in(food, state)}",
                f"{_add_measure(food, unit, state)}, or write grams",
            )
        return piece

    def _spoon(self, food: Food, unit: str, state: str) -> Fraction | None:
        """Return grams of a cup or spoon: its own measure, or the largest other one scaled."""
        for other in (unit, *SPOONS_PER_CUP):
            grams = self._measures.get((food.food_id, state, other))
            if grams is not None:
                return grams * SPOONS_PER_CUP[other] / SPOONS_PER_CUP[unit]
        return None

    @staticmethod
    def _no_volume(food: Food, unit: str, state: str) -> UnitUnknown:
        if unit in SPOONS_PER_CUP:
            return UnitUnknown(
                f"no measure tells the grams of {unit!r} of {food.food_id}{_in(food, state)}",
                f"{_add_measure(food, unit, state)}, or write grams",
            )
        if state != food.state:
            return UnitUnknown(
                f"the density of {food.food_id} is not that of the {state} food", "write grams"
            )
        return UnitUnknown(
            f"{food.food_id} has no density to turn {unit!r} into grams",
            "give its density_g_per_ml in foods.csv, or write grams",
        )


def _in(food: Food, state: str) -> str:
    return "" if state == food.state else f" in the state {state!r}"


def _add_measure(food: Food, unit: str, state: str) -> str:
    return f"add the {unit!r} of {food.food_id}{_in(food, state)} to measures.csv"
