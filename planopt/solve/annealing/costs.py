"""Judging a move of the compiled search: what it changes of windows, rules, food and kitchen."""

from __future__ import annotations

import numpy as np
from numba import njit

from planopt.solve.annealing.basics import day_missed, note
from planopt.solve.annealing.columns import (
    BATCHES,
    BOX,
    CHARGE,
    CLIENT,
    CLIENTS,
    COOK,
    COOKINGS,
    COST,
    DAYS,
    EATEN,
    EPS,
    EPS_G,
    EXTRA,
    FURTHER,
    GRAMS,
    GROUP,
    GROUPS,
    HANDS,
    HOB,
    LOOSE,
    MORE,
    MORE_BATCHES,
    MORE_G,
    MORE_STARTED,
    NEW_COST,
    NEW_PRICE,
    OVEN,
    PER_STEP,
    PLACES,
    POOLS,
    PRICE,
    RECIPE,
    RECIPES,
    RULE_HIGH,
    RULE_LOW,
    RULE_SERVES,
    RULES,
    START,
    STARTED,
    STEP,
    STEPS,
    STOCK,
    STOCK_VALUE,
    TABLE_COST,
    TABLE_G,
    TABLE_PRICE,
    TAKE_FROM,
    TAKE_TO,
    WASTE,
    WHOLE,
)

# fmt: off


@njit(cache=True, nogil=True)
def food_cost(p, grams, pool_f, pool_start, table):
    """Return (cost with waste, price) of so many grams of a pool, beside what is on hand."""
    have = pool_f[p, STOCK]
    saved = pool_f[p, STOCK_VALUE] * min(grams, have)
    need = grams - have
    if need <= EPS_G:
        return -saved, 0.0
    first, last = pool_start[p], pool_start[p + 1]
    low, high = first, last
    while low < high:
        middle = (low + high) // 2
        if table[middle, TABLE_G] < need - EPS_G:
            low = middle + 1
        else:
            high = middle
    loose = pool_f[p, LOOSE]
    if low < last:
        cost, price = table[low, TABLE_COST], table[low, TABLE_PRICE]
    elif table[last - 1, TABLE_G] > 0.0:
        share = need / table[last - 1, TABLE_G]
        cost, price = share * table[last - 1, TABLE_COST], share * table[last - 1, TABLE_PRICE]
    else:
        cost = price = np.inf
    if loose < np.inf:
        more = table[low - 1, TABLE_COST] + loose * (need - table[low - 1, TABLE_G])
        if low > first and more < cost:
            cost = more
            price = more - pool_f[p, CHARGE] * need
    if cost == np.inf:
        cost = price = 1000.0 + need
    return cost - pool_f[p, CHARGE] * need - saved, price


@njit(cache=True, nogil=True)
def steps_of(n, eaten, cook_f, cook_i):
    """Return the fewest steps of a cooking that cover the servings eaten."""
    if eaten <= EPS:
        return 0.0
    if cook_i[n, WHOLE]:
        return np.ceil(eaten / cook_f[n, PER_STEP] - EPS)
    return eaten / cook_f[n, PER_STEP]


@njit(cache=True, nogil=True)
def hands_of(n, steps, cook_f):
    """Return hands-on minutes of a cooking."""
    if steps <= 0.0:
        return 0.0
    return cook_f[n, HANDS] + cook_f[n, EXTRA] * max(0.0, steps * cook_f[n, STEP] - 1.0)


@njit(cache=True, nogil=True)
def windows_change(
    day_new, day_low, day_high, day_pen, week_new, week_sum, week_low, week_high, weekly, touched,
    counts, weight, each,
):
    """Return the change of penalties for windows of days and of the plan."""
    change = 0.0
    for t in range(counts[DAYS]):
        d = touched[DAYS, 0, t]
        change += day_missed(day_new[d], day_low[d], day_high[d], weight, each) - day_pen[d]
    if weekly:
        for t in range(counts[CLIENTS]):
            c = touched[CLIENTS, 0, t]
            change += 3.0 * (
                day_missed(week_new[c], week_low[c], week_high[c], weight, each)
                - day_missed(week_sum[c], week_low[c], week_high[c], weight, each)
            )
    return change


@njit(cache=True, nogil=True)
def soft_cost(sums, soft):
    """Return money for what one client's sums miss of the soft limits."""
    total = 0.0
    for u in range(len(sums)):
        total += soft[u, 1] * max(0.0, soft[u, 0] - sums[u])
        if soft[u, 3] > 0.0:
            total += soft[u, 3] * max(0.0, sums[u] - soft[u, 2])
    return total


