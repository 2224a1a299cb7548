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

# Columns of the arrays: cookings, pools, cover tables, places, rules, groups.
PER_STEP, STEP, WASTE, FULL, HANDS, EXTRA, OVEN, HOB = range(8)
RECIPE, COOK, GROUP, WHOLE, TAKE_FROM, TAKE_TO, KIN_FROM, KIN_TO = range(8)
STOCK, STOCK_VALUE, CHARGE, LOOSE = range(4)
TABLE_G, TABLE_COST, TABLE_PRICE = range(3)
SLOT, DAY, CLIENT, KIND = range(4)
RULE_LOW, RULE_HIGH, RULE_SERVES = range(3)
# Columns of the state.
EATEN, STEPS, MORE = range(3)
GRAMS, COST, PRICE, MORE_G, NEW_COST, NEW_PRICE = range(6)
BATCHES, STARTED, MORE_BATCHES, MORE_STARTED = range(4)
# Entries of the totals and of the counts.
MONEY, PENALTY, GROCERY, BEST, BEST_MONEY, PRICED, TRIED, TAKEN = range(8)
USED, PLACES, COOKINGS, POOLS, DAYS, CLIENTS, RECIPES, RULES, GROUPS, SOUND = range(10)

EPS = 1e-9
EPS_G = 1e-6


@njit(cache=True, nogil=True, inline="never")
def chance(seed):
    """Return a random number from 0 to 1 and move the seed on.

    Method: xorshift64*. Source: Vigna, ACM Trans. Math. Softw. 42 (2016), article 30.
    """
    x = seed[0]
    x ^= x >> np.uint64(12)
    x ^= x << np.uint64(25)
    x ^= x >> np.uint64(27)
    seed[0] = x
    y = x * np.uint64(2685821657736338717)
    return float(y >> np.uint64(11)) * (1.0 / 9007199254740992.0)


@njit(cache=True, nogil=True)
def below(seed, count):
    """Return a random whole number from 0 to count - 1."""
    return min(count - 1, int(chance(seed) * count))


@njit(cache=True, nogil=True)
def missed(amount, low, high, weight, each):
    """Return the penalty of an amount outside its window."""
    if amount < low * (1.0 - EPS):
        return weight * (low - amount) / low + each
    if amount > high * (1.0 + EPS) + EPS:
        return weight * (amount - high) / max(high, 1e-6) + each
    return 0.0


@njit(cache=True, nogil=True)
def day_missed(sums, low, high, weight, each):
    """Return the penalty of one day's sums."""
    total = 0.0
    for u in range(len(sums)):
        total += missed(sums[u], low[u], high[u], weight, each)
    return total


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
def put(p, n, size, place_i, nut, new_dish, new_size, cstate, day_new, week_new, touched, counts):
    """Lay down one pending change: place p holds cooking n (-1 = nothing) in this size."""
    d, c = place_i[p, DAY], place_i[p, CLIENT]
    old, old_size = new_dish[p], new_size[p]
    if old >= 0:
        cstate[old, MORE] -= old_size
        for u in range(nut.shape[1]):
            day_new[d, u] -= old_size * nut[old, u]
            week_new[c, u] -= old_size * nut[old, u]
        note(touched, counts, COOKINGS, old)
    if n >= 0:
        cstate[n, MORE] += size
        for u in range(nut.shape[1]):
            day_new[d, u] += size * nut[n, u]
            week_new[c, u] += size * nut[n, u]
        note(touched, counts, COOKINGS, n)
    new_dish[p], new_size[p] = n, size
    note(touched, counts, PLACES, p)
    note(touched, counts, DAYS, d)
    note(touched, counts, CLIENTS, c)


@njit(cache=True, nogil=True)
def note(touched, counts, kind, what):
    """Add to a list of what a move touches, once."""
    if touched[kind, 1, what] == 0:
        touched[kind, 1, what] = 1
        touched[kind, 0, counts[kind]] = what
        counts[kind] += 1


@njit(cache=True, nogil=True)
def forget(touched, counts, kind):
    """Empty a list of what a move touches."""
    for t in range(counts[kind]):
        touched[kind, 1, touched[kind, 0, t]] = 0
    counts[kind] = 0


