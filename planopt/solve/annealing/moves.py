"""Moves of the compiled search: which places change, and to which dish in which size.

Each lays its changes down beside the week; whether they pay is judged by `costs`.
"""

from __future__ import annotations

import numpy as np
from numba import njit

from planopt.solve.annealing.basics import below, chance, missed, note
from planopt.solve.annealing.columns import (
    CLIENT,
    CLIENTS,
    COOKINGS,
    DAY,
    DAYS,
    EPS,
    KIND,
    MORE,
    PLACES,
    RECIPE,
    SLOT,
    USED,
)

# fmt: off


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
def on_day(p, n, place_i, cook_i, day_start, day_places, new_dish, once):
    """Tell whether another place of the day, or of the meal, has the recipe of cooking n."""
    d = place_i[p, DAY]
    for t in range(day_start[d], day_start[d + 1]):
        q = day_places[t]
        same = q != p and new_dish[q] >= 0 and cook_i[new_dish[q], RECIPE] == cook_i[n, RECIPE]
        if same and (once or place_i[q, SLOT] == place_i[p, SLOT]):
            return True
    return False


@njit(cache=True, nogil=True)
def best_size(
    p, n, seed, place_i, nut, new_dish, new_size, day_new, day_low, day_high, size_span, sizes,
    weight, each, sums,
):
    """Return the size of cooking n at place p that breaks the day's windows least."""
    d = place_i[p, DAY]
    old = new_dish[p]
    for u in range(len(sums)):
        sums[u] = day_new[d, u]
        if old >= 0:
            sums[u] -= new_size[p] * nut[old, u]
    kind = place_i[p, KIND]
    first, last = size_span[kind, n, 0], size_span[kind, n, 1]
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
    p, n, q, m, seed, place_i, nut, new_dish, new_size, day_new, day_low, day_high, size_span,
    sizes, weight, each, sums, found,
):
    """Write into `found` the sizes of n at p and m at q, of one day, that miss windows least."""
    d = place_i[p, DAY]
    for u in range(len(sums)):
        sums[u] = day_new[d, u]
        if new_dish[p] >= 0:
            sums[u] -= new_size[p] * nut[new_dish[p], u]
        if new_dish[q] >= 0:
            sums[u] -= new_size[q] * nut[new_dish[q], u]
    kind, other = place_i[p, KIND], place_i[q, KIND]
    first, last = size_span[kind, n, 0], size_span[kind, n, 1]
    from_q, to_q = size_span[other, m, 0], size_span[other, m, 1]
    least, ties = np.inf, 0
    for s in range(first, last):
        for r in range(from_q, to_q):
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
def draw(
    p, share, seed, place_i, cook_i, options, option_start, allowed, use_list, counts, day_start,
    day_places, new_dish, once, times, client_f,
):
    """Return a cooking for a place, from those in use with this chance, or -1 if none was met.

    A recipe that the client has as often as may be is passed over.
    """
    kind, c = place_i[p, KIND], place_i[p, CLIENT]
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
        if times[c, cook_i[n, RECIPE]] > client_f[c, 0] - 0.5:
            continue
        if n != new_dish[p] and not on_day(
            p, n, place_i, cook_i, day_start, day_places, new_dish, once
        ):
            return n
    return -1


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
def place_best(
    p, n, seed, place_i, nut, day_low, day_high, size_span, sizes, weight, each, sums, new_dish,
    new_size, cstate, day_new, week_new, touched, counts,
):
    """Lay cooking n down at place p in the size that suits the day best."""
    size = best_size(p, n, seed, place_i, nut, new_dish, new_size, day_new, day_low, day_high,
                     size_span, sizes, weight, each, sums)
    put(p, n, size, place_i, nut, new_dish, new_size, cstate, day_new, week_new, touched, counts)


@njit(cache=True, nogil=True)
def one_meal(
    p, slot_places, in_use, times, client_f, seed, place_i, day_start, day_places, options,
    option_start, allowed, size_span, sizes, once, nut, day_low, day_high, cook_i, weight, each,
    sums, new_dish, new_size, cstate, day_new, week_new, use_list, touched, counts,
):
    """Move: another dish at one place, or none where the meal holds a second one."""
    first = p // slot_places * slot_places
    others = 0
    for q in range(first, first + slot_places):
        others += q != p and new_dish[q] >= 0
    if others > 0 and new_dish[p] >= 0 and chance(seed) < 0.5:
        put(p, -1, 0.0, place_i, nut, new_dish, new_size, cstate, day_new, week_new, touched,
            counts)
        return
    n = draw(p, in_use, seed, place_i, cook_i, options, option_start, allowed, use_list, counts,
             day_start, day_places, new_dish, once, times, client_f)
    if n >= 0:
        place_best(p, n, seed, place_i, nut, day_low, day_high, size_span, sizes, weight, each,
                   sums, new_dish, new_size, cstate, day_new, week_new, touched,
                   counts)


@njit(cache=True, nogil=True)
def two_meals(
    p, in_use, times, client_f, seed, place_i, day_start, day_places, options, option_start,
    allowed, size_span, sizes, once, nut, day_low, day_high, cook_i, weight, each, sums, pair,
    new_dish, new_size, cstate, day_new, week_new, use_list, touched, counts,
):
    """Move: another dish at one place, and another size or dish at a second one of the day."""
    d = place_i[p, DAY]
    q = day_places[day_start[d] + below(seed, day_start[d + 1] - day_start[d])]
    if q == p or new_dish[q] < 0:
        return
    n = draw(p, in_use, seed, place_i, cook_i, options, option_start, allowed, use_list, counts,
             day_start, day_places, new_dish, once, times, client_f)
    if n < 0:
        return
    m = new_dish[q]
    if chance(seed) < 0.4:
        found = draw(q, in_use, seed, place_i, cook_i, options, option_start, allowed, use_list,
                     counts, day_start, day_places, new_dish, once, times, client_f)
        if found >= 0 and cook_i[found, RECIPE] != cook_i[n, RECIPE]:
            m = found
    best_sizes(p, n, q, m, seed, place_i, nut, new_dish, new_size, day_new, day_low, day_high,
               size_span, sizes, weight, each, sums, pair)
    put(p, n, pair[0], place_i, nut, new_dish, new_size, cstate, day_new, week_new, touched,
        counts)
    put(q, m, pair[1], place_i, nut, new_dish, new_size, cstate, day_new, week_new, touched,
        counts)


