"""Small compiled functions that moves and judging share: chance, lists, and misses of windows."""

from __future__ import annotations

import numpy as np
from numba import njit

from planopt.solve.annealing.columns import (
    EPS,
)

# fmt: off


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
def missed(amount, low, high, weight, each):
    """Return the penalty of an amount outside its window."""
    # Sums that went down to nothing may be a hair below 0.
    if low > 0.0 and amount < low * (1.0 - EPS):
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