@njit(cache=True, nogil=True)
def soft_change(week_new, week_sum, soft, touched, counts):
    """Return the change of money for soft limits."""
    change = 0.0
    for t in range(counts[CLIENTS]):
        c = touched[CLIENTS, 0, t]
        change += soft_cost(week_new[c], soft[c]) - soft_cost(week_sum[c], soft[c])
    return change


@njit(cache=True, nogil=True)
def keeping_change(
    dish_at, size_at, new_dish, new_size, keep_cost, keep_size, keep_each, touched, counts,
):
    """Return the change of money for plates that are not as they were in an earlier plan."""
    change = 0.0
    for t in range(counts[PLACES]):
        p = touched[PLACES, 0, t]
        for side in range(2):
            n = dish_at[p] if side == 0 else new_dish[p]
            if n < 0:
                continue
            size = size_at[p] if side == 0 else new_size[p]
            cost = keep_cost[p, n]
            if cost == 0.0 and keep_size[p] > 0.0 and abs(size - keep_size[p]) > EPS_G:
                cost = keep_each[p]
            change += -cost if side == 0 else cost
    return change


@njit(cache=True, nogil=True)
def rules_change(
    place_i, counted, cook_i, dish_at, size_at, new_dish, new_size, times, more_times, client_f,
    kinds_now, rule_start, rules, rule_f, rule_sum, rule_more, touched, counts, cookings, broken,
):
    """Return the change of penalties for repeats, different recipes, and counted rules."""
    recipes = times.shape[1]
    for t in range(counts[PLACES]):
        p = touched[PLACES, 0, t]
        c = place_i[p, CLIENT]
        for side in range(2):
            n = dish_at[p] if side == 0 else new_dish[p]
            if n < 0:
                continue
            sign = -1.0 if side == 0 else 1.0
            r = cook_i[n, RECIPE]
            more_times[c, r] += sign * counted[p]
            note(touched, counts, RECIPES, c * recipes + r)
            for k in range(rule_start[c * cookings + n], rule_start[c * cookings + n + 1]):
                q = rules[k]
                size = size_at[p] if side == 0 else new_size[p]
                rule_more[q] += sign * (size if rule_f[q, RULE_SERVES] > 0.0 else 1.0)
                note(touched, counts, RULES, q)
    change = 0.0
    for t in range(counts[RECIPES]):
        c, r = touched[RECIPES, 0, t] // recipes, touched[RECIPES, 0, t] % recipes
        before, more = times[c, r], more_times[c, r]
        most = client_f[c, 0]
        change += max(0.0, before + more - most) - max(0.0, before - most)
    for t in range(counts[CLIENTS]):
        c = touched[CLIENTS, 0, t]
        if client_f[c, 1] > 0.0 or client_f[c, 2] < np.inf:
            kinds = kinds_now[c]
            for s in range(counts[RECIPES]):
                if touched[RECIPES, 0, s] // recipes == c:
                    r = touched[RECIPES, 0, s] % recipes
                    kinds += (times[c, r] + more_times[c, r] > 0.5) - (times[c, r] > 0.5)
            change += max(0.0, client_f[c, 1] - kinds) - max(0.0, client_f[c, 1] - kinds_now[c])
            change += max(0.0, kinds - client_f[c, 2]) - max(0.0, kinds_now[c] - client_f[c, 2])
    for t in range(counts[RULES]):
        q = touched[RULES, 0, t]
        low, high = rule_f[q, RULE_LOW], rule_f[q, RULE_HIGH]
        now, then = rule_sum[q], rule_sum[q] + rule_more[q]
        change += max(0.0, low - then - EPS) + max(0.0, then - high - EPS)
        change -= max(0.0, low - now - EPS) + max(0.0, now - high - EPS)
    return broken * change


