"""A week annealed: the compiled search over all meals of the week, from a start or from nothing."""

from __future__ import annotations

from dataclasses import dataclass, replace
from importlib import import_module
from typing import Any

import numpy as np

from planopt.problem.build import Problem
from planopt.solve.annealing import columns
from planopt.solve.annealing.arrays import Floats, Ints, Larder, Needs, WeekArrays, runs
from planopt.solve.annealing.tying import tied_by_chance


@dataclass(frozen=True)
class Schedule:
    """How a week is annealed.

    Temperatures and penalties are multiples of the problem's typical price of a step. `moves` are
    the chances of: a new dish at a meal, two meals of a day, two meals exchanged, a size alone,
    a cooking replaced by another, servings moved between meals of a dish, a cooking started.
    `in_use` is the chance that a new dish is one that is cooked already, `kept` that exchanged
    dishes keep their sizes, and `filled` that what replaces a dish is eaten to whole steps.
    """

    hot: float = 2.0
    cold: float = 0.2
    moves: tuple[float, ...] = (0.15, 0.10, 0.25, 0.05, 0.25, 0.15, 0.05)
    in_use: float = 0.6
    kept: float = 0.5
    filled: float = 0.7
    window: float = 60.0
    each_window: float = 0.05
    rule: float = 20.0
    minute: float = 0.5
    recipe: float = 10.0
    batch: float = 10.0
    budget: float = 3.0
    hopeless: float = 15.0


def _kernel() -> Any:
    """Return the compiled functions; numba is loaded only by a search that uses them."""
    return import_module("planopt.solve.annealing.kernel")