@njit(cache=True, nogil=True)
def on_day(p, n, place_i, cook_i, day_start, day_places, new_dish, once):
    """Tell whether another place of the day, or of the meal, has the recipe of cooking n."""
    d = place_i[p, DAY]
    for t in range(day_start[d], day_start[d + 1]):
        q = day_places[t]
        if q != p and new_dish[q] >= 0 and cook_i[new_dish[q], RECIPE] == cook_i[n, RECIPE]:
            if once or place_i[q, SLOT] == place_i[p, SLOT]:
                return True
    return False


@njit(cache=True, nogil=True)
def best_size(
    p, n, seed, place_i, nut, new_dish, new_size, day_new, day_low, day_high, size_start, sizes,
    weight, each, sums,
):  # fmt: skip
    """Return the size of cooking n at place p that breaks the day's windows least."""
    d, c = place_i[p, DAY], place_i[p, CLIENT]
    old = new_dish[p]
    for u in range(len(sums)):
        sums[u] = day_new[d, u]
        if old >= 0:
            sums[u] -= new_size[p] * nut[old, u]
    first, last = size_start[c], size_start[c + 1]
    found, least, ties = sizes[first], np.inf, 0
    for s in range(first, last):
        total = 0.0
        for u in range(len(sums)):
            amount = sums[u] + sizes[s] * nut[n, u]
            total += missed(amount, day_low[d, u], day_high[d, u], weight, each)
        if total < least - 1e-12:
            found, least, ties = sizes[s], total, 1
        elif total <= least + 1e-12:
            ties += 1
            if chance(seed) * ties < 1.0:
                found = sizes[s]
    return found


@njit(cache=True, nogil=True)
def best_sizes(
    p, n, q, m, seed, place_i, nut, new_dish, new_size, day_new, day_low, day_high, size_start,
    sizes, weight, each, sums, found,
):  # fmt: skip
    """Write into `found` the sizes of n at p and m at q, of one day, that miss windows least."""
    d, c = place_i[p, DAY], place_i[p, CLIENT]
    for u in range(len(sums)):
        sums[u] = day_new[d, u]
        if new_dish[p] >= 0:
            sums[u] -= new_size[p] * nut[new_dish[p], u]
        if new_dish[q] >= 0:
            sums[u] -= new_size[q] * nut[new_dish[q], u]
    first, last = size_start[c], size_start[c + 1]
    least, ties = np.inf, 0
    for s in range(first, last):
        for r in range(first, last):
            total = 0.0
            for u in range(len(sums)):
                amount = sums[u] + sizes[s] * nut[n, u] + sizes[r] * nut[m, u]
                total += missed(amount, day_low[d, u], day_high[d, u], weight, each)
                if total > least + 1e-12:
                    break
            if total < least - 1e-12:
                found[0], found[1], least, ties = sizes[s], sizes[r], total, 1
            elif total <= least + 1e-12:
                ties += 1
                if chance(seed) * ties < 1.0:
                    found[0], found[1] = sizes[s], sizes[r]


@njit(cache=True, nogil=True)
def most_saved(cstate, cook_f, cook_i, touched, counts):
    """Return more than the money that the pending changes can save: steps no longer cooked."""
    saved = 0.0
    for t in range(counts[COOKINGS]):
        n = touched[COOKINGS, 0, t]
        more = cstate[n, MORE]
        fewer = cstate[n, STEPS] - steps_of(n, cstate[n, EATEN] + more, cook_f, cook_i)
        if fewer > 0.0:
            saved += fewer * cook_f[n, FULL]
        if more > 0.0:
            saved += more * cook_f[n, WASTE]
    return saved


@njit(cache=True, nogil=True)
def windows_change(
    day_new, day_low, day_high, day_pen, week_new, week_sum, week_low, week_high, weekly, touched,
    counts, weight, each,
):  # fmt: skip
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
def rules_change(
    place_i, cook_i, dish_at, size_at, new_dish, new_size, times, more_times, client_f, kinds_now,
    rule_start, rules, rule_f, rule_sum, rule_more, touched, counts, cookings, broken,
):  # fmt: skip
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
            more_times[c, r] += sign
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
        if client_f[c, 1] > 0.0:
            kinds = kinds_now[c]
            for s in range(counts[RECIPES]):
                if touched[RECIPES, 0, s] // recipes == c:
                    r = touched[RECIPES, 0, s] % recipes
                    kinds += (times[c, r] + more_times[c, r] > 0.5) - (times[c, r] > 0.5)
            change += max(0.0, client_f[c, 1] - kinds) - max(0.0, client_f[c, 1] - kinds_now[c])
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
):  # fmt: skip
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
):  # fmt: skip
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
):  # fmt: skip
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
):  # fmt: skip
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
    over[0] = over[1]


