"""One client's rules over the whole plan, as an account that the local search keeps up to date.

A broken rule costs a penalty, so that a search can pass through weeks that break it.

Method: penalties in place of hard limits. Source: common practice, no source.
"""

from __future__ import annotations

from collections.abc import Sequence

import numpy as np
from numpy.typing import NDArray

from planopt.problem.build import Problem
from planopt.problem.rules import LinearRule

Floats = NDArray[np.float64]

_PENALTY = 20.0
# Money for a day's worth of a nutrient when the open days must hold twice their even share.
_PULL, _MOST_PULL = 15.0, 5.0
_NEW_RECIPE, _LAST_NEW_RECIPE = 1.0, 4.0


class WeekRules:
    """Repeats, variety, and the rules over the plan of one client.

    A state is a vector of sums over menus: meals by recipe, and what each rule counts: those of
    meals first, then of servings, then amounts. Shapes: N cookings; `per_meal` and `per_serving`
    (N, W). Soft rules are left out.
    """

    def __init__(self, problem: Problem, client: int) -> None:
        chosen = problem.clients[client]
        dishes = [problem.dishes[cooking.dish] for cooking in problem.cookings]
        recipes = problem.recipe_ids
        mine = problem.rules_of_client[client]
        meals = [rule for rule in mine if rule.per == "meal"]
        served = [rule for rule in mine if rule.per == "serving" and rule.counted]
        amounts = [rule for rule in mine if not rule.counted]
        ends = np.cumsum([len(recipes), len(meals), len(served), len(amounts)])
        self.per_meal = np.zeros((len(dishes), ends[3]))
        self.per_serving = np.zeros((len(dishes), ends[3]))
        self._recipes = slice(0, ends[0])
        self._meals = slice(ends[0], ends[1])
        self._served = slice(ends[1], ends[2])
        self._amounts = slice(ends[2], ends[3])
        self.recipe = np.array([recipes.index(dish.recipe_id) for dish in dishes], np.int64)
        self.per_meal[np.arange(len(dishes)), self.recipe] = 1.0
        for w, rule in enumerate((*meals, *served, *amounts), int(ends[0])):
            table = self.per_meal if rule.per == "meal" else self.per_serving
            table[:, w] = [rule.coefficients.get(one.dish, 0.0) for one in problem.cookings]
        self._repeats = np.inf if chosen.most_repeats is None else float(chosen.most_repeats)
        self._least_kinds = chosen.least_different_recipes
        most = chosen.most_different_recipes
        self._most_kinds = np.inf if most is None else float(most)
        self._least, self._most = _bounds(meals)
        self._served_low, self._served_high = _bounds(served)
        self._low, self._high = _bounds(amounts)

    def vector(self, items: list[tuple[int, float]]) -> Floats:
        """Return the sums of one menu, given as (cooking, servings)."""
        found = np.zeros(self.per_meal.shape[1])
        for n, servings in items:
            found += self.per_meal[n] + servings * self.per_serving[n]
        return found

    def penalty(self, states: Floats, share: float) -> Floats:
        """Return penalties of states, shape (K, W) to (K,).

        `share` is the part of the client's days planned so far. Servings and windows of the
        plan are held to that share of their limits; variety and wanted foods are looked at once
        the plan is whole.
        """
        times = states[:, self._recipes]
        meals = states[:, self._meals]
        served = states[:, self._served]
        amounts = states[:, self._amounts]
        broken = np.maximum(0.0, times - self._repeats).sum(axis=1)
        broken += np.maximum(0.0, meals - self._most).sum(axis=1)
        broken += np.maximum(0.0, served - self._served_high).sum(axis=1)
        broken += np.maximum(0.0, self._served_low * share - served).sum(axis=1)
        if self._most_kinds < np.inf:
            broken += np.maximum(0, (times > 0).sum(axis=1) - self._most_kinds)
        if share >= 1.0:
            broken += np.maximum(0, self._least_kinds - (times > 0).sum(axis=1))
            broken += np.maximum(0.0, self._least - meals).sum(axis=1)
        for u, (low, high) in enumerate(zip(self._low, self._high, strict=True)):
            over = amounts[:, u] / max(high * share, 1e-9) - 1.0
            broken += np.where(over > 0, 0.1 + 10.0 * over, 0.0)
            if low > 0:
                under = 1.0 - amounts[:, u] / (low * share)
                broken += np.where(under > 0, 0.1 + 10.0 * under, 0.0)
        paid: Floats = _PENALTY * broken
        return paid

    def prices(self, state: Floats, open_days: int) -> Floats:
        """Return a price per meal for each cooking, so that a day keeps to what rules allow."""
        price = np.zeros(len(self.recipe))
        times = state[self._recipes][self.recipe]
        price += np.where(times >= self._repeats, _PENALTY, 0.0)
        kinds = int((state[self._recipes] > 0).sum())
        if kinds < self._least_kinds:
            bonus = _NEW_RECIPE if open_days > 1 else _LAST_NEW_RECIPE
            price -= np.where(times == 0, bonus, 0.0)
        meals = state[self._meals]
        holds = self.per_meal[:, self._meals]
        price += _PENALTY * (holds * (meals >= self._most)).sum(axis=1)
        price -= _PENALTY / max(1, open_days) * (holds * (meals < self._least)).sum(axis=1)
        return price

    def pull(self, state: Floats, open_days: int, days: int) -> Floats:
        """Return a price per serving for each cooking, so that open days meet the plan's windows.

        If the open days must catch up on a nutrient, dishes with much of it get cheaper; if they
        must make up for too much of it, such dishes get dearer.
        """
        price = np.zeros(len(self.recipe))
        if open_days <= 0 or days <= 0:
            return price
        amounts = state[self._amounts]
        supply = self.per_serving[:, self._amounts]
        for u, (low, high) in enumerate(zip(self._low, self._high, strict=True)):
            if low > 0:
                behind = (low - amounts[u]) / open_days * days / low - 1.0
                price -= _PULL * min(max(behind, 0.0), _MOST_PULL) * supply[:, u] * days / low
            if 0 < high < np.inf:
                ahead = 1.0 - (high - amounts[u]) / open_days * days / high
                price += _PULL * min(max(ahead, 0.0), _MOST_PULL) * supply[:, u] * days / high
        return price


def _bounds(rules: Sequence[LinearRule]) -> tuple[Floats, Floats]:
    low = np.array([rule.low for rule in rules], float)
    return low, np.array([rule.high for rule in rules], float)
