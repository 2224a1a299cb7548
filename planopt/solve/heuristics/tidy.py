"""Tidy a week: for its portions the fewest batches, for its batches the cheapest packs.

However a week was found, its servings are kept, and what nobody needs is left out: batch steps
that nobody eats from, packs that no dish needs, packs that a cheaper set replaces.

Method: batches by division; packs food by food (`packs.py`), which is exact where visits are free.
Where visits cost money, over every set of visits when there are few, else by HiGHS and single
changes of visits; a budget that the cheapest packs would break is held by HiGHS.
Source: no paper is followed; it is the objective, split by food with the portions held.
"""

from __future__ import annotations

from collections.abc import Iterable
from datetime import date
from itertools import combinations
from math import ceil, inf

from planopt.model.kitchen import new_kitchen
from planopt.problem.build import Problem
from planopt.problem.byhand import lost_servings, standing_batches
from planopt.problem.decisions import Decisions, cost_of, grams_used, servings_eaten
from planopt.problem.restricted import restrict
from planopt.problem.supplies import PackOffer
from planopt.solve.highs.matrix import to_matrix
from planopt.solve.highs.packs import (
    Basket,
    FoodSource,
    PackKind,
    basket_of,
    cheapest_basket,
    without_needless,
)
from planopt.solve.highs.reading import kitchen_decisions
from planopt.solve.highs.solver import solve_matrix
from planopt.solve.settings import SolveSettings

Packs = dict[tuple[int, int], float]
Visit = tuple[str, int]

_EPS = 1e-9
_DUST = 1e-7
_FEW_VISITS = 7
_MIP_SECONDS = 2.0


def tidied(problem: Problem, decisions: Decisions, *, thorough: bool = True) -> Decisions:
    """Return a week with the same portions that costs no more and has nothing needless.

    Where visits cost money and many are possible, only a `thorough` look chooses them exactly.
    A week whose packs do not give enough gets packs that do, if there are any within the budget.
    """
    batches = fewest_batches(problem, decisions)
    lean = Decisions(batches, dict(decisions.servings), dict(decisions.packs))
    if problem.done:
        standing = _Shopping(problem, lean, thorough=thorough).beside_standing()
        return decisions if standing is None else Decisions(batches, lean.servings, standing)
    shopping = _Shopping(problem, lean, thorough=thorough)
    packs = shopping.cheapest()
    if packs is None:
        return decisions
    found = Decisions(batches, lean.servings, packs)
    return found if _cost(problem, found) <= _cost(problem, lean) + _EPS else lean


def carried_out(problem: Problem, servings: dict[tuple[int, int], float]) -> Decisions | None:
    """Return the cheapest plan that serves exactly this, or None if the kitchen cannot.

    Only the kitchen is looked at; whether clients may eat this, the caller has to know.
    """
    batches = fewest_batches(problem, Decisions({}, servings, {}))
    if not _within_limits(problem, batches):
        return None
    found = tidied(problem, Decisions(batches, dict(servings), {}), thorough=False)
    return None if _cost(problem, found) == inf else found


def _within_limits(problem: Problem, batches: dict[int, float]) -> bool:
    """Tell whether batches keep the limits of recipes and cook days."""
    made: dict[tuple[int, str], float] = {}
    for n, count in batches.items():
        cooking = problem.cookings[n]
        dish = problem.dishes[cooking.dish]
        key = (cooking.cook, dish.recipe_id)
        made[key] = made.get(key, 0.0) + count
        if made[key] > dish.most_per_cook_day + _EPS:
            return False
    for rule in problem.minute_rules:
        cooked = ((problem.cookings[n], count) for n, count in batches.items())
        spent = sum(rule.of(one.dish, count) for one, count in cooked if one.cook == rule.cook)
        if spent > rule.high + _DUST:
            return False
    for k, cook in enumerate(problem.cook_days):
        recipes = sum(1 for day, _ in made if day == k)
        if cook.most_recipes is not None and recipes > cook.most_recipes:
            return False
    return True


def fewest_batches(problem: Problem, decisions: Decisions) -> dict[int, float]:
    """Return the fewest batches of each cooking that cover the servings eaten of it.

    Never more than the week has; a solver's dust in the servings makes no further step.
    """
    eaten = servings_eaten(problem, decisions)
    found = {}
    for n, servings in sorted(eaten.items()):
        dish = problem.dishes[problem.cookings[n].dish]
        if servings <= _EPS:
            continue
        if dish.batch_step is None:
            batches = servings / dish.yield_servings
        else:
            steps = (servings - _DUST * max(1.0, servings)) / dish.yield_servings / dish.batch_step
            batches = max(1, ceil(steps)) * dish.batch_step
        found[n] = min(batches, decisions.batches.get(n, inf))
    return {**found, **standing_batches(problem)}


def _cost(problem: Problem, decisions: Decisions) -> float:
    """Return all that a week costs, endless where food is short or the budget is broken."""
    try:
        costs = cost_of(problem, decisions)
    except ValueError:
        return inf
    budget = problem.budget
    over = budget is not None and costs.grocery > float(budget) + _DUST
    return inf if over else costs.objective


