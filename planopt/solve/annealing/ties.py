"""The order of meals in the compiled search: tied meals move together, and near ones are counted.

A tied meal follows the one that a move has changed first: it gets the same cooking where it may
have it, else another one of the same recipe.
"""

from __future__ import annotations

from numba import njit

from planopt.solve.annealing.basics import below
from planopt.solve.annealing.columns import (
    CLIENT,
    DAY,
    KIN_FROM,
    KIN_TO,
    KIND,
    MADE,
    MADE_NEW,
    PLACES,
    RECIPE,
    RECIPES,
    SLOT,
)
from planopt.solve.annealing.moves import on_day, place_best

# fmt: off


@njit(cache=True, nogil=True)
def cooking_for(q, n, seed, place_i, allowed, cook_i, kin):
    """Return a cooking of the recipe of n that place q may have, n itself if it may; else -1."""
    if allowed[place_i[q, KIND], n]:
        return n
    first = cook_i[n, KIN_FROM]
    count = cook_i[n, KIN_TO] - first
    if count == 0:
        return -1
    start = below(seed, count)
    for t in range(count):
        m = kin[first + (start + t) % count]
        if allowed[place_i[q, KIND], m]:
            return m
    return -1


@njit(cache=True, nogil=True)
def follow(
    tie_of, tie_start, tie_places, seed, place_i, day_start, day_places, allowed, size_span, sizes,
    once, nut, day_low, day_high, cook_i, kin, weight, each, sums, new_dish, new_size, cstate,
    day_new, week_new, touched, counts,
):
    """Let meals that share a dish have that of the one changed first; tell whether all can."""
    t = 0
    while t < counts[PLACES]:
        p = touched[PLACES, 0, t]
        t += 1
        s = tie_of[p]
        if s < 0 or new_dish[p] < 0:
            continue
        for k in range(tie_start[s], tie_start[s + 1]):
            q = tie_places[k]
            if q == p:
                continue
            if new_dish[q] >= 0 and cook_i[new_dish[q], RECIPE] == cook_i[new_dish[p], RECIPE]:
                continue
            n = cooking_for(q, new_dish[p], seed, place_i, allowed, cook_i, kin)
            if n < 0 or on_day(q, n, place_i, cook_i, day_start, day_places, new_dish, once):
                return False
            place_best(q, n, seed, place_i, nut, day_low, day_high, size_span, sizes, weight,
                       each, sums, new_dish, new_size, cstate, day_new, week_new, touched, counts)
    return True


@njit(cache=True, nogil=True)
def near(p, n, after, gap, place_i, cook_i, tie_of, day_number, day_client, day_start, day_places,
         dish_at, new_dish, touched):
    """Return how many meals of the recipe of n are too near place p; of two changed, each half."""
    c, d = place_i[p, CLIENT], place_i[p, DAY]
    found = 0.0
    e = d
    while e >= 0 and day_client[e] == c and day_number[d] - day_number[e] <= gap:
        e -= 1
    e += 1
    while e < len(day_client) and day_client[e] == c and day_number[e] - day_number[d] <= gap:
        for t in range(day_start[e], day_start[e + 1]):
            q = day_places[t]
            m = new_dish[q] if after else dish_at[q]
            if m < 0 or q == p or cook_i[m, RECIPE] != cook_i[n, RECIPE]:
                continue
            if place_i[q, SLOT] == place_i[p, SLOT] or (tie_of[q] >= 0 and tie_of[q] == tie_of[p]):
                continue
            found += 0.5 if touched[PLACES, 1, q] else 1.0
        e += 1
    return found


@njit(cache=True, nogil=True)
def near_change(
    gaps, place_i, cook_i, tie_of, day_number, day_client, day_start, day_places, dish_at,
    new_dish, touched, counts, broken,
):
    """Return the change of penalties for meals of one dish that are too near to each other."""
    change = 0.0
    for t in range(counts[PLACES]):
        p = touched[PLACES, 0, t]
        for after in (False, True):
            n = new_dish[p] if after else dish_at[p]
            if n < 0:
                continue
            gap = gaps[place_i[p, CLIENT], cook_i[n, RECIPE]]
            if gap > 0:
                found = near(p, n, after, gap, place_i, cook_i, tie_of, day_number, day_client,
                             day_start, day_places, dish_at, new_dish, touched)
                change += found if after else -found
    return broken * change


@njit(cache=True, nogil=True)
def made_change(most, times, more_times, over, touched, counts, broken):
    """Return the change of penalties for more recipes than the kitchen may have."""
    clients, recipes = times.shape
    made = over[MADE]
    for t in range(counts[RECIPES]):
        r = touched[RECIPES, 0, t] % recipes
        told = False
        for s in range(t):
            told |= touched[RECIPES, 0, s] % recipes == r
        if told:
            continue
        before, after = False, False
        for c in range(clients):
            before |= times[c, r] > 0.5
            after |= times[c, r] + more_times[c, r] > 0.5
        made += after * 1.0 - before * 1.0
    over[MADE_NEW] = made
    return broken * (max(0.0, made - most) - max(0.0, over[MADE] - most))


@njit(cache=True, nogil=True)
def taste_change(taste, place_i, dish_at, new_dish, touched, counts):
    """Return the change of money for dishes that clients like less than their favourites."""
    change = 0.0
    for t in range(counts[PLACES]):
        p = touched[PLACES, 0, t]
        c = place_i[p, CLIENT]
        if dish_at[p] >= 0:
            change -= taste[c, dish_at[p]]
        if new_dish[p] >= 0:
            change += taste[c, new_dish[p]]
    return change
