"""Swaps at the counter: the recipes' own alternatives, and what each would change in this plan."""

from __future__ import annotations

from collections import defaultdict
from dataclasses import dataclass
from decimal import Decimal
from functools import cached_property
from math import nan

import pandas as pd

from planopt.catalog.dishtext import foods_of, version_of
from planopt.catalog.quantities import Quantities
from planopt.catalog.records import Catalog, Line, Pack, Recipe
from planopt.model.covers import cover_table
from planopt.plan.records import Batch, BatchLine, Chosen, Plan, Portion
from planopt.report.analysis.tables import day_totals, records, week_totals
from planopt.report.words.plain import food_name, plain, seller_name, sentence_case
from planopt.report.words.steps import changed_steps
from planopt.scenario.records import Client, Scenario
from planopt.tolerances import NO_GRAMS, meets
from planopt.units import from_minor, to_minor

_COLUMNS = (
    "shop_day", "seller_id", "food_id", "food", "instead_id", "instead", "cook_day", "recipe_id",
    "dish", "version", "food_g", "instead_g", "bought_at", "cost_change", "energy_kcal_change",
    "protein_g_change", "allowed", "why", "version_after", "steps_after",
)  # fmt: skip


def cheapest_packs(offers: list[tuple[int, float]], need_g: float) -> int | None:
    """Return the least minor units that buy at least `need_g` grams, None if nothing is sold.

    Args:
        offers: price in minor units and edible grams of each pack; any number of each is sold.
        need_g: edible grams needed.
    """
    packs = [(grams, float(price)) for price, grams in offers if grams > 0]
    if need_g > NO_GRAMS and not packs:
        return None
    return int(cover_table(packs, need_g).buying(need_g))


@dataclass(frozen=True)
class _Swap:
    """One line of one batch with another food, or without any (`instead` is None)."""

    batch: Batch
    used: BatchLine
    instead: str | None
    instead_g: float

    def after(self, recipe: Recipe) -> Batch:
        """Return the batch as it is cooked with the swap: its version and its lines."""
        lines = []
        for line in self.batch.lines:
            if line is not self.used:
                lines.append(line)
            elif self.instead is not None:
                written = recipe.lines[line.line]
                kept: Chosen = "optional" if written.optional else "as written"
                chosen = kept if self.instead == written.food else "alternative"
                change = {"food_id": self.instead, "grams": self.instead_g, "chosen": chosen}
                lines.append(line.model_copy(update=change))
        foods = list(foods_of(recipe, self.batch.version) or (one.food for one in recipe.lines))
        foods[self.used.line] = self.instead
        version = version_of(recipe, foods)
        return self.batch.model_copy(update={"version": version, "lines": tuple(lines)})


