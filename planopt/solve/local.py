"""Local search over whole days: take some days' menus out, put the cheapest back.

A day is re-planned at the marginal cost of each portion given everything else that is cooked, so
it eats up what a batch or a pack has left over. Plans found here still go through the kitchen's
own model for exact packs, and through the audit.
"""

from __future__ import annotations

import random
from collections import Counter, defaultdict
from collections.abc import Callable
from math import inf

import numpy as np
from numpy.typing import NDArray

from planopt.model.daymenus import DayMenu, MenuTable
from planopt.problem.build import Problem
from planopt.solve.ledger import Ledger

Floats = NDArray[np.float64]
Day = tuple[int, int]

_RULE_PENALTY = 20.0
_AVOID = 200.0
_TRIED = 40
_HEAT = 0.04


class LocalSearch:
    """The current week as a menu for each (group, day position), and its account."""

    def __init__(self, problem: Problem, tables: list[MenuTable], seed: int) -> None:
        self.problem = problem
        self.tables = tables
        self.ledger = Ledger(problem)
        self.chance = random.Random(seed)
        self.days: list[Day] = [
            (g, d) for g, group in enumerate(problem.groups) for d in range(len(group.days))
        ]
        self.menus: dict[Day, DayMenu] = {}
        self.eaten = np.zeros(len(problem.cookings))
        self._place = {cooking: n for n, cooking in enumerate(problem.cookings)}
        self._options = [
            [
                np.array([self._place[o] for o in problem.slots[slot].options], np.int64)
                for slot in group.slots[0]
            ]
            for group in problem.groups
        ]

    def _items(self, menu: DayMenu) -> list[tuple[int, float]]:
        """Return (cooking, servings) of a menu."""
        return [
            (int(self._options[menu.group][m][j]), servings)
            for m, (j, servings) in enumerate(menu.choice)
        ]

    def _vector(self, menu: DayMenu) -> Floats:
        found = np.zeros(len(self.eaten))
        for n, servings in self._items(menu):
            found[n] += servings
        return found

    def _put(self, day: Day, menu: DayMenu) -> None:
        self.menus[day] = menu
        self.eaten = self.eaten + self._vector(menu)

    def _take(self, day: Day) -> DayMenu:
        menu = self.menus.pop(day)
        self.eaten = np.maximum(0.0, self.eaten - self._vector(menu))
        return menu

    def cost(self) -> float:
        """Return money and penalties of the current week."""
        rules = sum(self.rule_penalty(c) for c in range(len(self.problem.clients)))
        return float(self.ledger.total(self.eaten[None, :])[0]) + rules

    def sound(self) -> bool:
        """Tell whether the current week breaks no rule that the account knows of."""
        if self.ledger.broken(self.eaten):
            return False
        return all(self.rule_penalty(c) <= 0 for c in range(len(self.problem.clients)))

    def rule_penalty(self, client: int, extra: DayMenu | None = None) -> float:
        """Return penalties for the whole-plan rules of one client, `extra` counted in."""
        chosen = self.problem.clients[client]
        menus = [m for day, m in self.menus.items() if self._client(day[0]) == client]
        if extra is not None:
            menus.append(extra)
        recipes: Counter[str] = Counter()
        foods: Counter[str] = Counter()
        servings: defaultdict[str, float] = defaultdict(float)
        watched = set(chosen.dislikes) | set(chosen.wants)
        nutrients = dict.fromkeys(chosen.windows_per_week, 0.0)
        for menu in menus:
            for n, amount in self._items(menu):
                dish = self.problem.dishes[self.problem.cookings[n].dish]
                recipes[dish.recipe_id] += 1
                servings[dish.recipe_id] += amount
                for food_id in watched:
                    foods[food_id] += food_id in dish.grams
                for nutrient_id in nutrients:
                    nutrients[nutrient_id] += dish.nutrients[nutrient_id] * amount
        share = len(menus) / max(1, sum(1 for g, _ in self.days if self._client(g) == client))
        broken = 0.0
        if chosen.most_repeats is not None:
            broken += sum(max(0, times - chosen.most_repeats) for times in recipes.values())
        if share >= 1.0:
            broken += max(0, chosen.least_different_recipes - len(recipes))
            broken += sum(max(0, least - foods[f]) for f, least in chosen.wants.items())
        broken += sum(max(0, foods[f] - most) for f, most in chosen.dislikes.items())
        for recipe_id, limit in chosen.recipe_servings.items():
            high = inf if limit.max is None else limit.max
            broken += max(0.0, servings[recipe_id] - high)
            broken += max(0.0, limit.min * share - servings[recipe_id])
        for nutrient_id, window in chosen.windows_per_week.items():
            amount = nutrients[nutrient_id]
            if window.max is not None and amount > window.max * share:
                broken += 0.1 + 10.0 * (amount / max(window.max * share, 1e-9) - 1.0)
            if window.min is not None and amount < window.min * share:
                broken += 0.1 + 10.0 * (1.0 - amount / (window.min * share))
        return _RULE_PENALTY * broken

    def _client(self, group: int) -> int:
        return self.problem.groups[group].client

    def insert(self, day: Day, avoid: frozenset[int]) -> bool:
        """Plan one open day at marginal cost; False when no menu exists."""
        g, _ = day
        table = self.tables[g]
        client = self._client(g)
        marginal = self.ledger.marginal(self.eaten, table.sizes)
        started = self.ledger.steps(self.eaten) > 0
        marginal = marginal + self._rule_prices(client)[:, None]
        if avoid:
            marginal[list(avoid)] += _AVOID
        noise = np.array([self.chance.uniform(0.93, 1.07) for _ in range(len(marginal))])
        marginal = marginal * noise[:, None] + np.where(started, 0.0, 0.05)[:, None]
        prices = [marginal[options] for options in self._options[g]]
        found = table.cheapest_by_size(prices, _TRIED, inf)
        if not found:
            return False
        menus = [menu for _, menu in found]
        eaten = np.array([self.eaten + self._vector(menu) for menu in menus])
        cost = self.ledger.total(eaten)
        cost += np.array([self.rule_penalty(client, menu) for menu in menus])
        if avoid:
            cost += _AVOID * np.array(
                [sum(n in avoid for n, _ in self._items(menu)) for menu in menus]
            )
        self._put(day, menus[int(cost.argmin())])
        return True

    def _rule_prices(self, client: int) -> Floats:
        """Return a price a meal, by cooking, that steers clear of repeats already used up."""
        chosen = self.problem.clients[client]
        recipes: Counter[str] = Counter()
        foods: Counter[str] = Counter()
        watched = set(chosen.dislikes) | set(chosen.wants)
        for (g, _), menu in self.menus.items():
            if self._client(g) != client:
                continue
            for n, _ in self._items(menu):
                dish = self.problem.dishes[self.problem.cookings[n].dish]
                recipes[dish.recipe_id] += 1
                for food_id in watched & set(dish.grams):
                    foods[food_id] += 1
        price = np.zeros(len(self.eaten))
        short = chosen.least_different_recipes - len(recipes)
        open_days = sum(
            1 for day in self.days if self._client(day[0]) == client and day not in self.menus
        )
        for n, cooking in enumerate(self.problem.cookings):
            dish = self.problem.dishes[cooking.dish]
            times = recipes[dish.recipe_id]
            if chosen.most_repeats is not None and times >= chosen.most_repeats:
                price[n] += _RULE_PENALTY
            if short > 0 and times == 0:
                price[n] -= 1.0 if open_days > 1 else 4.0
            for food_id, most in chosen.dislikes.items():
                if food_id in dish.grams and foods[food_id] >= most:
                    price[n] += _RULE_PENALTY
            for food_id, least in chosen.wants.items():
                if food_id in dish.grams and foods[food_id] < least:
                    price[n] -= _RULE_PENALTY / max(1, open_days)
        return price

    def clear(self) -> None:
        """Open every day."""
        self.menus = {}
        self.eaten = np.zeros(len(self.eaten))

    def start(self, avoid: frozenset[int] = frozenset()) -> bool:
        """Plan every open day, in a random order; False when some day has no menu."""
        open_days = [day for day in self.days if day not in self.menus]
        self.chance.shuffle(open_days)
        return all(self.insert(day, avoid) for day in open_days)

    def load(self, menus: dict[Day, DayMenu]) -> None:
        """Take over a whole week."""
        self.menus = {}
        self.eaten = np.zeros(len(self.eaten))
        for day, menu in menus.items():
            self._put(day, menu)

    def improve(self, over: Callable[[], bool], moves: int) -> float:
        """Take days out and put them back, keeping the best week; return its cost.

        A slightly dearer week is accepted now and then, less and less, to leave a poor place.
        """
        current = best = self.cost()
        best_menus = dict(self.menus)
        for move in range(moves):
            if over():
                break
            kept_menus, kept_eaten = dict(self.menus), self.eaten
            avoid = self._ruin()
            if not self.start(avoid):
                self.menus, self.eaten = kept_menus, kept_eaten
                continue
            cost = self.cost()
            heat = _HEAT * best * (1.0 - move / moves)
            if cost < current + heat * self.chance.random() ** 2:
                current = cost
                if cost < best - 1e-9:
                    best, best_menus = cost, dict(self.menus)
            else:
                self.menus, self.eaten = kept_menus, kept_eaten
        self.load(best_menus)
        return best

    def _ruin(self) -> frozenset[int]:
        """Open some days; return cookings to avoid when planning them again."""
        kind = self.chance.random()
        if kind < 0.75:
            avoid = self._something_cooked(kind)
            opened = [
                day
                for day, menu in self.menus.items()
                if any(n in avoid for n, _ in self._items(menu))
            ]
            if len(opened) <= max(6, len(self.days) // 2):
                for day in opened:
                    self._take(day)
                return avoid
        if kind < 0.9:
            count = min(len(self.days), self.chance.choice((1, 2, 2, 3, 4)))
            for day in self.chance.sample(self.days, count):
                self._take(day)
            return frozenset()
        client = self.chance.randrange(len(self.problem.clients))
        mine = [day for day in self.days if self._client(day[0]) == client]
        for day in self.chance.sample(mine, min(len(mine), self.chance.choice((2, 3, 4)))):
            self._take(day)
        return frozenset()

    def _something_cooked(self, kind: float) -> frozenset[int]:
        """Return one cooking now in use, or all of its recipe, or all that share a food of it."""
        used = np.flatnonzero(self.eaten > 1e-9)
        weights = 1.0 / self.eaten[used]
        n = int(self.chance.choices(list(used), list(weights))[0])
        cookings = self.problem.cookings
        dish = self.problem.dishes[cookings[n].dish]
        if kind < 0.15:
            return frozenset([n])
        if kind < 0.35:
            return frozenset(
                x
                for x, cooking in enumerate(cookings)
                if self.problem.dishes[cooking.dish].recipe_id == dish.recipe_id
            )
        food_id = self.chance.choice(sorted(dish.grams))
        return frozenset(
            x
            for x, cooking in enumerate(cookings)
            if food_id in self.problem.dishes[cooking.dish].grams
        )

    def servings(self) -> dict[tuple[int, int], float]:
        """Return the week as servings by (slot, option position)."""
        found = {}
        for (g, d), menu in self.menus.items():
            for slot, (j, amount) in zip(self.problem.groups[g].slots[d], menu.choice, strict=True):
                found[slot, j] = amount
        return found

    def load_servings(self, servings: dict[tuple[int, int], float]) -> None:
        """Take over a whole week given as servings by (slot, option position)."""
        chosen = {slot: (j, amount) for (slot, j), amount in servings.items()}
        self.load(
            {
                (g, d): DayMenu(g, tuple(chosen[slot] for slot in group.slots[d]))
                for g, group in enumerate(self.problem.groups)
                for d in range(len(group.days))
            }
        )
