"""What the problems of one catalog share: dishes and offers, worked out once in a process.

A run plans hundreds of kitchens on one catalog; recipe nutrition and pack contents are the same
for all of them.
"""

from __future__ import annotations

from planopt.catalog.quantities import Quantities
from planopt.catalog.records import Catalog, Pack
from planopt.problem.dishes import Dish, LineOption, dishes_of, line_options
from planopt.problem.supplies import PackOffer, offers_of
from planopt.scenario.records import Scenario


class Shared:
    """Dishes and offers of one catalog, kept by the settings of a scenario that they depend on."""

    def __init__(self, catalog: Catalog) -> None:
        self.catalog = catalog
        self.quantities = Quantities(catalog)
        self._packs: dict[str, list[Pack]] = {}
        for pack in catalog.packs.values():
            self._packs.setdefault(pack.food_id, []).append(pack)
        self._lines: dict[str, tuple[tuple[LineOption, ...], ...]] = {}
        self._dishes: dict[tuple[str, str, bool], tuple[Dish, ...]] = {}
        self._offers: dict[
            tuple[str, str, tuple[str, ...] | None], tuple[PackOffer, ...]
        ] = {}  # fmt: skip

    def dishes(self, recipe_id: str, scenario: Scenario) -> tuple[Dish, ...]:
        """Return every version of a recipe, as `dishes_of` does."""
        key = (recipe_id, scenario.keeping_rule, scenario.use_freezer)
        if key not in self._dishes:
            recipe = self.catalog.recipes[recipe_id]
            self._dishes[key] = tuple(dishes_of(recipe, self.catalog, scenario, self.quantities))
        return self._dishes[key]

    def lines(self, recipe_id: str) -> tuple[tuple[LineOption, ...], ...]:
        """Return what each line of a recipe may be, as `line_options` does."""
        if recipe_id not in self._lines:
            recipe = self.catalog.recipes[recipe_id]
            self._lines[recipe_id] = line_options(recipe, self.catalog, self.quantities)
        return self._lines[recipe_id]

    def offers(self, food_id: str, scenario: Scenario) -> tuple[PackOffer, ...]:
        """Return the packs of a food, as `offers_of` does."""
        key = (food_id, scenario.currency, scenario.sellers)
        if key not in self._offers:
            packs = self._packs.get(food_id, [])
            self._offers[key] = offers_of(food_id, self.catalog, scenario, self.quantities, packs)
        return self._offers[key]


_latest: Shared | None = None


def shared_of(catalog: Catalog) -> Shared:
    """Return what is known of a catalog; only that of the latest catalog is kept."""
    global _latest
    known = _latest
    # By identity: a catalog is frozen, and comparing two by value would take as long as the work.
    if known is None or known.catalog is not catalog:
        known = _latest = Shared(catalog)
    return known