class Annealing:
    """One week in the account of the compiled search."""

    def __init__(self, arrays: WeekArrays, seed: int, schedule: Schedule | None = None) -> None:
        self.arrays = arrays
        self.schedule = schedule or Schedule()
        self.seed = np.array([0], np.uint64)
        self.reseed(seed)
        self._fixed = _fixed(arrays)
        self._weights = _weights(self.schedule, arrays.unit)
        self._shares = np.array(
            [
                *np.cumsum(self.schedule.moves),
                self.schedule.in_use,
                self.schedule.kept,
                self.schedule.filled,
            ]
        )
        self._state = _state(arrays)

    def follow(self, schedule: Schedule) -> None:
        """Take another schedule, before a week is loaded or drawn."""
        self.schedule = schedule
        self._weights = _weights(schedule, self.arrays.unit)

    def press(self, factor: float) -> None:
        """Weigh all that is broken so many times as the schedule says; the account follows."""
        names = ("window", "each_window", "rule", "minute", "recipe", "batch", "budget")
        pressed = {name: factor * getattr(self.schedule, name) for name in names}
        self._weights = _weights(replace(self.schedule, **pressed), self.arrays.unit)
        self.settle()

    def reseed(self, seed: int) -> None:
        """Begin the random numbers anew."""
        x = (seed * 0x9E3779B97F4A7C15 + 0x1234567) & 0xFFFFFFFFFFFFFFFF
        x = ((x ^ (x >> 30)) * 0xBF58476D1CE4E5B9) & 0xFFFFFFFFFFFFFFFF
        x = ((x ^ (x >> 27)) * 0x94D049BB133111EB) & 0xFFFFFFFFFFFFFFFF
        self.seed[0] = np.uint64((x ^ (x >> 31)) or 1)

    def random_week(self) -> None:
        """Fill every meal with a dish and size by chance."""
        menu = self.arrays.menu
        rng = np.random.default_rng(int(self.seed[0]) & 0x7FFFFFFF)
        dish, size = self._state["dish_at"], self._state["size_at"]
        dish[:] = -1
        size[:] = 0.0
        recipe = self.arrays.larder.recipe
        on_day = tied_by_chance(self.arrays, dish, size, rng)
        for d in range(len(menu.client_of_day)):
            taken = on_day[d]
            for p in menu.day_places[menu.day_start[d] : menu.day_start[d + 1]]:
                if p % self.arrays.places_a_slot or dish[p] >= 0:
                    continue
                slot = menu.place_slot[p]
                kind = menu.slot_kind[slot]
                row = menu.options[menu.option_start[kind] : menu.option_start[kind + 1]]
                free = [n for n in row if recipe[n] not in taken] or list(row)
                if not free:
                    continue
                dish[p] = free[int(rng.integers(len(free)))]
                taken.add(int(recipe[dish[p]]))
                first, last = menu.size_span[kind, dish[p]]
                size[p] = menu.sizes[int(rng.integers(first, last))]
        self.settle()

    def load(self, dish: Ints, size: Floats) -> None:
        """Take a week over."""
        self._state["dish_at"][:] = dish
        self._state["size_at"][:] = size
        self.settle()

    def only(self, cookings: Ints | None) -> None:
        """Let moves bring in these cookings alone; None = all."""
        menu = self.arrays.menu
        whole = np.arange(menu.allowed.shape[1])
        active = whole if cookings is None else np.asarray(cookings, np.int64)
        keep = np.zeros(len(whole), bool)
        keep[active] = True
        rows = [
            [n for n in menu.options[first:last] if keep[n]]
            for first, last in zip(menu.option_start[:-1], menu.option_start[1:], strict=True)
        ]
        self._fixed["active"] = active
        self._fixed["option_start"], self._fixed["options"] = runs(rows)
        self._fixed["allowed"] = np.ascontiguousarray(menu.allowed & keep[None, :])

    def settle(self) -> None:
        """Work the account out anew, which also takes rounding errors away."""
        _kernel().account(
            *(self._fixed[name] for name in _ACCOUNT_FIXED), self._weights,
            *(self._state[name] for name in _STATE[: -2]),
        )  # fmt: skip

    def run(self, moves: int, hot: float, cold: float) -> None:
        """Anneal for so many moves between two temperatures, multiples of the unit."""
        unit = self.arrays.unit
        _kernel().anneal(
            moves, hot * unit, cold * unit, self.seed, self._shares,
            *self._fixed.values(), self._weights, *(self._state[name] for name in _STATE),
        )  # fmt: skip

    @property
    def best(self) -> float:
        """Return the money of the best sound week so far, infinite without one."""
        return float(self._state["totals"][columns.BEST])

    def forget_best(self) -> None:
        """Let the next sound week be the best."""
        self._state["totals"][columns.BEST] = np.inf
        self._state["counts"][columns.SOUND] = 0

    def best_week(self) -> tuple[Ints, Floats]:
        """Return the best sound week: cooking and size by place."""
        return self._state["best_dish"].copy(), self._state["best_size_at"].copy()

    def week(self) -> tuple[Ints, Floats]:
        """Return the current week."""
        return self._state["dish_at"].copy(), self._state["size_at"].copy()

    @property
    def money(self) -> float:
        """Return the money of the current week."""
        return float(self._state["totals"][columns.MONEY])

    @property
    def penalty(self) -> float:
        """Return the penalties of the current week."""
        return float(self._state["totals"][columns.PENALTY])

    @property
    def totals(self) -> Floats:
        """Return the totals, for measurements."""
        found: Floats = self._state["totals"]
        return found


_FIXED = (
    "place_i", "day_start", "day_places", "active", "options", "option_start", "allowed",
    "size_span", "sizes", "slot_places", "once", "nut", "day_low", "day_high", "week_low",
    "week_high", "weekly", "soft", "priced",
    "client_f", "rule_start", "rules", "rule_f", "cook_f", "cook_i", "kin", "take_pool", "take_g",
    "pool_f", "pool_start", "table", "group_most", "group_cook", "limits", "budget",
    "keep_cost", "keep_size", "keep_each", "counted", "tie_of", "tie_start", "tie_places", "gaps",
    "day_number", "day_client", "most_made", "taste",
)  # fmt: skip
_ACCOUNT_FIXED = (
    "place_i", "day_start", "day_places", "nut", "day_low", "day_high", "week_low", "week_high",
    "weekly", "soft", "priced", "client_f", "rule_start", "rules", "rule_f", "cook_f", "cook_i",
    "take_pool", "take_g", "pool_f", "pool_start", "table", "group_most", "group_cook", "limits",
    "budget", "keep_cost", "keep_size", "keep_each", "counted", "tie_of", "tie_start", "tie_places",
    "gaps", "day_number", "day_client", "most_made", "taste",
)  # fmt: skip
_STATE = (
    "dish_at", "size_at", "new_dish", "new_size", "cstate", "pstate", "gstate", "day_sum",
    "day_new", "day_pen", "week_sum", "week_new", "times", "more_times", "kinds_now", "rule_sum",
    "rule_more", "used", "used_new", "over", "use_list", "use_place", "touched", "counts", "totals",
    "best_dish", "best_size_at",
)  # fmt: skip


