"""The facts of one version of a recipe at any yield, worked out from the catalog."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from decimal import Decimal
from fractions import Fraction

from planopt.catalog.dishtext import dish_name, version_of
from planopt.catalog.quantities import Quantities
from planopt.catalog.records import NONE, NOT_KNOWN, Catalog, Recipe
from planopt.catalog.safety import binding_kinds, temperature_for, thawed_days
from planopt.report.analysis.swaps import cheapest_packs
from planopt.units import exact, from_minor, to_minor

_STEPS = {"whole": Fraction(1), "half": Fraction(1, 2), "any": None}


@dataclass(frozen=True)
class Cost:
    """What the food costs: the grams used at the cheapest price, and whole packs from nothing.

    `unpriced` are foods that nobody sells in this currency; both sums are then without them.
    """

    currency: str
    used: Fraction
    packs: Decimal
    unpriced: tuple[str, ...]


@dataclass(frozen=True)
class Keeping:
    """How long the dish keeps by the shorter and the longer published figures, in days and months.

    `kinds` are what limits it, its own first. `temperatures` are least degrees inside, by food.
    """

    fridge_days: tuple[int, int]
    freezer_months: tuple[float, float]
    thawed_days: int
    kinds: tuple[str, ...]
    temperatures: tuple[tuple[str, float], ...]


@dataclass(frozen=True)
class Version:
    """One choice of foods for the lines of a recipe; None = left out."""

    foods: tuple[str | None, ...]
    grams: dict[str, float]
    nutrients: dict[str, float]
    unknown: dict[str, tuple[str, ...]]
    allergens: dict[str, tuple[str, ...]]
    keeping: Keeping


@dataclass(frozen=True)
class Substitute:
    """Another food for a line, or nothing for an optional one, and what that changes a serving."""

    line: int
    old: str
    new: str | None
    nutrients: dict[str, float]
    cost: Fraction | None
    more_allergens: tuple[str, ...]
    fewer_allergens: tuple[str, ...]
    fridge_days: tuple[int, int]


@dataclass(frozen=True)
class Facts:
    """All that is told of a recipe. `batches` cook `servings`; `fits` tells whether in its steps.

    `line_g` is edible grams of one batch by line.
    """

    recipe: Recipe
    name: str
    servings: Fraction
    batches: Fraction
    fits: bool
    line_g: tuple[float, ...]
    version: Version
    cost: Cost
    substitutes: tuple[Substitute, ...]


class FactsOf:
    """Works out facts of recipes of one catalog."""

    def __init__(
        self, catalog: Catalog, currency: str, sellers: Sequence[str] | None = None
    ) -> None:
        """Take a catalog, the currency of prices, and sellers, None = all of them."""
        self.catalog = catalog
        self.currency = currency
        self._quantities = Quantities(catalog)
        self._offers: dict[str, list[tuple[int, float]]] = {}
        for pack in catalog.packs.values():
            if pack.currency == currency and (sellers is None or pack.seller_id in sellers):
                offer = (to_minor(pack.price, currency), self._quantities.pack_edible_g(pack))
                self._offers.setdefault(pack.food_id, []).append(offer)

    def facts(self, recipe: Recipe, servings: Fraction | None = None) -> Facts:
        """Return the facts of a recipe as written, every optional food in it."""
        made = exact(recipe.yield_servings) if servings is None else servings
        batches = made / exact(recipe.yield_servings)
        step = _STEPS[recipe.batch.step]
        foods: tuple[str | None, ...] = tuple(line.food for line in recipe.lines)
        version = self.version(recipe, foods)
        return Facts(
            recipe=recipe,
            name=dish_name(recipe, version_of(recipe, foods), self.catalog),
            servings=made,
            batches=batches,
            fits=step is None or (batches / step).denominator == 1,
            line_g=tuple(self.line_g(recipe, n, food_id) for n, food_id in enumerate(foods)),
            version=version,
            cost=self.cost(version, batches),
            substitutes=tuple(self._substitutes(recipe, version)),
        )

    def line_g(self, recipe: Recipe, index: int, food_id: str | None) -> float:
        """Return the edible grams of one batch's line with one of its foods."""
        line = recipe.lines[index]
        if food_id is None:
            return 0.0
        grams = self._quantities.line_grams(line.food, line.amount, line.unit, line.state)
        ratios = {other.food: other.ratio for other in line.alternatives}
        return grams * ratios.get(food_id, 1.0)

    def version(self, recipe: Recipe, foods: tuple[str | None, ...]) -> Version:
        """Return grams of a batch, nutrients of a serving, allergens and keeping of a choice."""
        grams: dict[str, float] = {}
        for index, food_id in enumerate(foods):
            if food_id is not None:
                grams[food_id] = grams.get(food_id, 0.0) + self.line_g(recipe, index, food_id)
        nutrients, unknown = {}, {}
        for nutrient_id in self.catalog.nutrients:
            amounts = {f: self.catalog.foods[f].nutrients.get(nutrient_id) for f in grams}
            total = sum(grams[f] / 100 * (amount or 0.0) for f, amount in amounts.items())
            nutrients[nutrient_id] = total / recipe.yield_servings
            silent = tuple(f for f, amount in amounts.items() if amount is None)
            if silent:
                unknown[nutrient_id] = silent
        allergens: dict[str, tuple[str, ...]] = {}
        for food_id in grams:
            for allergen in self.catalog.foods[food_id].allergens:
                allergens[allergen] = (*allergens.get(allergen, ()), food_id)
        return Version(
            foods, grams, nutrients, unknown, allergens, self._keeping(recipe, list(grams))
        )

    def _keeping(self, recipe: Recipe, foods: list[str]) -> Keeping:
        kinds = binding_kinds(self.catalog, recipe, foods)
        limits = [self.catalog.storage_limits[kind] for kind in kinds]
        days, months = recipe.keeps.fridge_days, recipe.keeps.freezer_months
        shortest = min(days, *(one.fridge_days_shortest for one in limits))
        temperatures = []
        for food_id in foods:
            found = temperature_for(self.catalog, self.catalog.foods[food_id])
            if found is not None:
                temperatures.append((food_id, found.internal_c))
        return Keeping(
            (shortest, min(days, *(one.fridge_days_longest for one in limits))),
            (
                min(months, *(one.freezer_months_shortest for one in limits)),
                min(months, *(one.freezer_months_longest for one in limits)),
            ),
            thawed_days(self.catalog, recipe, foods, shortest),
            kinds,
            tuple(temperatures),
        )

    def cost(self, version: Version, batches: Fraction) -> Cost:
        """Return what the food of some batches costs."""
        used, packs, unpriced = Fraction(0), 0, []
        for food_id, grams in version.grams.items():
            need_g = grams * float(batches)
            price = self._per_g(food_id)
            whole = cheapest_packs(self._offers.get(food_id, []), need_g)
            if price is None or whole is None:
                if self.catalog.foods[food_id].storage != "tap":
                    unpriced.append(food_id)
                continue
            used += price * Fraction(need_g)
            packs += whole
        unit = Fraction(from_minor(1, self.currency))
        return Cost(self.currency, used * unit, from_minor(packs, self.currency), tuple(unpriced))

    def _per_g(self, food_id: str) -> Fraction | None:
        """Return the cheapest price of a gram in minor units; tap water is free, None = unsold."""
        if self.catalog.foods[food_id].storage == "tap":
            return Fraction(0)
        offers = [one for one in self._offers.get(food_id, []) if one[1] > 0]
        return min((Fraction(one[0]) / Fraction(one[1]) for one in offers), default=None)

    def _substitutes(self, recipe: Recipe, base: Version) -> list[Substitute]:
        found = []
        for index, line in enumerate(recipe.lines):
            others: list[str | None] = [other.food for other in line.alternatives]
            others += [None] if line.optional else []
            for food_id in others:
                foods = (*base.foods[:index], food_id, *base.foods[index + 1 :])
                changed = self.version(recipe, foods)
                found.append(
                    Substitute(
                        line=index,
                        old=line.food,
                        new=food_id,
                        nutrients={
                            key: changed.nutrients[key] - amount
                            for key, amount in base.nutrients.items()
                        },
                        cost=self._dearer(recipe, index, line.food, food_id),
                        more_allergens=_less(changed.allergens, base.allergens),
                        fewer_allergens=_less(base.allergens, changed.allergens),
                        fridge_days=(
                            base.keeping.fridge_days[0],
                            changed.keeping.fridge_days[0],
                        ),
                    )
                )
        return found

    def _dearer(self, recipe: Recipe, index: int, old: str, new: str | None) -> Fraction | None:
        """Return how much dearer a serving is as used; None where a price is not known."""
        total = Fraction(0)
        for sign, food_id in ((-1, old), (1, new)):
            if food_id is None:
                continue
            price = self._per_g(food_id)
            if price is None:
                return None
            total += sign * price * Fraction(self.line_g(recipe, index, food_id))
        unit = Fraction(from_minor(1, self.currency))
        return total * unit / exact(recipe.yield_servings)


def _less(some: dict[str, tuple[str, ...]], others: dict[str, tuple[str, ...]]) -> tuple[str, ...]:
    return tuple(sorted(set(some) - set(others) - {NONE}))


def allergens_known(version: Version) -> bool:
    """Tell whether the allergens of every food are known."""
    return NOT_KNOWN not in version.allergens
