"""Moves of whole dishes: a cooking replaced by another, or started until a step of it is eaten.

Each lays its changes down beside the week; whether they pay is judged by `costs`.
"""

from __future__ import annotations

import numpy as np
from numba import njit

from planopt.solve.annealing.basics import below, chance
from planopt.solve.annealing.columns import (
    EATEN,
    EPS,
    KIN_FROM,
    KIN_TO,
    KIND,
    MORE,
    PER_STEP,
    STEPS,
    USED,
)
from planopt.solve.annealing.moves import best_size, draw, on_day, place_best, put, shift

# fmt: off


@njit(cache=True, nogil=True)
def fill_steps(
    n, seed, place_i, size_span, sizes, nut, cook_f, new_dish, new_size, cstate, day_new,
    week_new, touched, counts,
):
    """Change sizes of cooking n until whole steps of it are eaten, if a few changes reach that."""
    per = cook_f[n, PER_STEP]
    total = cstate[n, EATEN] + cstate[n, MORE]
    steps = np.floor(total / per + EPS)
    need = steps * per - total
    if steps < 0.5 or (per + need < -need and chance(seed) < 0.8):
        need += per
    if abs(need) < EPS:
        return
    places = len(new_dish)
    first = below(seed, places)
    for t in range(3 * places):
        q = (first + t) % places
        if new_dish[q] != n:
            continue
        kind = place_i[q, KIND]
        # The next larger or smaller size, if it does not go beyond what is needed.
        gap = 0.0
        for s in range(size_span[kind, n, 0], size_span[kind, n, 1]):
            by = sizes[s] - new_size[q]
            nearer = by * need > EPS and abs(by) <= abs(need) + EPS
            if nearer and (gap == 0.0 or abs(by) < abs(gap)):
                gap = by
        if gap != 0.0:
            shift(q, gap, place_i, size_span, sizes, nut, new_dish, new_size, cstate, day_new,
                  week_new, touched, counts)
            need -= gap
            if abs(need) < EPS:
                return


@njit(cache=True, nogil=True)
def replace_cooking(
    filled, times, client_f, seed, place_i, day_start, day_places, active, options, option_start,
    allowed, size_span, sizes, once, nut, day_low, day_high, cook_f, cook_i, kin, weight, each,
    sums, dish_at, new_dish, new_size, cstate, day_new, week_new, use_list, touched, counts,
):
    """Move: every serving of one cooking goes to another, to its kin, or to those in use.

    Returns False where a place is left that nothing can serve.
    """
    if counts[USED] == 0:
        return True
    gone = use_list[below(seed, counts[USED])]
    whom = chance(seed)
    target = -1
    if whom < 0.6:
        target = active[below(seed, len(active))]
    elif whom < 0.8 and cook_i[gone, KIN_TO] > cook_i[gone, KIN_FROM]:
        first, last = cook_i[gone, KIN_FROM], cook_i[gone, KIN_TO]
        target = kin[first + below(seed, last - first)]
    if target == gone:
        return True
    for q in range(len(dish_at)):
        if dish_at[q] != gone:
            continue
        n = target
        if (
            n < 0
            or not allowed[place_i[q, KIND], n]
            or on_day(q, n, place_i, cook_i, day_start, day_places, new_dish, once)
        ):
            n = draw(q, 1.0, seed, place_i, cook_i, options, option_start, allowed, use_list,
                     counts, day_start, day_places, new_dish, once, times, client_f)
        if n < 0:
            return False
        place_best(q, n, seed, place_i, nut, day_low, day_high, size_span, sizes, weight, each,
                   sums, new_dish, new_size, cstate, day_new, week_new, touched,
                   counts)
    if target >= 0 and chance(seed) < filled:
        fill_steps(target, seed, place_i, size_span, sizes, nut, cook_f, new_dish, new_size,
                   cstate, day_new, week_new, touched, counts)
    return True


@njit(cache=True, nogil=True)
def start_cooking(
    seed, place_i, day_start, day_places, active, allowed, size_span, sizes, once, nut, day_low,
    day_high, cook_f, cook_i, weight, each, sums, dish_at, new_dish, new_size, cstate, day_new,
    week_new, touched, counts,
):
    """Move: a cooking is started, or cooked a step more, and meals come to it until it is eaten."""
    n = active[below(seed, len(active))]
    places = len(dish_at)
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
        size = best_size(q, n, seed, place_i, nut, new_dish, new_size, day_new, day_low, day_high,
                         size_span, sizes, weight, each, sums)
        if size > room + EPS:
            continue
        put(q, n, size, place_i, nut, new_dish, new_size, cstate, day_new, week_new, touched,
            counts)
        room -= size
        if room < 0.25:
            break