class _Counter:
    """What the plan and the catalog say about a swap."""

    def __init__(self, plan: Plan, catalog: Catalog, scenario: Scenario) -> None:
        self.plan, self.catalog, self.scenario = plan, catalog, scenario
        self.clients = {client.client_id: client for client in scenario.clients}
        self.quantities = Quantities(catalog)
        self.paid: dict[tuple[str, int], int] = defaultdict(int)
        self.sellers: dict[tuple[str, int], str] = {}
        self.visited: dict[int, set[str]] = defaultdict(set)
        for p in plan.purchases:
            self.paid[p.food_id, p.shop_day] += to_minor(p.price, plan.currency)
            self.sellers.setdefault((p.food_id, p.shop_day), p.seller_id)
            self.visited[p.shop_day].add(p.seller_id)
        self.used: dict[tuple[str, int], float] = defaultdict(float)
        self.from_shop: dict[tuple[str, int], list[int]] = defaultdict(list)
        for use in plan.food_uses:
            kind, _, number = use.supply.rpartition(" ")
            if kind == "shop day":
                self.used[use.food_id, int(number)] += sum(use.used_g.values())
                for day, grams in use.used_g.items():
                    if grams > 0:
                        self.from_shop[use.food_id, day].append(int(number))

    @cached_property
    def packs(self) -> dict[str, list[Pack]]:
        """Return the packs that the scenario may buy, by food."""
        allowed = self.scenario.sellers
        found: dict[str, list[Pack]] = defaultdict(list)
        for pack in self.catalog.packs.values():
            if pack.currency == self.plan.currency and (
                allowed is None or pack.seller_id in allowed
            ):
                found[pack.food_id].append(pack)
        return found

    @cached_property
    def eaters(self) -> dict[tuple[str, str, int], list[Portion]]:
        """Return the portions of each batch."""
        found: dict[tuple[str, str, int], list[Portion]] = defaultdict(list)
        for p in self.plan.portions:
            found[p.recipe_id, p.version, p.cook_day].append(p)
        return found

    @cached_property
    def meals_with(self) -> dict[tuple[str, str], set[tuple[int, str]]]:
        """Return the meals (day, meal) of each client and food in which the food is eaten."""
        foods = {
            (b.recipe_id, b.version, b.cook_day): {line.food_id for line in b.lines}
            for b in self.plan.batches
        }
        found: dict[tuple[str, str], set[tuple[int, str]]] = defaultdict(set)
        for p in self.plan.portions:
            for food_id in foods.get((p.recipe_id, p.version, p.cook_day), ()):
                found[p.client_id, food_id].add((p.day, p.meal))
        return found

    @cached_property
    def day_rows(self) -> dict[tuple[str, int, str], dict[str, object]]:
        """Return amount and window by client, day and nutrient; day 0 is the whole plan."""
        found = {}
        for row in records(day_totals(self.plan, self.catalog, self.scenario)):
            if row["met"] is not None:
                found[row["client_id"], row["day"], row["nutrient_id"]] = row
        for row in records(week_totals(self.plan, self.catalog, self.scenario)):
            found[row["client_id"], 0, row["nutrient_id"]] = row
        return found

    def swaps(self, batch: Batch) -> list[_Swap]:
        """Return the swaps that the recipe of a batch knows."""
        recipe = self.catalog.recipes.get(batch.recipe_id)
        found: list[_Swap] = []
        for used in batch.lines:
            if recipe is None or not 0 <= used.line < len(recipe.lines):
                continue
            line = recipe.lines[used.line]
            ratios = _ratios(line)
            if used.food_id not in ratios:
                continue
            base_g = used.grams / ratios[used.food_id]
            for food_id, ratio in ratios.items():
                if food_id != used.food_id and food_id in self.catalog.foods:
                    found.append(_Swap(batch, used, food_id, base_g * ratio))
            if line.optional:
                found.append(_Swap(batch, used, None, 0.0))
        return found

    def _cover(self, food_id: str, sellers: set[str] | None, need_g: float) -> int | None:
        offers = [
            (to_minor(pack.price, pack.currency), self.quantities.pack_edible_g(pack))
            for pack in self.packs[food_id]
            if sellers is None or pack.seller_id in sellers
        ]
        return cheapest_packs(offers, need_g)

    def cost_change(self, swap: _Swap, shop_day: int) -> tuple[Decimal | None, str]:
        """Return the change of the groceries and the seller of the new food, "" for none.

        Only whole packs count: what is saved are packs not needed any more, what is added are packs
        needed on top. New packs come from a seller visited that day; None if none has the food.
        """
        old = (swap.used.food_id, shop_day)
        seller = self.sellers[old]
        kept = self._cover(old[0], {seller}, max(0.0, self.used[old] - swap.used.grams))
        change = min(0, (kept if kept is not None else self.paid[old]) - self.paid[old])
        if swap.instead is None:
            return from_minor(change, self.plan.currency), ""
        new = (swap.instead, shop_day)
        bought = self.used[new]
        best: tuple[int, str] | None = None
        for name in sorted(self.visited[shop_day], key=lambda s: (s != seller, s)):
            spent = self._cover(new[0], {name}, bought + swap.instead_g)
            if spent is not None and (best is None or spent < best[0]):
                best = (spent, name)
        if best is None:
            return None, ""
        # Packs that the plan buys anyway are paid, whoever sells them.
        change += max(0, best[0] - self.paid[new])
        return from_minor(change, self.plan.currency), best[1]

    def nutrient_change(self, swap: _Swap, nutrient_id: str) -> float:
        """Return the change of a nutrient in one serving; unknown counts as 0, as in the plan."""

        def amount(food_id: str | None, grams: float) -> float:
            food = self.catalog.foods.get(food_id) if food_id else None
            return grams / 100 * ((food.amount(nutrient_id) or 0.0) if food else 0.0)

        change = amount(swap.instead, swap.instead_g)
        change -= amount(swap.used.food_id, swap.used.grams)
        return change / swap.batch.servings

    def objections(self, swap: _Swap, shop_day: int) -> list[str]:
        """Return why the swap is not allowed, exclusions first; nothing means that it is."""
        batch = swap.batch
        portions = self.eaters[batch.recipe_id, batch.version, batch.cook_day]
        who = [
            self.clients[client_id]
            for client_id in dict.fromkeys(p.client_id for p in portions)
            if client_id in self.clients
        ]
        found = []
        if swap.instead is not None:
            food = self.catalog.foods[swap.instead]
            for client in who:
                if client.allergens and not food.allergens_known:
                    found.append(f"its allergens are not known, and {client.name} excludes some")
                for allergen_id in sorted(set(food.allergens) & set(client.allergens)):
                    allergen = self.catalog.allergens.get(allergen_id)
                    name = allergen.name if allergen else plain(allergen_id)
                    found.append(f"brings {sentence_case(name)}, which {client.name} excludes")
                if swap.instead in client.excluded_foods:
                    found.append(f"{client.name} excludes it")
            lives = [d for d in (food.keeps_days, food.opened_keeps_days) if d is not None]
            if lives and batch.cook_day - shop_day > min(lives):
                found.append("does not keep until the cook day")
        for client in who:
            found += self._taste(swap, client, portions)
        found += self._windows(swap, portions)
        return found

    def _taste(self, swap: _Swap, client: Client, portions: list[Portion]) -> list[str]:
        meals = {(p.day, p.meal) for p in portions if p.client_id == client.client_id}
        found = []
        if swap.instead is not None and swap.instead in client.dislikes:
            count = len(self.meals_with[client.client_id, swap.instead] | meals)
            if count > client.dislikes[swap.instead]:
                found.append(f"more often than {client.name} wishes")
        wanted = client.wants.get(swap.used.food_id, 0)
        others = any(
            line.food_id == swap.used.food_id and line.line != swap.used.line
            for line in swap.batch.lines
        )
        if wanted and not others:
            left = self.meals_with[client.client_id, swap.used.food_id] - meals
            if len(left) < wanted:
                found.append(f"{client.name} wants {sentence_case(self._name(swap))} more often")
        return found

    def _name(self, swap: _Swap) -> str:
        return food_name(self.catalog, swap.used.food_id)

    def _windows(self, swap: _Swap, portions: list[Portion]) -> list[str]:
        """Return the windows that the swap would break, one text per client and nutrient."""
        eaten: dict[tuple[str, int], float] = defaultdict(float)
        for p in portions:
            eaten[p.client_id, p.day] += p.servings
            eaten[p.client_id, 0] += p.servings
        broken: dict[tuple[str, str], None] = {}
        names = {(client_id, day) for client_id, day in eaten}
        for (client_id, day, nutrient_id), row in self.day_rows.items():
            if (client_id, day) not in names:
                continue
            change = eaten[client_id, day] * self.nutrient_change(swap, nutrient_id)
            if not _within(row, change):
                name = self.clients[client_id].name
                broken[name, sentence_case(str(row["nutrient"]))] = None
        return [f"breaks the {nutrient} window of {name}" for name, nutrient in broken]


