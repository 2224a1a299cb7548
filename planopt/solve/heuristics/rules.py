"""One client's rules over the whole plan, as an account that the local search keeps up to date.

A broken rule costs a penalty, so that a search can pass through weeks that break it.

Method: penalties in place of hard limits. Source: common practice, no source.
"""

from __future__ import annotations

import numpy as np
from numpy.typing import NDArray

from planopt.problem.build import Problem

Floats = NDArray[np.float64]

_PENALTY = 20.0
# Money for a day's worth of a nutrient when the open days must hold twice their even share.
_PULL, _MOST_PULL = 15.0, 5.0
_NEW_RECIPE, _LAST_NEW_RECIPE = 1.0, 4.0


class WeekRules:
    """Repeats, variety, dislikes, wants, servings of a recipe, and windows of the plan.

    A state is a vector of sums over menus: meals by recipe, meals by watched food, servings by
    limited recipe, amounts by nutrient. Shapes: N cookings; `per_meal` and `per_serving` (N, W).
    """

    def __init__(self, problem: Problem, client: int) -> None:
        chosen = problem.clients[client]
        dishes = [problem.dishes[cooking.dish] for cooking in problem.cookings]
        recipes = problem.recipe_ids
        foods = sorted(set(chosen.dislikes) | set(chosen.wants))
        limited = sorted(chosen.recipe_servings)
        nutrients = sorted(chosen.windows_per_week)
        width = len(recipes) + len(foods) + len(limited) + len(nutrients)
        self.per_meal = np.zeros((len(dishes), width))
        self.per_serving = np.zeros((len(dishes), width))
        ends = np.cumsum([len(recipes), len(foods), len(limited), len(nutrients)])
        self._recipes = slice(0, ends[0])
        self._foods = slice(ends[0], ends[1])
        self._limited = slice(ends[1], ends[2])
        self._nutrients = slice(ends[2], ends[3])
        self.recipe = np.array([recipes.index(dish.recipe_id) for dish in dishes], np.int64)
        for n, dish in enumerate(dishes):
            self.per_meal[n, self.recipe[n]] = 1.0
            for f, food_id in enumerate(foods):
                self.per_meal[n, ends[0] + f] = float(food_id in dish.grams)
            for r, recipe_id in enumerate(limited):
                self.per_serving[n, ends[1] + r] = float(dish.recipe_id == recipe_id)
            for u, nutrient_id in enumerate(nutrients):
                self.per_serving[n, ends[2] + u] = dish.nutrients[nutrient_id]
        self._repeats = np.inf if chosen.most_repeats is None else float(chosen.most_repeats)
        self._least_kinds = chosen.least_different_recipes
        self._most = np.array([float(chosen.dislikes.get(f, np.inf)) for f in foods])
        self._least = np.array([float(chosen.wants.get(f, 0)) for f in foods])
        windows = [chosen.recipe_servings[recipe_id] for recipe_id in limited]
        self._servings_low = np.array([window.min for window in windows])
        self._servings_high = np.array([_open(window.max) for window in windows])
        weeks = [chosen.windows_per_week[nutrient_id] for nutrient_id in nutrients]
        self._low = np.array([window.min or 0.0 for window in weeks])
        self._high = np.array([_open(window.max) for window in weeks])

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
        meals = states[:, self._recipes]
        foods = states[:, self._foods]
        servings = states[:, self._limited]
        amounts = states[:, self._nutrients]
        broken = np.maximum(0.0, meals - self._repeats).sum(axis=1)
        broken += np.maximum(0.0, foods - self._most).sum(axis=1)
        broken += np.maximum(0.0, servings - self._servings_high).sum(axis=1)
        broken += np.maximum(0.0, self._servings_low * share - servings).sum(axis=1)
        if share >= 1.0:
            broken += np.maximum(0, self._least_kinds - (meals > 0).sum(axis=1))
            broken += np.maximum(0.0, self._least - foods).sum(axis=1)
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
        foods = state[self._foods]
        holds = self.per_meal[:, self._foods]
        price += _PENALTY * (holds * (foods >= self._most)).sum(axis=1)
        price -= _PENALTY / max(1, open_days) * (holds * (foods < self._least)).sum(axis=1)
        return price

    def pull(self, state: Floats, open_days: int, days: int) -> Floats:
        """Return a price per serving for each cooking, so that open days meet the plan's windows.

        If the open days must catch up on a nutrient, dishes with much of it get cheaper; if they
        must make up for too much of it, such dishes get dearer.
        """
        price = np.zeros(len(self.recipe))
        if open_days <= 0 or days <= 0:
            return price
        amounts = state[self._nutrients]
        supply = self.per_serving[:, self._nutrients]
        for u, (low, high) in enumerate(zip(self._low, self._high, strict=True)):
            if low > 0:
                behind = (low - amounts[u]) / open_days * days / low - 1.0
                price -= _PULL * min(max(behind, 0.0), _MOST_PULL) * supply[:, u] * days / low
            if 0 < high < np.inf:
                ahead = 1.0 - (high - amounts[u]) / open_days * days / high
                price += _PULL * min(max(ahead, 0.0), _MOST_PULL) * supply[:, u] * days / high
        return price


def _open(most: float | None) -> float:
    return np.inf if most is None else most