class _Shopping:
    """The purchases of one week with its batches held, food by food; money in minor units."""

    def __init__(self, problem: Problem, lean: Decisions, *, thorough: bool) -> None:
        self.thorough = thorough
        self.problem = problem
        self.lean = lean
        scale = float(problem.minor_units)
        self.visit_cost = problem.visit_cost * scale
        budget = problem.budget
        self.budget = inf if budget is None else float(budget) * scale
        used = grams_used(problem, lean)
        count = len(problem.cook_days)
        mine = set(problem.foods)
        self.needs = {
            food_id: tuple(used.get((food_id, k), 0.0) for k in range(count))
            for food_id in sorted({food_id for food_id, _ in used} & mine)
        }
        self._visit_of: dict[tuple[int, int], Visit] = {
            (s, o): (offer.seller_id, supply.shop_day)
            for s, supply in enumerate(problem.supplies)
            if supply.shop_day is not None
            for o, offer in enumerate(problem.offers[supply.food_id])
        }
        self.sources = self._sources()
        weight = problem.waste_weight
        self.rates = {f: weight * problem.value_minor_per_g[f] for f in self.needs}
        bought: dict[str, Packs] = {f: {} for f in self.needs}
        for (s, o), packs in lean.packs.items():
            food_id = problem.supplies[s].food_id
            # A food that nothing is cooked of needs no packs.
            if food_id in bought:
                bought[food_id][s, o] = packs
        self.bought = bought
        self._known: dict[tuple[str, frozenset[Visit]], Basket | None] = {}
        self._sold = {
            food_id: frozenset(
                self.visit((source.supply, kind.offer)) for source in rows for kind in source.kinds
            )
            for food_id, rows in self.sources.items()
        }

    def _sources(self) -> dict[str, tuple[FoodSource, ...]]:
        """Return the supplies of each food needed, in the order in which they expire."""
        problem = self.problem
        position = {cook.day: k for k, cook in enumerate(problem.cook_days)}
        rows: dict[str, list[int]] = {food_id: [] for food_id in self.needs}
        for s, supply in enumerate(problem.supplies):
            if supply.food_id in rows:
                rows[supply.food_id].append(s)
        found = {}
        for food_id, members in rows.items():
            members.sort(
                key=lambda s: (
                    problem.supplies[s].usable_until is None,
                    problem.supplies[s].usable_until or date.min,
                    s,
                )
            )
            offers = problem.offers[food_id]
            found[food_id] = tuple(self._source(s, offers, position) for s in members)
        return found

    def _source(self, s: int, offers: Iterable[PackOffer], position: dict[int, int]) -> FoodSource:
        supply = self.problem.supplies[s]
        stock = supply.stock_index is not None
        kinds = tuple(
            PackKind(o, offer.edible_g, float(offer.price_minor), offer.continuous)
            for o, offer in enumerate(offers)
            if not stock
        )
        cooks = tuple(position[day] for day in supply.cook_days)
        return FoodSource(s, cooks, supply.wasted, supply.available_g if stock else 0.0, kinds)

    def visit(self, key: tuple[int, int]) -> Visit:
        """Return the seller and shop day of packs of one supply and offer."""
        return self._visit_of[key]

    def cheapest(self) -> Packs | None:
        """Return the cheapest packs for the batches; None where none are enough."""
        if self.visit_cost > 0:
            found = self._with_visits()
        else:
            found = {f: self._best(f, None) for f in self.needs}
        if found is None or not all(found.values()):
            return None
        baskets = {f: basket for f, basket in found.items() if basket is not None}
        if sum(basket.money for basket in baskets.values()) > self.budget + 1e-6:
            packs = self._by_highs() or dict(self.lean.packs)
            return self._improved_singly(packs)
        return {key: count for basket in baskets.values() for key, count in basket.packs}

    def _best(self, food_id: str, visits: frozenset[Visit] | None) -> Basket | None:
        """Return the cheapest basket of a food on these visits, the present one if as good."""
        sources, needs, rate = self.sources[food_id], self.needs[food_id], self.rates[food_id]
        if visits is not None:
            sources = tuple(self._open(source, visits) for source in sources)
        best = cheapest_basket(sources, needs, rate)
        now = self.bought[food_id]
        if visits is None or all(self.visit(key) in visits for key in now):
            basket = basket_of(sources, needs, rate, now)
            if basket is not None:
                basket = without_needless(sources, needs, rate, basket)
                if best is None or basket.cost <= best.cost + _DUST:
                    return basket
        return best

    def _open(self, source: FoodSource, visits: frozenset[Visit]) -> FoodSource:
        kinds = tuple(k for k in source.kinds if self.visit((source.supply, k.offer)) in visits)
        return FoodSource(source.supply, source.cooks, source.wasted, source.stock_g, kinds)

    def _with_visits(self) -> dict[str, Basket | None] | None:
        """Return the cheapest baskets where visits cost money."""
        every = set().union(*self._sold.values())
        if len(every) <= _FEW_VISITS:
            sets: list[frozenset[Visit]] = [
                frozenset(chosen)
                for size in range(len(every) + 1)
                for chosen in combinations(sorted(every), size)
            ]
            best = min(sets, key=self._on)
            return self._baskets_on(best)
        starts = [frozenset(every)]
        now = frozenset(self.visit(key) for packs in self.bought.values() for key in packs)
        starts.append(now)
        chosen_packs = self._by_highs() if self.thorough else None
        if chosen_packs is not None:
            starts.append(frozenset(map(self.visit, chosen_packs)))
        best = min((self._walked(start, every) for start in starts), key=self._on)
        return self._baskets_on(best)

    def _baskets_on(self, visits: frozenset[Visit]) -> dict[str, Basket | None] | None:
        """Return the cheapest basket of each food on these visits; None where one has none."""
        if self._on(visits) == inf:
            return None
        return {food_id: self._best_on(food_id, visits) for food_id in self.needs}

    def _best_on(self, food_id: str, visits: frozenset[Visit]) -> Basket | None:
        """Return the cheapest basket of a food on these visits, remembered."""
        mine = self._sold[food_id] & visits
        if (food_id, mine) not in self._known:
            self._known[food_id, mine] = self._best(food_id, mine)
        return self._known[food_id, mine]

    def _on(self, visits: frozenset[Visit]) -> float:
        """Return all counted with these visits made; endless where some food is short."""
        total = self.visit_cost * max(0, len(visits) - 1)
        for food_id in self.needs:
            basket = self._best_on(food_id, visits)
            if basket is None:
                return inf
            total += basket.cost
        return total

    def _walked(self, visits: frozenset[Visit], every: set[Visit]) -> frozenset[Visit]:
        """Return visits that no single one more, less or other makes cheaper."""
        now = self._on(visits)
        while True:
            near = [visits - {out} for out in visits]
            near += [visits | {more} for more in every - visits]
            near += [visits - {out} | {more} for out in visits for more in every - visits]
            best = min(near, key=lambda found: (self._on(found), sorted(found)), default=visits)
            if self._on(best) >= now - _DUST:
                return visits
            visits, now = best, self._on(best)

    def _improved_singly(self, packs: Packs) -> Packs:
        """Make single foods cheaper within the budget, as HiGHS may have been out of time."""
        self.bought = {f: {} for f in self.needs}
        for key, count in packs.items():
            food_id = self.problem.supplies[key[0]].food_id
            if food_id in self.bought:
                self.bought[food_id][key] = count
        visits = None
        if self.visit_cost > 0:
            visits = frozenset(map(self.visit, packs))
        baskets = {}
        for food_id in self.needs:
            sources, rate = self.sources[food_id], self.rates[food_id]
            baskets[food_id] = basket_of(sources, self.needs[food_id], rate, self.bought[food_id])
        money = sum(basket.money for basket in baskets.values() if basket is not None)
        saved = True
        while saved:
            # What one food saves may be what another lacked.
            saved = False
            for food_id, basket in baskets.items():
                better = self._best(food_id, visits)
                if basket is None or better is None or better.cost >= basket.cost - _DUST:
                    continue
                if money - basket.money + better.money <= self.budget:
                    money += better.money - basket.money
                    baskets[food_id], saved = better, True
                    self.bought[food_id] = dict(better.packs)
        return {key: count for mine in self.bought.values() for key, count in mine.items()}

    def beside_standing(self) -> Packs | None:
        """Return the cheapest packs beside those that are bought already; None where none do."""
        return self._by_highs(needed_alone=False)

    def _by_highs(self, *, needed_alone: bool = True) -> Packs | None:
        """Return packs that HiGHS chooses for the batches, visits and budget at once."""
        problem = self.problem
        cooked = sorted(self.lean.batches)
        smaller = restrict(problem, {problem.cookings[n] for n in cooked})
        kitchen = new_kitchen(smaller)
        matrix = to_matrix(kitchen.lp)
        place = {name: i for i, name in enumerate(matrix.names)}
        eaten = servings_eaten(problem, self.lean)
        for m, n in enumerate(cooked):
            dish = problem.dishes[problem.cookings[n].dish]
            batches = self.lean.batches[n]
            units = batches if dish.batch_step is None else round(batches / dish.batch_step)
            most = batches * dish.yield_servings - lost_servings(problem, n)
            held = min(eaten.get(n, 0.0), most)
            for variable, value in ((kitchen.units[m], units), (kitchen.eaten[m], held)):
                matrix.lower[place[variable.name]] = matrix.upper[place[variable.name]] = value
        settings = SolveSettings(time_limit_s=_MIP_SECONDS, gap=0.0, threads=1)
        outcome = solve_matrix(matrix, settings)
        if outcome.values is None:
            return None
        packs = kitchen_decisions(kitchen, place, outcome.values, {}).packs
        return {key: n for key, n in packs.items() if not needed_alone or self._needed(key[0])}

    def _needed(self, supply: int) -> bool:
        return self.problem.supplies[supply].food_id in self.needs
