"""A problem as flat arrays for the compiled search: who may eat what, what it needs, what it costs.

Everything that the search asks in its inner loop stands in arrays of numbers here, each with its
shape. Letters: P places, I slots, D days of a client, C clients, N cookings, U nutrients, F pools
of food, K cook days, R recipes, Q rules of clients, G recipes on a cook day.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, field
from math import inf
from typing import Any

import numpy as np
from numpy.typing import NDArray

from planopt.model.covers import cover_table
from planopt.model.kitchen import money_scale, serving_value
from planopt.model.strengthen import Pool, pools_of
from planopt.problem.build import Problem
from planopt.problem.byhand import standing_batches
from planopt.problem.rules import LinearRule
from planopt.solve.annealing.keeping import ChangeCosts, servings_a_batch, standing_g
from planopt.solve.annealing.orderarrays import OrderArrays, order_arrays
from planopt.solve.annealing.sizes import sizes_laid

Floats = NDArray[np.float64]
Ints = NDArray[np.int64]

# Places a meal has where any number of dishes may be.
_MOST_PLACES = 3
# Foods are bought for at most so many steps of the dish that takes most of them.
_REACH_STEPS = 12
_MISSING = 1000.0
# The median step of the generated kitchens costs so many units of money.
_TYPICAL = 32.0


@dataclass(frozen=True)
class Menu:
    """Who may eat what, when, and in which portions.

    `place_slot` (P); `slot_day`, `slot_client`, `slot_kind` (I); `day_places` by `day_start`
    (D + 1): places of each day; `options` by `option_start`, for each kind of slot; `allowed`
    (kinds, N); `sizes` of a cooking in a kind of slot from and to `size_span` (kinds, N, 2);
    `client_of_day` (D).
    """

    place_slot: Ints
    slot_day: Ints
    slot_client: Ints
    slot_kind: Ints
    day_start: Ints
    day_places: Ints
    client_of_day: Ints
    option_start: Ints
    options: Ints
    allowed: NDArray[np.bool_]
    size_span: Ints
    sizes: Floats


@dataclass(frozen=True)
class Needs:
    """What windows and rules ask.

    `nutrients` (N, U) a serving; `low`, `high` (D, U) a day; `week_low`, `week_high` (C, U) the
    plan; `soft` (C, U, 4): least, money a unit below, most, money a unit above; `repeats`, `kinds`,
    `most_kinds` (C): most meals of a recipe, least and most recipes; rules that count meals or
    servings: `rule_low`, `rule_high`, `rule_serves` (Q), those that a cooking counts in `rules` by
    `rule_start` (C x N + 1).
    """

    nutrients: Floats
    low: Floats
    high: Floats
    week_low: Floats
    week_high: Floats
    soft: Floats
    repeats: Floats
    kinds: Ints
    most_kinds: Floats
    rule_start: Ints
    rules: Ints
    rule_low: Floats
    rule_high: Floats
    rule_serves: NDArray[np.bool_]


@dataclass(frozen=True)
class Larder:
    """What cookings take and what food costs.

    `per_step` servings and `step` batches of a step, `whole` where steps are whole, `waste` money a
    serving not eaten, `full` the dearest that one step can be (N); `recipe`, `cook`, `group` (N);
    `grams` a step by `pool`, in runs by `take_start` (N + 1); cover tables `table_g`, `table_cost`,
    `table_price` by `table_start` (F + 1); `stock_g`, `stock_value`, `charge`, `loose` (F), money a
    gram; `most` batches (G); `hands`, `extra`, `oven`, `hob` minutes (N) and `minutes` (3, K) most;
    `start_price`, `extra_price`, `box_price` (N), money for the work on a first batch, on a
    further one, and for the boxes of a portion;
    `most_recipes` (K); `group_cook` (G); `budget`.
    """

    per_step: Floats
    step: Floats
    whole: NDArray[np.bool_]
    waste: Floats
    full: Floats
    recipe: Ints
    cook: Ints
    group: Ints
    take_start: Ints
    pool: Ints
    grams: Floats
    table_start: Ints
    table_g: Floats
    table_cost: Floats
    table_price: Floats
    stock_g: Floats
    stock_value: Floats
    charge: Floats
    loose: Floats
    most: Floats
    group_cook: Ints
    hands: Floats
    extra: Floats
    start_price: Floats
    extra_price: Floats
    box_price: Floats
    oven: Floats
    hob: Floats
    minutes: Floats
    most_recipes: Floats
    budget: float


@dataclass(frozen=True)
class WeekArrays:
    """A whole problem as arrays; `unit` is a typical price of a step, by which penalties go."""

    menu: Menu
    needs: Needs
    larder: Larder
    places_a_slot: int
    once_a_day: bool
    unit: float
    constant: float
    order: OrderArrays
    keeping: ChangeCosts = field(default_factory=ChangeCosts)


def week_arrays(problem: Problem) -> WeekArrays:
    """Return the arrays of a problem of whole or any portions, one dish a meal or several."""
    places = problem.most_dishes_per_meal
    count = _MOST_PLACES if places == "any" else min(int(places), _MOST_PLACES)
    larder, constant = _larder(problem)
    priced = larder.full[np.isfinite(larder.full) & (larder.full > 0)]
    return WeekArrays(
        menu=_menu(problem, count),
        needs=_needs(problem),
        larder=larder,
        places_a_slot=count,
        once_a_day=places != "any",
        unit=float(np.median(priced)) / _TYPICAL if len(priced) else 1.0,
        constant=constant,
        order=order_arrays(problem, count),
    )


def runs(rows: Sequence[Sequence[int]]) -> tuple[Ints, Ints]:
    """Return rows laid end to end, and where each starts."""
    start = np.concatenate([[0], np.cumsum([len(row) for row in rows])]).astype(np.int64)
    flat = np.array([value for row in rows for value in row], np.int64)
    return start, flat


def _menu(problem: Problem, places_a_slot: int) -> Menu:
    place = {cooking: n for n, cooking in enumerate(problem.cookings)}
    kinds: dict[object, int] = {}
    portions = [client.portions for client in problem.clients]
    slot_kind = [
        kinds.setdefault((slot.options, slot.windows, portions[slot.client]), len(kinds))
        for slot in problem.slots
    ]
    by_kind = sorted({kind: i for i, kind in enumerate(slot_kind)}.items())
    size_span, sizes = sizes_laid(problem, [i for _, i in by_kind], place)
    rows = [
        [n for n in map(place.__getitem__, problem.slots[i].options) if np.ptp(size_span[kind, n])]
        for kind, i in by_kind
    ]
    allowed = np.zeros((len(rows), len(problem.cookings)), bool)
    for kind, row in enumerate(rows):
        allowed[kind, row] = True
    days: dict[tuple[int, int], int] = {}
    slot_day = [days.setdefault((slot.client, slot.day), len(days)) for slot in problem.slots]
    of_day: list[list[int]] = [[] for _ in days]
    for i, d in enumerate(slot_day):
        of_day[d] += range(i * places_a_slot, (i + 1) * places_a_slot)
    day_start, day_places = runs(of_day)
    option_start, options = runs(rows)
    return Menu(
        place_slot=np.repeat(np.arange(len(problem.slots)), places_a_slot),
        slot_day=np.array(slot_day, np.int64),
        slot_client=np.array([slot.client for slot in problem.slots], np.int64),
        slot_kind=np.array(slot_kind, np.int64),
        day_start=day_start,
        day_places=day_places,
        client_of_day=np.array([c for c, _ in days], np.int64),
        option_start=option_start,
        options=options,
        allowed=allowed,
        size_span=size_span,
        sizes=sizes,
    )


def _needs(problem: Problem) -> Needs:
    # Amounts are columns of nutrients; what counts dishes is a rule of the search.
    of_day = {rule.column: rule for group in problem.groups for rule in group.rules}
    of_week = {rule.column: rule for rule in _week_amounts(problem)}
    names = [*sorted(of_day), *sorted(of_week.keys() - of_day.keys())]
    column = {name: u for u, name in enumerate(names)}
    low, high = _day_windows(problem, column)
    week_low, week_high, soft = _week_windows(problem, column)
    per_serving = [{**of_week, **of_day}[name].coefficients for name in names]
    dishes = [cooking.dish for cooking in problem.cookings]
    counting = [rule for rule in problem.rules if rule.counted]
    rows: list[list[int]] = [[] for _ in range(len(problem.clients) * len(dishes))]
    for q, rule in enumerate(counting):
        for n, d in enumerate(dishes):
            if d in rule.coefficients:
                rows[rule.client * len(dishes) + n].append(q)
    rule_start, rules = runs(rows)
    return Needs(
        nutrients=np.array([[one.get(d, 0.0) for one in per_serving] for d in dishes]).reshape(
            len(dishes), len(names)
        ),
        low=low,
        high=high,
        week_low=week_low,
        week_high=week_high,
        soft=soft,
        repeats=np.array([_open(client.most_repeats) for client in problem.clients]),
        kinds=np.array([c.least_different_recipes for c in problem.clients], np.int64),
        most_kinds=np.array([_open(c.most_different_recipes) for c in problem.clients]),
        rule_start=rule_start,
        rules=rules,
        rule_low=np.array([rule.low for rule in counting], float),
        rule_high=np.array([rule.high for rule in counting], float),
        rule_serves=np.array([rule.per == "serving" for rule in counting], bool),
    )


def _day_windows(problem: Problem, column: dict[tuple[str, str], int]) -> tuple[Floats, Floats]:
    """Return least and most of each day of a client, by column of what is counted."""
    days: dict[tuple[int, int], int] = {}
    for slot in problem.slots:
        days.setdefault((slot.client, slot.day), len(days))
    low, high = np.zeros((len(days), len(column))), np.full((len(days), len(column)), inf)
    for group in problem.groups:
        for rule in group.rules:
            for day in group.days:
                place = days[group.client, day], column[rule.column]
                low[place], high[place] = rule.low, rule.high
    return low, high


def _week_amounts(problem: Problem) -> list[LinearRule]:
    """Return the rules of the plan that are amounts eaten; what is liked is paid a meal."""
    return [rule for rule in problem.rules if not rule.counted and rule.per == "serving"]


def _week_windows(
    problem: Problem, column: dict[tuple[str, str], int]
) -> tuple[Floats, Floats, Floats]:
    """Return least and most of the plan and its soft limits with prices, by client and column."""
    shape = (len(problem.clients), len(column))
    low, high, soft = np.zeros(shape), np.full(shape, inf), np.zeros((*shape, 4))
    soft[:, :, 2] = inf
    for rule in _week_amounts(problem):
        place = rule.client, column[rule.column]
        if not rule.soft:
            low[place], high[place] = rule.low, rule.high
            continue
        if rule.low > 0:
            soft[place][:2] = rule.low, rule.price
        if rule.high < inf:
            soft[place][2:] = rule.high, rule.price
    return low, high, soft


def _larder(problem: Problem) -> tuple[Larder, float]:
    """Return the larder, and what the food on hand would be wasted at if none of it were used."""
    dishes = [problem.dishes[cooking.dish] for cooking in problem.cookings]
    step = np.array([dish.batch_step or 1.0 for dish in dishes])
    standing = standing_batches(problem)
    recipes = {recipe_id: r for r, recipe_id in enumerate(problem.recipe_ids)}
    work = [problem.work[cooking.dish] for cooking in problem.cookings]
    served = [servings_a_batch(problem, n, standing) for n in range(len(dishes))]
    values = [serving_value(problem, cooking.dish) for cooking in problem.cookings]
    larder = Larder(
        per_step=np.array(served) * step,
        step=step,
        whole=np.array([dish.batch_step is not None for dish in dishes]),
        waste=problem.waste_weight * np.array(values),
        full=np.zeros(len(dishes)),
        recipe=np.array([recipes[dish.recipe_id] for dish in dishes], np.int64),
        cook=np.array([cooking.cook for cooking in problem.cookings], np.int64),
        **_food_arrays(problem, step, standing),
        **_group_arrays(problem, standing),
        hands=np.array([dish.hands_on for dish in dishes]),
        extra=np.array([dish.hands_on_extra for dish in dishes]),
        start_price=np.array([price.start for price in work]),
        extra_price=np.array([price.extra for price in work]),
        box_price=np.array([price.portion for price in work]),
        oven=np.array([dish.oven_minutes for dish in dishes]),
        hob=np.array([dish.hob_minutes for dish in dishes]),
        minutes=np.array(
            [
                [_open(cook.hands_on_minutes) for cook in problem.cook_days],
                [_open(cook.oven_minutes) for cook in problem.cook_days],
                [_open(cook.hob_minutes) for cook in problem.cook_days],
            ]
        ),
        most_recipes=np.array([_open(cook.most_recipes) for cook in problem.cook_days]),
        budget=_open(problem.budget),
    )
    _fill_full(larder)
    return larder, float((larder.stock_value * larder.stock_g).sum())


def _food_arrays(problem: Problem, step: Floats, standing: dict[int, float]) -> dict[str, Any]:
    """Return the arrays of pools of food by their names: takes, cover tables, stock and prices."""
    scale, pools, weight = money_scale(problem), pools_of(problem), problem.waste_weight
    taken: list[list[tuple[int, float]]] = [[] for _ in problem.cookings]
    for p, pool in enumerate(pools):
        for n, cooking in enumerate(problem.cookings):
            amount = problem.dishes[cooking.dish].grams.get(pool.food_id, 0.0) * step[n]
            if cooking.cook in pool.cooks and amount > 0 and n not in standing:
                taken[n].append((p, amount))
    take_start, pool_of = runs([[p for p, _ in row] for row in taken])
    grams = np.array([g for row in taken for _, g in row])
    most_g = np.zeros(len(pools))
    np.maximum.at(most_g, pool_of, grams)
    values = np.array([weight * problem.value_minor_per_g[p.food_id] / scale for p in pools])
    charge = np.array([v if p.all_wasted else 0.0 for p, v in zip(pools, values, strict=True)])
    tables = [
        _table(problem, pool, scale, charge[p], most_g[p] * _REACH_STEPS)
        for p, pool in enumerate(pools)
    ]
    table_start, _ = runs([range(len(table)) for table in tables])
    laid = np.array([entry for table in tables for entry in table]).reshape(-1, 3)
    spoils = np.array([_spoils(problem, pool) for pool in pools])
    loose = [_loose(problem, pool, scale, charge[p]) for p, pool in enumerate(pools)]
    return {
        "take_start": take_start,
        "pool": pool_of,
        "grams": grams,
        "table_start": table_start,
        "table_g": laid[:, 0].copy(),
        "table_cost": laid[:, 1].copy(),
        "table_price": laid[:, 2].copy(),
        "stock_g": np.array([p.stock_g + standing_g(problem, p, standing) for p in pools]),
        "stock_value": np.where(spoils, values, 0.0),
        "charge": charge,
        "loose": np.array(loose),
    }


def _group_arrays(problem: Problem, standing: dict[int, float]) -> dict[str, Any]:
    """Return the arrays of recipes on a cook day by their names: of which cooking, and how many."""
    dishes = [problem.dishes[cooking.dish] for cooking in problem.cookings]
    group_of: dict[tuple[str, int], int] = {}
    group = [
        group_of.setdefault((dish.recipe_id, cooking.cook), len(group_of))
        for dish, cooking in zip(dishes, problem.cookings, strict=True)
    ]
    most = np.zeros(len(group_of))
    most[group] = [dish.most_per_cook_day for dish in dishes]
    for n, batches in standing.items():
        most[group[n]] = batches
    return {
        "group": np.array(group, np.int64),
        "most": most,
        "group_cook": np.array([k for _, k in group_of], np.int64),
    }


def _open(most: object) -> float:
    return inf if most is None else float(str(most))


def _spoils(problem: Problem, pool: Pool) -> bool:
    """Tell whether stock of a pool is wasted if it is left."""
    rows = [problem.supplies[s] for s in pool.supplies]
    return any(row.stock_index is not None and row.wasted for row in rows)


def _loose(problem: Problem, pool: Pool, scale: int, charge: float) -> float:
    """Return the price of a gram sold in any amount, infinite where there is none."""
    if not pool.has_shop:
        return inf
    prices = [
        offer.price_minor / scale / offer.edible_g + charge
        for offer in problem.offers[pool.food_id]
        if offer.continuous
    ]
    return min(prices, default=inf)


def _table(
    problem: Problem, pool: Pool, scale: int, charge: float, reach_g: float
) -> list[tuple[float, float, float]]:
    """Return (grams, cost with waste, price) of the efficient pack combinations of a pool."""
    packs = [
        (offer.edible_g, offer.price_minor / scale + charge * offer.edible_g)
        for offer in (problem.offers[pool.food_id] if pool.has_shop else ())
        if not offer.continuous
    ]
    if not packs:
        return [(0.0, 0.0, 0.0)]
    reach_g = max(max(g for g, _ in packs), reach_g)
    return [(g, c, c - charge * g) for g, c in cover_table(packs, reach_g).reaching(reach_g)]


def _fill_full(larder: Larder) -> None:
    """Work out what one step costs when nothing else of its foods is bought: no step costs more."""
    for n in range(len(larder.full)):
        for t in range(larder.take_start[n], larder.take_start[n + 1]):
            p, g = larder.pool[t], larder.grams[t]
            first, last = larder.table_start[p], larder.table_start[p + 1]
            place = first + np.searchsorted(larder.table_g[first:last], g - 1e-6)
            packs = larder.table_cost[place] if place < last else inf
            if place >= last and larder.table_g[last - 1] > 0:
                packs = larder.table_cost[last - 1] * g / larder.table_g[last - 1]
            least = min(packs, larder.loose[p] * g)
            larder.full[n] += least if least < inf else _MISSING
        larder.full[n] += larder.waste[n] * larder.per_step[n]