@njit(cache=True, nogil=True)
def food_change(
    cstate, pstate, cook_f, cook_i, take_pool, take_g, pool_f, pool_start, table, touched, counts,
):
    """Return the change of (money, price of groceries) of the pending changes."""
    change, price = 0.0, 0.0
    for t in range(counts[COOKINGS]):
        n = touched[COOKINGS, 0, t]
        more = cstate[n, MORE]
        fewest = steps_of(n, cstate[n, EATEN] + more, cook_f, cook_i)
        jump = fewest - cstate[n, STEPS]
        change += cook_f[n, WASTE] * (jump * cook_f[n, PER_STEP] - more)
        if jump != 0.0:
            for k in range(cook_i[n, TAKE_FROM], cook_i[n, TAKE_TO]):
                p = take_pool[k]
                pstate[p, MORE_G] += jump * take_g[k]
                note(touched, counts, POOLS, p)
    for t in range(counts[POOLS]):
        p = touched[POOLS, 0, t]
        cost, paid = food_cost(p, pstate[p, GRAMS] + pstate[p, MORE_G], pool_f, pool_start, table)
        pstate[p, NEW_COST], pstate[p, NEW_PRICE] = cost, paid
        change += cost - pstate[p, COST]
        price += paid - pstate[p, PRICE]
    return change, price


@njit(cache=True, nogil=True)
def work_of(n, steps, cook_f):
    """Return the price of the work on so many steps of a cooking."""
    if steps <= 0.0:
        return 0.0
    return cook_f[n, START] + cook_f[n, FURTHER] * max(0.0, steps * cook_f[n, STEP] - 1.0)


@njit(cache=True, nogil=True)
def work_change(cstate, cook_f, cook_i, dish_at, new_dish, touched, counts):
    """Return the change of money for the cook's time and for boxes."""
    change = 0.0
    for t in range(counts[COOKINGS]):
        n = touched[COOKINGS, 0, t]
        after = steps_of(n, cstate[n, EATEN] + cstate[n, MORE], cook_f, cook_i)
        if after != cstate[n, STEPS]:
            change += work_of(n, after, cook_f) - work_of(n, cstate[n, STEPS], cook_f)
    for t in range(counts[PLACES]):
        p = touched[PLACES, 0, t]
        if dish_at[p] >= 0:
            change -= cook_f[dish_at[p], BOX]
        if new_dish[p] >= 0:
            change += cook_f[new_dish[p], BOX]
    return change


@njit(cache=True, nogil=True)
def kitchen_penalty(used, limits, minute, batch_over, recipe, batch):
    """Return penalties for minutes, recipes and batches beyond the limits of cook days."""
    total = batch * batch_over
    for k in range(limits.shape[1]):
        for kind in range(3):
            total += minute * max(0.0, used[kind, k] - limits[kind, k] - EPS)
        total += recipe * max(0.0, used[3, k] - limits[3, k])
    return total


@njit(cache=True, nogil=True)
def kitchen_change(
    cstate, gstate, cook_f, cook_i, group_most, group_cook, used, used_new, limits, over, touched,
    counts, minute, recipe, batch,
):
    """Return the change of the kitchen's penalties, and leave the new use in `used_new`."""
    used_new[:, :] = used
    batches_over = over[0]
    for t in range(counts[COOKINGS]):
        n = touched[COOKINGS, 0, t]
        before = cstate[n, STEPS]
        after = steps_of(n, cstate[n, EATEN] + cstate[n, MORE], cook_f, cook_i)
        if after == before:
            continue
        k, g = cook_i[n, COOK], cook_i[n, GROUP]
        more = (after - before) * cook_f[n, STEP]
        used_new[0, k] += hands_of(n, after, cook_f) - hands_of(n, before, cook_f)
        used_new[1, k] += more * cook_f[n, OVEN]
        used_new[2, k] += more * cook_f[n, HOB]
        gstate[g, MORE_BATCHES] += more
        gstate[g, MORE_STARTED] += (after > 0.0) * 1.0 - (before > 0.0) * 1.0
        note(touched, counts, GROUPS, g)
    for t in range(counts[GROUPS]):
        g = touched[GROUPS, 0, t]
        k = group_cook[g]
        now, then = gstate[g, BATCHES], gstate[g, BATCHES] + gstate[g, MORE_BATCHES]
        batches_over += max(0.0, then - group_most[g] - EPS) - max(0.0, now - group_most[g] - EPS)
        started = gstate[g, STARTED] + gstate[g, MORE_STARTED] > 0.5
        used_new[3, k] += started * 1.0 - (gstate[g, STARTED] > 0.5) * 1.0
    over[1] = batches_over
    return kitchen_penalty(used_new, limits, minute, batches_over, recipe, batch) - kitchen_penalty(
        used, limits, minute, over[0], recipe, batch
    )