@njit(cache=True, nogil=True)
def in_use(n, cooked, use_list, use_place, counts):
    """Keep the list of cookings in use."""
    if cooked:
        use_place[n] = counts[USED]
        use_list[counts[USED]] = n
        counts[USED] += 1
    else:
        counts[USED] -= 1
        last = use_list[counts[USED]]
        use_list[use_place[n]] = last
        use_place[last] = use_place[n]


@njit(cache=True, nogil=True)
def draw(
    p, share, seed, place_i, cook_i, options, option_start, allowed, use_list, counts, day_start,
    day_places, new_dish, once,
):  # fmt: skip
    """Return a cooking for a place, from those in use with this chance, or -1 if none was met."""
    kind = place_i[p, KIND]
    first, last = option_start[kind], option_start[kind + 1]
    if last == first:
        return -1
    used = counts[USED] > 0 and chance(seed) < share
    for _ in range(6):
        if used:
            n = use_list[below(seed, counts[USED])]
            if not allowed[kind, n]:
                continue
        else:
            n = options[first + below(seed, last - first)]
        if n != new_dish[p] and not on_day(
            p, n, place_i, cook_i, day_start, day_places, new_dish, once
        ):
            return n
    return -1


@njit(cache=True, nogil=True)
def anneal(
    moves, hot, cold, seed, shares,
    place_i, day_start, day_places, active, options, option_start, allowed, size_start, sizes, slot_places,
    once, nut, day_low, day_high, week_low, week_high, weekly, client_f, rule_start, rules, rule_f,
    cook_f, cook_i, kin, take_pool, take_g, pool_f, pool_start, table, group_most, group_cook,
    limits, budget, weights,
    dish_at, size_at, new_dish, new_size, cstate, pstate, gstate, day_sum, day_new, day_pen,
    week_sum, week_new, times, more_times, kinds_now, rule_sum, rule_more, used, used_new, over,
    use_list, use_place, touched, counts, totals, best_dish, best_size_at,
):  # fmt: skip
    """Anneal the week for so many moves from a hot to a cold temperature, in money.

    `shares` are the chances of the kinds of moves, as sums; `weights` the penalties: a window
    missed by its whole, each window missed, a rule, a minute, a recipe, a batch, the budget.
    The best week that breaks nothing is kept in `best_dish` and `best_size_at`.
    """
    weight, each, broken, minute, recipe, batch, dear, hopeless = weights
    cookings = len(cook_f)
    places = len(dish_at)
    sums = np.zeros(nut.shape[1])
    pair = np.zeros(2)
    cooling = (cold / hot) ** (1.0 / max(1, moves))
    heat = hot
    for _ in range(moves):
        heat *= cooling
        allowance = -heat * np.log(max(chance(seed), 1e-300))
        kind = chance(seed)
        p = below(seed, places)
        c = place_i[p, CLIENT]
        if kind < shares[0]:
            others = 0
            for q in range(p // slot_places * slot_places, (p // slot_places + 1) * slot_places):
                others += q != p and new_dish[q] >= 0
            if others > 0 and new_dish[p] >= 0 and chance(seed) < 0.5:
                put(p, -1, 0.0, place_i, nut, new_dish, new_size, cstate, day_new, week_new,
                    touched, counts)  # fmt: skip
            else:
                n = draw(p, shares[6], seed, place_i, cook_i, options, option_start, allowed,
                         use_list, counts, day_start, day_places, new_dish, once)  # fmt: skip
                if n < 0:
                    continue
                size = best_size(p, n, seed, place_i, nut, new_dish, new_size, day_new, day_low,
                                 day_high, size_start, sizes, weight, each, sums)  # fmt: skip
                put(p, n, size, place_i, nut, new_dish, new_size, cstate, day_new, week_new,
                    touched, counts)  # fmt: skip
        elif kind < shares[1]:
            d = place_i[p, DAY]
            q = day_places[day_start[d] + below(seed, day_start[d + 1] - day_start[d])]
            if q == p or new_dish[q] < 0:
                continue
            n = draw(p, shares[6], seed, place_i, cook_i, options, option_start, allowed,
                     use_list, counts, day_start, day_places, new_dish, once)  # fmt: skip
            if n < 0:
                continue
            m = new_dish[q]
            if chance(seed) < 0.4:
                found = draw(q, shares[6], seed, place_i, cook_i, options, option_start, allowed,
                             use_list, counts, day_start, day_places, new_dish, once)  # fmt: skip
                if found >= 0 and cook_i[found, RECIPE] != cook_i[n, RECIPE]:
                    m = found
            best_sizes(p, n, q, m, seed, place_i, nut, new_dish, new_size, day_new, day_low,
                       day_high, size_start, sizes, weight, each, sums, pair)  # fmt: skip
            put(p, n, pair[0], place_i, nut, new_dish, new_size, cstate, day_new, week_new,
                touched, counts)  # fmt: skip
            put(q, m, pair[1], place_i, nut, new_dish, new_size, cstate, day_new, week_new,
                touched, counts)  # fmt: skip
        elif kind < shares[2]:
            q = below(seed, places)
            n, m = new_dish[q], new_dish[p]
            if n < 0 or m < 0 or n == m or place_i[p, DAY] == place_i[q, DAY]:
                continue
            if not allowed[place_i[p, KIND], n] or not allowed[place_i[q, KIND], m]:
                continue
            if on_day(p, n, place_i, cook_i, day_start, day_places, new_dish, once) or on_day(
                q, m, place_i, cook_i, day_start, day_places, new_dish, once
            ):
                continue
            size = best_size(p, n, seed, place_i, nut, new_dish, new_size, day_new, day_low,
                             day_high, size_start, sizes, weight, each, sums)  # fmt: skip
            put(p, n, size, place_i, nut, new_dish, new_size, cstate, day_new, week_new,
                touched, counts)  # fmt: skip
            size = best_size(q, m, seed, place_i, nut, new_dish, new_size, day_new, day_low,
                             day_high, size_start, sizes, weight, each, sums)  # fmt: skip
            put(q, m, size, place_i, nut, new_dish, new_size, cstate, day_new, week_new,
                touched, counts)  # fmt: skip
        elif kind < shares[3]:
            if new_dish[p] < 0:
                continue
            size = sizes[size_start[c] + below(seed, size_start[c + 1] - size_start[c])]
            if size == new_size[p]:
                continue
            put(p, new_dish[p], size, place_i, nut, new_dish, new_size, cstate, day_new, week_new,
                touched, counts)  # fmt: skip
        elif kind < shares[5]:
            # Every serving of one cooking goes to another, to its kin, or to those in use.
            if counts[USED] == 0:
                continue
            gone = use_list[below(seed, counts[USED])]
            whole = chance(seed)
            target = -1
            if whole < 0.35:
                target = active[below(seed, len(active))]
            elif whole < 0.7 and cook_i[gone, KIN_TO] > cook_i[gone, KIN_FROM]:
                first, last = cook_i[gone, KIN_FROM], cook_i[gone, KIN_TO]
                target = kin[first + below(seed, last - first)]
            if target == gone:
                continue
            lost = False
            for q in range(places):
                if dish_at[q] != gone:
                    continue
                n = target
                if n < 0 or not allowed[place_i[q, KIND], n] or on_day(
                    q, n, place_i, cook_i, day_start, day_places, new_dish, once
                ):
                    n = draw(q, 1.0, seed, place_i, cook_i, options, option_start, allowed,
                             use_list, counts, day_start, day_places, new_dish, once)  # fmt: skip
                if n < 0:
                    lost = True
                    break
                size = best_size(q, n, seed, place_i, nut, new_dish, new_size, day_new, day_low,
                                 day_high, size_start, sizes, weight, each, sums)  # fmt: skip
                put(q, n, size, place_i, nut, new_dish, new_size, cstate, day_new, week_new,
                    touched, counts)  # fmt: skip
            if lost or counts[PLACES] == 0:
                drop_places(dish_at, size_at, new_dish, new_size, cstate, day_sum, day_new,
                            week_sum, week_new, touched, counts)  # fmt: skip
                continue
        else:
            # Start a cooking, or one step more of it, and let meals come to it until it is eaten.
            n = active[below(seed, len(active))]
            room = cstate[n, STEPS] * cook_f[n, PER_STEP] - cstate[n, EATEN]
            if room < 0.25:
                room += cook_f[n, PER_STEP]
            first = below(seed, places)
            for t in range(places):
                q = first + t if first + t < places else first + t - places
                if dish_at[q] < 0 or dish_at[q] == n or not allowed[place_i[q, KIND], n]:
                    continue
                if on_day(q, n, place_i, cook_i, day_start, day_places, new_dish, once):
                    continue
                if chance(seed) < 0.4:
                    continue
                size = best_size(q, n, seed, place_i, nut, new_dish, new_size, day_new, day_low,
                                 day_high, size_start, sizes, weight, each, sums)  # fmt: skip
                if size > room + EPS:
                    continue
                put(q, n, size, place_i, nut, new_dish, new_size, cstate, day_new, week_new,
                    touched, counts)  # fmt: skip
                room -= size
                if room < 0.25:
                    break
            if counts[PLACES] == 0:
                continue
        totals[TRIED] += 1.0
        change = windows_change(day_new, day_low, day_high, day_pen, week_new, week_sum, week_low,
                                week_high, weekly, touched, counts, weight, each)  # fmt: skip
        if change > allowance + hopeless:
            drop_places(dish_at, size_at, new_dish, new_size, cstate, day_sum, day_new,
                        week_sum, week_new, touched, counts)  # fmt: skip
            continue
        change += rules_change(
            place_i, cook_i, dish_at, size_at, new_dish, new_size, times, more_times, client_f,
            kinds_now, rule_start, rules, rule_f, rule_sum, rule_more, touched, counts, cookings,
            broken,
        )  # fmt: skip
        change += kitchen_change(cstate, gstate, cook_f, cook_i, group_most, group_cook, used,
                                 used_new, limits, over, touched, counts, minute, recipe,
                                 batch)  # fmt: skip
        totals[PRICED] += 1.0
        paid, price = food_change(cstate, pstate, cook_f, cook_i, take_pool, take_g, pool_f,
                                  pool_start, table, touched, counts)  # fmt: skip
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
            )  # fmt: skip
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
                    week_new, touched, counts)  # fmt: skip