@njit(cache=True, nogil=True)
def size_at(kind, n, size, size_span, sizes):
    """Return where a size of a cooking stands among those that such a place may have, or -1."""
    for s in range(size_span[kind, n, 0], size_span[kind, n, 1]):
        if abs(sizes[s] - size) < EPS:
            return s
    return -1


@njit(cache=True, nogil=True)
def exchange(
    p, q, kept, seed, place_i, day_start, day_places, allowed, size_span, sizes, once, nut,
    day_low, day_high, cook_i, weight, each, sums, new_dish, new_size, cstate, day_new, week_new,
    touched, counts,
):
    """Move: two places of different days exchange their dishes, as they are or sized anew.

    As they are, no cooking has more or less eaten of it, so food costs what it did.
    """
    n, m = new_dish[q], new_dish[p]
    if n < 0 or m < 0 or n == m or place_i[p, DAY] == place_i[q, DAY]:
        return
    if not allowed[place_i[p, KIND], n] or not allowed[place_i[q, KIND], m]:
        return
    if on_day(p, n, place_i, cook_i, day_start, day_places, new_dish, once):
        return
    if on_day(q, m, place_i, cook_i, day_start, day_places, new_dish, once):
        return
    if place_i[p, CLIENT] == place_i[q, CLIENT] and chance(seed) < kept:
        size, other = new_size[q], new_size[p]
        if (
            size_at(place_i[p, KIND], n, size, size_span, sizes) < 0
            or size_at(place_i[q, KIND], m, other, size_span, sizes) < 0
        ):
            return
        put(p, n, size, place_i, nut, new_dish, new_size, cstate, day_new, week_new, touched,
            counts)
        put(q, m, other, place_i, nut, new_dish, new_size, cstate, day_new, week_new, touched,
            counts)
        return
    place_best(p, n, seed, place_i, nut, day_low, day_high, size_span, sizes, weight, each, sums,
               new_dish, new_size, cstate, day_new, week_new, touched, counts)
    place_best(q, m, seed, place_i, nut, day_low, day_high, size_span, sizes, weight, each, sums,
               new_dish, new_size, cstate, day_new, week_new, touched, counts)


@njit(cache=True, nogil=True)
def shift(p, by, place_i, size_span, sizes, nut, new_dish, new_size, cstate, day_new, week_new,
          touched, counts):
    """Lay down the dish of place p in a size larger by so much; tell whether there is one."""
    s = size_at(place_i[p, KIND], new_dish[p], new_size[p] + by, size_span, sizes)
    if s < 0:
        return False
    put(p, new_dish[p], sizes[s], place_i, nut, new_dish, new_size, cstate, day_new, week_new,
        touched, counts)
    return True


@njit(cache=True, nogil=True)
def same_dish(p, seed, new_dish):
    """Return another place with the dish of place p, the first from a place drawn, or -1."""
    places = len(new_dish)
    first = below(seed, places)
    for t in range(places):
        q = first + t if first + t < places else first + t - places
        if q != p and new_dish[q] == new_dish[p]:
            return q
    return -1


@njit(cache=True, nogil=True)
def transfer(
    p, seed, place_i, day_start, day_places, size_span, sizes, nut, new_dish, new_size, cstate,
    day_new, week_new, touched, counts,
):
    """Move: one meal takes from another of the same dish; often a second dish makes up for it.

    No cooking has more or less eaten of it, so food costs what it did. Returns False where the
    other meal has no such size.
    """
    if new_dish[p] < 0:
        return True
    q = same_dish(p, seed, new_dish)
    if q < 0 or place_i[p, DAY] == place_i[q, DAY]:
        return True
    span = size_span[place_i[p, KIND], new_dish[p]]
    first, last = span[0], span[1]
    by = sizes[first + below(seed, last - first)] - new_size[p]
    if by == 0.0:
        return True
    if not shift(q, -by, place_i, size_span, sizes, nut, new_dish, new_size, cstate, day_new,
                 week_new, touched, counts):
        return True
    shift(p, by, place_i, size_span, sizes, nut, new_dish, new_size, cstate, day_new, week_new,
          touched, counts)
    if chance(seed) < 0.4:
        return True
    # The days get the difference back in another dish that both have.
    d, e = place_i[p, DAY], place_i[q, DAY]
    width, other = day_start[d + 1] - day_start[d], day_start[e + 1] - day_start[e]
    start = below(seed, width)
    for t in range(width):
        p2 = day_places[day_start[d] + (start + t) % width]
        if p2 == p or new_dish[p2] < 0:
            continue
        for u in range(other):
            q2 = day_places[day_start[e] + u]
            if q2 == q or new_dish[q2] != new_dish[p2]:
                continue
            back = by if chance(seed) < 0.5 else by * (0.5 if chance(seed) < 0.5 else 2.0)
            if not shift(p2, -back, place_i, size_span, sizes, nut, new_dish, new_size, cstate,
                         day_new, week_new, touched, counts):
                return True
            return shift(q2, back, place_i, size_span, sizes, nut, new_dish, new_size, cstate,
                         day_new, week_new, touched, counts)
    return True
