"""The compiled inner loop of the search: moves judged by difference, a million a second.

Method: simulated annealing with geometric cooling; a move is judged by what it changes alone.
Source: Kirkpatrick, Gelatt and Vecchi, Optimization by simulated annealing, Science 220 (1983).

State lives in few flat arrays, given to each function by name: numba passes those without cost,
where a tuple of them would be counted in and out at every call. A move is a list of places with a
new cooking and size. It is laid down beside the week as pending changes, judged, and then taken
over or dropped. The threshold of acceptance is drawn first, so that a move whose windows already
lose more than food can save is dropped before food is priced.
"""

from __future__ import annotations

import numpy as np
from numba import njit

from planopt.solve.annealing.basics import below, chance, day_missed, forget
from planopt.solve.annealing.columns import (
    BATCHES,
    BEST,
    CLIENTS,
    COOKINGS,
    COST,
    DAYS,
    EATEN,
    EPS,
    GRAMS,
    GROCERY,
    GROUPS,
    KIND,
    MADE,
    MADE_NEW,
    MONEY,
    MORE,
    MORE_BATCHES,
    MORE_G,
    MORE_STARTED,
    NEW_COST,
    NEW_PRICE,
    OVER,
    OVER_NEW,
    PENALTY,
    PLACES,
    POOLS,
    PRICE,
    PRICED,
    RECIPES,
    RULE_LOW,
    RULES,
    SOUND,
    STARTED,
    STEPS,
    TAKEN,
    TRIED,
)
from planopt.solve.annealing.costs import (
    food_change,
    keeping_change,
    kitchen_change,
    rules_change,
    soft_change,
    soft_cost,
    steps_of,
    windows_change,
    work_change,
)
from planopt.solve.annealing.dishmoves import replace_cooking, start_cooking
from planopt.solve.annealing.moves import exchange, in_use, one_meal, put, transfer, two_meals
from planopt.solve.annealing.ties import follow, made_change, near_change, taste_change

# fmt: off


@njit(cache=True, nogil=True)
def drop_food(pstate, gstate, touched, counts):
    """Take pending grams and batches back."""
    for t in range(counts[POOLS]):
        pstate[touched[POOLS, 0, t], MORE_G] = 0.0
    for t in range(counts[GROUPS]):
        g = touched[GROUPS, 0, t]
        gstate[g, MORE_BATCHES] = gstate[g, MORE_STARTED] = 0.0
    forget(touched, counts, POOLS)
    forget(touched, counts, GROUPS)