@njit(cache=True, nogil=True)
def account(
    place_i, nut, day_low, day_high, week_low, week_high, weekly, client_f, rule_start, rules,
    rule_f, cook_f, cook_i, take_pool, take_g, pool_f, pool_start, table, group_most, group_cook,
    limits, budget, weights,
    dish_at, size_at, new_dish, new_size, cstate, pstate, gstate, day_sum, day_new, day_pen,
    week_sum, week_new, times, more_times, kinds_now, rule_sum, rule_more, used, used_new, over,
    use_list, use_place, touched, counts, totals,
):  # fmt: skip
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
            totals[PENALTY] += 3.0 * day_missed(week_sum[c], week_low[c], week_high[c], weight, each)
        totals[PENALTY] += broken * client_f[c, 1]
    for q in range(len(rule_sum)):
        totals[PENALTY] += broken * max(0.0, rule_f[q, RULE_LOW] - EPS)
    for p in range(len(wanted)):
        if wanted[p] >= 0:
            put(p, wanted[p], wanted_size[p], place_i, nut, new_dish, new_size, cstate, day_new,
                week_new, touched, counts)  # fmt: skip
    change = windows_change(day_new, day_low, day_high, day_pen, week_new, week_sum, week_low,
                            week_high, weekly, touched, counts, weight, each)  # fmt: skip
    change += rules_change(
        place_i, cook_i, dish_at, size_at, new_dish, new_size, times, more_times, client_f,
        kinds_now, rule_start, rules, rule_f, rule_sum, rule_more, touched, counts, len(cook_f),
        broken,
    )  # fmt: skip
    change += kitchen_change(cstate, gstate, cook_f, cook_i, group_most, group_cook, used, used_new,
                             limits, over, touched, counts, minute, recipe, batch)  # fmt: skip
    paid, price = food_change(cstate, pstate, cook_f, cook_i, take_pool, take_g, pool_f, pool_start,
                              table, touched, counts)  # fmt: skip
    if budget < np.inf:
        change += dear * max(0.0, price - budget)
    take_over(
        dish_at, size_at, new_dish, new_size, cstate, pstate, gstate, day_sum, day_new, day_pen,
        day_low, day_high, week_sum, week_new, times, more_times, kinds_now, rule_sum, rule_more,
        used, used_new, over, cook_f, cook_i, use_list, use_place, touched, counts, weight, each,
    )  # fmt: skip
    totals[MONEY] += paid
    totals[PENALTY] += change
    totals[GROCERY] += price
    drop_food(pstate, gstate, touched, counts)
    drop_rules(more_times, rule_more, touched, counts)
    drop_places(dish_at, size_at, new_dish, new_size, cstate, day_sum, day_new, week_sum, week_new,
                touched, counts)  # fmt: skip