def _weights(schedule: Schedule, unit: float) -> tuple[float, ...]:
    rows = (
        schedule.window, schedule.each_window, schedule.rule, schedule.minute, schedule.recipe,
        schedule.batch,
    )  # fmt: skip
    return (*(weight * unit for weight in rows), schedule.budget, schedule.hopeless * unit)


def _fixed(arrays: WeekArrays) -> dict[str, Any]:
    needs, larder, order = arrays.needs, arrays.larder, arrays.order
    work_priced = larder.start_price + larder.extra_price + larder.box_price > 0
    values = {
        **_fixed_menu(arrays),
        **_fixed_needs(needs),
        # Bits: 1 = soft limits have prices, 2 = the cook's work or boxes have, 4 = what is liked.
        "priced": int((needs.soft[:, :, 1::2] > 0).any())
        + 2 * int(work_priced.any())
        + 4 * int((order.taste > 0).any()),
        **_fixed_larder(larder),
        "keep_cost": arrays.keeping.cost,
        "keep_size": arrays.keeping.size,
        "keep_each": arrays.keeping.portion,
        "counted": order.counted,
        "tie_of": order.tie_of,
        "tie_start": order.start,
        "tie_places": order.places,
        "gaps": order.gaps,
        "day_number": order.day_number,
        "day_client": arrays.menu.client_of_day,
        "most_made": order.most_made,
        "taste": order.taste,
    }
    return {name: _flat(values[name]) for name in _FIXED}


def _fixed_menu(arrays: WeekArrays) -> dict[str, Any]:
    menu, slot = arrays.menu, arrays.menu.place_slot
    return {
        "place_i": np.stack(
            [slot, menu.slot_day[slot], menu.slot_client[slot], menu.slot_kind[slot]], axis=1
        ),
        "day_start": menu.day_start,
        "day_places": menu.day_places,
        "active": np.arange(len(arrays.larder.recipe)),
        "options": menu.options,
        "option_start": menu.option_start,
        "allowed": menu.allowed,
        "size_span": menu.size_span,
        "sizes": menu.sizes,
        "slot_places": arrays.places_a_slot,
        "once": arrays.once_a_day,
    }


def _fixed_needs(needs: Needs) -> dict[str, Any]:
    return {
        "nut": needs.nutrients,
        "day_low": needs.low,
        "day_high": needs.high,
        "week_low": needs.week_low,
        "week_high": needs.week_high,
        "weekly": bool((needs.week_low > 0).any() or np.isfinite(needs.week_high).any()),
        "soft": needs.soft,
        "client_f": np.stack([needs.repeats, needs.kinds.astype(float), needs.most_kinds], axis=1),
        "rule_start": needs.rule_start,
        "rules": needs.rules,
        "rule_f": np.stack(
            [needs.rule_low, needs.rule_high, needs.rule_serves.astype(float)], axis=1
        ).reshape(-1, 3),
    }


def _fixed_larder(larder: Larder) -> dict[str, Any]:
    kin_start, kin = _kin(larder.recipe)
    cook_f = (
        larder.per_step, larder.step, larder.waste, larder.full, larder.hands, larder.extra,
        larder.oven, larder.hob, larder.start_price, larder.extra_price, larder.box_price,
    )  # fmt: skip
    cook_i = (
        larder.recipe, larder.cook, larder.group, larder.whole.astype(np.int64),
        larder.take_start[:-1], larder.take_start[1:], kin_start[:-1], kin_start[1:],
    )  # fmt: skip
    pool_f = (larder.stock_g, larder.stock_value, larder.charge, larder.loose)
    return {
        "cook_f": np.stack(cook_f, axis=1),
        "cook_i": np.stack(cook_i, axis=1),
        "kin": kin,
        "take_pool": larder.pool,
        "take_g": larder.grams,
        "pool_f": np.stack(pool_f, axis=1),
        "pool_start": larder.table_start,
        "table": np.stack([larder.table_g, larder.table_cost, larder.table_price], axis=1),
        "group_most": larder.most,
        "group_cook": larder.group_cook,
        "limits": np.concatenate([larder.minutes, larder.most_recipes[None, :]]),
        "budget": larder.budget,
    }