@njit(cache=True, nogil=True)
def drop_rules(more_times, rule_more, touched, counts):
    """Take pending counts of rules back."""
    recipes = more_times.shape[1]
    for t in range(counts[RECIPES]):
        what = touched[RECIPES, 0, t]
        more_times[what // recipes, what % recipes] = 0.0
    for t in range(counts[RULES]):
        rule_more[touched[RULES, 0, t]] = 0.0
    forget(touched, counts, RECIPES)
    forget(touched, counts, RULES)


@njit(cache=True, nogil=True)
def drop_places(
    dish_at, size_at, new_dish, new_size, cstate, day_sum, day_new, week_sum, week_new, touched,
    counts,
):
    """Take pending places, servings and sums back."""
    for t in range(counts[PLACES]):
        p = touched[PLACES, 0, t]
        new_dish[p], new_size[p] = dish_at[p], size_at[p]
    for t in range(counts[COOKINGS]):
        cstate[touched[COOKINGS, 0, t], MORE] = 0.0
    for t in range(counts[DAYS]):
        d = touched[DAYS, 0, t]
        for u in range(day_sum.shape[1]):
            day_new[d, u] = day_sum[d, u]
    for t in range(counts[CLIENTS]):
        c = touched[CLIENTS, 0, t]
        for u in range(week_sum.shape[1]):
            week_new[c, u] = week_sum[c, u]
    for kind in (PLACES, COOKINGS, DAYS, CLIENTS):
        forget(touched, counts, kind)


@njit(cache=True, nogil=True)
def take_over(
    dish_at, size_at, new_dish, new_size, cstate, pstate, gstate, day_sum, day_new, day_pen,
    day_low, day_high, week_sum, week_new, times, more_times, kinds_now, rule_sum, rule_more, used,
    used_new, over, cook_f, cook_i, use_list, use_place, touched, counts, weight, each,
):
    """Make the pending changes part of the week."""
    recipes = times.shape[1]
    for t in range(counts[COOKINGS]):
        n = touched[COOKINGS, 0, t]
        eaten = max(0.0, cstate[n, EATEN] + cstate[n, MORE])
        after = steps_of(n, eaten, cook_f, cook_i)
        cstate[n, EATEN] = eaten if after > 0.0 else 0.0
        if (after > 0.0) != (cstate[n, STEPS] > 0.0):
            in_use(n, after > 0.0, use_list, use_place, counts)
        cstate[n, STEPS], cstate[n, MORE] = after, 0.0
    for t in range(counts[POOLS]):
        p = touched[POOLS, 0, t]
        pstate[p, GRAMS] += pstate[p, MORE_G]
        pstate[p, COST], pstate[p, PRICE] = pstate[p, NEW_COST], pstate[p, NEW_PRICE]
    for t in range(counts[GROUPS]):
        g = touched[GROUPS, 0, t]
        gstate[g, BATCHES] += gstate[g, MORE_BATCHES]
        gstate[g, STARTED] += gstate[g, MORE_STARTED]
    for t in range(counts[RECIPES]):
        c, r = touched[RECIPES, 0, t] // recipes, touched[RECIPES, 0, t] % recipes
        then = times[c, r] + more_times[c, r]
        kinds_now[c] += (then > 0.5) * 1.0 - (times[c, r] > 0.5) * 1.0
        times[c, r] = then
    for t in range(counts[RULES]):
        q = touched[RULES, 0, t]
        rule_sum[q] += rule_more[q]
    for t in range(counts[PLACES]):
        p = touched[PLACES, 0, t]
        dish_at[p], size_at[p] = new_dish[p], new_size[p]
    for t in range(counts[DAYS]):
        d = touched[DAYS, 0, t]
        for u in range(day_sum.shape[1]):
            day_sum[d, u] = day_new[d, u]
        day_pen[d] = day_missed(day_sum[d], day_low[d], day_high[d], weight, each)
    for t in range(counts[CLIENTS]):
        c = touched[CLIENTS, 0, t]
        for u in range(week_sum.shape[1]):
            week_sum[c, u] = week_new[c, u]
    used[:, :] = used_new
    over[OVER], over[MADE] = over[OVER_NEW], over[MADE_NEW]


@njit(cache=True, nogil=True)
def anneal(
    moves, hot, cold, seed, shares,
    place_i, day_start, day_places, active, options, option_start, allowed, size_span, sizes,
    slot_places, once, nut, day_low, day_high, week_low, week_high, weekly, soft, priced, client_f,
    rule_start, rules, rule_f, cook_f, cook_i, kin, take_pool, take_g, pool_f, pool_start, table,
    group_most, group_cook, limits, budget, keep_cost, keep_size, keep_each,
    counted, tie_of, tie_start, tie_places, gaps, day_number, day_client, most_made, taste,
    weights,
    dish_at, size_at, new_dish, new_size, cstate, pstate, gstate, day_sum, day_new, day_pen,
    week_sum, week_new, times, more_times, kinds_now, rule_sum, rule_more, used, used_new, over,
    use_list, use_place, touched, counts, totals, best_dish, best_size_at,
):
    """Anneal the week for so many moves from a hot to a cold temperature, in money.

    `shares` are the chances of the kinds of moves, as sums, and that of a dish in use; `weights`
    the penalties: a window missed by its whole, each window missed, a rule, a minute, a recipe, a
    batch, the budget; and by how much a move may lose on windows before food is priced. The best
    week that breaks nothing is kept in `best_dish` and `best_size_at`.
    """
    weight, each, broken, minute, recipe, batch, dear, hopeless = weights
    cookings, places = len(cook_f), len(dish_at)
    sums, pair = np.zeros(nut.shape[1]), np.zeros(2)
    cooling = (cold / hot) ** (1.0 / max(1, moves))
    heat = hot
    for _ in range(moves):
        heat *= cooling
        allowance = -heat * np.log(max(chance(seed), 1e-300))
        kind = chance(seed)
        p = below(seed, places)
        able = True
        if kind < shares[0]:
            one_meal(
                p, slot_places, shares[7], times, client_f, seed, place_i, day_start, day_places,
                options, option_start, allowed, size_span, sizes, once, nut, day_low, day_high,
                cook_i, weight, each, sums, new_dish, new_size, cstate, day_new, week_new, use_list,
                touched, counts,
            )
        elif kind < shares[1]:
            two_meals(
                p, shares[7], times, client_f, seed, place_i, day_start, day_places, options,
                option_start, allowed, size_span, sizes, once, nut, day_low, day_high, cook_i,
                weight, each, sums, pair, new_dish, new_size, cstate, day_new, week_new, use_list,
                touched, counts,
            )
        elif kind < shares[2]:
            exchange(
                p, below(seed, places), shares[8], seed, place_i, day_start, day_places, allowed,
                size_span, sizes, once, nut, day_low, day_high, cook_i, weight, each, sums,
                new_dish, new_size, cstate, day_new, week_new, touched, counts,
            )
        elif kind < shares[3]:
            n = new_dish[p]
            if n >= 0:
                first = size_span[place_i[p, KIND], n, 0]
                size = sizes[first + below(seed, size_span[place_i[p, KIND], n, 1] - first)]
                if size != new_size[p]:
                    put(p, n, size, place_i, nut, new_dish, new_size, cstate, day_new, week_new,
                        touched, counts)
        elif kind < shares[4]:
            able = replace_cooking(
                shares[9], times, client_f, seed, place_i, day_start, day_places, active, options,
                option_start, allowed, size_span, sizes, once, nut, day_low, day_high, cook_f,
                cook_i, kin, weight, each, sums, dish_at, new_dish, new_size, cstate, day_new,
                week_new, use_list, touched, counts,
            )
        elif kind < shares[5]:
            able = transfer(
                p, seed, place_i, day_start, day_places, size_span, sizes, nut, new_dish,
                new_size, cstate, day_new, week_new, touched, counts,
            )
        else:
            start_cooking(
                seed, place_i, day_start, day_places, active, allowed, size_span, sizes, once, nut,
                day_low, day_high, cook_f, cook_i, weight, each, sums, dish_at, new_dish, new_size,
                cstate, day_new, week_new, touched, counts,
            )
        if counts[PLACES] == 0:
            continue
        totals[TRIED] += 1.0
        if able and len(tie_places) > 0:
            able = follow(
                tie_of, tie_start, tie_places, seed, place_i, day_start, day_places, allowed,
                size_span, sizes, once, nut, day_low, day_high, cook_i, kin, weight, each, sums,
                new_dish, new_size, cstate, day_new, week_new, touched, counts,
            )
        change = windows_change(day_new, day_low, day_high, day_pen, week_new, week_sum, week_low,
                                week_high, weekly, touched, counts, weight, each)
        if not able or change > allowance + hopeless:
            drop_places(dish_at, size_at, new_dish, new_size, cstate, day_sum, day_new,
                        week_sum, week_new, touched, counts)
            continue
        change += rules_change(
            place_i, counted, cook_i, dish_at, size_at, new_dish, new_size, times, more_times,
            client_f, kinds_now, rule_start, rules, rule_f, rule_sum, rule_more, touched, counts,
            cookings, broken,
        )
        if len(gaps) > 0:
            change += near_change(gaps, place_i, cook_i, tie_of, day_number, day_client, day_start,
                                  day_places, dish_at, new_dish, touched, counts, broken)
        if most_made < np.inf:
            change += made_change(most_made, times, more_times, over, touched, counts, broken)
        change += kitchen_change(cstate, gstate, cook_f, cook_i, group_most, group_cook, used,
                                 used_new, limits, over, touched, counts, minute, recipe,
                                 batch)
        totals[PRICED] += 1.0
        paid, price = food_change(cstate, pstate, cook_f, cook_i, take_pool, take_g, pool_f,
                                  pool_start, table, touched, counts)
        if priced & 1:
            paid += soft_change(week_new, week_sum, soft, touched, counts)
        if len(keep_size) > 0:
            paid += keeping_change(dish_at, size_at, new_dish, new_size, keep_cost, keep_size,
                                   keep_each, touched, counts)
        if priced & 2:
            paid += work_change(cstate, cook_f, cook_i, dish_at, new_dish, touched, counts)
        if priced & 4:
            paid += taste_change(taste, place_i, dish_at, new_dish, touched, counts)
        if budget < np.inf:
            change += dear * (
                max(0.0, totals[GROCERY] + price - budget) - max(0.0, totals[GROCERY] - budget)
            )
        if change + paid <= allowance:
            take_over(
                dish_at, size_at, new_dish, new_size, cstate, pstate, gstate, day_sum, day_new,
                day_pen, day_low, day_high, week_sum, week_new, times, more_times, kinds_now,
                rule_sum, rule_more, used, used_new, over, cook_f, cook_i, use_list, use_place,
                touched, counts, weight, each,
            )
            totals[MONEY] += paid
            totals[PENALTY] += change
            totals[GROCERY] += price
            totals[TAKEN] += 1.0
            if totals[PENALTY] < 1e-7 and totals[MONEY] < totals[BEST] - 1e-7:
                totals[BEST] = totals[MONEY]
                best_dish[:] = dish_at
                best_size_at[:] = size_at
                counts[SOUND] = 1
        drop_food(pstate, gstate, touched, counts)
        drop_rules(more_times, rule_more, touched, counts)
        drop_places(dish_at, size_at, new_dish, new_size, cstate, day_sum, day_new, week_sum,
                    week_new, touched, counts)


@njit(cache=True, nogil=True)
def account(
    place_i, day_start, day_places, nut, day_low, day_high, week_low, week_high, weekly, soft,
    priced, client_f, rule_start, rules, rule_f, cook_f, cook_i, take_pool, take_g, pool_f,
    pool_start, table, group_most, group_cook, limits, budget, keep_cost, keep_size, keep_each,
    counted, tie_of, tie_start, tie_places, gaps, day_number, day_client, most_made, taste,
    weights,
    dish_at, size_at, new_dish, new_size, cstate, pstate, gstate, day_sum, day_new, day_pen,
    week_sum, week_new, times, more_times, kinds_now, rule_sum, rule_more, used, used_new, over,
    use_list, use_place, touched, counts, totals,
):
    """Work the whole account of the week in `dish_at` and `size_at` out from nothing."""
    weight, each, broken, minute, recipe, batch, dear, _ = weights
    for array in (cstate, pstate, gstate, day_sum, day_new, week_sum, week_new, times, more_times):
        array[:, :] = 0.0
    rule_sum[:] = 0.0
    rule_more[:] = 0.0
    kinds_now[:] = 0.0
    used[:, :] = 0.0
    over[:] = 0.0
    touched[:, :, :] = 0
    counts[:SOUND] = 0
    new_dish[:] = -1
    new_size[:] = 0.0
    totals[MONEY] = totals[PENALTY] = totals[GROCERY] = 0.0
    wanted, wanted_size = dish_at.copy(), size_at.copy()
    dish_at[:] = -1
    size_at[:] = 0.0
    for d in range(len(day_pen)):
        day_pen[d] = day_missed(day_sum[d], day_low[d], day_high[d], weight, each)
        totals[PENALTY] += day_pen[d]
    for c in range(len(client_f)):
        if weekly:
            totals[PENALTY] += 3.0 * day_missed(
                week_sum[c], week_low[c], week_high[c], weight, each
            )
        totals[MONEY] += soft_cost(week_sum[c], soft[c])
        totals[PENALTY] += broken * client_f[c, 1]
    for q in range(len(rule_sum)):
        totals[PENALTY] += broken * max(0.0, rule_f[q, RULE_LOW] - EPS)
    for p in range(len(wanted)):
        if wanted[p] >= 0:
            put(p, wanted[p], wanted_size[p], place_i, nut, new_dish, new_size, cstate, day_new,
                week_new, touched, counts)
    change = windows_change(day_new, day_low, day_high, day_pen, week_new, week_sum, week_low,
                            week_high, weekly, touched, counts, weight, each)
    change += rules_change(
        place_i, counted, cook_i, dish_at, size_at, new_dish, new_size, times, more_times,
        client_f, kinds_now, rule_start, rules, rule_f, rule_sum, rule_more, touched, counts,
        len(cook_f), broken,
    )
    if len(gaps) > 0:
        change += near_change(gaps, place_i, cook_i, tie_of, day_number, day_client, day_start,
                              day_places, dish_at, new_dish, touched, counts, broken)
    if most_made < np.inf:
        change += made_change(most_made, times, more_times, over, touched, counts, broken)
    change += kitchen_change(cstate, gstate, cook_f, cook_i, group_most, group_cook, used, used_new,
                             limits, over, touched, counts, minute, recipe, batch)
    paid, price = food_change(cstate, pstate, cook_f, cook_i, take_pool, take_g, pool_f, pool_start,
                              table, touched, counts)
    if priced & 1:
        paid += soft_change(week_new, week_sum, soft, touched, counts)
    if len(keep_size) > 0:
        paid += keeping_change(dish_at, size_at, new_dish, new_size, keep_cost, keep_size,
                               keep_each, touched, counts)
    if priced & 2:
        paid += work_change(cstate, cook_f, cook_i, dish_at, new_dish, touched, counts)
    if priced & 4:
        paid += taste_change(taste, place_i, dish_at, new_dish, touched, counts)
    if budget < np.inf:
        change += dear * max(0.0, price - budget)
    take_over(
        dish_at, size_at, new_dish, new_size, cstate, pstate, gstate, day_sum, day_new, day_pen,
        day_low, day_high, week_sum, week_new, times, more_times, kinds_now, rule_sum, rule_more,
        used, used_new, over, cook_f, cook_i, use_list, use_place, touched, counts, weight, each,
    )
    totals[MONEY] += paid
    totals[PENALTY] += change
    totals[GROCERY] += price
    drop_food(pstate, gstate, touched, counts)
    drop_rules(more_times, rule_more, touched, counts)
    drop_places(dish_at, size_at, new_dish, new_size, cstate, day_sum, day_new, week_sum, week_new,
                touched, counts)