def _ratios(line: Line) -> dict[str, float]:
    return {line.food: 1.0} | {other.food: other.ratio for other in line.alternatives}


def _within(row: dict[str, object], change: float) -> bool:
    amount, low, high = (float(str(row[name])) for name in ("amount", "min", "max"))
    return meets(amount + change, low, high)


def counter_swaps(plan: Plan, catalog: Catalog, scenario: Scenario) -> pd.DataFrame:
    """Return each swap of a bought food that the recipes know, a row per batch and food.

    `shop_day` is the first on which food for that cook day is bought.
    `instead` is "" where an optional food would be left out; the dish is then `version_after`, with
    the steps of `steps_after` (one a line) in place of its own. `cost_change` is the change of the
    groceries in whole packs, None where no seller visited that day has the food; waste is not
    counted again. Energy and protein change by serving. `allowed` is False where a client who eats
    the dish excludes the new food, or a window, a taste or the budget would break; `why` says what.
    Every window, of days and of the week, is computed again for the swap alone: two swaps together
    may break what each keeps.
    """
    counter = _Counter(plan, catalog, scenario)
    rows = []
    for batch in plan.batches:
        for swap in counter.swaps(batch):
            for shop_day in counter.from_shop[swap.used.food_id, batch.cook_day][:1]:
                rows.append(_row(counter, swap, shop_day))
    rows.sort(key=lambda row: tuple(str(row[i]).rjust(4) if i == 0 else str(row[i])
                                    for i in (0, 1, 3, 8, 9, 6, 5)))  # fmt: skip
    frame = pd.DataFrame(rows, columns=list(_COLUMNS), dtype=object)
    numbers = ("food_g", "instead_g", "energy_kcal_change", "protein_g_change")
    return frame.astype(dict.fromkeys(numbers, "float64"))


def _row(counter: _Counter, swap: _Swap, shop_day: int) -> tuple[object, ...]:
    plan, catalog, batch = counter.plan, counter.catalog, swap.batch
    why = counter.objections(swap, shop_day)
    change, seller = counter.cost_change(swap, shop_day)
    budget = counter.scenario.budget
    if change is not None and budget is not None and plan.solution.grocery_cost + change > budget:
        why.append("goes over the budget")
    recipe = catalog.recipes[batch.recipe_id]
    after = swap.after(recipe)
    energy, protein = (
        counter.nutrient_change(swap, n) if n in catalog.nutrients else nan
        for n in ("energy_kcal", "protein_g")
    )
    return (
        shop_day, counter.sellers[swap.used.food_id, shop_day], swap.used.food_id,
        counter._name(swap), swap.instead or "",
        food_name(catalog, swap.instead) if swap.instead else "", batch.cook_day, batch.recipe_id,
        batch.recipe_name, batch.version, swap.used.grams, swap.instead_g,
        seller_name(catalog, seller) if seller else "", change, energy, protein, not why,
        "; ".join(why), after.version,
        "\n".join(changed_steps(plan, catalog, recipe, batch, after)),
    )  # fmt: skip