def _flat(value: Any) -> Any:
    return np.ascontiguousarray(value) if isinstance(value, np.ndarray) else value


def _kin(recipe: Ints) -> tuple[Ints, Ints]:
    """Return for each cooking the others of its recipe: other versions, other cook days."""
    rows = [[m for m in np.flatnonzero(recipe == r) if m != n] for n, r in enumerate(recipe)]
    start = np.concatenate([[0], np.cumsum([len(row) for row in rows])]).astype(np.int64)
    return start, np.array([m for row in rows for m in row], np.int64)


def _state(arrays: WeekArrays) -> dict[str, Any]:
    menu, needs, larder = arrays.menu, arrays.needs, arrays.larder
    places, cookings, pools = len(menu.place_slot), len(larder.step), len(larder.stock_g)
    days, clients, width = len(menu.client_of_day), len(needs.repeats), needs.nutrients.shape[1]
    recipes = int(larder.recipe.max(initial=0)) + 1
    rules, groups, cooks = len(needs.rule_low), len(larder.most), larder.minutes.shape[1]
    most = max(places, cookings, pools, days, clients * recipes, rules, groups, 1)
    totals = np.zeros(8)
    totals[columns.BEST] = np.inf
    return {
        "dish_at": np.full(places, -1, np.int64),
        "size_at": np.zeros(places),
        "new_dish": np.full(places, -1, np.int64),
        "new_size": np.zeros(places),
        "cstate": np.zeros((cookings, 3)),
        "pstate": np.zeros((pools, 6)),
        "gstate": np.zeros((groups, 4)),
        "day_sum": np.zeros((days, width)),
        "day_new": np.zeros((days, width)),
        "day_pen": np.zeros(days),
        "week_sum": np.zeros((clients, width)),
        "week_new": np.zeros((clients, width)),
        "times": np.zeros((clients, recipes)),
        "more_times": np.zeros((clients, recipes)),
        "kinds_now": np.zeros(clients),
        "rule_sum": np.zeros(rules),
        "rule_more": np.zeros(rules),
        "used": np.zeros((4, cooks)),
        "used_new": np.zeros((4, cooks)),
        "over": np.zeros(4),
        "use_list": np.zeros(max(1, cookings), np.int64),
        "use_place": np.zeros(max(1, cookings), np.int64),
        "touched": np.zeros((10, 2, most), np.int64),
        "counts": np.zeros(10, np.int64),
        "totals": totals,
        "best_dish": np.full(places, -1, np.int64),
        "best_size_at": np.zeros(places),
    }


def servings_of(
    problem: Problem, arrays: WeekArrays, dish: Ints, size: Floats
) -> dict[tuple[int, int], float]:
    """Return a week as servings by (slot, option position)."""
    place = [{option: j for j, option in enumerate(slot.options)} for slot in problem.slots]
    found: dict[tuple[int, int], float] = {}
    for p in np.flatnonzero(dish >= 0):
        i = int(arrays.menu.place_slot[p])
        found[i, place[i][problem.cookings[dish[p]]]] = float(size[p])
    return found


def load_servings(
    problem: Problem, arrays: WeekArrays, servings: dict[tuple[int, int], float]
) -> tuple[Ints, Floats] | None:
    """Return cooking and size by place of a week; None if it lacks a meal or fits no sizes."""
    menu = arrays.menu
    place = {cooking: n for n, cooking in enumerate(problem.cookings)}
    dish, size = np.full(len(menu.place_slot), -1, np.int64), np.zeros(len(menu.place_slot))
    for (i, j), amount in sorted(servings.items()):
        n = place[problem.slots[i].options[j]]
        first, last = menu.size_span[menu.slot_kind[i], n]
        tried = menu.sizes[first:last]
        if not len(tried):
            return None
        near = int(np.abs(tried - amount).argmin())
        free = [
            p
            for p in range(i * arrays.places_a_slot, (i + 1) * arrays.places_a_slot)
            if dish[p] < 0
        ]
        if not free or abs(tried[near] - amount) > 1e-6:
            return None
        dish[free[0]], size[free[0]] = n, tried[near]
    served = {int(menu.place_slot[p]) for p in np.flatnonzero(dish >= 0)}
    return (dish, size) if len(served) == len(menu.slot_day) else None
